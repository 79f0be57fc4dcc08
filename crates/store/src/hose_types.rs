//! Kinds of hose.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::quantity::{Diameter, HoseCoefficient, Pressure};
use longlay_records::equipment::HoseType;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, page};
use crate::rows::{Row, id_list, time_text};
use crate::town::Touched;

impl Store {
    /// Records a kind of hose, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hose_type(&self, row: &HoseType, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, row, change).await?;
        self.commit(tx, Touched::one(RecordKind::HoseType, &row.id)).await?;
        Ok(put)
    }

    /// The kind of hose with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hose_type(&self, id: &AssetId) -> Result<Option<HoseType>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hose_types(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<HoseType>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::HoseType, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hose_type(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::HoseType, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE hose_types SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::HoseType, id)).await?;
        Ok(true)
    }
}

/// The write without its transaction.
pub(crate) async fn put(conn: &mut SqliteConnection, row: &HoseType, change: &Change) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::HoseType, &row.id, change).await?;
    let (id, diameter_in, coefficient) =
        (row.id.as_str(), row.diameter.inches(), row.coefficient.psi_per_100gpm2_100ft());
    let (low, high) = (row.coefficient_range.map(|range| range.low), row.coefficient_range.map(|range| range.high));
    let (max_operating_psi, service_test_psi) =
        (row.max_operating.map(Pressure::psi), row.service_test.map(Pressure::psi));
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO hose_types (
             id, name, diameter_in, coefficient_psi_per_100gpm2_100ft, coefficient_low_psi_per_100gpm2_100ft,
             coefficient_high_psi_per_100gpm2_100ft, max_operating_psi, service_test_psi, source, origin,
             updated_at
           ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, 'department', ?10)
           ON CONFLICT (id) DO UPDATE SET
             name = excluded.name, diameter_in = excluded.diameter_in,
             coefficient_psi_per_100gpm2_100ft = excluded.coefficient_psi_per_100gpm2_100ft,
             coefficient_low_psi_per_100gpm2_100ft = excluded.coefficient_low_psi_per_100gpm2_100ft,
             coefficient_high_psi_per_100gpm2_100ft = excluded.coefficient_high_psi_per_100gpm2_100ft,
             max_operating_psi = excluded.max_operating_psi, service_test_psi = excluded.service_test_psi,
             source = excluded.source, updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        row.name,
        diameter_in,
        coefficient,
        low,
        high,
        max_operating_psi,
        service_test_psi,
        row.source,
        now
    )
    .execute(&mut *conn)
    .await
    .map_err(fault)?;
    Ok(put)
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, HoseType>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        HoseTypeRow,
        "SELECT id, name, diameter_in, coefficient_psi_per_100gpm2_100ft AS coefficient,
                coefficient_low_psi_per_100gpm2_100ft AS coefficient_low,
                coefficient_high_psi_per_100gpm2_100ft AS coefficient_high,
                max_operating_psi, service_test_psi, source, origin
         FROM hose_types WHERE retired_at IS NULL AND id IN (SELECT value FROM json_each(?1))",
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(|row| row.hose_type().map(|found| (found.id.clone(), found))).collect()
}

struct HoseTypeRow {
    id: String,
    name: String,
    diameter_in: f64,
    coefficient: f64,
    coefficient_low: Option<f64>,
    coefficient_high: Option<f64>,
    max_operating_psi: Option<f64>,
    service_test_psi: Option<f64>,
    source: String,
    origin: String,
}

impl HoseTypeRow {
    fn hose_type(self) -> Result<HoseType, StoreError> {
        let row = Row::of("hose_types", &self.id);
        Ok(HoseType {
            id: row.asset_id(&self.id)?,
            diameter: row.good(Diameter::from_in(self.diameter_in))?,
            coefficient: row.good(HoseCoefficient::from_psi_per_100gpm2_100ft(self.coefficient))?,
            coefficient_range: row.range(self.coefficient_low, self.coefficient_high)?,
            max_operating: row.maybe(self.max_operating_psi, Pressure::from_psi)?,
            service_test: row.maybe(self.service_test_psi, Pressure::from_psi)?,
            origin: row.origin(&self.origin)?,
            name: self.name,
            source: self.source,
        })
    }
}
