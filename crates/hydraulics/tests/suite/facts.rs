//! Facts about readings, curves and what is refused; every expected figure is worked in its comment.

use longlay_hydraulics::finding::{Finding, FindingCode, Severity};
use longlay_hydraulics::flow_test::{MeasuredFlow, NoFlow, PitotReading, pumper_outlet_factor};
use longlay_hydraulics::lay::{Branch, BranchPart, Lay, LayError, LayProblem, Part};
use longlay_hydraulics::loss::{Hose, LinesOutOfBounds};
use longlay_hydraulics::pumper::{PumpCurve, PumpCurveError, PumpPoint};
use longlay_hydraulics::quantity::{Diameter, HoseCoefficient, Length, OutletCoefficient, PitotPressure};
use longlay_hydraulics::rating::CapacityClass;
use longlay_hydraulics::supply::{NoCurve, SupplyCurve};

use crate::common::{close, curve, gpm, hose, main, problem, psi, pumper, rise, step, valve};

fn refused(parts: Vec<Part>) -> LayError {
    Lay::new(problem(main(60.0, 40.0, 600.0), parts)).unwrap_err()
}

fn branch_of(feet: f64, pieces: usize) -> Branch {
    Branch { parts: vec![BranchPart::Hose(hose(0.08, feet)); pieces] }
}

#[test]
fn parts_that_make_no_lay_are_refused_by_name_and_place() {
    let line = || Part::Hose(hose(0.08, 100.0));
    assert_eq!(refused(vec![]), LayError::Empty);
    assert_eq!(refused(vec![line(); 101]), LayError::TooManyParts);
    assert!(Lay::new(problem(main(60.0, 40.0, 600.0), vec![line(); 100])).is_ok());
    let valve = || valve(0.2, 0.1, 0.1);
    assert_eq!(refused(vec![valve(), line(), valve()]), LayError::SecondValve(2));
    let boost_and_pumper = LayProblem {
        boost: Some(pumper(1500.0, None)),
        ..problem(main(60.0, 40.0, 600.0), vec![line(), Part::Pumper(pumper(1000.0, None))])
    };
    assert_eq!(Lay::new(boost_and_pumper).unwrap_err(), LayError::BoostBesidePumper(1));
}

#[test]
fn branches_that_are_none_are_refused_by_name_and_place() {
    let branches = |n| Part::Parallel(vec![branch_of(100.0, 1); n]);
    assert_eq!(refused(vec![branches(1)]), LayError::BranchCount(0));
    assert_eq!(refused(vec![rise(5.0), branches(9)]), LayError::BranchCount(1));
    let long = Part::Parallel(vec![branch_of(100.0, 1), branch_of(100.0, 101)]);
    assert_eq!(refused(vec![long]), LayError::TooManyBranchParts(0));
    let no_hose = Branch { parts: vec![BranchPart::Appliance(step(10.0, 350.0))] };
    let bare = Part::Parallel(vec![branch_of(100.0, 1), no_hose]);
    assert_eq!(refused(vec![bare]), LayError::BranchWithoutHose { part: 0, branch: 1 });
    let nothing = Part::Parallel(vec![Branch { parts: vec![] }, branch_of(100.0, 1)]);
    assert_eq!(refused(vec![nothing]), LayError::BranchWithoutHose { part: 0, branch: 0 });
}

#[test]
fn a_refusal_says_what_and_where() {
    assert_eq!(
        refused(vec![Part::Parallel(vec![branch_of(100.0, 1)])]).to_string(),
        "part 0: lines side by side are from 2 to 8 branches"
    );
    assert_eq!(
        NoCurve::ResidualAboveStatic { static_psi: 60.0, residual_psi: 61.0 }.to_string(),
        "a residual of 61 psi is above the static of 60 psi: a main cannot gain pressure by flowing"
    );
    assert_eq!(LinesOutOfBounds(9).to_string(), "lines must be from 1 to 8, not 9");
}

#[test]
fn points_that_are_no_pump_curve_are_refused() {
    let point = |flow, net| PumpPoint { flow: gpm(flow), net: psi(net) };
    assert_eq!(PumpCurve::from_points(vec![]).unwrap_err(), PumpCurveError::NoPoints);
    let level = vec![point(500.0, 200.0), point(500.0, 150.0)];
    assert_eq!(PumpCurve::from_points(level).unwrap_err(), PumpCurveError::FlowNotRising(1));
    let rising = vec![point(500.0, 200.0), point(700.0, 190.0), point(900.0, 191.0)];
    assert_eq!(PumpCurve::from_points(rising).unwrap_err(), PumpCurveError::NetRising(2));
    assert!(PumpCurve::from_points(vec![point(500.0, 200.0), point(700.0, 200.0)]).is_ok());
}

