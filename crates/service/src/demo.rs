//! The demo town: invented records, loaded through the same conversions as any request's.

use axum::extract::State;
use longlay_exchange::read::{Reading, Source, Spoken};
use longlay_exchange::streets;
use longlay_records::author::Author;
use longlay_records::flow_test::Voided;
use longlay_records::id::AssetId;
use longlay_store::{Change, StoreError, StreetNetwork};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::app::AppState;
use crate::faults::Faults;
use crate::idempotency::{Once, Posted};
use crate::lay::{self, LayCalculation, LayPumper, LaySource};
use crate::problem::Problem;
use crate::routes::appliances::ApplianceBody;
use crate::routes::demand_points::DemandPointBody;
use crate::routes::districts::DistrictBody;
use crate::routes::drill_body::DrillBody;
use crate::routes::drills::create_drill;
use crate::routes::equipment_test_body::EquipmentTestBody;
use crate::routes::equipment_tests::create_equipment_test;
use crate::routes::flow_test_body::{FlowTestBody, Recording};
use crate::routes::hose_types::HoseTypeBody;
use crate::routes::hydrant_valves::HydrantValveBody;
use crate::routes::hydrants::HydrantBody;
use crate::routes::lay_profiles::LayProfileBody;
use crate::routes::pumpers::PumperBody;
use crate::writer::Writer;

const HYDRANTS: &str = include_str!("../data/demo-town/hydrants.json");
const FLOW_TESTS: &str = include_str!("../data/demo-town/flow_tests.json");
const EQUIPMENT: &str = include_str!("../data/demo-town/equipment.json");
const EQUIPMENT_TESTS: &str = include_str!("../data/demo-town/equipment_tests.json");
const STREETS: &str = include_str!("../data/demo-town/streets.geojson");
const DEMAND_POINTS: &str = include_str!("../data/demo-town/demand_points.json");
const DISTRICTS: &str = include_str!("../data/demo-town/districts.json");
const DRILLS: &str = include_str!("../data/demo-town/drills.json");

