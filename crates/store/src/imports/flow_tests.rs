//! Flow tests that come in: one that is recorded already is passed over, and none is ever edited.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_records::flow_test::FlowTest;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;
use sqlx::types::Json;

use super::arriving::{refused, unknown};
use super::batch::{ArrivingTest, Refusal, Verdict};
use super::bulk::{self, Values};
use crate::audit::Action;
use crate::change::Change;
use crate::error::{RecordKind, StoreError, fault};
use crate::flow_tests::load;
use crate::rows::{day_text, id_list, position, time_text};

/// What is to be done with each of these.
pub(super) async fn judged(conn: &mut SqliteConnection, tests: &[ArrivingTest]) -> Result<Vec<Verdict>, StoreError> {
    let unknown = unknown(&mut *conn, tests.iter().flat_map(|arriving| hydrants(&arriving.test))).await?;
    let named =
        tests.iter().filter(|arriving| arriving.is_named).map(|arriving| arriving.test.id.to_string()).collect();
    let by_id = load(&mut *conn, &named).await?;
    let unnamed: Vec<_> = tests.iter().filter(|arriving| !arriving.is_named).map(|arriving| &arriving.test).collect();
    let alike = load_alike(conn, &unnamed).await?;
    let verdict = |ArrivingTest { test, is_named }: &ArrivingTest| {
        let refused = refused(&hydrants(test), &unknown);
        if !refused.is_empty() {
            return Verdict::Refuse(refused);
        }
        if *is_named {
            return by_id.get(&test.id.to_string()).map_or(Verdict::Create, |recorded| against(test, recorded));
        }
        let at_gauge = alike.get(&test.gauge_hydrant_id).map(Vec::as_slice).unwrap_or_default();
        if at_gauge.iter().any(|recorded| recorded.reads_as(test)) { Verdict::Skip } else { Verdict::Create }
    };
    Ok(tests.iter().map(verdict).collect())
}

/// A test against the one recorded under its id. One that was voided since stays voided.
fn against(test: &FlowTest, recorded: &FlowTest) -> Verdict {
    let voided_alike = FlowTest { voided: recorded.voided.clone(), ..test.clone() };
    match (voided_alike == *recorded, &test.voided, &recorded.voided) {
        (false, _, _) => Verdict::Refuse(vec![Refusal::TestDiffers(test.id)]),
        (true, Some(_), None) => Verdict::Refuse(vec![Refusal::TestNotVoided(test.id)]),
        (true, Some(said), Some(known)) if said != known => Verdict::Refuse(vec![Refusal::TestDiffers(test.id)]),
        (true, _, _) => Verdict::Skip,
    }
}

fn hydrants(test: &FlowTest) -> Vec<(RecordKind, &AssetId)> {
    let ids = [&test.gauge_hydrant_id].into_iter().chain(&test.flow_hydrant_ids);
    ids.map(|id| (RecordKind::Hydrant, id)).collect()
}

/// Recorded tests of the same days, by the hydrant they were gauged at.
async fn load_alike(
    conn: &mut SqliteConnection,
    tests: &[&FlowTest],
) -> Result<BTreeMap<AssetId, Vec<FlowTest>>, StoreError> {
    if tests.is_empty() {
        return Ok(BTreeMap::new());
    }
    let gauges: BTreeSet<AssetId> = tests.iter().map(|test| test.gauge_hydrant_id.clone()).collect();
    let days: BTreeSet<String> = tests.iter().map(|test| day_text(test.tested_on)).collect();
    let (gauges, days) = (id_list(&gauges), Json(days));
    let ids = sqlx::query_scalar!(
        "SELECT id FROM flow_tests WHERE gauge_hydrant_id IN (SELECT value FROM json_each(?1))
           AND +tested_on IN (SELECT value FROM json_each(?2))",
        gauges,
        days
    )
    .fetch_all(&mut *conn)
    .await
    .map_err(fault)?;
    let mut by_gauge: BTreeMap<AssetId, Vec<FlowTest>> = BTreeMap::new();
    for test in load(conn, &ids.into_iter().collect()).await?.into_values() {
        by_gauge.entry(test.gauge_hydrant_id.clone()).or_default().push(test);
    }
    Ok(by_gauge)
}

