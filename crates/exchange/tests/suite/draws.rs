//! Any record of each kind.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, IsoEdition, Sprinklers};
use longlay_hydraulics::pumper::PumpPoint;
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Area, Diameter, Flow, HoseCoefficient, Length, OutletCoefficient, PitotPressure,
    PositiveFlow, Pressure, Separation, Volume,
};
use longlay_records::demand::{DemandPoint, Need};
use longlay_records::equipment::{ApplianceType, HoseLoad, HoseType, HydrantValveType, LayProfile, Origin, Pumper};
use longlay_records::flow_test::{FlowTest, SecondPoint, Voided};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use uuid::Uuid;

pub(crate) fn id() -> impl Strategy<Value = AssetId> {
    "[A-Za-z0-9_-]{1,64}".prop_map(|id| AssetId::new(id).unwrap())
}

/// Words with all that a delimiter, a quote, a formula or a space at the end could do to them.
pub(crate) fn words() -> impl Strategy<Value = String> {
    // What is read as space, as a mark at the beginning of a file, as an escape, or from right to left is among them.
    "[-=+@' ,;:|\\\\\"“<&a-zA-Zéß水א\u{a0}\u{2028}\u{3000}\u{feff}\u{1f692}0-9.]{1,40}"
        .prop_filter("not blank", |text| !text.trim().is_empty())
}

macro_rules! quantity {
    ($name:ident, $from:ident, $get:ident) => {
        prop_oneof![
            ($name::BOUND.min..=$name::BOUND.max).prop_map(|value| $name::$from(value).unwrap()),
            Just($name::$from($name::BOUND.min).unwrap()),
            Just($name::$from($name::BOUND.max).unwrap()),
        ]
    };
}

fn pressure() -> impl Strategy<Value = Pressure> {
    quantity!(Pressure, from_psi, psi)
}

fn positive_flow() -> impl Strategy<Value = PositiveFlow> {
    quantity!(PositiveFlow, from_gpm, gpm)
}

fn diameter() -> impl Strategy<Value = Diameter> {
    quantity!(Diameter, from_in, inches)
}

fn loss() -> impl Strategy<Value = ApplianceCoefficient> {
    quantity!(ApplianceCoefficient, from_psi_per_100gpm2, psi_per_100gpm2)
}

fn outlet_coefficient() -> impl Strategy<Value = OutletCoefficient> {
    quantity!(OutletCoefficient, from_number, number)
}

fn length() -> impl Strategy<Value = Length> {
    quantity!(Length, from_ft, ft)
}

fn load() -> impl Strategy<Value = HoseLoad> {
    (id(), length()).prop_map(|(hose_type_id, length)| HoseLoad { hose_type_id, length })
}

fn outlet() -> impl Strategy<Value = HydrantOutlet> {
    let kind = prop_oneof![Just(OutletKind::Hose), Just(OutletKind::Pumper)];
    (kind, diameter(), outlet_coefficient()).prop_map(|(kind, diameter, coefficient)| HydrantOutlet {
        kind,
        diameter,
        coefficient,
    })
}

pub(crate) fn hydrant() -> impl Strategy<Value = Hydrant> {
    let location = (-180.0..=180.0, -90.0..=90.0).prop_map(|(lon, lat)| Location::new(lon, lat).unwrap());
    let elevation = option::of((-1500.0..=30_000.0).prop_map(|ft| Elevation::from_ft(ft).unwrap()));
    let owner = prop_oneof![Just(Owner::Public), Just(Owner::Private)];
    let out = option::of(words()).prop_map(|reason| Status::OutOfService { reason });
    let status = prop_oneof![Just(Status::InService), out];
    let about = (option::of(words()), option::of(diameter()), option::of(words()), option::of(words()));
    (id(), location, elevation, vec(outlet(), 0..=6), option::of(loss()), about, owner, any::<(bool, bool)>(), status)
        .prop_map(|(id, location, elevation, outlets, body_loss, about, owner, (potable, seasonal), status)| {
            let (main_id, main_diameter, pressure_zone, description) = about;
            Hydrant {
                id,
                location,
                elevation,
                outlets,
                body_loss,
                main_id,
                main_diameter,
                pressure_zone,
                owner,
                potable,
                seasonal,
                status,
                description,
            }
        })
}

