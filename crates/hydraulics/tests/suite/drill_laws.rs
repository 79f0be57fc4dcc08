//! Drills: what the gauges should read, and what they say of the coefficients.

use longlay_hydraulics::calibrate::{Estimate, LossReading, Unknown, estimates};
use longlay_hydraulics::lay::{
    Branch, BranchPart, CoefficientOf, Gauge, Lay, LayProblem, NoStation, Part, Station, Stretch, Term,
};
use longlay_hydraulics::quantity::{ApplianceCoefficient, HoseCoefficient, MeterUncertainty, PositiveFlow, Pressure};
use longlay_hydraulics::spread::Spread;
use proptest::collection::vec;
use proptest::prelude::*;

use crate::common::{boosted, close, gpm, hose, level, line, main, problem, psi, pumper, rise, step, valve};
use crate::lays::{Range, any_lays};

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn meter(percent: f64) -> MeterUncertainty {
    MeterUncertainty::from_percent(percent).unwrap()
}

/// A gauge reading for every prediction that a gauge can show.
fn as_read(gauges: &[Gauge]) -> Vec<(Station, Pressure)> {
    gauges.iter().filter_map(|gauge| Some((gauge.station, Pressure::from_psi(gauge.pressure_psi).ok()?))).collect()
}

/// The figures of some stretches, each once, and the readings of them.
fn posed(stretches: &[Stretch], percent: f64) -> (Vec<Term>, Vec<LossReading>) {
    let mut terms: Vec<Term> = Vec::new();
    let mut readings = Vec::new();
    for stretch in stretches {
        readings.push(stretch.reading(meter(percent), |term| {
            Some(terms.iter().position(|known| known.of == term.of).unwrap_or_else(|| {
                terms.push(*term);
                terms.len() - 1
            }))
        }));
    }
    (terms, readings)
}

fn estimated(stretches: &[Stretch], percent: f64) -> Vec<(CoefficientOf, Unknown, Estimate)> {
    let (terms, readings) = posed(stretches, percent);
    let unknowns: Vec<_> = terms.iter().map(|term| term.unknown).collect();
    let found = estimates(&unknowns, &readings);
    terms.iter().zip(found).map(|(term, found)| (term.of, term.unknown, found)).collect()
}

fn drilled(lay: &LayProblem, flow: PositiveFlow) -> (Lay, Vec<Gauge>) {
    let lay = Lay::new(lay.clone()).unwrap();
    let gauges = lay.predicted_gauges(flow, &[]);
    (lay, gauges)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn the_gauges_of_an_answer_are_those_predicted_at_its_flow(lay in any_lays(Range::Usual)) {
        let found = Lay::new(lay.clone()).unwrap().answer();
        // A boost that is left out of the answer was still laid in a drill.
        let left_out = found.boosted.as_ref().is_some_and(|boosted| boosted.pumpers.is_empty());
        if let (Ok(flow), false) = (PositiveFlow::from_gpm(found.answer().deliverable_gpm), left_out) {
            prop_assert_eq!(&drilled(&lay, flow).1, &found.answer().gauges);
        }
    }

    #[test]
    fn exact_readings_change_no_coefficient_and_widen_none(
        lay in any_lays(Range::Usual), flow in 50.0..1500.0_f64, percent in 0.1..10.0_f64
    ) {
        let flow = gpm(flow);
        let (lay, gauges) = drilled(&lay, flow);
        let stretches = lay.stretches(flow, &as_read(&gauges));
        for (of, held, found) in estimated(&stretches, percent) {
            prop_assert!((found.value - held.value).abs() <= 1e-9 * held.value, "{of:?} {held:?} {found:?}");
            prop_assert!(found.deviation <= held.deviation() * (1.0 + 1e-12), "{of:?} {held:?} {found:?}");
        }
    }

    #[test]
    fn the_order_of_drills_does_not_matter(
        rows in vec((0..4_usize, 0..4_usize, 1.0..200.0_f64, 1.0..200.0_f64, 0.0..60.0_f64, 0.5..3.0_f64), 1..12),
        swaps in vec((any::<prop::sample::Index>(), any::<prop::sample::Index>()), 0..12)
    ) {
        let held: Vec<_> = [0.08, 0.2, 0.05, 2.0].map(|value| Unknown { value, ..a_hose(0.08) }).into();
        let of = |&(i, j, x, y, loss_psi, deviation_psi): &(usize, usize, f64, f64, f64, f64)| {
            LossReading { loss_psi, deviation_psi, factors: [(i, x), (j, y)].into() }
        };
        let one: Vec<_> = rows.iter().map(of).collect();
        let mut other = one.clone();
        for (a, b) in swaps {
            let (a, b) = (a.index(one.len()), b.index(one.len()));
            other.swap(a, b);
        }
        for (a, b) in estimates(&held, &one).iter().zip(estimates(&held, &other)) {
            prop_assert!((a.value - b.value).abs() <= 1e-9, "{a:?} {b:?}");
            prop_assert!((a.deviation - b.deviation).abs() <= 1e-9, "{a:?} {b:?}");
            prop_assert_eq!(a.readings, b.readings);
        }
    }

    #[test]
    fn a_coefficient_that_no_reading_bears_on_stays(value in 0.001..5000.0_f64, loss in 0.0..500.0_f64) {
        let reading = LossReading { loss_psi: loss, deviation_psi: 1.0, factors: vec![(0, 100.0)] };
        let found = estimates(&[a_hose(0.08), a_hose(value)], &[reading])[1];
        prop_assert_eq!((found.value, found.readings), (value, 0));
        prop_assert_eq!(found.deviation, a_hose(value).deviation());
    }

    #[test]
    fn nothing_read_makes_a_figure_that_is_none(
        rows in vec((any::<f64>(), any::<f64>(), vec((0..4_usize, any::<f64>()), 0..4)), 0..6),
        value in 0.001..5000.0_f64
    ) {
        let readings: Vec<_> = rows
            .into_iter()
            .map(|(loss_psi, deviation_psi, factors)| LossReading { loss_psi, deviation_psi, factors })
            .collect();
        for found in estimates(&[a_hose(value), a_hose(0.08), a_hose(1.0)], &readings) {
            sound(&found, HoseCoefficient::BOUND.min, HoseCoefficient::BOUND.max)?;
        }
    }

    #[test]
    fn every_lay_there_can_be_gives_numbers(
        lay in any_lays(Range::Extreme), flow in 1.0..50_000.0_f64, read in vec(0.0..1000.0_f64, 8)
    ) {
        let flow = gpm(flow);
        let (lay, gauges) = drilled(&lay, flow);
        prop_assert!(gauges.iter().all(|gauge| gauge.pressure_psi.is_finite()));
        let readings: Vec<_> = gauges.iter().zip(read).map(|(gauge, read)| (gauge.station, psi(read))).collect();
        for (_, held, found) in estimated(&lay.stretches(flow, &readings), 0.1) {
            sound(&found, held.bound.min, held.bound.max.max(held.value))?;
        }
    }
}

