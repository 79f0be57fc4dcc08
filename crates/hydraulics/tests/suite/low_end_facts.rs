//! Where a number could have promised too much, or a word sent a pumper the wrong way.

use longlay_hydraulics::caution::Caution;
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{DiagnosisCode, LayProblem, Limit, Part, Remedy, Station, Tank, planning_gpm};
use longlay_hydraulics::quantity::Volume;
use longlay_hydraulics::supply::{NoCurve, SupplyCurve};

use crate::common::{
    answer, boosted, close, curve, gpm, has, hose, line, main, marked, problem, psi, pumper, rise, step, valve, wanting,
};

fn marked_line(feet: f64, marking: f64) -> Part {
    Part::Hose(marked(hose(0.08, feet), marking))
}

#[test]
fn with_nozzles_shut_the_main_stands_at_the_scene_even_through_an_idle_pumper() {
    let found = answer(boosted(problem(main(120.0, 60.0, 800.0), vec![line(0.08, 400.0)]), 1500.0));
    // The discharge planned at the delivered flow is far under the static, and the static runs through the pump.
    assert!(found.answer().pumpers[0].discharge_psi < 120.0);
    close(found.answer().scene_no_flow_psi, 120.0, 1e-9);
}

#[test]
fn a_relay_at_rest_stands_on_the_hose_after_it() {
    let parts = vec![
        Part::Pumper(pumper(1500.0, None)),
        marked_line(3000.0, 275.0),
        Part::Pumper(pumper(1500.0, None)),
        marked_line(300.0, 185.0),
    ];
    let found = answer(problem(main(70.0, 50.0, 1500.0), parts));
    let first = found.answer().pumpers[0].discharge_psi;
    close(found.answer().scene_no_flow_psi, first, 1e-9);
    let over = found.findings.iter().find(|finding| finding.code == FindingCode::HoseOverRating).unwrap();
    close(over.value.unwrap(), first - 185.0, 1e-9);
    assert!(found.cautions.contains(&Caution::HoseOverRating));
}

#[test]
fn no_gauge_shows_more_than_the_hose_bears_or_the_pump_has() {
    // 500 ft up: 217 psi and a floor of 20, under a ceiling of 185. Nothing arrives, and the gauges say so.
    let lay = problem(main(60.0, 40.0, 600.0), vec![marked_line(1000.0, 185.0), rise(500.0)]);
    let found = answer(boosted(lay, 1500.0));
    assert_eq!(found.answer().deliverable_gpm, 0.0);
    close(found.answer().pumpers[0].discharge_psi, 185.0, 1e-9);
    close(found.answer().gauges.last().unwrap().pressure_psi, 185.0 - 217.0, 1e-9);
    let unmarked = answer(boosted(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1000.0), rise(1000.0)]), 1500.0));
    close(unmarked.answer().pumpers[0].net_psi, 250.0, 1e-9);
}

#[test]
fn a_valve_that_the_pumper_may_not_open_is_found() {
    // The hydrant side stands above 100 psi, and the department allows no more than 100.
    let parts = vec![valve(0.22, 0.02, 0.02), line(0.08, 500.0)];
    let lay = problem(main(130.0, 110.0, 1200.0), parts);
    let found = answer(LayProblem { boost: Some(pumper(1500.0, Some(100.0))), ..wanting(lay.clone(), 1250.0) });
    assert!(found.change_over_psi.unwrap() > 100.0);
    assert!(has(&found, FindingCode::ValveStaysShut));
    // Its intake stands over 100 psi by itself: it adds nothing.
    assert_eq!(found.at_target.unwrap().pumpers[0].net_psi, 0.0);
    assert!(!has(&answer(LayProblem { boost: Some(pumper(1500.0, Some(150.0))), ..lay }), FindingCode::ValveStaysShut));
}

