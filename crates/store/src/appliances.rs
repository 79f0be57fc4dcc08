//! Kinds of appliance.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::quantity::{ApplianceCoefficient, Flow, Pressure};
use longlay_records::equipment::ApplianceType;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, page};
use crate::rows::{Row, id_list, time_text};
use crate::town::Touched;

impl Store {
    /// Records a kind of appliance, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_appliance(&self, row: &ApplianceType, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, row, change).await?;
        self.commit(tx, Touched::one(RecordKind::Appliance, &row.id)).await?;
        Ok(put)
    }

    /// The kind of appliance with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn appliance(&self, id: &AssetId) -> Result<Option<ApplianceType>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn appliances(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<ApplianceType>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::Appliance, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_appliance(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::Appliance, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE appliances SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::Appliance, id)).await?;
        Ok(true)
    }
}

/// The write without its transaction.
pub(crate) async fn put(conn: &mut SqliteConnection, row: &ApplianceType, change: &Change) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::Appliance, &row.id, change).await?;
    let (id, max_operating_psi) = (row.id.as_str(), row.max_operating.map(Pressure::psi));
    let (squared, fixed_psi, at_or_above_gpm) = match row.loss {
        ApplianceLoss::Squared(k) => (Some(k.psi_per_100gpm2()), None, None),
        ApplianceLoss::Step { fixed, at_or_above } => (None, Some(fixed.psi()), Some(at_or_above.gpm())),
    };
    let (low, high) = (row.loss_range.map(|range| range.low), row.loss_range.map(|range| range.high));
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO appliances (
             id, name, loss_psi_per_100gpm2, fixed_loss_psi, at_or_above_gpm, loss_low_psi_or_psi_per_100gpm2,
             loss_high_psi_or_psi_per_100gpm2, max_operating_psi, source, origin, updated_at
           ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, 'department', ?10)
           ON CONFLICT (id) DO UPDATE SET
             name = excluded.name, loss_psi_per_100gpm2 = excluded.loss_psi_per_100gpm2,
             fixed_loss_psi = excluded.fixed_loss_psi, at_or_above_gpm = excluded.at_or_above_gpm,
             loss_low_psi_or_psi_per_100gpm2 = excluded.loss_low_psi_or_psi_per_100gpm2,
             loss_high_psi_or_psi_per_100gpm2 = excluded.loss_high_psi_or_psi_per_100gpm2,
             max_operating_psi = excluded.max_operating_psi, source = excluded.source,
             updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        row.name,
        squared,
        fixed_psi,
        at_or_above_gpm,
        low,
        high,
        max_operating_psi,
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
) -> Result<BTreeMap<AssetId, ApplianceType>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        ApplianceRow,
        "SELECT id, name, loss_psi_per_100gpm2, fixed_loss_psi, at_or_above_gpm,
                loss_low_psi_or_psi_per_100gpm2 AS loss_low, loss_high_psi_or_psi_per_100gpm2 AS loss_high,
                max_operating_psi, source, origin
         FROM appliances WHERE retired_at IS NULL AND id IN (SELECT value FROM json_each(?1))",
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(|row| row.appliance().map(|found| (found.id.clone(), found))).collect()
}

struct ApplianceRow {
    id: String,
    name: String,
    loss_psi_per_100gpm2: Option<f64>,
    fixed_loss_psi: Option<f64>,
    at_or_above_gpm: Option<f64>,
    loss_low: Option<f64>,
    loss_high: Option<f64>,
    max_operating_psi: Option<f64>,
    source: String,
    origin: String,
}

impl ApplianceRow {
    fn appliance(self) -> Result<ApplianceType, StoreError> {
        let row = Row::of("appliances", &self.id);
        let loss = match (self.loss_psi_per_100gpm2, self.fixed_loss_psi, self.at_or_above_gpm) {
            (Some(k), None, None) => ApplianceLoss::Squared(row.good(ApplianceCoefficient::from_psi_per_100gpm2(k))?),
            (None, Some(psi), Some(gpm)) => ApplianceLoss::Step {
                fixed: row.good(Pressure::from_psi(psi))?,
                at_or_above: row.good(Flow::from_gpm(gpm))?,
            },
            _ => return Err(row.corrupt("its loss is neither with the square of the flow nor fixed from a flow on")),
        };
        Ok(ApplianceType {
            id: row.asset_id(&self.id)?,
            loss,
            loss_range: row.range(self.loss_low, self.loss_high)?,
            max_operating: row.maybe(self.max_operating_psi, Pressure::from_psi)?,
            origin: row.origin(&self.origin)?,
            name: self.name,
            source: self.source,
        })
    }
}