/// Why the town cannot be loaded: a fault of the build, or of the disk.
#[derive(Debug, Error)]
pub enum Unloadable {
    /// A file is not what it should be.
    #[error("{0}")]
    Form(#[from] serde_json::Error),
    /// A record is refused.
    #[error("{record}: {fault}")]
    Refused {
        /// Which.
        record: String,
        /// Why.
        fault: String,
    },
    /// The store failed.
    #[error("{0}")]
    Store(#[from] StoreError),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Equipment {
    hose_types: Vec<Map<String, Value>>,
    appliances: Vec<Map<String, Value>>,
    hydrant_valves: Vec<Map<String, Value>>,
    pumpers: Vec<Map<String, Value>>,
    lay_profiles: Vec<Map<String, Value>>,
}

/// Who the town is put down to.
fn writer() -> Writer {
    Writer::program(Author { name: "demo town".to_owned(), key_id: None })
}

fn change(app: &AppState) -> Change {
    writer().change(app.clock.now())
}

/// A record of the files: its id under `key`, and the body that a request would carry.
fn record<T: DeserializeOwned>(mut row: Map<String, Value>, key: &str) -> Result<(AssetId, T), Unloadable> {
    let id = row.remove(key).unwrap_or_default();
    let refused = |fault: String| Unloadable::Refused { record: id.to_string(), fault };
    let asset_id = AssetId::new(id.as_str().unwrap_or_default()).map_err(|error| refused(error.to_string()))?;
    let body = serde_json::from_value(Value::Object(row)).map_err(|error| refused(error.to_string()))?;
    Ok((asset_id, body))
}

/// Names the record that a problem is about.
fn named<T>(id: &AssetId, converted: Result<T, Problem>) -> Result<T, Unloadable> {
    converted.map_err(|problem| Unloadable::Refused { record: id.to_string(), fault: format!("{problem:?}") })
}

/// Loads the town into an empty store.
///
/// # Errors
/// A file does not hold what it should, or the store fails.
pub async fn load(app: &AppState) -> Result<(), Unloadable> {
    load_equipment(app).await?;
    for row in serde_json::from_str::<Vec<_>>(HYDRANTS)? {
        let (id, body) = record::<HydrantBody>(row, "hydrant_id")?;
        let hydrant = named(&id, body.hydrant(id.clone()))?;
        app.store.put_hydrant(&hydrant, &change(app)).await?;
    }
    for row in serde_json::from_str::<Vec<Map<String, Value>>>(FLOW_TESTS)? {
        load_flow_test(app, row).await?;
    }
    load_log(app).await?;
    load_ground(app).await
}

/// What coverage is reckoned over.
async fn load_ground(app: &AppState) -> Result<(), Unloadable> {
    let now = app.clock.now();
    let reading = Reading {
        source: Source::GeoJson,
        spoken: Spoken::Query,
        ignore_unknown_columns: true,
        date_format: None,
        now,
        latest_day: app.clock.latest_today(),
        new_id: &|| app.ids.next(now),
    };
    let refused = |fault: String| Unloadable::Refused { record: "streets".to_owned(), fault };
    let streets = streets::read(STREETS.as_bytes(), &reading).map_err(|faults| refused(format!("{faults:?}")))?.streets;
    let sha256 = Sha256::digest(STREETS).into();
    let network = StreetNetwork::of(&streets, sha256, now).ok_or_else(|| refused("there are none".to_owned()))?;
    app.store.replace_streets(&streets, &network, &change(app), &|_| Vec::new()).await?;
    for row in serde_json::from_str::<Vec<_>>(DEMAND_POINTS)? {
        let (id, body) = record::<DemandPointBody>(row, "demand_point_id")?;
        let point = named(&id, body.demand_point(id.clone()))?;
        app.store.put_demand_point(&point, &change(app)).await?;
    }
    for row in serde_json::from_str::<Vec<_>>(DISTRICTS)? {
        let (id, body) = record::<DistrictBody>(row, "id")?;
        let district = named(&id, body.district(id.clone()))?;
        app.store.put_district(&district, &change(app)).await?;
    }
    Ok(())
}

/// What the department found out itself: nothing is filled in by hand that a request would not fill in.
async fn load_log(app: &AppState) -> Result<(), Unloadable> {
    let refused = |record: String, problem: &Problem| Unloadable::Refused { record, fault: format!("{problem:?}") };
    for (i, body) in serde_json::from_str::<Vec<EquipmentTestBody>>(EQUIPMENT_TESTS)?.into_iter().enumerate() {
        let recorded =
            create_equipment_test(State(app.clone()), writer(), Posted { body, once: Once::default() }).await;
        recorded.map_err(|problem| refused(format!("equipment test {i}"), &problem))?;
    }
    for (i, body) in serde_json::from_str::<Vec<DrillBody>>(DRILLS)?.into_iter().enumerate() {
        let recorded = create_drill(State(app.clone()), writer(), Posted { body, once: Once::default() }).await;
        recorded.map_err(|problem| refused(format!("drill {i}"), &problem))?;
    }
    Ok(())
}

async fn load_equipment(app: &AppState) -> Result<(), Unloadable> {
    let change = change(app);
    let equipment: Equipment = serde_json::from_str(EQUIPMENT)?;
    for row in equipment.hose_types {
        let (id, body) = record::<HoseTypeBody>(row, "id")?;
        app.store.put_hose_type(&named(&id, body.hose_type(id.clone()))?, &change).await?;
    }
    for row in equipment.appliances {
        let (id, body) = record::<ApplianceBody>(row, "id")?;
        app.store.put_appliance(&named(&id, body.appliance(id.clone()))?, &change).await?;
    }
    for row in equipment.hydrant_valves {
        let (id, body) = record::<HydrantValveBody>(row, "id")?;
        app.store.put_hydrant_valve(&named(&id, body.hydrant_valve(id.clone()))?, &change).await?;
    }
    for row in equipment.pumpers {
        let (id, body) = record::<PumperBody>(row, "id")?;
        app.store.put_pumper(&named(&id, body.pumper(id.clone()))?, &change).await?;
    }
    for row in equipment.lay_profiles {
        let (id, body) = record::<LayProfileBody>(row, "id")?;
        app.store.put_lay_profile(&named(&id, body.lay_profile(id.clone()))?, &change).await?;
    }
    Ok(())
}

async fn load_flow_test(app: &AppState, mut row: Map<String, Value>) -> Result<(), Unloadable> {
    let void_reason = row.remove("void_reason");
    let (gauge, body) = record::<FlowTestBody>(row, "hydrant_id")?;
    let test = named(&gauge, body.flow_test(Recording::new(app, gauge.clone())))?;
    app.store.add_flow_test(&test, &change(app)).await?;
    if let Some(reason) = void_reason.as_ref().and_then(Value::as_str) {
        let voided = Voided { reason: reason.to_owned(), at: app.clock.now() };
        app.store.void_flow_test(&gauge, test.id, &voided, &change(app)).await?;
    }
    Ok(())
}

/// The question that the greeting answers: is it friction or is it water, and what does the pumper do for 600 gpm?
const FIRST_QUESTION: &str =
    "/v1/hydrants/H-101/deliverable-flow?lay_profile_id=five-inch-valve&boost_pumper_id=engine-1&target_flow_gpm=600";

/// What the demo says when it is ready: where it is, one worked answer, and the request that gives it.
///
/// # Errors
/// The answer is refused, which would be a fault of the build.
pub(crate) async fn greeting(app: &AppState) -> Result<String, Unloadable> {
    let url = &app.public_url;
    let ask = LayCalculation {
        source: LaySource { hydrant_id: Some("H-101".to_owned()), ..LaySource::default() },
        lay_profile_id: Some("five-inch-valve".to_owned()),
        boost: Some(LayPumper { pumper_id: Some("engine-1".to_owned()), ..LayPumper::default() }),
        target_flow_gpm: Some(600.0),
        ..LayCalculation::default()
    };
    let answer = lay::calculate(app, &ask, Faults::of_body()).await;
    let answer =
        answer.map_err(|problem| Unloadable::Refused { record: "H-101".to_owned(), fault: format!("{problem:?}") })?;
    Ok(format!(
        "Quenderby, an invented town, is served at {url} (the API in a browser: {url}/docs)\n\n\
         What does hydrant H-101 put at a fire 1000 ft of 5-inch away, and is 600 gpm to be had?\n\n\
         {}\n\n\
         The request that gives it, with gauges, limits, cautions and sources:\n\n  curl '{url}{FIRST_QUESTION}'\n\n\
         Stop with Ctrl-C; everything is forgotten then.",
        answer.in_words()
    ))
}