fn reading() -> impl Strategy<Value = PitotReading> {
    (diameter(), outlet_coefficient(), (0.1..=30.0).prop_map(|psi| PitotPressure::from_psi(psi).unwrap()))
        .prop_map(|(diameter, coefficient, pitot)| PitotReading { diameter, coefficient, pitot })
}

fn measured() -> impl Strategy<Value = MeasuredFlow> {
    let pitot = vec(reading(), 1..=24).prop_map(MeasuredFlow::Pitot).prop_filter("a flow", |flow| flow.total().is_ok());
    prop_oneof![pitot, positive_flow().prop_map(MeasuredFlow::Metered)]
}

fn moment() -> impl Strategy<Value = DateTime<Utc>> {
    (0..1_700_000_000_i64, prop_oneof![Just(0), 0..1_000_000_000_u32])
        .prop_map(|(seconds, nanos)| DateTime::from_timestamp(seconds, nanos).unwrap())
}

pub(crate) fn flow_test() -> impl Strategy<Value = FlowTest> {
    let test_id = (0..1_700_000_000_000_u64, any::<[u8; 10]>())
        .prop_map(|(millis, tail)| uuid::Builder::from_unix_timestamp_millis(millis, &tail).into_uuid());
    let day = (1..=46_000_i32)
        .prop_map(|days| NaiveDate::from_ymd_opt(1900, 1, 1).unwrap() + chrono::TimeDelta::days(days.into()));
    let residual = || (0.0..=30.0).prop_map(|psi| Pressure::from_psi(psi).unwrap());
    let still = (30.0..=1000.0).prop_map(|psi| Pressure::from_psi(psi).unwrap());
    let second = (residual(), measured()).prop_map(|(residual_pressure, flow)| SecondPoint { residual_pressure, flow });
    let voided = (words(), moment()).prop_map(|(reason, at)| Voided { reason, at });
    let flowed = proptest::collection::btree_set(id(), 0..=12).prop_map(|ids| ids.into_iter().collect::<Vec<_>>());
    let said = (option::of(words()), moment(), option::of(voided));
    let read = (still, residual(), measured(), option::of(second));
    (test_id, id(), day, read, flowed, said).prop_map(
        |(id, gauge_hydrant_id, tested_on, read, flow_hydrant_ids, said)| {
            let (static_pressure, residual_pressure, flow, second_point) = read;
            let (notes, recorded_at, voided) = said;
            FlowTest {
                id: Uuid::from_bytes(*id.as_bytes()),
                gauge_hydrant_id,
                tested_on,
                static_pressure,
                residual_pressure,
                flow,
                second_point,
                flow_hydrant_ids,
                notes,
                recorded_at,
                voided,
            }
        },
    )
}

pub(crate) fn hose_type() -> impl Strategy<Value = HoseType> {
    let coefficient = quantity!(HoseCoefficient, from_psi_per_100gpm2_100ft, psi_per_100gpm2_100ft);
    (id(), words(), diameter(), coefficient, option::of(pressure()), option::of(pressure()), words()).prop_map(
        |(id, name, diameter, coefficient, max_operating, service_test, source)| HoseType {
            id,
            name,
            diameter,
            coefficient,
            coefficient_range: None,
            max_operating,
            service_test,
            source,
            origin: Origin::Department,
        },
    )
}

pub(crate) fn appliance() -> impl Strategy<Value = ApplianceType> {
    let flow = (Flow::BOUND.min..=Flow::BOUND.max).prop_map(|gpm| Flow::from_gpm(gpm).unwrap());
    let step = (pressure(), flow).prop_map(|(fixed, at_or_above)| ApplianceLoss::Step { fixed, at_or_above });
    let loss = prop_oneof![loss().prop_map(ApplianceLoss::Squared), step];
    (id(), words(), loss, option::of(pressure()), words()).prop_map(|(id, name, loss, max_operating, source)| {
        ApplianceType { id, name, loss, loss_range: None, max_operating, source, origin: Origin::Department }
    })
}

