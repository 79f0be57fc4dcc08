//! Facts about lays: each limit, each diagnosis, steps and the fill. Most stand on a main that does not drop, so
//! that every expected figure can be worked by hand in its comment.

use longlay_hydraulics::caution::Caution;
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{Branch, BranchPart, DiagnosisCode, LayProblem, Limit, Part, Remedy, Station, Tank};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss};
use longlay_hydraulics::quantity::{Diameter, Volume};
use longlay_hydraulics::spread::Spread;

use crate::common::{
    answer, binds, boosted, close, gpm, has, hose, k, level, line, main, marked, problem, rise, step, valve, wanting,
};

#[test]
fn the_main_floor_binds_where_the_lay_is_short() {
    // 100 ft of 5-inch takes 0.08 x 400 = 32 psi at 2000 gpm, of the 50 there are: the test's own flow is all that is known.
    let found = answer(level(vec![line(0.08, 100.0)]));
    binds(&found, Limit::MainFloor, Station::Main, 2000.0);
    assert_eq!(found.answer().limits[1].flow_gpm, None);
    assert_eq!(found.diagnosis.code, DiagnosisCode::Unproved);
    assert!(found.cautions.contains(&Caution::MainFloor));
}

#[test]
fn the_scene_intake_binds_where_the_lay_is_long() {
    // k = 0.08 x 10: 50 psi are gone at 100 sqrt(50/0.8) = 790.569 gpm.
    let found = answer(level(vec![line(0.08, 1000.0)]));
    binds(&found, Limit::SceneIntake, Station::Scene, 790.569);
    assert_eq!(found.diagnosis.code, DiagnosisCode::Friction);
    assert_eq!(found.answer().limits[1].limit, Limit::MainFloor);
}

#[test]
fn the_pumper_intake_binds_through_a_poor_suction_and_a_larger_suction_helps() {
    // The leg to the pumper, 0.5: 70 - 0.5 x 10² = 20 at 1000 gpm. The pumper adds 250 there, and 100 ft of hose takes 8.
    let lay = level(vec![valve(0.9, 0.5, 0.0), line(0.08, 100.0)]);
    let found = answer(wanting(boosted(lay, 3000.0), 1500.0));
    binds(&found, Limit::PumperIntake, Station::PumperIntake(1), 1000.0);
    let diagnosis = &found.boosted.as_ref().unwrap().diagnosis;
    assert_eq!(diagnosis.code, DiagnosisCode::Suction);
    assert_eq!(diagnosis.remedies, [Remedy::LargerSuction]);
    assert!(has(&found, FindingCode::ConnectingHosesLeftOut));
    let at = found.at_target.unwrap();
    assert!(!at.met && at.pumpers.is_empty());
    close(at.shortfall_gpm, 500.0, 0.01);
}

#[test]
fn the_hose_binds_at_its_marking() {
    // 185 - 20 = 165 psi for k = 0.8: 100 sqrt(165/0.8) = 1436.141 gpm; a 3000 gpm pumper still has 250 there.
    let lay = level(vec![Part::Hose(marked(hose(0.08, 1000.0), 185.0))]);
    let found = answer(wanting(boosted(lay, 3000.0), 1800.0));
    binds(&found, Limit::HoseRating, Station::PumperDischarge(1), 1436.141);
    assert_eq!(found.boosted.as_ref().unwrap().diagnosis.code, DiagnosisCode::Hose);
    close(found.answer().pumpers[0].discharge_psi, 185.0, 1e-9);
    assert!(!has(&found, FindingCode::HoseUnmarked));
}

#[test]
fn the_pumper_binds_at_its_rating() {
    // Alone 790.6; with 1000 gpm of pumper 70 + 150 - 0.8 x 100 = 140 stand at the scene at its rating, well over 20.
    let found = answer(wanting(boosted(level(vec![line(0.08, 1000.0)]), 1000.0), 1500.0));
    binds(&found, Limit::PumperCapacity, Station::PumperDischarge(1), 1000.0);
    assert_eq!(found.boosted.as_ref().unwrap().diagnosis.code, DiagnosisCode::Pumper);
    assert_eq!(found.diagnosis.code, DiagnosisCode::Pumper);
    close(found.gain_gpm.unwrap(), 1000.0 - 790.569, 0.01);
    assert!(has(&found, FindingCode::HoseUnmarked));
}

