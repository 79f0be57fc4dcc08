//! Facts about pumpers in a lay: relays, pressure ceilings, the valve's change-over, and what is said when one would not help.

use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{LayProblem, Limit, Part, Station};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, HydrantValve, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, PumpPoint, Pumper};
use longlay_hydraulics::spread::Spread;

use crate::common::{
    answer, binds, boosted, close, gpm, has, hose, k, level, line, main, marked, problem, psi, pumper, rise, valve,
    wanting,
};

fn relay(second: Pumper) -> LayProblem {
    let stretch = || Part::Hose(marked(hose(0.2, 2000.0), 185.0));
    level(vec![Part::Pumper(pumper(1500.0, None)), stretch(), Part::Pumper(second), stretch()])
}

#[test]
fn a_relay_of_two_carries_over_each_stretch_what_one_pumper_would_over_one() {
    // k = 4 a stretch: 100 sqrt(165/4) = 642.262 gpm on both, and the first is named. One pumper over both: 100 sqrt(165/8) = 454.148.
    let found = answer(relay(pumper(1500.0, None)));
    binds(&found, Limit::HoseRating, Station::PumperDischarge(1), 642.262);
    let one = Part::Hose(marked(hose(0.2, 4000.0), 185.0));
    let alone = answer(level(vec![Part::Pumper(pumper(1500.0, None)), one]));
    binds(&alone, Limit::HoseRating, Station::PumperDischarge(1), 454.148);
}

#[test]
fn each_relay_pumper_gives_what_the_rest_of_the_line_needs() {
    // At 500 gpm a stretch takes 100: 20 + 100 at each discharge, the second fed at its floor.
    let found = answer(wanting(relay(pumper(1500.0, None)), 500.0));
    let at = found.at_target.as_ref().unwrap();
    let readings: Vec<f64> = at.pumpers.iter().flat_map(|p| [p.intake_psi, p.discharge_psi, p.net_psi]).collect();
    for (reading, expected) in readings.iter().zip([70.0, 120.0, 50.0, 20.0, 120.0, 100.0]) {
        close(*reading, expected, 1e-9);
    }
    let stations: Vec<String> = at.gauges.iter().map(|gauge| gauge.station.to_string()).collect();
    let named =
        ["main", "hydrant", "pumper_1_intake", "pumper_1_discharge", "pumper_2_intake", "pumper_2_discharge", "scene"];
    assert_eq!(stations, named);
    assert_eq!(
        at.gauges.iter().map(|gauge| gauge.distance_ft).collect::<Vec<_>>(),
        [0.0, 0.0, 0.0, 0.0, 2000.0, 2000.0, 4000.0]
    );
    // The first of the equal hoses stretches: 165 psi at 0.2 x 25 per 100 ft are 3300 ft, and 2000 after it.
    close(found.longest_lay_ft.unwrap(), 5300.0, 1e-6);
}

#[test]
fn a_weak_pumper_downstream_is_fed_more() {
    // It adds 40 at most and must give 120: it needs 80 at its intake, so the first gives 180.
    let weak = PumpCurve::from_points(vec![PumpPoint { flow: gpm(1500.0), net: psi(40.0) }]).unwrap();
    let second = Pumper { curve: weak, intake_floor: psi(20.0), max_discharge: None };
    let at = answer(wanting(relay(second), 500.0)).at_target.unwrap();
    close(at.pumpers[0].discharge_psi, 180.0, 1e-9);
    close(at.pumpers[1].intake_psi, 80.0, 1e-9);
    close(at.pumpers[1].net_psi, 40.0, 1e-9);
}

/// The first pumper's most into 1000 ft of 5-inch with other parts about it, and its discharge then.
fn pressed(parts: Vec<Part>, ceiling: Option<f64>) -> (f64, f64) {
    let found = answer(LayProblem { boost: Some(pumper(3000.0, ceiling)), ..level(parts) });
    assert_eq!(found.limited_by().limit, Limit::HoseRating);
    (found.answer().deliverable_gpm, found.answer().pumpers[0].discharge_psi)
}

#[test]
fn a_fall_lowers_the_ceiling_at_the_pumper() {
    let hose = || Part::Hose(marked(hose(0.08, 1000.0), 185.0));
    // 50 ft of fall are 21.7 psi: the low end is at 185 when the pumper is at 163.3, whichever way round hose and fall are written. The flow is
    // that of level ground, for the fall drives what the ceiling loses.
    for parts in [vec![hose(), rise(-50.0)], vec![rise(-50.0), hose()]] {
        let (flow, discharge) = pressed(parts, None);
        close(discharge, 163.3, 1e-6);
        close(flow, 1436.141, 0.01);
    }
    // A dip and back up: the ceiling of the fall on level ends, 100 sqrt((163.3 - 20)/0.8) = 1338.38.
    close(pressed(vec![rise(-50.0), hose(), rise(50.0)], None).0, 1338.38, 0.01);
    // A rise raises no ceiling for the hose's low end: 100 sqrt((185 - 20 - 21.7)/0.8), the same.
    close(pressed(vec![hose(), rise(50.0)], None).0, 1338.38, 0.01);
}