#[test]
fn no_line_and_nine_lines_are_refused() {
    let lines = |n| {
        let c = HoseCoefficient::from_psi_per_100gpm2_100ft(0.08).unwrap();
        Hose::new(c, Length::from_ft(100.0).unwrap(), n)
    };
    assert_eq!(lines(0).unwrap_err(), LinesOutOfBounds(0));
    assert_eq!(lines(9).unwrap_err(), LinesOutOfBounds(9));
    assert_eq!(lines(8).unwrap().lines(), 8);
}

fn outlet(inches: f64, c: f64, pitot: f64) -> PitotReading {
    PitotReading {
        diameter: Diameter::from_in(inches).unwrap(),
        coefficient: OutletCoefficient::from_number(c).unwrap(),
        pitot: PitotPressure::from_psi(pitot).unwrap(),
    }
}

#[test]
fn a_test_without_an_open_outlet_has_no_flow() {
    assert_eq!(MeasuredFlow::Pitot(vec![]).total().unwrap_err(), NoFlow::NoOutlets);
}

#[test]
fn outlets_that_sum_past_any_main_are_refused() {
    // 29.84 x 24² x sqrt(9) x 0.83 is 42,798 gpm each: two are over 50,000.
    let total = MeasuredFlow::Pitot(vec![outlet(24.0, 1.0, 9.0); 2]).total();
    assert!(matches!(total, Err(NoFlow::OutOfBounds(found)) if found.quantity == "flow"), "{total:?}");
}

#[test]
fn outlets_add_up() {
    // 29.84 x 0.9 x 2.5² x 4 = 671.4 and 29.84 x 0.8 x 2.5² x 5 = 746.0.
    let total = MeasuredFlow::Pitot(vec![outlet(2.5, 0.9, 16.0), outlet(2.5, 0.8, 25.0)]).total().unwrap();
    close(total.gpm(), 1417.4, 1e-9);
}

#[test]
fn a_large_outlet_is_read_down_and_a_hose_outlet_is_not() {
    // 4.5 in at 4 psi: 29.84 x 0.9 x 20.25 x 2 x 0.89 = 968.025...; 3.4 in is a hose outlet: 29.84 x 0.9 x 11.56 x 2 = 620.91...
    close(outlet(4.5, 0.9, 4.0).discharge_gpm(), 29.84 * 0.9 * 20.25 * 2.0 * 0.89, 1e-9);
    close(outlet(3.4, 0.9, 4.0).discharge_gpm(), 29.84 * 0.9 * 11.56 * 2.0, 1e-9);
}

#[test]
fn the_pumper_outlet_factor_is_level_outside_its_table_and_straight_inside() {
    for (pitot, factor) in
        [(0.1, 0.97), (2.0, 0.97), (2.5, 0.945), (4.0, 0.89), (6.5, 0.835), (7.0, 0.83), (50.0, 0.83)]
    {
        close(pumper_outlet_factor(pitot), factor, 1e-12);
    }
}

#[test]
fn a_residual_above_static_is_refused() {
    let refused = SupplyCurve::new(psi(60.0), psi(60.1), gpm(500.0)).unwrap_err();
    assert_eq!(refused, NoCurve::ResidualAboveStatic { static_psi: 60.0, residual_psi: 60.1 });
}

#[test]
fn a_test_without_a_drop_proves_its_flow_and_nothing_beyond() {
    let level = curve(70.0, 70.0, 900.0);
    assert!(level.no_drop());
    assert_eq!(level.rated_flow_gpm(), None);
    assert_eq!((level.flow_gpm(20.0), level.flow_gpm(70.0), level.flow_gpm(70.1)), (900.0, 900.0, 0.0));
    assert_eq!((level.pressure_psi(0.0), level.pressure_psi(900.0)), (70.0, 70.0));
    assert_eq!(level.findings(), [Finding::new(FindingCode::NoDrop, 900.0)]);
}

#[test]
fn a_static_of_36_is_rated_at_18() {
    let low = curve(36.0, 26.0, 500.0);
    assert_eq!(low.rating_pressure_psi(), 18.0);
    // 500 x (18/10)^0.54: ln 1.8 = 0.5877867, x 0.54 = 0.3174048, e^ = 1.3735580.
    close(low.rated_flow_gpm().unwrap(), 686.779, 0.001);
    assert_eq!(curve(40.0, 30.0, 500.0).rating_pressure_psi(), 20.0);
}

#[test]
fn higher_ground_takes_the_same_head_from_both_pressures() {
    // 10 ft up costs 4.34 psi of each, and the drop of 20 psi stays.
    let up = curve(60.0, 40.0, 600.0).at_elevation(10.0).unwrap();
    close(up.static_psi(), 55.66, 1e-12);
    close(up.residual_psi(), 35.66, 1e-12);
    assert_eq!(curve(60.0, 1.0, 600.0).at_elevation(10.0), None);
    assert!(curve(60.0, 60.0, 600.0).at_elevation(-33.3).unwrap().no_drop());
}

