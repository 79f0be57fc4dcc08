//! Pumpers, their test points and the hose they carry.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::pumper::PumpPoint;
use longlay_hydraulics::quantity::{PositiveFlow, Pressure, Volume};
use longlay_records::equipment::{HoseLoad, Pumper};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, missing, page, refuse};
use crate::rows::{Row, by_record, id_list, position, time_text};
use crate::town::Touched;

impl Store {
    /// Records a pumper, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_pumper(&self, row: &Pumper, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, row, change).await?;
        self.commit(tx, Touched::one(RecordKind::Pumper, &row.id)).await?;
        Ok(put)
    }

    /// The pumper with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn pumper(&self, id: &AssetId) -> Result<Option<Pumper>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn pumpers(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<Pumper>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::Pumper, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_pumper(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::Pumper, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE pumpers SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::Pumper, id)).await?;
        Ok(true)
    }
}

/// The write without its transaction.
pub(crate) async fn put(conn: &mut SqliteConnection, row: &Pumper, change: &Change) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::Pumper, &row.id, change).await?;
    refuse(missing(&mut *conn, RecordKind::HoseType, row.hose.iter().map(|load| &load.hose_type_id)).await?)?;
    let (id, rated_flow_gpm, tank_gal) = (row.id.as_str(), row.rated_flow.gpm(), row.tank.map(Volume::gal));
    let (intake_floor_psi, max_discharge_psi) =
        (row.intake_floor.map(Pressure::psi), row.max_discharge.map(Pressure::psi));
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO pumpers (
             id, name, rated_flow_gpm, intake_floor_psi, max_discharge_psi, tank_gal, updated_at
           ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
           ON CONFLICT (id) DO UPDATE SET
             name = excluded.name, rated_flow_gpm = excluded.rated_flow_gpm,
             intake_floor_psi = excluded.intake_floor_psi, max_discharge_psi = excluded.max_discharge_psi,
             tank_gal = excluded.tank_gal, updated_at = excluded.updated_at, version = version + 1,
             retired_at = NULL",
        id,
        row.name,
        rated_flow_gpm,
        intake_floor_psi,
        max_discharge_psi,
        tank_gal,
        now
    )
    .execute(&mut *conn)
    .await
    .map_err(fault)?;
    replace_parts(&mut *conn, row).await?;
    Ok(put)
}

async fn replace_parts(conn: &mut SqliteConnection, row: &Pumper) -> Result<(), StoreError> {
    let id = row.id.as_str();
    sqlx::query!("DELETE FROM pump_points WHERE pumper_id = ?1", id).execute(&mut *conn).await.map_err(fault)?;
    sqlx::query!("DELETE FROM pumper_hose WHERE pumper_id = ?1", id).execute(&mut *conn).await.map_err(fault)?;
    for (i, point) in row.points.iter().enumerate() {
        let (position, flow_gpm, net_psi) = (position(i)?, point.flow.gpm(), point.net.psi());
        sqlx::query!(
            "INSERT INTO pump_points (pumper_id, position, flow_gpm, net_psi) VALUES (?1, ?2, ?3, ?4)",
            id,
            position,
            flow_gpm,
            net_psi
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    for (i, load) in row.hose.iter().enumerate() {
        let (position, hose_type_id, length_ft) = (position(i)?, load.hose_type_id.as_str(), load.length.ft());
        sqlx::query!(
            "INSERT INTO pumper_hose (pumper_id, position, hose_type_id, length_ft) VALUES (?1, ?2, ?3, ?4)",
            id,
            position,
            hose_type_id,
            length_ft
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, Pumper>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        PumperRow,
        r#"WITH part AS (
             SELECT o.pumper_id, o.position, o.flow_gpm, o.net_psi, NULL AS hose_type_id, NULL AS length_ft
             FROM json_each(?1) asked JOIN pump_points o ON o.pumper_id = asked.value
             UNION ALL
             SELECT h.pumper_id, h.position, NULL, NULL, h.hose_type_id, h.length_ft
             FROM json_each(?1) asked JOIN pumper_hose h ON h.pumper_id = asked.value
           )
           SELECT p.id, p.name, p.rated_flow_gpm, p.intake_floor_psi, p.max_discharge_psi, p.tank_gal,
                  part.flow_gpm AS "point_flow_gpm?: f64", part.net_psi AS "point_net_psi?: f64",
                  part.hose_type_id AS "hose_type_id?: String", part.length_ft AS "hose_length_ft?: f64"
           FROM pumpers p LEFT JOIN part ON part.pumper_id = p.id
           WHERE p.retired_at IS NULL AND p.id IN (SELECT value FROM json_each(?1)) ORDER BY p.id, part.position"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    by_record(&rows, |row| &row.id)
        .map(|(row, parts)| {
            let points = parts.iter().filter_map(|part| part.point().transpose()).collect::<Result<_, _>>()?;
            let hose = parts.iter().filter_map(|part| part.hose().transpose()).collect::<Result<_, _>>()?;
            let found = row.pumper(points, hose)?;
            Ok((found.id.clone(), found))
        })
        .collect()
}

struct PumperRow {
    id: String,
    name: String,
    rated_flow_gpm: f64,
    intake_floor_psi: Option<f64>,
    max_discharge_psi: Option<f64>,
    tank_gal: Option<f64>,
    point_flow_gpm: Option<f64>,
    point_net_psi: Option<f64>,
    hose_type_id: Option<String>,
    hose_length_ft: Option<f64>,
}

impl PumperRow {
    fn point(&self) -> Result<Option<PumpPoint>, StoreError> {
        let row = Row::of("pump_points", &self.id);
        let (Some(gpm), Some(psi)) = (self.point_flow_gpm, self.point_net_psi) else {
            return Ok(None);
        };
        Ok(Some(PumpPoint { flow: row.good(PositiveFlow::from_gpm(gpm))?, net: row.good(Pressure::from_psi(psi))? }))
    }

    fn hose(&self) -> Result<Option<HoseLoad>, StoreError> {
        Row::of("pumper_hose", &self.id).hose_load(self.hose_type_id.as_deref(), self.hose_length_ft)
    }

    fn pumper(&self, points: Vec<PumpPoint>, hose: Vec<HoseLoad>) -> Result<Pumper, StoreError> {
        let row = Row::of("pumpers", &self.id);
        Ok(Pumper {
            id: row.asset_id(&self.id)?,
            name: self.name.clone(),
            rated_flow: row.good(PositiveFlow::from_gpm(self.rated_flow_gpm))?,
            intake_floor: row.maybe(self.intake_floor_psi, Pressure::from_psi)?,
            max_discharge: row.maybe(self.max_discharge_psi, Pressure::from_psi)?,
            points,
            tank: row.maybe(self.tank_gal, Volume::from_gal)?,
            hose,
        })
    }
}