#[test]
fn a_pumper_runs_out_of_pressure_before_its_rating() {
    // 1000 gpm pumper, k = 4: between 500 (250) and 700 (200) the net is 250 - (Q - 500)/4. 70 + 250 - (Q - 500)/4 - 4 (Q/100)² = 20 gives
    // 4e-4 Q² + 0.25 Q - 425 = 0: Q = (-0.25 + sqrt(0.0625 + 0.68))/8e-4 = 764.6 > 700. Between 700 (200) and 1000 (150) the net is
    // 200 - (Q - 700)/6: 4e-4 Q² + Q/6 - 366.667 = 0: Q = (-0.1666667 + sqrt(0.0277778 + 0.5866667))/8e-4 = 771.502.
    let found = answer(boosted(level(vec![line(0.2, 2000.0)]), 1000.0));
    binds(&found, Limit::PumperCapacity, Station::PumperDischarge(1), 771.502);
}

#[test]
fn a_target_under_what_arrives_is_met_and_one_over_what_the_test_proves_is_unproved() {
    let lay = || level(vec![line(0.08, 1000.0)]);
    let met = answer(wanting(lay(), 700.0));
    assert_eq!(met.diagnosis.code, DiagnosisCode::Met);
    // 70 - 0.8 x 49 = 30.8 at the scene.
    close(met.at_target.unwrap().gauges.last().unwrap().pressure_psi, 30.8, 1e-9);
    assert_eq!(answer(wanting(lay(), 1000.0)).diagnosis.code, DiagnosisCode::Friction);
    let water = answer(wanting(boosted(lay(), 3000.0), 2500.0));
    assert_eq!(water.diagnosis.code, DiagnosisCode::Unproved);
    assert_eq!(water.boosted.unwrap().diagnosis.code, DiagnosisCode::Unproved);
}

#[test]
fn a_gain_under_fifty_gallons_is_not_friction() {
    // The main gives 400. k = (50/16 = 3.125): 400 arrives alone with nothing to gain; k = 3.9: 358.06, 42 to gain, under 50;
    // k = 4.3: 340.99, 59 to gain.
    let code = |feet| answer(problem(main(70.0, 70.0, 400.0), vec![line(1.0, feet)])).diagnosis.code;
    assert_eq!(code(312.5), DiagnosisCode::Unproved);
    assert_eq!(code(390.0), DiagnosisCode::Unproved);
    assert_eq!(code(430.0), DiagnosisCode::Friction);
}

#[test]
fn where_no_flow_reaches_the_scene_the_answer_is_nothing_and_names_the_limit() {
    // 200 ft up take 86.8 psi of 70.
    let found = answer(level(vec![line(0.08, 100.0), rise(200.0)]));
    binds(&found, Limit::SceneIntake, Station::Scene, 0.0);
    close(found.unboosted.scene_no_flow_psi, -16.8, 1e-9);
    let dead = answer(problem(main(15.0, 10.0, 300.0), vec![line(0.08, 100.0)]));
    binds(&dead, Limit::MainFloor, Station::Main, 0.0);
}

#[test]
fn a_main_that_alone_overpresses_the_hose_is_found() {
    let lay = |static_psi: f64, fall: f64| {
        let parts = vec![Part::Hose(marked(hose(0.08, 500.0), 150.0)), rise(-fall)];
        answer(problem(main(static_psi, static_psi - 40.0, 1000.0), parts))
    };
    assert!(!has(&lay(150.0, 0.0), FindingCode::HoseOverRating));
    let over = lay(151.0, 0.0);
    let finding = over.findings.iter().find(|finding| finding.code == FindingCode::HoseOverRating).unwrap();
    assert_eq!(finding.value, Some(1.0));
    assert!(over.cautions.contains(&Caution::HoseOverRating));
    // 120 psi and 100 ft of fall: 163.4 at the bottom. 60 ft: 146.04.
    assert!(has(&lay(120.0, 100.0), FindingCode::HoseOverRating));
    assert!(!has(&lay(120.0, 60.0), FindingCode::HoseOverRating));
}

#[test]
fn a_wye_holds_the_flow_just_under_350() {
    // 31 psi, floor 20, k = 0.2: at 350 gpm 2.45 psi are lost and 8.55 to spare, too few for the wye's 10; without it 741.6 would arrive.
    let wye = problem(main(31.0, 31.0, 2000.0), vec![line(0.2, 100.0), Part::Appliance(step(10.0, 350.0))]);
    let found = answer(wye);
    assert_eq!(found.limited_by().limit, Limit::SceneIntake);
    assert_eq!(found.answer().deliverable_gpm, 350.0_f64.next_down());
    // Just under its step the wye costs nothing: 31 - 2.45.
    close(found.answer().gauges.last().unwrap().pressure_psi, 28.55, 1e-9);
}

