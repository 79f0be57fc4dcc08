//! Kinds of four-way hydrant valve, with the hose kept with them.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::quantity::ApplianceCoefficient;
use longlay_records::equipment::{HoseLoad, HydrantValveType};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, missing, page, refuse};
use crate::rows::{Row, id_list, time_text};
use crate::town::Touched;

impl Store {
    /// Records a kind of hydrant valve, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hydrant_valve(&self, row: &HydrantValveType, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, row, change).await?;
        self.commit(tx, Touched::one(RecordKind::HydrantValve, &row.id)).await?;
        Ok(put)
    }

    /// The kind of hydrant valve with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant_valve(&self, id: &AssetId) -> Result<Option<HydrantValveType>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant_valves(
        &self,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<HydrantValveType>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::HydrantValve, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hydrant_valve(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::HydrantValve, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE hydrant_valves SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::HydrantValve, id)).await?;
        Ok(true)
    }
}

/// The write without its transaction.
pub(crate) async fn put(
    conn: &mut SqliteConnection,
    row: &HydrantValveType,
    change: &Change,
) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::HydrantValve, &row.id, change).await?;
    let hose = [&row.to_pump_hose, &row.from_pump_hose].into_iter().flatten().map(|load| &load.hose_type_id);
    refuse(missing(&mut *conn, RecordKind::HoseType, hose).await?)?;
    let (id, through) = (row.id.as_str(), row.through.psi_per_100gpm2());
    let (low, high) = (row.through_range.map(|range| range.low), row.through_range.map(|range| range.high));
    let (to_pump, from_pump) = (row.to_pump.psi_per_100gpm2(), row.from_pump.psi_per_100gpm2());
    let (to_pump_hose, to_pump_hose_ft) = stored_load(row.to_pump_hose.as_ref());
    let (from_pump_hose, from_pump_hose_ft) = stored_load(row.from_pump_hose.as_ref());
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO hydrant_valves (
             id, name, through_psi_per_100gpm2, through_low_psi_per_100gpm2, through_high_psi_per_100gpm2,
             to_pump_psi_per_100gpm2, from_pump_psi_per_100gpm2, to_pump_hose_type_id, to_pump_hose_ft,
             from_pump_hose_type_id, from_pump_hose_ft, source, origin, updated_at
           ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, 'department', ?13)
           ON CONFLICT (id) DO UPDATE SET
             name = excluded.name, through_psi_per_100gpm2 = excluded.through_psi_per_100gpm2,
             through_low_psi_per_100gpm2 = excluded.through_low_psi_per_100gpm2,
             through_high_psi_per_100gpm2 = excluded.through_high_psi_per_100gpm2,
             to_pump_psi_per_100gpm2 = excluded.to_pump_psi_per_100gpm2,
             from_pump_psi_per_100gpm2 = excluded.from_pump_psi_per_100gpm2,
             to_pump_hose_type_id = excluded.to_pump_hose_type_id, to_pump_hose_ft = excluded.to_pump_hose_ft,
             from_pump_hose_type_id = excluded.from_pump_hose_type_id,
             from_pump_hose_ft = excluded.from_pump_hose_ft, source = excluded.source,
             updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        row.name,
        through,
        low,
        high,
        to_pump,
        from_pump,
        to_pump_hose,
        to_pump_hose_ft,
        from_pump_hose,
        from_pump_hose_ft,
        row.source,
        now
    )
    .execute(&mut *conn)
    .await
    .map_err(fault)?;
    Ok(put)
}

fn stored_load(load: Option<&HoseLoad>) -> (Option<&str>, Option<f64>) {
    (load.map(|load| load.hose_type_id.as_str()), load.map(|load| load.length.ft()))
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, HydrantValveType>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        HydrantValveRow,
        "SELECT id, name, through_psi_per_100gpm2 AS through, through_low_psi_per_100gpm2 AS through_low,
                through_high_psi_per_100gpm2 AS through_high, to_pump_psi_per_100gpm2 AS to_pump,
                from_pump_psi_per_100gpm2 AS from_pump, to_pump_hose_type_id, to_pump_hose_ft, from_pump_hose_type_id,
                from_pump_hose_ft, source, origin
         FROM hydrant_valves WHERE retired_at IS NULL AND id IN (SELECT value FROM json_each(?1))",
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(|row| row.hydrant_valve().map(|found| (found.id.clone(), found))).collect()
}

struct HydrantValveRow {
    id: String,
    name: String,
    through: f64,
    through_low: Option<f64>,
    through_high: Option<f64>,
    to_pump: f64,
    from_pump: f64,
    to_pump_hose_type_id: Option<String>,
    to_pump_hose_ft: Option<f64>,
    from_pump_hose_type_id: Option<String>,
    from_pump_hose_ft: Option<f64>,
    source: String,
    origin: String,
}

impl HydrantValveRow {
    fn hydrant_valve(self) -> Result<HydrantValveType, StoreError> {
        let row = Row::of("hydrant_valves", &self.id);
        Ok(HydrantValveType {
            id: row.asset_id(&self.id)?,
            through: row.good(ApplianceCoefficient::from_psi_per_100gpm2(self.through))?,
            through_range: row.range(self.through_low, self.through_high)?,
            to_pump: row.good(ApplianceCoefficient::from_psi_per_100gpm2(self.to_pump))?,
            from_pump: row.good(ApplianceCoefficient::from_psi_per_100gpm2(self.from_pump))?,
            to_pump_hose: row.hose_load(self.to_pump_hose_type_id.as_deref(), self.to_pump_hose_ft)?,
            from_pump_hose: row.hose_load(self.from_pump_hose_type_id.as_deref(), self.from_pump_hose_ft)?,
            origin: row.origin(&self.origin)?,
            name: self.name,
            source: self.source,
        })
    }
}
