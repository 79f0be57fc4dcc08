//! Drills out of their rows, and what those say that stand.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_hydraulics::quantity::{MeterUncertainty, PositiveFlow, Pressure};
use longlay_records::drill::{Drill, DrillGauge, DrillMiss, DrillUse, UsedKind};
use longlay_records::flow_test::Voided;
use sqlx::SqliteConnection;
use sqlx::types::Json;

use crate::error::{StoreError, fault};
use crate::rows::{Row, by_record};
use crate::town::Drill as StandingDrill;

/// The kind's name in `drill_uses`.
pub(crate) const fn kind_text(kind: UsedKind) -> &'static str {
    match kind {
        UsedKind::Hydrant => "hydrant",
        UsedKind::HoseType => "hose_type",
        UsedKind::Appliance => "appliance",
        UsedKind::HydrantValve => "hydrant_valve",
        UsedKind::Pumper => "pumper",
    }
}

fn kind(row: Row<'_>, text: &str) -> Result<UsedKind, StoreError> {
    use UsedKind::{Appliance, HoseType, Hydrant, HydrantValve, Pumper};
    let known = [Hydrant, HoseType, Appliance, HydrantValve, Pumper];
    known
        .into_iter()
        .find(|kind| kind_text(*kind) == text)
        .ok_or_else(|| row.corrupt(format_args!("{text} is no kind")))
}

/// The drills of these ids, by their stored id.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<String>,
) -> Result<BTreeMap<String, Drill>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = Json(ids);
    let rows = sqlx::query_as!(
        DrillRow,
        r#"SELECT d.id, d.drilled_on, d.lay, d.flow_gpm, d.flow_uncertainty_percent, d.pumped AS "pumped: bool", d.notes,
                  d.recorded_at, d.voided_at, d.void_reason,
                  (SELECT json_group_array(u.kind || ':' || u.asset_id ORDER BY u.kind, u.asset_id) FROM drill_uses u
                   WHERE u.drill_id = d.id) AS "uses!: Json<Vec<String>>",
                  g.station AS "station?", g.elevation_ft AS "elevation_ft?", g.predicted_psi AS "predicted_psi?", g.read_psi
           FROM drills d LEFT JOIN drill_gauges g ON g.drill_id = d.id
           WHERE d.id IN (SELECT value FROM json_each(?1)) ORDER BY d.id, g.position"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    by_record(&rows, |row| &row.id)
        .map(|(row, parts)| {
            let gauges = parts.iter().filter_map(|part| part.gauge().transpose()).collect::<Result<_, _>>()?;
            Ok((row.id.clone(), row.drill(gauges)?))
        })
        .collect()
}

/// Of these drills those that stand, by ascending id: not voided, and of whose equipment nothing was written since: what was predicted then would rest
/// on other figures.
pub(crate) async fn standing(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<String>,
) -> Result<Vec<StandingDrill>, StoreError> {
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let ids = Json(ids);
    let rows = sqlx::query!(
        r#"SELECT d.id, d.drilled_on, d.readings AS "readings: u32", d.miss_psi AS "miss_psi!",
                  d.predicted_loss_psi AS "predicted_loss_psi!",
                  (SELECT json_group_array(u.kind || ':' || u.asset_id ORDER BY u.kind, u.asset_id) FROM drill_uses u
                   WHERE u.drill_id = d.id) AS "uses!: Json<Vec<String>>"
           FROM drills d
           WHERE d.id IN (SELECT value FROM json_each(?1)) AND d.voided_at IS NULL AND d.miss_psi IS NOT NULL
             AND NOT EXISTS (
               SELECT 1 FROM drill_uses u JOIN equipment_changes c ON c.kind = u.kind AND c.id = u.asset_id
               WHERE u.drill_id = d.id AND c.updated_at > d.recorded_at)
           ORDER BY d.id"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    let standing = rows.into_iter().map(|row| {
        let drilled_on = Row::of("drills", &row.id).day(&row.drilled_on);
        let (readings, miss_psi, predicted_loss_psi) = (row.readings, row.miss_psi, row.predicted_loss_psi);
        let miss = drilled_on.map(|drilled_on| DrillMiss { drilled_on, readings, miss_psi, predicted_loss_psi });
        let uses = row.uses.iter().filter_map(|text| used(Row::of("drill_uses", &row.id), text).ok()).collect();
        StandingDrill { id: row.id, uses, miss: miss.map(Arc::new).map_err(Box::new) }
    });
    Ok(standing.collect())
}

/// What a drill used. What is no id is nothing that anybody asks about.
pub(crate) async fn uses(conn: &mut SqliteConnection, id: &str) -> Result<Vec<DrillUse>, StoreError> {
    let texts = sqlx::query_scalar!(
        r#"SELECT kind || ':' || asset_id AS "used!: String" FROM drill_uses WHERE drill_id = ?1"#,
        id
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    Ok(texts.iter().filter_map(|text| used(Row::of("drill_uses", id), text).ok()).collect())
}

fn used(row: Row<'_>, text: &str) -> Result<DrillUse, StoreError> {
    let (name, id) = text.split_once(':').ok_or_else(|| row.corrupt("a use without an id"))?;
    Ok(DrillUse { kind: kind(row, name)?, id: row.asset_id(id)? })
}

struct DrillRow {
    id: String,
    drilled_on: String,
    lay: String,
    flow_gpm: f64,
    flow_uncertainty_percent: f64,
    pumped: bool,
    notes: Option<String>,
    recorded_at: String,
    voided_at: Option<String>,
    void_reason: Option<String>,
    uses: Json<Vec<String>>,
    station: Option<String>,
    elevation_ft: Option<f64>,
    predicted_psi: Option<f64>,
    read_psi: Option<f64>,
}

impl DrillRow {
    fn gauge(&self) -> Result<Option<DrillGauge>, StoreError> {
        let row = Row::of("drill_gauges", &self.id);
        let (Some(station), Some(elevation_ft), Some(predicted_psi)) =
            (&self.station, self.elevation_ft, self.predicted_psi)
        else {
            return Ok(None);
        };
        let (station, read) = (row.good(station.parse())?, row.maybe(self.read_psi, Pressure::from_psi)?);
        Ok(Some(DrillGauge { station, elevation_ft, predicted_psi, read }))
    }

    fn drill(&self, gauges: Vec<DrillGauge>) -> Result<Drill, StoreError> {
        let row = Row::of("drills", &self.id);
        let voided = match (&self.voided_at, &self.void_reason) {
            (None, None) => None,
            (Some(at), Some(reason)) => Some(Voided { reason: reason.clone(), at: row.time(at)? }),
            _ => return Err(row.corrupt("voided without a reason, or a reason without being voided")),
        };
        Ok(Drill {
            id: row.uuid(&self.id)?,
            drilled_on: row.day(&self.drilled_on)?,
            lay: self.lay.clone(),
            uses: self.uses.iter().map(|text| used(Row::of("drill_uses", &self.id), text)).collect::<Result<_, _>>()?,
            flow: row.good(PositiveFlow::from_gpm(self.flow_gpm))?,
            flow_uncertainty: row.good(MeterUncertainty::from_percent(self.flow_uncertainty_percent))?,
            pumped: self.pumped,
            gauges,
            notes: self.notes.clone(),
            recorded_at: row.time(&self.recorded_at)?,
            voided,
        })
    }
}