fn a_hose(value: f64) -> Unknown {
    Unknown { value, spread: Spread::HANDBOOK_HOSE, bound: HoseCoefficient::BOUND }
}

fn sound(found: &Estimate, min: f64, max: f64) -> Result<(), TestCaseError> {
    for number in [found.value, found.low, found.high] {
        prop_assert!(number.is_finite() && number >= min && number <= max, "{found:?}");
    }
    prop_assert!(found.low <= found.value && found.value <= found.high && found.deviation >= 0.0, "{found:?}");
    Ok(())
}

/// 1000 ft of 5-inch that loses 20 psi at 500 gpm, and rises 10 ft.
fn uphill() -> Lay {
    Lay::new(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1000.0), rise(10.0)])).unwrap()
}

#[test]
fn a_scene_that_reads_two_psi_lower_moves_the_hose_up() {
    let readings = [(Station::Hydrant, psi(50.0)), (Station::Scene, psi(50.0 - 4.34 - 22.0))];
    let stretches = uphill().stretches(gpm(500.0), &readings);
    assert_eq!((stretches.len(), stretches[0].from, stretches[0].to), (1, Station::Hydrant, Station::Scene));
    close(stretches[0].read_loss_psi, 22.0, 1e-12);
    close(stretches[0].predicted_loss_psi(), 20.0, 1e-12);
    // Held: 20 psi x 0.35/1.645 = 4.2553, squared 18.1077. Read: √(2 + (2 x 0.03 x 20)²)/1.645 = 1.12749, squared 1.27124.
    // 18.1077/19.3790 of the 10 % more that was lost.
    let found = estimated(&stretches, 3.0)[0].2;
    close(found.value, 0.08 * (1.0 + 0.1 * 0.934_401), 1e-8);
    assert!(found.low < found.value && found.value < found.high && found.readings == 1);
    // The two together: 1/√(1/18.1077 + 1/1.27124) = 1.08988 psi of 20.
    close(found.deviation, 0.08 * 1.089_88 / 20.0, 1e-7);
}

#[test]
fn what_is_not_asked_about_makes_the_reading_less_sure() {
    let readings = [(Station::Hydrant, psi(50.0)), (Station::Scene, psi(26.0))];
    let stretch = &uphill().stretches(gpm(500.0), &readings)[0];
    let known = stretch.reading(meter(3.0), |_| Some(0));
    let other = stretch.reading(meter(3.0), |_| None);
    close(other.loss_psi, 50.0 - 26.0 - 4.34 - 20.0, 1e-12);
    close(other.deviation_psi, libm::hypot(known.deviation_psi, 20.0 * 0.35 / 1.645), 1e-12);
    assert!(other.factors.is_empty());
}

