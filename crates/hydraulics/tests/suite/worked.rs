//! The worked examples of the design, to their printed figures.

use crate::common::{answer, close, gpm, hose, k, main, problem, pumper, valve};
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::lay::{DiagnosisCode, LayProblem, Limit, Part, Source, Station};
use longlay_hydraulics::quantity::Flow;

fn with_body(source: Source) -> Source {
    Source { body_loss: Some(k(0.05)), ..source }
}

/// Main 60 static, 40 at 600; 1000 ft of 5-inch; body loss and a valve.
fn worked() -> LayProblem {
    let parts = vec![valve(0.22, 0.10, 0.05), Part::Hose(hose(0.08, 1000.0))];
    problem(with_body(main(60.0, 40.0, 600.0)), parts)
}

#[test]
fn a_thousand_feet_of_5_inch_at_600_loses_28_8_psi() {
    close(hose(0.08, 1000.0).loss_psi(Flow::from_gpm(600.0).unwrap()), 28.8, 1e-9);
}

#[test]
fn hose_alone_leaves_11_2_psi_and_valve_and_body_leave_1_5() {
    let six = Flow::from_gpm(600.0).unwrap();
    let left = 40.0 - hose(0.08, 1000.0).loss_psi(six);
    close(left, 11.2, 0.05);
    close(left - 36.0 * (0.05 + 0.22), 1.5, 0.05);
}

#[test]
fn alone_494_with_valve_and_body_542_without() {
    let answer_with = answer(worked());
    close(answer_with.unboosted.deliverable_gpm, 494.0, 0.5);
    assert_eq!(answer_with.limited_by().limit, Limit::SceneIntake);
    let bare = answer(problem(main(60.0, 40.0, 600.0), vec![Part::Hose(hose(0.08, 1000.0))]));
    close(bare.unboosted.deliverable_gpm, 542.0, 0.5);
}

#[test]
fn boosted_600_arrives_at_34_6_and_50_6_and_764_is_the_most() {
    let found = answer(LayProblem { boost: Some(pumper(1500.0, None)), target: Some(gpm(600.0)), ..worked() });
    let at_target = found.at_target.as_ref().unwrap();
    assert!(at_target.met);
    close(at_target.pumpers[0].intake_psi, 34.6, 0.05);
    close(at_target.pumpers[0].discharge_psi, 50.6, 0.05);
    let scene = at_target.gauges.last().unwrap();
    assert_eq!(scene.station, Station::Scene);
    close(scene.pressure_psi, 20.0, 1e-9);
    close(found.answer().deliverable_gpm, 764.0, 0.5);
    assert_eq!(found.limited_by().limit, Limit::PumperIntake);
    assert_eq!(found.diagnosis.code, DiagnosisCode::Friction);
    assert_eq!(found.boosted.as_ref().unwrap().diagnosis.code, DiagnosisCode::Met);
    assert!(found.findings.iter().any(|finding| finding.code == FindingCode::HoseUnmarked));
}

#[test]
fn a_boost_cannot_beat_an_empty_main() {
    let parts = vec![valve(0.22, 0.10, 0.05), Part::Hose(hose(0.08, 100.0))];
    let weak = problem(with_body(main(60.0, 30.0, 400.0)), parts);
    let found = answer(LayProblem { boost: Some(pumper(1500.0, None)), ..weak });
    close(found.unboosted.deliverable_gpm, 426.0, 1.0);
    close(found.answer().deliverable_gpm, 448.0, 1.0);
    close(found.main_limit_gpm, 467.0, 0.5);
    assert_eq!(found.diagnosis.code, DiagnosisCode::Water);
    assert_eq!(found.boosted.unwrap().diagnosis.code, DiagnosisCode::Water);
}
