//! A store in a fresh folder, and records that only say what matters.

use std::path::PathBuf;

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::pumper::PumpPoint;
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Diameter, HoseCoefficient, Length, OutletCoefficient, PitotPressure, PositiveFlow, Pressure,
    Volume,
};
use longlay_records::author::Author;
use longlay_records::equipment::{ApplianceType, HoseLoad, HoseType, HydrantValveType, LayProfile, Origin, Pumper};
use longlay_records::flow_test::{FlowTest, Voided};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use longlay_store::{Change, OpenOptions, Store};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, SqliteConnection};
use uuid::Uuid;

pub(crate) struct Fresh {
    pub(crate) store: Store,
    pub(crate) path: PathBuf,
    folder: tempfile::TempDir,
}

pub(crate) async fn fresh() -> Fresh {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("longlay.db");
    let store = Store::open(&path, &OpenOptions::default()).await.unwrap();
    Fresh { store, path, folder }
}

impl Fresh {
    /// The store and its folder, to be dropped apart.
    pub(crate) fn parts(self) -> (Store, tempfile::TempDir) {
        (self.store, self.folder)
    }

    /// A connection of another program, with every guard that a connection can switch off left on.
    pub(crate) async fn raw(&self) -> SqliteConnection {
        SqliteConnectOptions::new().filename(&self.path).connect().await.unwrap()
    }
}

pub(crate) fn id(id: &str) -> AssetId {
    AssetId::new(id).unwrap()
}

pub(crate) fn now() -> DateTime<Utc> {
    "2026-11-25T08:30:00.123456789Z".parse().unwrap()
}

/// A change on no condition.
pub(crate) fn change() -> Change {
    Change::by(Author::command_line(), now())
}

pub(crate) fn day(day: &str) -> NaiveDate {
    day.parse().unwrap()
}

pub(crate) fn psi(psi: f64) -> Pressure {
    Pressure::from_psi(psi).unwrap()
}

pub(crate) fn k(k: f64) -> ApplianceCoefficient {
    ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap()
}

/// Nothing known of it but where it stands.
pub(crate) fn hydrant(number: &str) -> Hydrant {
    Hydrant {
        id: id(number),
        location: Location::new(-90.0, 40.0).unwrap(),
        elevation: None,
        outlets: Vec::new(),
        body_loss: None,
        main_id: None,
        main_diameter: None,
        pressure_zone: None,
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: Status::InService,
        description: None,
    }
}

/// Everything known of it.
pub(crate) fn full_hydrant(number: &str) -> Hydrant {
    let outlet = |kind, inches| HydrantOutlet {
        kind,
        diameter: Diameter::from_in(inches).unwrap(),
        coefficient: OutletCoefficient::from_number(0.9).unwrap(),
    };
    Hydrant {
        location: Location::new(-89.123_456_789, 40.1).unwrap(),
        elevation: Some(Elevation::from_ft(-12.5).unwrap()),
        outlets: vec![outlet(OutletKind::Pumper, 4.5), outlet(OutletKind::Hose, 2.5), outlet(OutletKind::Hose, 2.5)],
        body_loss: Some(k(0.04)),
        main_id: Some("M-7 north".to_owned()),
        main_diameter: Some(Diameter::from_in(8.0).unwrap()),
        pressure_zone: Some("low".to_owned()),
        owner: Owner::Private,
        potable: false,
        seasonal: true,
        status: Status::OutOfService { reason: Some("frozen".to_owned()) },
        description: Some("behind the \"mill\"; it's stiff".to_owned()),
        ..hydrant(number)
    }
}

/// The n-th test recorded, metered, of one gauge hydrant.
pub(crate) fn flow_test(n: u64, gauge: &str) -> FlowTest {
    FlowTest {
        id: test_id(n),
        gauge_hydrant_id: id(gauge),
        tested_on: day("2026-05-01"),
        static_pressure: psi(72.0),
        residual_pressure: psi(51.0),
        flow: MeasuredFlow::Metered(PositiveFlow::from_gpm(1010.5).unwrap()),
        second_point: None,
        flow_hydrant_ids: Vec::new(),
        notes: None,
        recorded_at: now(),
        voided: None,
    }
}