pub(crate) fn hydrant_valve() -> impl Strategy<Value = HydrantValveType> {
    let legs = (loss(), loss(), loss());
    (id(), words(), legs, option::of(load()), option::of(load()), words()).prop_map(
        |(id, name, (through, to_pump, from_pump), to_pump_hose, from_pump_hose, source)| HydrantValveType {
            id,
            name,
            through,
            through_range: None,
            to_pump,
            from_pump,
            to_pump_hose,
            from_pump_hose,
            source,
            origin: Origin::Department,
        },
    )
}

pub(crate) fn pumper() -> impl Strategy<Value = Pumper> {
    let points = (0..=5_usize).prop_map(|count| {
        let point = |i: u8| PumpPoint {
            flow: PositiveFlow::from_gpm(100.0 + f64::from(i) * 333.3).unwrap(),
            net: Pressure::from_psi(300.0 - f64::from(i) * 33.3).unwrap(),
        };
        (0..5).map(point).take(count).collect()
    });
    let tank = option::of((0.0..=5000.0).prop_map(|gal| Volume::from_gal(gal).unwrap()));
    (id(), words(), positive_flow(), option::of(pressure()), option::of(pressure()), points, tank, vec(load(), 0..=20))
        .prop_map(|(id, name, rated_flow, intake_floor, max_discharge, points, tank, hose)| Pumper {
            id,
            name,
            rated_flow,
            intake_floor,
            max_discharge,
            points,
            tank,
            hose,
        })
}

pub(crate) fn lay_profile() -> impl Strategy<Value = LayProfile> {
    let floors = (option::of(pressure()), option::of(pressure()));
    (id(), words(), option::of(id()), id(), 1..=8_u8, length(), vec(id(), 0..=20), floors).prop_map(
        |(id, name, hydrant_valve_id, hose_type_id, lines, carried, scene_appliance_ids, (scene_floor, main_floor))| {
            LayProfile {
                id,
                name,
                hydrant_valve_id,
                hose_type_id,
                lines,
                carried,
                scene_appliance_ids,
                scene_floor,
                main_floor,
            }
        },
    )
}

fn need() -> impl Strategy<Value = Need> {
    let given = (positive_flow(), option::of(words())).prop_map(|(flow, source)| Need::Given { flow, source });
    let edition = prop_oneof![Just(IsoEdition::Before2012), Just(IsoEdition::From2012)];
    let dwelling = (edition, quantity!(Separation, from_ft, ft))
        .prop_map(|(edition, separation)| Need::IsoDwelling { edition, separation });
    let edition = prop_oneof![Just(FireCodeEdition::Before2015), Just(FireCodeEdition::From2015)];
    let sprinklers = prop_oneof![Just(Sprinklers::None), Just(Sprinklers::Full), Just(Sprinklers::Residential)];
    let building_type = prop_oneof![Just(BuildingType::TypeVB), Just(BuildingType::TypeIA)];
    let building = (edition, building_type, quantity!(Area, from_sq_ft, sq_ft), any::<bool>(), sprinklers).prop_map(
        |(edition, building_type, area, dwelling, sprinklers)| {
            Need::FireCode(FireCode { edition, building_type, area, dwelling, sprinklers })
        },
    );
    prop_oneof![given, dwelling, building.prop_filter("a known row", |need| need.gpm().is_ok())]
}

pub(crate) fn demand_point() -> impl Strategy<Value = DemandPoint> {
    let location = (-180.0..=180.0, -90.0..=90.0).prop_map(|(lon, lat)| Location::new(lon, lat).unwrap());
    let ground = option::of((-1500.0..=30_000.0).prop_map(|ft| Elevation::from_ft(ft).unwrap()));
    (id(), location, ground, option::of(words()), option::of(words()), option::of(need())).prop_map(
        |(id, location, ground, name, address, need)| DemandPoint { id, location, ground, name, address, need },
    )
}