fn codes(static_psi: f64, residual: f64, flow: f64) -> Vec<(FindingCode, f64)> {
    curve(static_psi, residual, flow).findings().iter().map(|found| (found.code, found.value.unwrap())).collect()
}

#[test]
fn a_small_drop_is_weak_under_25_percent_and_serious_under_10() {
    use FindingCode::{DropUnder10Percent, DropUnder25Percent};
    // 60/45 is a drop of exactly 25 %, 60/48 of 20 %, 80/72 of exactly 10 %, 80/74 of 7.5 %.
    let drop =
        |s, r| codes(s, r, 500.0).into_iter().find(|(code, _)| [DropUnder10Percent, DropUnder25Percent].contains(code));
    assert_eq!(drop(60.0, 45.0), None);
    let (code, share) = drop(60.0, 48.0).unwrap();
    assert_eq!((code, code.severity()), (DropUnder25Percent, Severity::Weak));
    close(share, 20.0, 1e-9);
    assert_eq!(drop(80.0, 72.0).unwrap().0, DropUnder25Percent);
    let (code, share) = drop(80.0, 74.0).unwrap();
    assert_eq!((code, code.severity()), (DropUnder10Percent, Severity::Serious));
    close(share, 7.5, 1e-9);
}

#[test]
fn a_long_extrapolation_tells_its_ratio() {
    // 60/55 at 500: (40/5)^0.54 = 2^1.62 = 3.0737. 60/50: 4^0.54 = 2^1.08 = 2.1140. 60/45: (40/15)^0.54 = 1.6983.
    let ratio = |r| codes(60.0, r, 500.0).into_iter().find(|(code, _)| *code == FindingCode::LongExtrapolation);
    close(ratio(55.0).unwrap().1, 3.0737, 0.0001);
    close(ratio(50.0).unwrap().1, 2.1140, 0.0001);
    assert_eq!(ratio(45.0), None);
}

#[test]
fn low_pressures_are_found() {
    let has = |s, r, code| codes(s, r, 500.0).into_iter().any(|(found, value)| found == code && value.min(s) == value);
    assert!(has(39.9, 20.0, FindingCode::LowStatic) && !has(40.0, 20.0, FindingCode::LowStatic));
    assert!(has(60.0, 19.9, FindingCode::TestedBelow20) && !has(60.0, 20.0, FindingCode::TestedBelow20));
}

#[test]
fn a_static_over_200_is_asked_about() {
    let found = |s: f64| codes(s, 40.0, 500.0).into_iter().find(|(code, _)| *code == FindingCode::PressureImplausible);
    assert_eq!((found(620.0), found(200.0)), (Some((FindingCode::PressureImplausible, 620.0)), None));
}

#[test]
fn pitot_readings_outside_10_to_30_are_found_by_the_worst() {
    let found = |pitots: &[f64]| MeasuredFlow::Pitot(pitots.iter().map(|p| outlet(2.5, 0.9, *p)).collect()).findings();
    assert_eq!(found(&[10.0, 30.0]), []);
    assert_eq!(found(&[9.0, 8.0, 20.0]), [Finding::new(FindingCode::PitotLow, 8.0)]);
    let both = [Finding::new(FindingCode::PitotLow, 5.0), Finding::new(FindingCode::PitotHigh, 41.0)];
    assert_eq!(found(&[41.0, 5.0, 31.0]), both);
    assert_eq!(MeasuredFlow::Metered(gpm(500.0)).findings(), []);
}

#[test]
fn a_flow_between_two_classes_belongs_to_the_lower() {
    for (flow, class) in
        [(1499.9, CapacityClass::A), (999.9, CapacityClass::B), (499.9, CapacityClass::C), (0.0, CapacityClass::C)]
    {
        assert_eq!(CapacityClass::of_rated_flow(flow), class);
    }
}

#[test]
fn a_1500_gpm_pumper_has_225_psi_halfway_between_its_rating_points() {
    let rated = PumpCurve::from_rating(gpm(1500.0));
    // 750 at 250, 1050 at 200, 1500 at 150: 900 and 1275 lie halfway.
    for (flow, net) in [(0.0, 250.0), (750.0, 250.0), (900.0, 225.0), (1050.0, 200.0), (1275.0, 175.0), (1500.0, 150.0)]
    {
        close(rated.net_psi(flow), net, 1e-9);
    }
    assert_eq!((rated.capacity_gpm(), rated.net_psi(2000.0)), (1500.0, 150.0));
}

#[test]
fn hose_holds_a_gallon_a_foot_at_5_inches() {
    let mut line = hose(0.08, 1000.0);
    assert_eq!(line.volume_gal(), None);
    line.diameter = Some(Diameter::from_in(5.0).unwrap());
    // pi/4 x (5/12)² = 0.1363538 ft² by 7.4805195 gal/ft³ = 1.0199975 gal a foot.
    close(line.volume_gal().unwrap(), 1019.9975, 0.001);
}
