//! What stands under an id, what refers to it, and pages of ids: the same for every kind of equipment.

use std::collections::BTreeSet;

use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::error::{RecordKind, StoreError, fault};
use crate::open::Put;
use crate::rows::{Row, id_list};

/// The kind's name in the view `record_standing`.
const fn stored_kind(kind: RecordKind) -> &'static str {
    match kind {
        RecordKind::Hydrant => "hydrant",
        RecordKind::FlowTest => "flow_test",
        RecordKind::EquipmentTest => "equipment_test",
        RecordKind::HoseType => "hose_type",
        RecordKind::Appliance => "appliance",
        RecordKind::HydrantValve => "hydrant_valve",
        RecordKind::Pumper => "pumper",
        RecordKind::LayProfile => "lay_profile",
        RecordKind::Drill => "drill",
    }
}

/// Whether a live record has this id; an error for a library row, which is never written.
async fn is_live(conn: &mut SqliteConnection, kind: RecordKind, id: &AssetId) -> Result<bool, StoreError> {
    let (stored, text) = (stored_kind(kind), id.as_str());
    let standing = sqlx::query!(
        r#"SELECT library AS "library!: bool", live AS "live!: bool" FROM record_standing WHERE kind = ?1 AND id = ?2"#,
        stored,
        text
    )
    .fetch_optional(conn)
    .await
    .map_err(fault)?;
    match standing {
        Some(row) if row.library => Err(StoreError::ReadOnly { kind, id: id.to_string() }),
        Some(row) => Ok(row.live),
        None => Ok(false),
    }
}

/// What a put of this id will have done; an error where it may not be put.
pub(crate) async fn before_put(conn: &mut SqliteConnection, kind: RecordKind, id: &AssetId) -> Result<Put, StoreError> {
    Ok(if is_live(conn, kind, id).await? { Put::Replaced } else { Put::Created })
}

/// Whether there is a record to retire; an error where it may not be retired.
pub(crate) async fn before_retire(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    id: &AssetId,
) -> Result<bool, StoreError> {
    if !is_live(&mut *conn, kind, id).await? {
        return Ok(false);
    }
    let (stored, text) = (stored_kind(kind), id.as_str());
    let used_by = sqlx::query_scalar!(
        r#"SELECT used_by AS "used_by!: String" FROM equipment_uses WHERE kind = ?1 AND id = ?2 ORDER BY used_by"#,
        stored,
        text
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    if used_by.is_empty() { Ok(true) } else { Err(StoreError::InUse { kind, id: id.to_string(), used_by }) }
}

/// The references among these to records that do not exist or are retired, each with its kind.
pub(crate) async fn missing<'a>(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    ids: impl IntoIterator<Item = &'a AssetId>,
) -> Result<Vec<(RecordKind, String)>, StoreError> {
    let ids: BTreeSet<AssetId> = ids.into_iter().cloned().collect();
    let (stored, list) = (stored_kind(kind), id_list(&ids));
    let missing = sqlx::query_scalar!(
        r#"SELECT CAST(value AS TEXT) AS "id!: String" FROM json_each(?2)
           WHERE NOT EXISTS (SELECT 1 FROM record_standing s WHERE s.kind = ?1 AND s.id = value AND s.live)
           ORDER BY value"#,
        stored,
        list
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    Ok(missing.into_iter().map(|id| (kind, id)).collect())
}

/// Refuses a record of which something is missing.
pub(crate) fn refuse(missing: Vec<(RecordKind, String)>) -> Result<(), StoreError> {
    if missing.is_empty() { Ok(()) } else { Err(StoreError::UnknownReferences(missing)) }
}

/// Ids of live records, ascending, from behind `after`.
pub(crate) async fn page(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    after: Option<&AssetId>,
    limit: u32,
) -> Result<BTreeSet<AssetId>, StoreError> {
    let (stored, after) = (stored_kind(kind), after.map_or("", AssetId::as_str));
    let ids = sqlx::query_scalar!(
        r#"SELECT id AS "id!: String" FROM record_standing WHERE kind = ?1 AND live AND id > ?2 ORDER BY id LIMIT ?3"#,
        stored,
        after,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    ids.iter().map(|id| Row::of(stored, id).asset_id(id)).collect()
}

/// The same without the shipped library.
pub(crate) async fn own_page(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    after: Option<&AssetId>,
    limit: u32,
) -> Result<BTreeSet<AssetId>, StoreError> {
    let (stored, after) = (stored_kind(kind), after.map_or("", AssetId::as_str));
    let ids = sqlx::query_scalar!(
        r#"SELECT id AS "id!: String" FROM record_standing
           WHERE kind = ?1 AND live AND NOT library AND id > ?2 ORDER BY id LIMIT ?3"#,
        stored,
        after,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    ids.iter().map(|id| Row::of(stored, id).asset_id(id)).collect()
}
