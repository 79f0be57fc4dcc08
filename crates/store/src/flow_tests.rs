//! Flow tests: written once, never edited, voided with a reason.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow, Pressure};
use longlay_records::flow_test::{FlowTest, SecondPoint, Voided};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;
use sqlx::types::Json;
use uuid::Uuid;

use crate::audit::Action;
use crate::change::Change;
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{missing, note, refuse};
use crate::replay::{self, Answer, Recorded};
use crate::rows::{Row, by_record, day_text, position, time_text};
use crate::town::Touched;

/// What came of voiding a test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum VoidOutcome {
    /// It no longer counts.
    Voided,
    /// It was voided before; the first reason stands.
    AlreadyVoided,
    /// The gauge hydrant has no such test.
    NotFound,
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

impl Store {
    /// Records a flow test.
    ///
    /// # Errors
    /// [`StoreError::UnknownReferences`] where the gauge hydrant or a flow hydrant does not exist or is retired; else see [`StoreError`].
    pub async fn add_flow_test(&self, test: &FlowTest, change: &Change) -> Result<Recorded, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(Recorded::Before(first));
        }
        add(&mut tx, test, change).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::FlowTests(BTreeSet::from([test.id.to_string()]))).await?;
        Ok(Recorded::Now)
    }

    /// Tests gauged at a hydrant by ascending id, from behind `after`, at most `limit`; voided ones too.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn flow_tests(
        &self,
        gauge: &AssetId,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Vec<FlowTest>, StoreError> {
        let mut tx = self.read().await?;
        let (gauge, after) = (gauge.as_str(), after.map(|id| id.to_string()).unwrap_or_default());
        let ids = sqlx::query_scalar!(
            "SELECT id FROM flow_tests WHERE gauge_hydrant_id = ?1 AND id > ?2 ORDER BY id LIMIT ?3",
            gauge,
            after,
            limit
        )
        .fetch_all(&mut *tx)
        .await
        .map_err(fault)?;
        Ok(load(&mut tx, &ids.into_iter().collect()).await?.into_values().collect())
    }

    /// One test gauged at a hydrant.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn flow_test(&self, gauge: &AssetId, id: Uuid) -> Result<Option<FlowTest>, StoreError> {
        let mut tx = self.read().await?;
        let found = load(&mut tx, &BTreeSet::from([id.to_string()])).await?.into_values().next();
        Ok(found.filter(|test| test.gauge_hydrant_id == *gauge))
    }

    /// Voids a test.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn void_flow_test(
        &self,
        gauge: &AssetId,
        id: Uuid,
        voided: &Voided,
        change: &Change,
    ) -> Result<VoidOutcome, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(VoidOutcome::Before(first));
        }
        let (id, gauge) = (id.to_string(), gauge.as_str());
        let before = sqlx::query_scalar!(
            r#"SELECT voided_at IS NOT NULL AS "voided!: bool" FROM flow_tests WHERE id = ?1 AND gauge_hydrant_id = ?2"#,
            id,
            gauge
        )
        .fetch_optional(&mut *tx)
        .await
        .map_err(fault)?;
        match before {
            None => return Ok(VoidOutcome::NotFound),
            Some(true) => return Ok(VoidOutcome::AlreadyVoided),
            Some(false) => {}
        }
        let at = time_text(voided.at);
        sqlx::query!("UPDATE flow_tests SET voided_at = ?2, void_reason = ?3 WHERE id = ?1", id, at, voided.reason)
            .execute(&mut *tx)
            .await
            .map_err(fault)?;
        note(&mut tx, change, Action::Void, RecordKind::FlowTest, &id).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::FlowTests(BTreeSet::from([id]))).await?;
        Ok(VoidOutcome::Voided)
    }
}

/// The write without its transaction.
pub(crate) async fn add(conn: &mut SqliteConnection, test: &FlowTest, change: &Change) -> Result<(), StoreError> {
    let hydrants = test.flow_hydrant_ids.iter().chain([&test.gauge_hydrant_id]);
    refuse(missing(&mut *conn, RecordKind::Hydrant, hydrants).await?)?;
    // The triggers take no part of a test that is recorded already, so its parts go first.
    insert_parts(&mut *conn, test).await?;
    insert(&mut *conn, test).await?;
    note(conn, change, Action::Record, RecordKind::FlowTest, &test.id.to_string()).await
}

