//! The checks of the handbook's single formulas: streams, needed flows, gauge rules, relays, drafting, shuttles and hose tests.

use core::num::NonZeroU8;

use longlay_hydraulics::drafting::{
    SEA_LEVEL_LIFT_FT, attainable_lift_ft, lift_of_vacuum_ft, rating_share, theoretical_lift_ft,
};
use longlay_hydraulics::friction_test::TwoGaugeReading;
use longlay_hydraulics::gauge_rules::{GaugeRule, RuleAnswer};
use longlay_hydraulics::hazen_williams::{loss_ft_per_100ft, loss_psi_per_ft};
use longlay_hydraulics::loss::older_2_half_inch_psi_per_100ft;
use longlay_hydraulics::needed_flow::{
    Construction, ConstructionClass, ExposureOrder, Iowa, IsoEdition, IsoNeededFlow, MinimumSupply,
    NationalFireAcademy, NeededFlow, Occupancy, OccupancyHazard, RuralEdition, RuralSupply, dwelling_needed_flow,
    hydrant_credit_gpm,
};
use longlay_hydraulics::quantity::{
    Altitude, Area, BuildingVolume, ConstructionNumber, Diameter, Dimension, ExposureFactor, Flow, HoseCoefficient,
    Involvement, Length, Lift, MeterUncertainty, Miles, Minutes, Rise, Roughness, Separation, TipDiameter, Vacuum,
    Volume,
};
use longlay_hydraulics::shuttle::{Haul, TankerRound, USABLE_SHARE, tanker_rate_gpm, travel_min};
use longlay_hydraulics::stream::{CustomaryNozzle, NOZZLE_CONSTANT, Stream};
use longlay_hydraulics::{relay, supply::SupplyCurve};
use longlay_records::equipment_test::{Figure, Measured, TwoGauges};
use longlay_records::id::AssetId;

use crate::published_checks::{gpm, main, psi};
use longlay_tests::cases::Row;

fn feet(feet: f64) -> Length {
    Length::from_ft(feet).unwrap()
}

fn side(row: &Row, name: &str) -> Dimension {
    Dimension::from_ft(row.input(name)).unwrap()
}

pub(crate) fn nozzle_flow(row: &Row) -> usize {
    assert_eq!(row.input("/constant"), NOZZLE_CONSTANT);
    let tip = TipDiameter::from_in(row.input("/tip_in")).unwrap();
    let stream = Stream::SmoothBore { tip, pressure: psi(row.input("/np_psi")) };
    row.agrees("/gpm", stream.flow().gpm())
}

pub(crate) fn customary_nozzle_pressure(row: &Row) -> usize {
    let nozzle = match row.text("/nozzle").as_str() {
        "smooth bore, hand line" => CustomaryNozzle::SmoothBoreHandLine,
        "smooth bore, master stream" => CustomaryNozzle::SmoothBoreMasterStream,
        "fog" => CustomaryNozzle::Fog100,
        "fog, middle pressure" => CustomaryNozzle::Fog75,
        _ => CustomaryNozzle::Fog50,
    };
    row.agrees("/psi", nozzle.psi())
}

pub(crate) fn nozzle_reaction(row: &Row) -> usize {
    let pressure = psi(row.input("/np_psi"));
    let stream = match row.id.as_str() {
        "NR01" => Stream::SmoothBore { tip: TipDiameter::from_in(row.input("/tip_in")).unwrap(), pressure },
        _ => Stream::Fog { flow: gpm(row.input("/gpm")), pressure },
    };
    row.agrees("/lbf", stream.reaction_lbf())
}

#[expect(non_snake_case, reason = "the topic's own name")]
pub(crate) fn friction_loss_2Q2_plus_Q(row: &Row) -> usize {
    assert_eq!(row.input("/length_ft"), 100.0);
    row.agrees("/psi", older_2_half_inch_psi_per_100ft(Flow::from_gpm(row.input("/gpm")).unwrap()))
}

pub(crate) fn derive_coefficient(row: &Row) -> usize {
    let reading =
        TwoGaugeReading { flow: gpm(row.input("/gpm")), upstream: psi(row.input("/loss_psi")), downstream: psi(0.0) };
    let gauges = TwoGauges {
        rise: Rise::from_ft(0.0).unwrap(),
        meter: MeterUncertainty::from_percent(2.0).unwrap(),
        readings: vec![reading],
    };
    let (hose_type_id, length) = (AssetId::new("own").unwrap(), feet(row.input("/length_ft")));
    let Ok(Figure::Hose(tested)) = (Measured::Hose { hose_type_id, length, gauges }).figure() else {
        panic!("{}: the test gives no coefficient", row.id)
    };
    row.agrees("/C", tested.coefficient.psi_per_100gpm2_100ft())
}

fn pipe(row: &Row) -> (Flow, Diameter, Roughness) {
    let flow = Flow::from_gpm(row.input("/gpm")).unwrap();
    (flow, Diameter::from_in(row.input("/d_in")).unwrap(), Roughness::from_number(row.input("/C")).unwrap())
}