#[test]
fn a_tie_at_a_step_stays_under_the_step() {
    // The main proves 350 gpm at 70 psi; 4500 ft leave 25.9 there, and 15.9 once the wye costs its 10 psi at 350.
    let parts = vec![line(0.08, 4500.0), Part::Appliance(step(10.0, 350.0))];
    let found = answer(problem(main(70.0, 70.0, 350.0), parts));
    assert_eq!((found.limited_by().limit, found.limited_by().station), (Limit::MainFloor, Station::Main));
    close(found.answer().deliverable_gpm, 350.0, 1e-6);
    close(found.answer().gauges.last().unwrap().pressure_psi, 25.9, 1e-6);
}

#[test]
fn a_line_fills_no_faster_than_the_main_gives() {
    let mut five = hose(0.08, 1000.0);
    five.diameter = longlay_hydraulics::quantity::Diameter::from_in(5.0).ok();
    let lay = problem(main(60.0, 40.0, 600.0), vec![Part::Hose(five)]);
    let found = answer(LayProblem { fill_flow: Some(gpm(20_000.0)), ..lay });
    // 600 x 2^0.54 = 872.4 gpm.
    close(found.fill.unwrap().at_gpm, 872.4, 0.1);
}

#[test]
fn a_fill_that_cannot_be_told_alarms_for_the_tank() {
    let tank = Some(Tank { volume: Volume::from_gal(500.0).unwrap(), attack_flow: gpm(300.0) });
    let unknown = problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1000.0)]);
    let dry = problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1000.0), rise(120.0)]);
    for lay in [unknown, dry] {
        let found = answer(LayProblem { tank, ..lay });
        assert!(found.fill.is_none() && has(&found, FindingCode::FillUnknown));
        assert!(found.cautions.contains(&Caution::TankRunsOutFirst));
    }
}

#[test]
fn the_gauge_for_the_mains_floor_is_not_told_where_the_main_cannot_come_to_it() {
    for source in [main(70.0, 70.0, 600.0), main(15.0, 10.0, 600.0)] {
        let found = answer(boosted(problem(source, vec![line(0.08, 500.0)]), 1500.0));
        assert_eq!(found.intake_at_main_floor_psi, None);
    }
}

#[test]
fn a_small_pumper_is_no_empty_main() {
    // Through 500 gpm of pumper less arrives than without it; the main gives 70/60@2000, 2000 x 5^0.54 = 4769 gpm, at its floor.
    let found = answer(boosted(problem(main(70.0, 60.0, 2000.0), vec![line(0.08, 500.0)]), 500.0));
    assert!(has(&found, FindingCode::PumperWouldLimit));
    assert_eq!(found.diagnosis.code, DiagnosisCode::Friction);
    assert_eq!(found.diagnosis.remedies, [Remedy::SecondLine, Remedy::BiggerHose, Remedy::BiggerOrSecondPumper]);
    assert!(!found.diagnosis.message.contains("pumper at the hydrant"), "{}", found.diagnosis.message);
    // The pumper is left out: what arrives is not said to be its doing.
    let boosted = &found.boosted.as_ref().unwrap().diagnosis.message;
    assert!(boosted.contains("the hydrant alone brings"), "{boosted}");
}

#[test]
fn no_hose_lifts_water_up_a_hill() {
    // 120 ft take 52.08 of 60 psi: 7.92 psi stand at the scene with nothing flowing.
    let found = answer(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 200.0), rise(120.0)]));
    assert_eq!(found.answer().deliverable_gpm, 0.0);
    assert_eq!(found.diagnosis.remedies, [Remedy::PumperAtHydrant, Remedy::Relay]);
}

#[test]
fn the_hose_before_a_pumper_far_out_is_what_wants_doubling() {
    let parts = vec![line(0.08, 2000.0), Part::Pumper(pumper(1500.0, None)), line(0.08, 200.0)];
    let found = answer(problem(main(70.0, 60.0, 2000.0), parts));
    assert_eq!(found.diagnosis.code, DiagnosisCode::Suction);
    assert_eq!(found.diagnosis.remedies, [Remedy::SecondLine, Remedy::BiggerHose, Remedy::PumperAtHydrant]);
}