pub(crate) fn test_id(n: u64) -> Uuid {
    uuid::Builder::from_unix_timestamp_millis((1_700_000_000 + n) * 1000, &[0; 10]).into_uuid()
}

pub(crate) fn pitot(readings: &[(f64, f64, f64)]) -> MeasuredFlow {
    let reading = |&(inches, number, psi): &(f64, f64, f64)| PitotReading {
        diameter: Diameter::from_in(inches).unwrap(),
        coefficient: OutletCoefficient::from_number(number).unwrap(),
        pitot: PitotPressure::from_psi(psi).unwrap(),
    };
    MeasuredFlow::Pitot(readings.iter().map(reading).collect())
}

pub(crate) fn voided() -> Voided {
    Voided { reason: "gauge read high".to_owned(), at: now() }
}

pub(crate) fn hose_type(name: &str) -> HoseType {
    HoseType {
        id: id(name),
        name: "Yellow 5 in".to_owned(),
        diameter: Diameter::from_in(5.0).unwrap(),
        coefficient: HoseCoefficient::from_psi_per_100gpm2_100ft(0.07).unwrap(),
        coefficient_range: None,
        max_operating: Some(psi(185.0)),
        service_test: Some(psi(200.0)),
        source: "own test".to_owned(),
        origin: Origin::Department,
    }
}

pub(crate) fn appliance(name: &str) -> ApplianceType {
    ApplianceType {
        id: id(name),
        name: "Our manifold".to_owned(),
        loss: ApplianceLoss::Squared(k(0.06)),
        loss_range: None,
        max_operating: Some(psi(200.0)),
        source: "own test".to_owned(),
        origin: Origin::Department,
    }
}

pub(crate) fn load(hose: &str, ft: f64) -> HoseLoad {
    HoseLoad { hose_type_id: id(hose), length: Length::from_ft(ft).unwrap() }
}

pub(crate) fn valve(name: &str) -> HydrantValveType {
    HydrantValveType {
        id: id(name),
        name: "Our valve".to_owned(),
        through: k(0.2),
        through_range: None,
        to_pump: k(0.1),
        from_pump: k(0.04),
        to_pump_hose: None,
        from_pump_hose: None,
        source: "own test".to_owned(),
        origin: Origin::Department,
    }
}

pub(crate) fn pumper(name: &str) -> Pumper {
    let point = |gpm, net| PumpPoint { flow: PositiveFlow::from_gpm(gpm).unwrap(), net: psi(net) };
    Pumper {
        id: id(name),
        name: "Engine".to_owned(),
        rated_flow: PositiveFlow::from_gpm(1500.0).unwrap(),
        intake_floor: Some(psi(10.0)),
        max_discharge: Some(psi(175.0)),
        points: vec![point(750.0, 250.0), point(1050.0, 205.0), point(1500.0, 152.5)],
        tank: Some(Volume::from_gal(750.0).unwrap()),
        hose: vec![load("std-5in", 1000.0), load("std-2-5in", 600.0), load("std-5in", 200.0)],
    }
}

pub(crate) fn lay_profile(name: &str) -> LayProfile {
    LayProfile {
        id: id(name),
        name: "Forward lay".to_owned(),
        hydrant_valve_id: Some(id("std-four-way")),
        hose_type_id: id("std-5in"),
        lines: 2,
        carried: Length::from_ft(1000.0).unwrap(),
        scene_appliance_ids: vec![id("std-wye"), id("std-intake-valve"), id("std-wye")],
        scene_floor: Some(psi(20.0)),
        main_floor: Some(psi(25.0)),
    }
}