pub(crate) fn hazen_williams(row: &Row) -> usize {
    let (flow, bore, roughness) = pipe(row);
    let loss = loss_ft_per_100ft(flow, bore, roughness);
    match row.id.as_str() {
        "HW01" => row.agrees("/ft_per_100ft", loss),
        _ => row.agrees("/ft", loss * row.input("/length_ft") / 100.0),
    }
}

pub(crate) fn hazen_williams_psi_form(row: &Row) -> usize {
    let (flow, bore, roughness) = pipe(row);
    row.agrees("/psi_per_100ft", 100.0 * loss_psi_per_ft(flow, bore, roughness))
}

pub(crate) fn attainable_lift(row: &Row) -> usize {
    assert_eq!(row.input("/theoretical_ft"), SEA_LEVEL_LIFT_FT);
    row.agrees("/ft", attainable_lift_ft(Altitude::from_ft(0.0).unwrap()))
}

pub(crate) fn rating_by_lift(row: &Row) -> usize {
    row.agrees("/share", rating_share(Lift::from_ft(row.input("/lift_ft")).unwrap()).unwrap())
}

pub(crate) fn vacuum_lift(row: &Row) -> usize {
    row.agrees("/ft", lift_of_vacuum_ft(Vacuum::from_in_hg(row.input("/in_hg")).unwrap()))
}

pub(crate) fn altitude_lift_loss(row: &Row) -> usize {
    let up = theoretical_lift_ft(Altitude::from_ft(row.input("/altitude_ft")).unwrap());
    row.agrees("/ft", SEA_LEVEL_LIFT_FT - up)
}

pub(crate) fn relay_pumpers(row: &Row) -> usize {
    let needed = relay::pumpers_needed(feet(row.input("/relay_distance_ft")), feet(row.input("/max_distance_ft")));
    row.agrees("/pumpers", f64::from(needed))
}

/// The relay's own distance, beside the lay's.
pub(crate) fn relay_distance(row: &Row) -> usize {
    let c = HoseCoefficient::from_psi_per_100gpm2_100ft(row.input("/C")).unwrap();
    let (discharge, residual) = (psi(row.input("/pdp_psi")), psi(row.input("/residual_psi")));
    let longest = relay::max_distance(discharge, residual, c, gpm(row.input("/gpm"))).unwrap();
    row.agrees("/length_ft", longest.ft())
}

/// The relay's own check of a pumper, beside the pump curve's.
pub(crate) fn relay_size(row: &Row) -> usize {
    let (rated, flow) = (gpm(row.input("/rated_gpm")), gpm(row.input("/flow_gpm")));
    let size = relay::pump_size(rated, psi(row.input("/pdp_psi")), flow);
    assert_eq!(size.share, Some(row.input("/derate")));
    row.is("/ok", size.enough)
}

fn reading(row: &Row, flow: f64) -> SupplyCurve {
    main(row.input("/static_psi"), row.input("/residual_psi"), flow)
}

fn ruled(rule: GaugeRule, reading: &SupplyCurve) -> RuleAnswer {
    rule.apply(reading, psi(20.0)).unwrap()
}

pub(crate) fn gauge_drop_percentage(row: &Row) -> usize {
    // GD01 states a flow; the others ask only for the rule.
    let flow = if row.id == "GD01" { row.input("/flow_gpm") } else { 500.0 };
    let found = ruled(GaugeRule::Percentage, &reading(row, flow));
    let left = found.residual_if_added_psi.unwrap();
    let common =
        row.agrees("/percent", found.drop_percent) + row.agrees("/more_multiple", f64::from(found.more_volumes));
    if row.id == "GD01" {
        // The row's 7.9 psi is by 1.85; by the exact inverse of 0.54 adding 500 gpm takes 0.1 psi more.
        assert!(left < row.number("/residual_if_added_psi") && left > row.number("/residual_if_added_psi") - 0.15);
        return common
            + row.agrees("/more_gpm", found.promised_gpm)
            + row.agrees("/flow_at_20psi", flow + found.allowed_gpm);
    }
    // By 1.85 in the row: 4 volumes by the exact inverse of 0.54 drop 0.26 % more.
    let share = (row.input("/static_psi") - left) / row.input("/static_psi");
    let expected = row.number("/drop_fraction_if_added");
    assert!(share >= expected - 1e-4 && share <= expected * 1.003, "{}: {share}", row.say("/drop_fraction_if_added"));
    common
}

pub(crate) fn gauge_drop_first_digit(row: &Row) -> usize {
    let found = ruled(GaugeRule::FirstDigit, &reading(row, 500.0));
    row.agrees("/drop", found.drop_psi) + row.agrees("/more_multiple", f64::from(found.more_volumes))
}

pub(crate) fn iowa(row: &Row) -> usize {
    let room = Iowa { length: side(row, "/L"), width: side(row, "/W"), height: side(row, "/H") };
    row.agrees("/gpm", room.needed_flow().gpm)
}