async fn insert_parts(conn: &mut SqliteConnection, test: &FlowTest) -> Result<(), StoreError> {
    let id = test.id.to_string();
    let numbered = (1_i64..).zip(test.flows());
    let readings = numbered.flat_map(|(point, flow)| match flow {
        MeasuredFlow::Pitot(readings) => readings.iter().map(|reading| (point, reading)).collect(),
        MeasuredFlow::Metered(_) => Vec::new(),
    });
    for (i, (point, reading)) in readings.enumerate() {
        let position = position(i)?;
        let (diameter_in, coefficient, pitot_psi) =
            (reading.diameter.inches(), reading.coefficient.number(), reading.pitot.psi());
        sqlx::query!(
            "INSERT INTO flow_test_outlets (flow_test_id, position, diameter_in, coefficient, pitot_psi, point)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            id,
            position,
            diameter_in,
            coefficient,
            pitot_psi,
            point
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    for (i, hydrant_id) in test.flow_hydrant_ids.iter().enumerate() {
        let (position, hydrant_id) = (position(i)?, hydrant_id.as_str());
        sqlx::query!(
            "INSERT INTO flow_test_flow_hydrants (flow_test_id, position, hydrant_id) VALUES (?1, ?2, ?3)",
            id,
            position,
            hydrant_id
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}

async fn insert(conn: &mut SqliteConnection, test: &FlowTest) -> Result<(), StoreError> {
    let (id, gauge) = (test.id.to_string(), test.gauge_hydrant_id.as_str());
    let (tested_on, recorded_at) = (day_text(test.tested_on), time_text(test.recorded_at));
    let (static_psi, residual_psi) = (test.static_pressure.psi(), test.residual_pressure.psi());
    let metered = |flow: &MeasuredFlow| match flow {
        MeasuredFlow::Metered(flow) => Some(flow.gpm()),
        MeasuredFlow::Pitot(_) => None,
    };
    let metered_flow_gpm = metered(&test.flow);
    let second_metered_flow_gpm = test.second_point.as_ref().and_then(|second| metered(&second.flow));
    let second_residual_psi = test.second_point.as_ref().map(|second| second.residual_pressure.psi());
    let voided_at = test.voided.as_ref().map(|voided| time_text(voided.at));
    let void_reason = test.voided.as_ref().map(|voided| voided.reason.as_str());
    sqlx::query!(
        "INSERT INTO flow_tests (id, gauge_hydrant_id, tested_on, static_psi, residual_psi, metered_flow_gpm, notes, recorded_at,
           voided_at, void_reason, second_residual_psi, second_metered_flow_gpm)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        id,
        gauge,
        tested_on,
        static_psi,
        residual_psi,
        metered_flow_gpm,
        test.notes,
        recorded_at,
        voided_at,
        void_reason,
        second_residual_psi,
        second_metered_flow_gpm
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

/// The tests of these ids, by their stored id.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<String>,
) -> Result<BTreeMap<String, FlowTest>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = Json(ids);
    // Only ids are gathered as JSON: SQLite writes numbers into it with fifteen digits, which is not the number that was stored.
    let rows = sqlx::query_as!(
        FlowTestRow,
        r#"SELECT t.id, t.gauge_hydrant_id, t.tested_on, t.static_psi, t.residual_psi, t.metered_flow_gpm, t.notes,
                  t.recorded_at, t.voided_at, t.void_reason, t.second_residual_psi, t.second_metered_flow_gpm,
                  (SELECT json_group_array(f.hydrant_id ORDER BY f.position) FROM flow_test_flow_hydrants f
                   WHERE f.flow_test_id = t.id) AS "flow_hydrant_ids!: Json<Vec<String>>",
                  o.diameter_in AS "outlet_diameter_in?", o.coefficient AS "outlet_coefficient?", o.pitot_psi AS "pitot_psi?",
                  o.point AS "point?"
           FROM flow_tests t LEFT JOIN flow_test_outlets o ON o.flow_test_id = t.id
           WHERE t.id IN (SELECT value FROM json_each(?1)) ORDER BY t.id, o.position"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    by_record(&rows, |row| &row.id)
        .map(|(row, parts)| {
            let of_point = |point: i64| {
                let own = parts.iter().filter(|part| part.point == Some(point));
                own.filter_map(|part| part.reading().transpose()).collect::<Result<_, _>>()
            };
            Ok((row.id.clone(), row.flow_test(of_point(1)?, of_point(2)?)?))
        })
        .collect()
}

struct FlowTestRow {
    id: String,
    gauge_hydrant_id: String,
    tested_on: String,
    static_psi: f64,
    residual_psi: f64,
    metered_flow_gpm: Option<f64>,
    notes: Option<String>,
    recorded_at: String,
    voided_at: Option<String>,
    void_reason: Option<String>,
    flow_hydrant_ids: Json<Vec<String>>,
    outlet_diameter_in: Option<f64>,
    outlet_coefficient: Option<f64>,
    pitot_psi: Option<f64>,
    point: Option<i64>,
    second_residual_psi: Option<f64>,
    second_metered_flow_gpm: Option<f64>,
}

/// The reading of an outlet of a test; none where the row holds none.
pub(crate) fn pitot_reading(
    test_id: &str,
    diameter_in: Option<f64>,
    coefficient: Option<f64>,
    pitot_psi: Option<f64>,
) -> Result<Option<PitotReading>, StoreError> {
    let row = Row::of("flow_test_outlets", test_id);
    let (Some(inches), Some(number), Some(psi)) = (diameter_in, coefficient, pitot_psi) else { return Ok(None) };
    Ok(Some(PitotReading {
        diameter: row.good(Diameter::from_in(inches))?,
        coefficient: row.good(OutletCoefficient::from_number(number))?,
        pitot: row.good(PitotPressure::from_psi(psi))?,
    }))
}

impl FlowTestRow {
    fn reading(&self) -> Result<Option<PitotReading>, StoreError> {
        pitot_reading(&self.id, self.outlet_diameter_in, self.outlet_coefficient, self.pitot_psi)
    }

    fn flow_test(&self, first: Vec<PitotReading>, second: Vec<PitotReading>) -> Result<FlowTest, StoreError> {
        let row = Row::of("flow_tests", &self.id);
        let flow = |metered: Option<f64>, readings| match metered {
            Some(gpm) => row.good(PositiveFlow::from_gpm(gpm)).map(MeasuredFlow::Metered),
            None => Ok(MeasuredFlow::Pitot(readings)),
        };
        let second_point = match self.second_residual_psi {
            Some(psi) => Some(SecondPoint {
                residual_pressure: row.good(Pressure::from_psi(psi))?,
                flow: flow(self.second_metered_flow_gpm, second)?,
            }),
            None => None,
        };
        let voided = match (&self.voided_at, &self.void_reason) {
            (None, None) => None,
            (Some(at), Some(reason)) => Some(Voided { reason: reason.clone(), at: row.time(at)? }),
            _ => return Err(row.corrupt("voided without a reason, or a reason without being voided")),
        };
        Ok(FlowTest {
            id: row.uuid(&self.id)?,
            gauge_hydrant_id: row.asset_id(&self.gauge_hydrant_id)?,
            tested_on: row.day(&self.tested_on)?,
            static_pressure: row.good(Pressure::from_psi(self.static_psi))?,
            residual_pressure: row.good(Pressure::from_psi(self.residual_psi))?,
            flow: flow(self.metered_flow_gpm, first)?,
            second_point,
            flow_hydrant_ids: Row::of("flow_test_flow_hydrants", &self.id).asset_ids(&self.flow_hydrant_ids)?,
            recorded_at: row.time(&self.recorded_at)?,
            voided,
            notes: self.notes.clone(),
        })
    }
}