#[test]
fn gauges_on_both_sides_of_a_pumper_are_no_stretch() {
    let lay = Lay::new(boosted(level(vec![valve(0.2, 0.1, 0.04), line(0.08, 1000.0)]), 1500.0)).unwrap();
    let flow = gpm(1000.0);
    let between = |readings: &[(Station, f64)]| -> Vec<(Station, Station)> {
        let readings: Vec<_> = readings.iter().map(|(station, read)| (*station, psi(*read))).collect();
        lay.stretches(flow, &readings).iter().map(|stretch| (stretch.from, stretch.to)).collect()
    };
    let (intake, discharge) = (Station::PumperIntake(1), Station::PumperDischarge(1));
    assert_eq!(between(&[(intake, 60.0), (Station::Scene, 20.0)]), []);
    assert_eq!(between(&[(Station::Hydrant, 60.0), (Station::Scene, 20.0)]), []);
    assert_eq!(
        between(&[(Station::Main, 60.0), (intake, 50.0), (discharge, 110.0), (Station::Scene, 20.0)]),
        [(Station::Main, intake), (discharge, Station::Scene)]
    );
}

#[test]
fn a_gauge_on_its_peg_tells_no_loss() {
    let readings = [(Station::Hydrant, psi(20.0)), (Station::Scene, psi(0.0))];
    assert_eq!(uphill().stretches(gpm(500.0), &readings), []);
}

#[test]
fn a_pumper_whose_discharge_was_read_starts_its_section_at_it() {
    let lay = Lay::new(LayProblem {
        boost: Some(pumper(1500.0, None)),
        ..problem(main(70.0, 50.0, 1500.0), vec![line(0.08, 1000.0)])
    })
    .unwrap();
    let gauges = lay.predicted_gauges(gpm(1000.0), &[Some(psi(140.0))]);
    let read = |station| gauges.iter().find(|gauge| gauge.station == station).unwrap().pressure_psi;
    close(read(Station::PumperDischarge(1)), 140.0, 0.0);
    // 80 psi lost at 1000 gpm.
    close(read(Station::Scene), 60.0, 1e-9);
    // Not read, it does what the scene's floor of 20 psi needs.
    let gauges = lay.predicted_gauges(gpm(1000.0), &[None]);
    close(gauges.last().unwrap().pressure_psi, 20.0, 1e-9);
}

#[test]
fn each_of_two_like_lines_side_by_side_takes_half_of_the_blame() {
    let branch = || Branch { parts: vec![BranchPart::Hose(hose(0.2, 600.0))] };
    let lay = Lay::new(level(vec![Part::Parallel(vec![branch(), branch()])])).unwrap();
    let readings = [(Station::Hydrant, psi(60.0)), (Station::Scene, psi(30.0))];
    let stretch = &lay.stretches(gpm(800.0), &readings)[0];
    // 400 gpm each: 0.2 x 16 x 6 = 19.2 psi, of which each coefficient stands for half.
    assert_eq!(stretch.terms.len(), 2);
    stretch.terms.iter().for_each(|term| close(term.loss_psi(), 9.6, 1e-12));
}

#[test]
fn lines_side_by_side_that_step_are_told_as_a_whole() {
    let stepping = Branch { parts: vec![BranchPart::Hose(hose(0.2, 600.0)), BranchPart::Appliance(step(10.0, 100.0))] };
    let plain = Branch { parts: vec![BranchPart::Hose(hose(0.2, 600.0))] };
    let lay = Lay::new(level(vec![Part::Parallel(vec![stepping, plain])])).unwrap();
    let readings = [(Station::Hydrant, psi(60.0)), (Station::Scene, psi(30.0))];
    let terms = &lay.stretches(gpm(800.0), &readings)[0].terms;
    assert_eq!((terms.len(), terms[0].of), (1, CoefficientOf::SteppedGroup(0)));
}

#[test]
fn a_figure_of_nothing_stays_nothing() {
    let none = Unknown { value: 0.0, spread: Spread::ASSUMED_LOSS, bound: ApplianceCoefficient::BOUND };
    let reading = LossReading { loss_psi: 9.0, deviation_psi: 1.0, factors: vec![(0, 100.0)] };
    let found = estimates(&[none], &[reading])[0];
    assert_eq!((found.value, found.low, found.high), (0.0, 0.0, 0.0));
}

#[test]
fn stations_read_as_they_are_written() {
    let all = [Station::Main, Station::Hydrant, Station::PumperIntake(1), Station::PumperDischarge(12), Station::Scene];
    for station in all {
        assert_eq!(station.to_string().parse(), Ok(station));
    }
    for bad in ["", "Main", "pumper_1", "pumper_0_intake", "pumper_01_intake", "pumper_+1_intake", "pumper_1_out"] {
        assert_eq!(bad.parse::<Station>(), Err(NoStation), "{bad}");
    }
    assert_eq!(format!("pumper_{}9_intake", u64::MAX).parse::<Station>(), Err(NoStation));
}