pub(crate) fn nfa(row: &Row) -> usize {
    assert_eq!(row.input("/floors"), 1.0);
    let building = |exposure_order| NationalFireAcademy {
        length: side(row, "/L"),
        width: side(row, "/W"),
        floors: NonZeroU8::MIN,
        involvement: Involvement::from_number(row.input("/involvement")).unwrap(),
        exposures: 0,
        exposure_order,
    };
    // With no exposure the order cannot matter.
    row.agrees("/gpm", building(ExposureOrder::BeforeInvolvement).needed_flow().gpm)
        + row.agrees("/gpm", building(ExposureOrder::AfterInvolvement).needed_flow().gpm)
}

fn dwellings(row: &Row, edition: IsoEdition) -> usize {
    let band = row.text("/distance_ft");
    let (near, far) = band.split_once('-').unwrap_or(("0", band.trim_end_matches(" or less")));
    let ends = [near, far].map(|end| Separation::from_ft(end.parse().unwrap()).unwrap());
    ends.map(|end| row.agrees("/gpm", dwelling_needed_flow(edition, end).gpm)).iter().sum()
}

pub(crate) fn iso_dwelling_separation(row: &Row) -> usize {
    dwellings(row, IsoEdition::Before2012)
}

pub(crate) fn iso_dwelling_separation_2012(row: &Row) -> usize {
    dwellings(row, IsoEdition::From2012)
}

pub(crate) fn iso_hydrant_credit(row: &Row) -> usize {
    row.agrees("/gpm", hydrant_credit_gpm(feet(row.input("/hose_lay_ft"))))
}

fn step(found: &NeededFlow, name: &str) -> f64 {
    found.working.iter().find(|step| step.name == name).unwrap().value
}

pub(crate) fn iso_nff(row: &Row) -> usize {
    let (construction, occupancy) = match row.id.as_str() {
        "FF22" => (ConstructionClass::Frame, Occupancy::Combustible),
        "FF23" => (ConstructionClass::JoistedMasonry, Occupancy::LimitedCombustible),
        _ => (ConstructionClass::MasonryNonCombustible, Occupancy::FreeBurning),
    };
    let building = IsoNeededFlow {
        edition: IsoEdition::From2012,
        construction,
        effective_area: Area::from_sq_ft(row.input("/A_sf")).unwrap(),
        one_storey: false,
        occupancy,
        exposure_and_communication: ExposureFactor::from_number(row.input("/X_plus_P")).unwrap(),
        wood_shingle_roof: false,
    };
    let found = building.needed_flow();
    assert_eq!(step(&found, "construction_coefficient"), row.input("/F"));
    assert_eq!(step(&found, "occupancy_factor"), row.input("/O"));
    row.agrees("/C", step(&found, "construction_flow_unrounded"))
        + row.agrees("/C_rounded", step(&found, "construction_flow"))
        + row.agrees("/NFF_raw", step(&found, "needed_flow_unrounded"))
        + row.agrees("/NFF", found.gpm)
}

fn rural(volume: f64, construction: f64, exposure: bool) -> MinimumSupply {
    RuralSupply {
        edition: RuralEdition::DwellingsByConstruction,
        volume: BuildingVolume::from_cubic_ft(volume).unwrap(),
        hazard: OccupancyHazard::Seven,
        construction: Construction::Stated(ConstructionNumber::from_number(construction).unwrap()),
        dwelling: true,
        exposure,
    }
    .minimum_supply()
}

pub(crate) fn nfpa1142(row: &Row) -> usize {
    assert_eq!(row.input("/ohc"), 7.0);
    let found = rural(row.input("/volume_ft3"), row.input("/ccn"), row.text("/exposure") == "true");
    row.agrees("/gal", found.gal)
}

pub(crate) fn nfpa1142_delivery_rate(row: &Row) -> usize {
    let ends = row.inputs("/supply_gal").iter().map(|gal| gal.as_f64().unwrap());
    // Seven cubic feet of the lightest hazard ask for a gallon.
    ends.map(|gal| row.agrees("/gpm", rural(7.0 * gal, 1.0, false).delivery_gpm)).sum()
}

pub(crate) fn nfpa1142_floor(row: &Row) -> usize {
    nfpa1142(row)
}

fn tank(row: &Row) -> Volume {
    assert_eq!(1.0 - row.input("/loss"), USABLE_SHARE);
    Volume::from_gal(row.input("/tank_gal")).unwrap()
}

pub(crate) fn tanker_rate(row: &Row) -> usize {
    row.agrees("/gpm", tanker_rate_gpm(tank(row), Minutes::from_min(row.input("/cycle_min")).unwrap()))
}

pub(crate) fn tanker_rate_iso(row: &Row) -> usize {
    // The outline's own figures use its distance as what is driven, there and back.
    let haul = Haul::RoundTrip(Miles::from_mi(row.input("/distance_mi")).unwrap());
    let half = Minutes::from_min(row.input("/handling_min") / 2.0).unwrap();
    let found = TankerRound { tank: tank(row), fill: half, dump: half, haul }.rate();
    assert!((travel_min(haul) - row.number("/travel_min")).abs() < 1e-9, "{}", row.say("/travel_min"));
    row.agrees("/gpm", found.gpm)
}