#[test]
fn a_boost_without_a_valve_says_that_its_suction_hose_is_not_counted() {
    let found = answer(boosted(problem(main(70.0, 50.0, 1500.0), vec![line(0.08, 500.0)]), 1500.0));
    assert!(has(&found, FindingCode::ConnectingHosesLeftOut));
}

#[test]
fn the_change_over_stands_at_the_valve_and_not_at_the_hydrant() {
    // The valve lies 50 ft under the hydrant: 70 + 21.7 psi there, but for what flows.
    let parts = vec![rise(-50.0), valve(0.22, 0.10, 0.05), line(0.08, 1000.0)];
    let found = answer(boosted(problem(main(70.0, 70.0, 2000.0), parts), 1500.0));
    close(found.change_over_psi.unwrap(), 91.7, 1e-9);
}

#[test]
fn a_low_static_test_is_not_told_to_be_rated_under_what_was_observed() {
    // 36 psi is rated at 18; the test went to 19 only.
    let codes =
        |residual| curve(36.0, residual, 600.0).findings().iter().map(|finding| finding.code).collect::<Vec<_>>();
    assert!(!codes(19.0).contains(&FindingCode::TestedBelow20));
    assert!(codes(17.0).contains(&FindingCode::TestedBelow20));
}

#[test]
fn what_is_no_number_is_no_flow_and_no_static_is_no_curve() {
    let curve = curve(70.0, 60.0, 2000.0);
    // On the low side: a flow that is no number leaves nothing in the main.
    assert!(curve.pressure_psi(f64::NAN) < 0.0);
    assert_eq!((curve.flow_gpm(f64::NAN), planning_gpm(f64::NAN)), (0.0, 0.0));
    assert_eq!(planning_gpm(-5.0), 0.0);
    assert!(curve.pressure_psi(f64::INFINITY).is_finite());
    assert_eq!(SupplyCurve::new(psi(0.0), psi(0.0), gpm(600.0)), Err(NoCurve::NoStatic));
}

#[test]
fn a_drop_of_next_to_nothing_promises_no_more_than_any_main_has() {
    assert_eq!(curve(70.0, 70.0_f64.next_down(), 50_000.0).rated_flow_gpm(), Some(50_000.0));
}

#[test]
fn a_test_without_a_drop_is_no_empty_main() {
    let lay = problem(main(65.0, 65.0, 500.0), vec![line(0.08, 500.0)]);
    let found = answer(wanting(lay, 700.0));
    assert_eq!(found.diagnosis.code, DiagnosisCode::Unproved);
    assert_eq!(found.diagnosis.remedies, [Remedy::FlowTest, Remedy::AnotherMain]);
    assert!(found.diagnosis.message.contains("no more is known"), "{}", found.diagnosis.message);
}

#[test]
fn what_is_just_met_is_said_to_fall_short_perhaps() {
    // 541.5 gpm arrives: 540 are met by the figures as read, and not by their low end.
    let lay = problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1000.0)]);
    let found = answer(wanting(lay, 540.0));
    assert_eq!(found.diagnosis.code, DiagnosisCode::Met);
    assert!(found.diagnosis.in_doubt && found.at_target.is_some_and(|at| at.met && !at.met_at_low_end));
    assert!(found.diagnosis.message.ends_with("it may fall short of what is wanted."), "{}", found.diagnosis.message);
}

#[test]
fn a_rise_given_for_the_whole_lay_stands_after_its_last_hose() {
    let parts = || vec![line(0.08, 300.0), line(0.08, 300.0), Part::Appliance(step(10.0, 350.0))];
    let whole = answer(LayProblem {
        rise: longlay_hydraulics::quantity::Rise::from_ft(20.0).ok(),
        ..problem(main(60.0, 40.0, 600.0), parts())
    });
    let mut written = parts();
    written.insert(2, rise(20.0));
    let written = answer(problem(main(60.0, 40.0, 600.0), written));
    assert_eq!(whole.answer().deliverable_gpm, written.answer().deliverable_gpm);
    // Nobody's index moves for it.
    let indices: Vec<_> = whole.answer().budget.iter().map(|line| line.part.index).collect();
    assert_eq!(indices, [Some(0), Some(1), None, Some(2)]);
}
