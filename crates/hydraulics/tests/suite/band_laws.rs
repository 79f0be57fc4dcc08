//! How sure an answer is: the laws of its bands, and facts with hand-worked ends.

use longlay_hydraulics::band::{Band, Uncertain, flow_band};
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::lay::{LayAnswer, LayProblem, Part};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure};
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::{SupplyCurve, TestPoint};
use proptest::prelude::*;

use crate::common::{answer, close, curve, gpm, hose, line, main, problem, psi, wanting};
use crate::lays::{Range, any_lays, curves};

fn holds(band: &Band, figure: f64) -> Result<(), TestCaseError> {
    prop_assert!(band.low.is_finite() && band.low <= figure, "{band:?} does not hold {figure}");
    prop_assert!(band.high.is_none_or(|high| high.is_finite() && high >= figure), "{band:?} does not hold {figure}");
    prop_assert!(band.effects.len() <= 7, "more than fourteen solves: {band:?}");
    let shares: f64 = band.effects.iter().map(|effect| effect.share).sum();
    prop_assert!(shares == 0.0 || (shares - 1.0).abs() < 1e-9, "{band:?}");
    Ok(())
}

/// As wide, but for the last digits.
fn no_narrower(wide: &Band, narrow: &Band) -> Result<(), TestCaseError> {
    let slack = 1e-7 + 1e-8 * narrow.low.abs();
    prop_assert!(wide.low <= narrow.low + slack, "{wide:?} is narrower than {narrow:?}");
    let open = (wide.high, narrow.high);
    prop_assert!(!matches!(open, (Some(wide), Some(narrow)) if wide < narrow - slack), "{wide:?} against {narrow:?}");
    prop_assert!(!matches!(open, (Some(_), None)), "{wide:?} against {narrow:?}");
    Ok(())
}

fn bands(found: &LayAnswer) -> impl Iterator<Item = (&Band, f64)> {
    let lines = [Some(&found.unboosted), found.boosted.as_ref()].into_iter().flatten();
    let gain = found.gain_band.as_ref().zip(found.gain_gpm);
    lines.map(|line| (&line.band, line.deliverable_gpm)).chain(gain).chain([(&found.main_band, found.main_limit_gpm)])
}

fn worse(lay: &LayProblem, times: f64) -> LayProblem {
    let mut lay = lay.clone();
    let spread = &mut lay.source.spread;
    spread.static_psi *= times;
    spread.drop_psi *= times;
    spread.swing_psi *= times;
    spread.flow_only = Spread::even(spread.flow_only.below() * times);
    for part in &mut lay.parts {
        if let Part::Hose(line) = part {
            line.spread = Spread::of_ends(1.0, 1.0 - line.spread.below() * times, 1.0 + line.spread.above() * times);
        }
    }
    lay
}