#[test]
fn the_strictest_of_the_markings_is_the_ceiling() {
    let mut tested = marked(hose(0.08, 1000.0), 185.0);
    tested.service_test = Some(psi(200.0));
    // 0.9 x 200 = 180 is under 185: 100 sqrt(160/0.8) = 1414.214.
    close(pressed(vec![Part::Hose(tested)], None).0, 1414.214, 0.01);
    // The department's own 150: 100 sqrt(130/0.8) = 1274.755.
    close(pressed(vec![Part::Hose(tested)], Some(150.0)).0, 1274.755, 0.01);
    // A wye marked 100: 100 sqrt(80/0.8) = 1000.
    let loss = ApplianceLoss::Squared(k(0.0));
    let wye = Part::Appliance(Appliance {
        loss,
        max_operating: Some(psi(100.0)),
        assumed: false,
        spread: Spread::ASSUMED_LOSS,
    });
    close(pressed(vec![Part::Hose(tested), wye], None).0, 1000.0, 0.01);
}

#[test]
fn the_valve_changes_over_above_its_hydrant_side_and_the_leg_from_the_pumper() {
    // Alone 500: 45 in the main, and 25 psi for k = 0.1 + 0.22 + 0.68 = 1. Hydrant side 45 - 2.5; from the pumper 0.05 and 50 ft of 5-inch,
    // 0.04: 2.25 more. 44.75 in all.
    let with = HydrantValve {
        through: k(0.22),
        to_pump: k(0.1),
        from_pump: k(0.05),
        to_pump_hose: Some(hose(0.08, 25.0)),
        from_pump_hose: Some(hose(0.08, 50.0)),
        assumed: false,
        spread: ValveSpread::ASSUMED,
    };
    let mut source = main(70.0, 45.0, 500.0);
    source.body_loss = Some(k(0.1));
    let lay = problem(source, vec![Part::HydrantValve(with), line(0.068, 1000.0)]);
    assert_eq!(answer(lay.clone()).change_over_psi, None);
    // 505 gpm wanted: hardly over what arrives alone, so the valve and not the line asks for the most discharge:
    // the line needs 20 + (0.09 + 0.68) x 25.5025 = 39.637.
    let found = answer(wanting(boosted(lay, 1500.0), 505.0));
    close(found.unboosted.deliverable_gpm, 500.0, 1e-6);
    close(found.change_over_psi.unwrap(), 44.75, 1e-6);
    close(found.at_target.unwrap().pumpers[0].discharge_psi, 44.75, 1e-6);
    assert!(!found.findings.iter().any(|finding| finding.code == FindingCode::ConnectingHosesLeftOut));
}

#[test]
fn the_change_over_is_at_most_static() {
    // 70 on the hydrant side of the valve whatever flows, and the leg's loss above it: static, no more.
    let found = answer(boosted(level(vec![valve(0.2, 0.1, 0.05), line(0.08, 1000.0)]), 1500.0));
    assert_eq!(found.change_over_psi, Some(70.0));
}

#[test]
fn a_pumper_that_would_limit_is_left_out_at_a_hydrant_and_kept_where_written() {
    // k = 0.4: alone 100 sqrt(50/0.4) = 1118.034; a 500 gpm pumper passes 500.
    let through = answer(boosted(level(vec![line(0.08, 500.0)]), 500.0));
    close(through.answer().deliverable_gpm, 1118.034, 0.01);
    assert_eq!(through.gain_gpm, Some(0.0));
    let finding = through.findings.iter().find(|finding| finding.code == FindingCode::PumperWouldLimit).unwrap();
    close(finding.value.unwrap(), 1118.034, 0.01);
    let written = answer(level(vec![Part::Pumper(pumper(500.0, None)), line(0.08, 500.0)]));
    binds(&written, Limit::PumperCapacity, Station::PumperDischarge(1), 500.0);
    close(written.gain_gpm.unwrap(), 500.0 - 1118.034, 0.01);
    assert!(has(&written, FindingCode::PumperWouldLimit));
}

#[test]
fn the_intake_gauge_reads_under_the_main_when_the_main_is_at_its_floor() {
    // The test itself ended at 20 psi and 1000 gpm; the hydrant's body takes 0.05 x 100 = 5 of it.
    let mut source = main(70.0, 20.0, 1000.0);
    source.body_loss = Some(k(0.05));
    let found = answer(boosted(problem(source, vec![line(0.08, 1000.0)]), 1500.0));
    close(found.main_limit_gpm, 1000.0, 1e-9);
    close(found.intake_at_main_floor_psi.unwrap(), 15.0, 1e-9);
}

#[test]
fn a_ceiling_equal_to_the_floor_never_binds_where_nothing_is_lost() {
    let found = answer(level(vec![Part::Pumper(pumper(1500.0, Some(20.0))), rise(0.0)]));
    let hose = found.answer().limits.iter().find(|limit| limit.limit == Limit::HoseRating).unwrap();
    assert_eq!(hose.flow_gpm, None);
    binds(&found, Limit::PumperCapacity, Station::PumperDischarge(1), 1500.0);
}
