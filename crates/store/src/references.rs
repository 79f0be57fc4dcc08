//! What stands under an id, whether it may be written, what refers to it, and pages of ids: the same for every kind of record.

use std::collections::BTreeSet;

use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::audit::{self, Action};
use crate::change::{Change, Put, Unmet};
use crate::error::{RecordKind, StoreError, fault};
use crate::rows::{Row, id_list};

/// The kind's name in the view `record_standing`.
pub(crate) const fn stored_kind(kind: RecordKind) -> &'static str {
    match kind {
        RecordKind::Hydrant => "hydrant",
        RecordKind::FlowTest => "flow_test",
        RecordKind::EquipmentTest => "equipment_test",
        RecordKind::HoseType => "hose_type",
        RecordKind::Appliance => "appliance",
        RecordKind::HydrantValve => "hydrant_valve",
        RecordKind::Pumper => "pumper",
        RecordKind::LayProfile => "lay_profile",
        RecordKind::DemandPoint => "demand_point",
        RecordKind::District => "district",
        RecordKind::Drill => "drill",
        RecordKind::Key => "key",
        RecordKind::CoverageRun => "coverage_run",
    }
}

/// What stands under an id.
#[derive(Clone, Copy)]
struct Standing {
    live: bool,
    version: u64,
}

impl Standing {
    fn live_version(self) -> Option<u64> {
        self.live.then_some(self.version)
    }
}

/// What stands under this id, retired or not; an error for a library row, which is never written.
async fn standing(conn: &mut SqliteConnection, kind: RecordKind, id: &AssetId) -> Result<Option<Standing>, StoreError> {
    let (stored, text) = (stored_kind(kind), id.as_str());
    let found = sqlx::query!(
        r#"SELECT library AS "library!: bool", live AS "live!: bool", version AS "version!: i64"
           FROM record_standing WHERE kind = ?1 AND id = ?2"#,
        stored,
        text
    )
    .fetch_optional(conn)
    .await
    .map_err(fault)?;
    match found {
        Some(row) if row.library => Err(StoreError::ReadOnly { kind, id: id.to_string() }),
        Some(row) => Ok(Some(Standing { live: row.live, version: Row::of(stored, text).count(row.version)? })),
        None => Ok(None),
    }
}

fn check(change: &Change, kind: RecordKind, id: &AssetId, live: Option<u64>) -> Result<(), StoreError> {
    change.condition.holds(live).map_err(|unmet| match (unmet, live) {
        (Unmet::Needed, Some(version)) => StoreError::VersionNeeded { kind, id: id.to_string(), version },
        (Unmet::Needed | Unmet::Failed, version) => StoreError::ConditionFailed { kind, id: id.to_string(), version },
    })
}

/// What a put of this id will have done, noted in the audit; an error where it may not be put.
pub(crate) async fn before_put(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    id: &AssetId,
    change: &Change,
) -> Result<Put, StoreError> {
    let standing = standing(&mut *conn, kind, id).await?;
    check(change, kind, id, standing.and_then(Standing::live_version))?;
    let (put, action) = match standing {
        None => (Put::Created(1), Action::Create),
        Some(Standing { live: false, version }) => (Put::Created(version + 1), Action::Restore),
        Some(Standing { live: true, version }) => (Put::Replaced(version + 1), Action::Replace),
    };
    audit::note(conn, change, action, stored_kind(kind), Some(id.as_str()), Some(put.version()), None).await?;
    Ok(put)
}

/// Whether there is a record to retire, and that it is retired noted in the audit; an error where it may not be retired.
pub(crate) async fn before_retire(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    id: &AssetId,
    change: &Change,
) -> Result<bool, StoreError> {
    let Some(version) = standing(&mut *conn, kind, id).await?.and_then(Standing::live_version) else {
        return Ok(false);
    };
    check(change, kind, id, Some(version))?;
    let (stored, text) = (stored_kind(kind), id.as_str());
    let used_by = sqlx::query_scalar!(
        r#"SELECT used_by AS "used_by!: String" FROM equipment_uses WHERE kind = ?1 AND id = ?2 ORDER BY used_by"#,
        stored,
        text
    )
    .fetch_all(&mut *conn)
    .await
    .map_err(fault)?;
    if !used_by.is_empty() {
        return Err(StoreError::InUse { kind, id: id.to_string(), used_by });
    }
    audit::note(conn, change, Action::Retire, stored, Some(text), Some(version + 1), None).await?;
    Ok(true)
}

/// The version at which a live record stands.
pub(crate) async fn version(
    conn: &mut SqliteConnection,
    kind: RecordKind,
    id: &AssetId,
) -> Result<Option<u64>, StoreError> {
    let (stored, text) = (stored_kind(kind), id.as_str());
    let found = sqlx::query_scalar!(
        r#"SELECT version AS "version!: i64" FROM record_standing WHERE kind = ?1 AND id = ?2 AND live"#,
        stored,
        text
    )
    .fetch_optional(conn)
    .await
    .map_err(fault)?;
    found.map(|version| Row::of(stored, text).count(version)).transpose()
}

/// Notes in the audit what was done to a test or a drill.
pub(crate) async fn note(
    conn: &mut SqliteConnection,
    change: &Change,
    action: Action,
    kind: RecordKind,
    id: &str,
) -> Result<(), StoreError> {
    audit::note(conn, change, action, stored_kind(kind), Some(id), None, None).await
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

/// How many of them there are.
pub(crate) async fn own_count(conn: &mut SqliteConnection, kind: RecordKind) -> Result<u64, StoreError> {
    let stored = stored_kind(kind);
    let counted = sqlx::query_scalar!(
        r#"SELECT COUNT(*) AS "count!: u64" FROM record_standing WHERE kind = ?1 AND live AND NOT library"#,
        stored
    );
    counted.fetch_one(conn).await.map_err(fault)
}