const INTO: &str =
    "INSERT INTO flow_tests (id, gauge_hydrant_id, tested_on, static_psi, residual_psi, metered_flow_gpm, notes,
    recorded_at, voided_at, void_reason, second_residual_psi, second_metered_flow_gpm) ";
const INTO_OUTLETS: &str =
    "INSERT INTO flow_test_outlets (flow_test_id, position, diameter_in, coefficient, pitot_psi, point) ";
const INTO_HYDRANTS: &str = "INSERT INTO flow_test_flow_hydrants (flow_test_id, position, hydrant_id) ";

/// Records tests and their entries in the audit.
pub(super) async fn add_all(
    conn: &mut SqliteConnection,
    tests: &[&FlowTest],
    change: &Change,
) -> Result<(), StoreError> {
    let (mut ids, mut outlets, mut flowed) = (Vec::new(), Vec::new(), Vec::new());
    for test in tests {
        ids.push(Arc::<str>::from(test.id.to_string()));
    }
    for (id, test) in ids.iter().zip(tests) {
        for (i, (point, reading)) in readings(test).into_iter().enumerate() {
            outlets.push((id, position(i)?, point, reading));
        }
        for (i, hydrant) in test.flow_hydrant_ids.iter().enumerate() {
            flowed.push((id, position(i)?, hydrant));
        }
    }
    // The triggers take no part of a test that is recorded already, so its parts go first.
    bulk::insert(&mut *conn, INTO_OUTLETS, &outlets, "", bind_outlet).await?;
    bulk::insert(&mut *conn, INTO_HYDRANTS, &flowed, "", |values, (id, position, hydrant)| {
        values.bind(Arc::clone(id)).bind(*position).bind(hydrant.as_str());
    })
    .await?;
    let named: Vec<_> = ids.iter().zip(tests.iter().copied()).collect();
    bulk::insert(&mut *conn, INTO, &named, "", |values, (id, test)| bind(values, id, test)).await?;
    let recorded: Vec<_> = ids.iter().map(|id| (&**id, None)).collect();
    bulk::note(conn, change, Action::Record, "flow_test", &recorded).await
}

/// The pitot readings of a test, each with the number of its flow.
fn readings(test: &FlowTest) -> Vec<(i64, &PitotReading)> {
    let mut readings = Vec::new();
    for (point, flow) in (1..).zip(test.flows()) {
        if let MeasuredFlow::Pitot(own) = flow {
            readings.extend(own.iter().map(|reading| (point, reading)));
        }
    }
    readings
}

fn bind_outlet(values: &mut Values, (id, position, point, reading): &(&Arc<str>, i64, i64, &PitotReading)) {
    values.bind(Arc::clone(id)).bind(*position).bind(reading.diameter.inches());
    values.bind(reading.coefficient.number()).bind(reading.pitot.psi()).bind(*point);
}

fn bind(values: &mut Values, id: &Arc<str>, test: &FlowTest) {
    let metered = |flow: &MeasuredFlow| match flow {
        MeasuredFlow::Metered(flow) => Some(flow.gpm()),
        MeasuredFlow::Pitot(_) => None,
    };
    let second = test.second_point.as_ref();
    values.bind(Arc::clone(id)).bind(test.gauge_hydrant_id.as_str()).bind(day_text(test.tested_on));
    values.bind(test.static_pressure.psi()).bind(test.residual_pressure.psi()).bind(metered(&test.flow));
    values.bind(test.notes.as_deref()).bind(time_text(test.recorded_at));
    values.bind(test.voided.as_ref().map(|voided| time_text(voided.at)));
    values.bind(test.voided.as_ref().map(|voided| voided.reason.as_str()));
    values.bind(second.map(|second| second.residual_pressure.psi()));
    values.bind(second.and_then(|second| metered(&second.flow)));
}