fn reading(pitot: f64) -> PitotReading {
    PitotReading {
        diameter: Diameter::from_in(2.5).unwrap(),
        coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        pitot: PitotPressure::from_psi(pitot).unwrap(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_band_contains_its_answer(lay in any_lays(Range::Usual)) {
        let found = answer(lay);
        for (band, figure) in bands(&found) {
            holds(band, figure)?;
        }
        for line in [Some(&found.unboosted), found.boosted.as_ref()].into_iter().flatten() {
            let intake = line.intake;
            prop_assert!(intake.low_psi <= intake.pressure_psi && intake.pressure_psi <= intake.high_psi, "{intake:?}");
        }
    }

    #[test]
    fn bands_of_extreme_lays_are_finite(lay in any_lays(Range::Extreme)) {
        let found = answer(lay);
        for (band, figure) in bands(&found) {
            holds(band, figure)?;
        }
    }

    #[test]
    fn worse_gauges_and_coefficients_never_narrow_a_flow(lay in any_lays(Range::Usual), times in 1.0..2.5_f64) {
        let (now, then) = (answer(lay.clone()), answer(worse(&lay, times)));
        no_narrower(&then.unboosted.band, &now.unboosted.band)?;
        no_narrower(&then.main_band, &now.main_band)?;
        if let (Some(then), Some(now)) = (&then.boosted, &now.boosted) {
            no_narrower(&then.band, &now.band)?;
        }
    }

    #[test]
    fn a_borrowed_test_is_never_surer(curve in curves(Range::Usual)) {
        let own = SourceSpread::of_numbers();
        let borrowed = own.borrowed(curve.static_psi() - curve.residual_psi());
        no_narrower(&flow_band(&curve, &borrowed, 20.0), &flow_band(&curve, &own, 20.0))?;
        no_narrower(&flow_band(&curve, &borrowed.ground_unknown(), 20.0), &flow_band(&curve, &borrowed, 20.0))?;
    }

    #[test]
    fn readings_of_five_psi_and_more_are_never_less_sure_than_none(curve in curves(Range::Usual), pitot in 5.0..40.0_f64) {
        let read = SourceSpread::of_test(&MeasuredFlow::Pitot(vec![reading(pitot)]));
        no_narrower(&flow_band(&curve, &SourceSpread::of_numbers(), 20.0), &flow_band(&curve, &read, 20.0))?;
    }
}

#[test]
fn a_drop_of_five_percent_is_worth_little() {
    // Each reading at both its ends by the projection formula, added by hand as the root of the sum of squares.
    let little = flow_band(&curve(60.0, 57.0, 500.0), &SourceSpread::of_numbers(), 20.0);
    close(little.low, 1599.98, 0.01);
    close(little.high.unwrap(), 2876.97, 0.01);
    assert_eq!(little.effects[0].input, Uncertain::TestDrop);
    let third = flow_band(&curve(60.0, 40.0, 600.0), &SourceSpread::of_numbers(), 20.0);
    close(third.low, 785.42, 0.01);
    close(third.high.unwrap(), 958.41, 0.01);
}

#[test]
fn a_test_without_a_drop_has_no_high_end() {
    let band = flow_band(&curve(65.0, 65.0, 500.0), &SourceSpread::of_numbers(), 20.0);
    // Proved to the flow's own 6 %.
    close(band.low, 470.0, 1e-9);
    assert_eq!(band.high, None);
}

#[test]
fn a_second_point_near_the_first_fixes_no_exponent() {
    let point = |flow: f64, residual: f64| TestPoint { flow: gpm(flow), residual: psi(residual) };
    let width = |near: f64| {
        // A main of exponent 2: 20 psi down at 1000 gpm.
        let drop = 20.0 * (near / 1000.0) * (near / 1000.0);
        let curve = SupplyCurve::fitted(psi(70.0), point(near, 70.0 - drop), point(1000.0, 50.0)).unwrap();
        let band = flow_band(&curve, &SourceSpread::of_numbers(), 20.0);
        assert!(band.effects.iter().all(|effect| effect.input != Uncertain::StaticGauge) && band.effects.len() == 4);
        band.high.unwrap() - band.low
    };
    assert!(width(900.0) > width(500.0), "{} {}", width(900.0), width(500.0));
}

#[test]
fn what_was_tested_is_surer_than_the_handbook() {
    let lay = |spread: Spread| {
        let mut tested = hose(0.08, 1000.0);
        tested.spread = spread;
        answer(problem(main(60.0, 40.0, 600.0), vec![Part::Hose(tested)])).unboosted.band
    };
    let (handbook, own) = (lay(Spread::HANDBOOK_HOSE), lay(Spread::even(0.05)));
    assert!(own.high < handbook.high && own.low > handbook.low);
    assert_eq!((handbook.effects[0].input, own.effects[0].input), (Uncertain::Hose, Uncertain::Swing));
}

#[test]
fn a_flow_wanted_inside_the_main_s_band_may_be_water_or_not() {
    // 872 gpm at the floor by the test as read; 900 are past it, and inside its band.
    let found = answer(wanting(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 100.0)]), 900.0));
    assert!(found.diagnosis.in_doubt, "{}", found.diagnosis.message);
    let empty = answer(wanting(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 100.0)]), 2000.0));
    assert!(!empty.diagnosis.in_doubt, "{}", empty.diagnosis.message);
}
