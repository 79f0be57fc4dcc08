//! Demand points.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::demand::DemandPoint;
use longlay_records::hydrant::Elevation;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put, Versioned};
use crate::demand_rows::{DemandRow, stored_need};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, version};
use crate::rows::{Row, id_list, time_text};

impl Store {
    /// Records a demand point, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_demand_point(&self, point: &DemandPoint, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = before_put(&mut tx, RecordKind::DemandPoint, &point.id, change).await?;
        upsert(&mut tx, point, change).await?;
        tx.commit().await.map_err(fault)?;
        Ok(put)
    }

    /// The demand point with this id and its version, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_demand_point(&self, id: &AssetId) -> Result<Option<Versioned<DemandPoint>>, StoreError> {
        let mut tx = self.read().await?;
        let found = load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id);
        Ok(version(&mut tx, RecordKind::DemandPoint, id)
            .await?
            .zip(found)
            .map(|(version, read)| Versioned { version, read }))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn demand_points(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<DemandPoint>, StoreError> {
        let mut tx = self.read().await?;
        page(&mut tx, after, limit).await
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_demand_point(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::DemandPoint, id, change).await? {
            return Ok(false);
        }
        let (id, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE demand_points SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            id,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)?;
        Ok(true)
    }
}

async fn upsert(conn: &mut SqliteConnection, point: &DemandPoint, change: &Change) -> Result<(), StoreError> {
    let (id, lon_deg, lat_deg) = (point.id.as_str(), point.location.lon(), point.location.lat());
    let (elevation_ft, now) = (point.ground.map(Elevation::ft), time_text(change.at));
    let need = stored_need(point.need.as_ref());
    sqlx::query!(
        "INSERT INTO demand_points (
           id, lon_deg, lat_deg, elevation_ft, name, address, need_method, need_flow_gpm, need_source, need_edition,
           separation_ft, building_type, area_sq_ft, dwelling, sprinklers, updated_at
         ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)
         ON CONFLICT (id) DO UPDATE SET
           lon_deg = excluded.lon_deg, lat_deg = excluded.lat_deg, elevation_ft = excluded.elevation_ft,
           name = excluded.name, address = excluded.address, need_method = excluded.need_method,
           need_flow_gpm = excluded.need_flow_gpm, need_source = excluded.need_source,
           need_edition = excluded.need_edition, separation_ft = excluded.separation_ft,
           building_type = excluded.building_type, area_sq_ft = excluded.area_sq_ft, dwelling = excluded.dwelling,
           sprinklers = excluded.sprinklers, updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        lon_deg,
        lat_deg,
        elevation_ft,
        point.name,
        point.address,
        need.method,
        need.flow_gpm,
        need.source,
        need.edition,
        need.separation_ft,
        need.building_type,
        need.area_sq_ft,
        need.dwelling,
        need.sprinklers,
        now
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

/// Live ones by ascending id.
pub(crate) async fn page(
    conn: &mut SqliteConnection,
    after: Option<&AssetId>,
    limit: u32,
) -> Result<Vec<DemandPoint>, StoreError> {
    let after = after.map_or("", AssetId::as_str);
    let rows = sqlx::query_as!(
        DemandRow,
        r#"SELECT id, lon_deg, lat_deg, elevation_ft, name, address, need_method, need_flow_gpm, need_source, need_edition,
                  separation_ft, building_type, area_sq_ft, dwelling AS "dwelling: bool", sprinklers, retired_at
           FROM demand_points WHERE retired_at IS NULL AND id > ?1 ORDER BY id LIMIT ?2"#,
        after,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(DemandRow::demand_point).collect()
}

/// How many live ones there are.
pub(crate) async fn count(conn: &mut SqliteConnection) -> Result<u64, StoreError> {
    let counted =
        sqlx::query_scalar!(r#"SELECT COUNT(*) AS "count!: i64" FROM demand_points WHERE retired_at IS NULL"#);
    Row::of("demand_points", "count").count(counted.fetch_one(conn).await.map_err(fault)?)
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, DemandPoint>, StoreError> {
    let stored = load_stored(conn, ids).await?;
    Ok(stored.into_iter().filter(|(_, (_, retired))| !retired).map(|(id, (point, _))| (id, point)).collect())
}

/// Those of these ids, and whether each is retired.
pub(crate) async fn load_stored(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, (DemandPoint, bool)>, StoreError> {
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        DemandRow,
        r#"SELECT id, lon_deg, lat_deg, elevation_ft, name, address, need_method, need_flow_gpm, need_source, need_edition,
                  separation_ft, building_type, area_sq_ft, dwelling AS "dwelling: bool", sprinklers, retired_at
           FROM demand_points WHERE id IN (SELECT value FROM json_each(?1))"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    let stored = |row: DemandRow| {
        let retired = row.retired_at.is_some();
        row.demand_point().map(|point| (point.id.clone(), (point, retired)))
    };
    rows.into_iter().map(stored).collect()
}