#[test]
fn a_wye_beside_a_plain_line_holds_its_branch_and_not_the_lay() {
    // Branches of k 0.4 (with the wye's 10 psi at 350) and 4: at 9 psi the first rests at 350, the second takes 100 sqrt(9/4) = 150.
    let branch = |c: f64, wye: bool| Branch {
        parts: [Some(BranchPart::Hose(hose(c, 500.0))), wye.then_some(BranchPart::Appliance(step(10.0, 350.0)))]
            .into_iter()
            .flatten()
            .collect(),
    };
    let lay = problem(main(29.0, 29.0, 2000.0), vec![Part::Parallel(vec![branch(0.08, true), branch(0.8, false)])]);
    binds(&answer(lay), Limit::SceneIntake, Station::Scene, 500.0);
}

#[test]
fn a_tank_that_empties_before_the_line_fills_is_an_alarm() {
    let mut line = hose(0.08, 1000.0);
    line.diameter = Some(Diameter::from_in(5.0).unwrap());
    let lay = |gallons: f64| {
        let tank = Tank { volume: Volume::from_gal(gallons).unwrap(), attack_flow: gpm(300.0) };
        answer(LayProblem { fill_flow: Some(gpm(500.0)), tank: Some(tank), ..level(vec![Part::Hose(line)]) })
    };
    // 1019.9975 gallons at 500 gpm: 122.3997 s. 500 gallons at 300 gpm last 100 s, 750 last 150.
    let short = lay(500.0);
    let fill = short.fill.unwrap();
    close(fill.gallons, 1019.9975, 0.001);
    close(fill.seconds, 122.3997, 0.001);
    close(fill.tank_seconds.unwrap(), 100.0, 1e-9);
    assert!(fill.tank_runs_out_first() && short.cautions.contains(&Caution::TankRunsOutFirst));
    let long = lay(750.0);
    assert!(!long.fill.unwrap().tank_runs_out_first() && !long.cautions.contains(&Caution::TankRunsOutFirst));
    // Without a stated flow the line fills at what the hydrant alone delivers, 790.569 gpm; without a diameter nothing is said.
    let alone = answer(level(vec![Part::Hose(line)])).fill.unwrap();
    close(alone.at_gpm, 790.569, 0.01);
    assert_eq!(answer(level(vec![Part::Hose(hose(0.08, 1000.0))])).fill, None);
}

#[test]
fn with_the_nozzles_shut_the_scene_sees_static_and_the_fall() {
    // 70 + 0.434 x 100 = 113.4, more than a nozzle needs.
    let found = answer(level(vec![line(0.08, 1000.0), rise(-100.0)]));
    close(found.unboosted.scene_no_flow_psi, 113.4, 1e-9);
    assert!(found.cautions.contains(&Caution::NozzleShut));
    let flat = answer(level(vec![line(0.08, 1000.0)]));
    assert!(!flat.cautions.contains(&Caution::NozzleShut) && flat.cautions.contains(&Caution::NoValve));
}

#[test]
fn assumed_losses_are_found_with_their_coefficient_and_part() {
    let mut source = main(70.0, 70.0, 2000.0);
    (source.body_loss, source.body_loss_assumed) = (Some(k(0.05)), true);
    let loss = ApplianceLoss::Squared(k(0.03));
    let intake_valve =
        Part::Appliance(Appliance { loss, max_operating: None, assumed: true, spread: Spread::ASSUMED_LOSS });
    let found = answer(problem(source, vec![line(0.08, 1000.0), intake_valve]));
    let assumed: Vec<_> = found.findings.iter().filter(|finding| finding.code == FindingCode::AssumedLoss).collect();
    assert_eq!(
        assumed.iter().map(|f| (f.value, f.part)).collect::<Vec<_>>(),
        [(Some(0.05), None), (Some(0.03), Some(1))]
    );
}

#[test]
fn a_low_static_does_not_move_the_main_floor() {
    // Rated at 18 psi, but the main is kept at 20: 500 x (16/10)^0.54, ln 1.6 = 0.4700036, x 0.54 = 0.2538020, e^ = 1.2889165.
    close(answer(problem(main(36.0, 26.0, 500.0), vec![line(0.08, 100.0)])).main_limit_gpm, 644.458, 0.001);
}
