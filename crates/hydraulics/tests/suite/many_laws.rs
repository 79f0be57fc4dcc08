//! One lay asked for many pairs: the exact solver judges every answer.

use longlay_hydraulics::lay::combined::{Combined, CombinedAnswer, CombinedProblem, Mains, SupplyLine};
use longlay_hydraulics::lay::many::{Arrives, By, ManyLays, Ready};
use longlay_hydraulics::lay::{Lay, LayAnswer, LayError, LayProblem, Part, Source};
use longlay_hydraulics::quantity::{Length, Rise};
use proptest::prelude::*;

use crate::common::{gpm, hose, line, main, problem, psi, pumper, valve};
use crate::lays::{Pumpers, Range, lays, sources};

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

/// Lays of one supply hose; of the usual half, a half loses by squares only.
fn templates(range: Range) -> BoxedStrategy<LayProblem> {
    let pumped = prop_oneof![
        2 => lays(range, Pumpers::None),
        4 => lays(range, Pumpers::Boost),
        1 => lays(range, Pumpers::Written),
    ];
    (pumped, any::<prop::sample::Index>(), 0..8_u8)
        .prop_map(|(lay, at, plain)| {
            let mut parts = lay.parts.clone();
            parts.retain(|part| !matches!(part, Part::Rise(_)));
            if plain > 0 {
                parts.retain(|part| !steps(part));
            }
            let supply = parts.iter().find(|part| matches!(part, Part::Hose(_))).cloned();
            parts.retain(|part| !matches!(part, Part::Hose(_)));
            let after_valve = parts.iter().position(|part| matches!(part, Part::HydrantValve(_))).map_or(0, |i| i + 1);
            let first = if plain > 1 { after_valve } else { 0 };
            let place = first + at.index(parts.len() + 1 - first);
            parts.insert(place, supply.unwrap_or_else(|| line(0.08, 1000.0)));
            LayProblem { parts, ..lay }
        })
        .boxed()
}

fn steps(part: &Part) -> bool {
    use longlay_hydraulics::lay::BranchPart;
    use longlay_hydraulics::loss::ApplianceLoss;
    match part {
        Part::Appliance(appliance) => matches!(appliance.loss, ApplianceLoss::Step { .. }),
        Part::Parallel(branches) => branches.iter().flat_map(|branch| &branch.parts).any(|piece| {
            matches!(piece, BranchPart::Appliance(appliance) if matches!(appliance.loss, ApplianceLoss::Step { .. }))
        }),
        _ => false,
    }
}

fn lengths(range: Range) -> BoxedStrategy<f64> {
    match range {
        Range::Usual => (50.0..4000.0_f64).boxed(),
        Range::Extreme => prop_oneof![Just(0.0), Just(1.0), 0.0..10.0_f64, 1.0..100_000.0_f64, Just(1e5)].boxed(),
    }
}

fn rises(range: Range) -> BoxedStrategy<f64> {
    match range {
        Range::Usual => prop_oneof![Just(0.0), -80.0..80.0_f64].boxed(),
        Range::Extreme => prop_oneof![Just(0.0), -500.0..500.0_f64, -5000.0..5000.0_f64].boxed(),
    }
}

fn exact(many: &ManyLays, source: &Source, feet: f64, rise: f64) -> LayAnswer {
    many.lay(source, feet.max(Length::BOUND.min), rise).unwrap().answer()
}

/// Less than this is no flow, gpm.
const NO_FLOW: f64 = 1e-9;

/// How near low ends are in any lay, as a share of the figure: a case that is all but without head gets far more flow of a hair of pressure than that is.
const NEARLY: f64 = 1e-4;

/// Never over, and under by no more than a share of 1e-6; a low end is told to a share of what it is the low end of.
pub(crate) fn is_told(
    found: Arrives,
    figure: f64,
    low: f64,
    (share, rounding): (f64, f64),
) -> Result<(), TestCaseError> {
    if figure < NO_FLOW {
        prop_assert!(found.gpm < NO_FLOW && found.low_gpm <= found.gpm, "{found:?} of no flow");
        return Ok(());
    }
    prop_assert!(found.gpm <= figure, "{} is over {figure}", found.gpm);
    prop_assert!(found.gpm >= figure * (1.0 - 1e-6) - rounding, "{} is far under {figure}", found.gpm);
    prop_assert!(found.low_gpm <= low, "the low end {} is over {low} of {figure}", found.low_gpm);
    let least = low - share * figure - rounding;
    prop_assert!(found.low_gpm >= least, "the low end {} is far under {low} of {figure}", found.low_gpm);
    prop_assert!(found.low_gpm >= 0.0 && found.low_gpm <= found.gpm);
    Ok(())
}

fn are_told(many: &ManyLays, source: &Source, ready: &Ready, feet: f64, rise: f64) -> Result<(), TestCaseError> {
    are_told_but_for(0.0, many, (source, ready), feet, rise)
}

fn are_told_but_for(
    rounding: f64,
    many: &ManyLays,
    (source, ready): (&Source, &Ready),
    feet: f64,
    rise: f64,
) -> Result<(), TestCaseError> {
    let (found, answer) = (many.arrives(ready, feet, rise), exact(many, source, feet, rise));
    let alone = &answer.unboosted;
    is_told(found.alone, alone.deliverable_gpm, alone.band.low, (NEARLY, rounding))?;
    prop_assert_eq!(found.boosted.is_some(), answer.boosted.is_some());
    if let (Some(found), Some(line)) = (found.boosted, &answer.boosted) {
        is_told(found, line.deliverable_gpm, line.band.low, (NEARLY, rounding))?;
    }
    // The shorter questions say the same.
    prop_assert_eq!(many.gpm(ready, feet, rise), By { alone: found.alone.gpm, boosted: found.boosted.map(|b| b.gpm) });
    prop_assert_eq!(many.alone_gpm(ready, feet, rise), found.alone.gpm);
    prop_assert_eq!(many.low_alone(ready, feet, rise), found.alone.low_gpm);
    prop_assert_eq!(many.low_boosted(ready, feet, rise), found.boosted.map(|b| b.low_gpm));
    prop_assert_eq!(many.arrives_boosted(ready, feet, rise), found.boosted);
    let may_hold = |gpm: f64| many.may_hold_boosted(ready, feet, rise, gpm);
    let of_less = |part: f64| found.boosted.map(|boosted| may_hold(part * boosted.low_gpm));
    prop_assert!([1.0, 0.9].into_iter().all(|part| of_less(part) == found.boosted.map(|_| Some(true))));
    let alone_low = found.alone.low_gpm;
    prop_assert!([1.0, 0.9].into_iter().all(|part| many.may_hold_alone(ready, feet, rise, part * alone_low)));
    prop_assert_eq!(many.main(ready).gpm, answer.main_limit_gpm);
    prop_assert_eq!(many.main(ready).low_gpm, answer.main_band.low);
    Ok(())
}

/// Not over, but for the last digits of the tables.
fn at_most(less: f64, more: f64) -> Result<(), TestCaseError> {
    prop_assert!(less <= more * (1.0 + 1e-5) + 1e-5, "{less} is over {more}");
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn many_usual_lays_are_told_as_one_and_never_over(
        lay in templates(Range::Usual), source in sources(Range::Usual),
        feet in lengths(Range::Usual), rise in rises(Range::Usual)
    ) {
        let many = ManyLays::new(lay).unwrap();
        are_told(&many, &source, &many.ready(&source), feet, rise)?;
    }

    #[test]
    fn many_extreme_lays_are_told_as_one_and_never_over(
        lay in templates(Range::Extreme), source in sources(Range::Extreme),
        feet in lengths(Range::Extreme), rise in rises(Range::Extreme)
    ) {
        let many = ManyLays::new(lay).unwrap();
        // Of heads that are the rounding of a thousand psi the exact solver tells a flow, through hose that loses next to nothing.
        are_told_but_for(0.1, &many, (&source, &many.ready(&source)), feet, rise)?;
    }

    #[test]
    fn unknown_ground_is_never_surer(
        lay in templates(Range::Usual), source in sources(Range::Usual), feet in lengths(Range::Usual)
    ) {
        let many = ManyLays::new(lay).unwrap();
        let (known, unknown) = (many.ready(&source), many.ready_ground_unknown(&source));
        let wider = Source { spread: source.spread.ground_unknown(), ..source };
        are_told(&many, &wider, &unknown, feet, 0.0)?;
        at_most(many.low_alone(&unknown, feet, 0.0), many.low_alone(&known, feet, 0.0))?;
    }

    #[test]
    fn longer_hose_and_more_rise_never_bring_more(
        lay in templates(Range::Usual), source in sources(Range::Usual),
        feet in lengths(Range::Usual), rise in rises(Range::Usual), longer in 1.0..3.0_f64, higher in 0.0..100.0_f64
    ) {
        let many = ManyLays::new(lay).unwrap();
        let ready = many.ready(&source);
        let near = many.arrives(&ready, feet, rise);
        for far in [many.arrives(&ready, feet * longer, rise), many.arrives(&ready, feet, rise + higher)] {
            at_most(far.alone.gpm, near.alone.gpm)?;
            at_most(far.best().gpm, near.best().gpm)?;
        }
    }

    #[test]
    fn no_lay_brings_more_than_its_bounds(
        lay in templates(Range::Usual), source in sources(Range::Usual),
        feet in lengths(Range::Usual), rise in rises(Range::Usual)
    ) {
        let many = ManyLays::new(lay.clone()).unwrap();
        let ready = many.ready(&source);
        let found = many.arrives(&ready, feet, rise);
        prop_assert!(found.best().gpm <= many.main(&ready).gpm && found.best().low_gpm <= many.main(&ready).low_gpm);
        prop_assert_eq!(many.capacity_gpm(), lay.boost.as_ref().map(|pumper| pumper.curve.capacity_gpm()));
        if let (Some(boosted), Some(capacity)) = (found.boosted, many.capacity_gpm()) {
            let most = many.intake_gpm(&ready).unwrap().min(capacity).max(found.alone.gpm);
            prop_assert!(boosted.gpm <= most, "{} is over {most}", boosted.gpm);
        }
    }

    #[test]
    fn no_number_breaks_an_answer(source in sources(Range::Extreme), lay in templates(Range::Extreme)) {
        let many = ManyLays::new(lay).unwrap();
        let ready = many.ready(&source);
        let odd = [0.0, -1.0, 1e-300, 1e9, f64::MAX, f64::MIN, f64::INFINITY, f64::NEG_INFINITY, f64::NAN];
        for feet in odd {
            for rise in odd {
                let found = many.arrives(&ready, feet, rise);
                for line in [Some(found.alone), found.boosted].into_iter().flatten() {
                    prop_assert!(line.gpm.is_finite() && line.gpm >= 0.0 && line.low_gpm >= 0.0 && line.low_gpm <= line.gpm);
                    if feet.is_nan() || rise.is_nan() || feet > Length::BOUND.max || rise > Rise::BOUND.max {
                        prop_assert_eq!(line, Arrives::default());
                    }
                }
            }
        }
    }
}

/// So little that it is no flow: of heads of the least number that there is, the exact solver's own search tells none.
const NOTHING_GPM: f64 = 1e-30;

/// Both lines as the template's, their pumpers as asked for.
fn combined(many: &ManyLays, lines: [(&Source, f64, f64); 2], shared: bool, boosted: bool) -> CombinedAnswer {
    let line = |(hydrant, (source, feet, rise)): (usize, (&Source, f64, f64))| {
        let problem = many.lay(source, feet, rise).unwrap().problem().clone();
        let boost = problem.boost.clone().filter(|_| boosted);
        SupplyLine { hydrant, problem: LayProblem { boost, ..problem } }
    };
    let lines = lines.into_iter().enumerate().map(line).collect();
    let mains = if shared { Mains::Shared } else { Mains::Separate };
    Combined::new(CombinedProblem { lines, mains, target: None }).unwrap().answer()
}

fn together_is_told(found: Arrives, exact: &CombinedAnswer) -> Result<(), TestCaseError> {
    prop_assert!(found.gpm <= exact.total_gpm, "{} is over {}", found.gpm, exact.total_gpm);
    let low = exact.total_band.low;
    prop_assert!(found.low_gpm <= low, "the low end {} is over {low} of {}", found.low_gpm, exact.total_gpm);
    prop_assert!(found.low_gpm >= 0.0 && found.low_gpm <= found.gpm);
    // Where the stronger main is better asked by itself, or may be, the low end is told for sure and not near.
    let all_open = exact.lines.iter().all(|line| line.open);
    let may_close = exact.total_gpm > exact.main_limit_gpm * (1.0 - 1e-4) && exact.best_single_gpm > exact.total_gpm;
    if all_open {
        prop_assert!(
            found.gpm >= exact.total_gpm * (1.0 - 1e-5) - 1e-5,
            "{} is far under {}",
            found.gpm,
            exact.total_gpm
        );
    }
    if all_open && !may_close {
        let least = low * (1.0 - 1e-4) - 1e-5 * exact.total_gpm - 1e-5;
        prop_assert!(found.low_gpm >= least, "the low end {} is far under {low} of {}", found.low_gpm, exact.total_gpm);
    }
    Ok(())
}

proptest! {
    // Two lines together are some hundred times the work of a lay.
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases / 4, ..config() })]

    #[test]
    fn two_hydrants_are_told_as_together_and_never_over(
        lay in templates(Range::Usual), first in sources(Range::Usual), second in sources(Range::Usual),
        feet in [lengths(Range::Usual), lengths(Range::Usual)], rise in [rises(Range::Usual), rises(Range::Usual)],
        shared in any::<bool>()
    ) {
        // What a pumper written into the lay does is the exact solver's either way.
        let mut lay = lay;
        lay.parts.retain(|part| !matches!(part, Part::Pumper(_)));
        let many = ManyLays::new(lay).unwrap();
        let (one, other) = (many.ready(&first), many.ready(&second));
        let found = many.together([(&one, feet[0], rise[0]), (&other, feet[1], rise[1])], shared);
        let lines = [(&first, feet[0], rise[0]), (&second, feet[1], rise[1])];
        together_is_told(found.alone, &combined(&many, lines, shared, false))?;
        let asked = [(&one, feet[0], rise[0]), (&other, feet[1], rise[1])];
        prop_assert_eq!(many.together_alone(asked, shared), found.alone);
        let gpm = many.together_alone_gpm(asked, shared);
        prop_assert!((gpm - found.alone.gpm).abs() <= 1e-6 * found.alone.gpm, "{} and {}", gpm, found.alone.gpm);
        if let Some(boosted) = found.boosted {
            together_is_told(boosted, &combined(&many, lines, shared, true))?;
        }
    }

    #[test]
    fn two_extreme_hydrants_are_never_over(
        lay in templates(Range::Extreme), first in sources(Range::Extreme), second in sources(Range::Extreme),
        feet in [lengths(Range::Extreme), lengths(Range::Extreme)], rise in [rises(Range::Extreme), rises(Range::Extreme)],
        shared in any::<bool>()
    ) {
        let mut lay = lay;
        lay.parts.retain(|part| !matches!(part, Part::Pumper(_)));
        let many = ManyLays::new(lay).unwrap();
        let (one, other) = (many.ready(&first), many.ready(&second));
        let found = many.together([(&one, feet[0], rise[0]), (&other, feet[1], rise[1])], shared);
        let lines = [(&first, feet[0].max(1.0), rise[0]), (&second, feet[1].max(1.0), rise[1])];
        for (found, boosted) in [(Some(found.alone), false), (found.boosted, true)] {
            let Some(found) = found else { continue };
            let exact = combined(&many, lines, shared, boosted);
            prop_assert!(found.gpm <= exact.total_gpm + NOTHING_GPM, "{} is over {}", found.gpm, exact.total_gpm);
            let low = exact.total_band.low;
            prop_assert!(found.low_gpm <= low + NOTHING_GPM, "the low end {} is over {low} of {}", found.low_gpm, exact.total_gpm);
        }
    }
}

#[test]
fn a_lay_without_its_one_supply_hose_is_refused() {
    let of = |parts: Vec<Part>| ManyLays::new(problem(main(60.0, 40.0, 600.0), parts)).map(|_| ());
    assert_eq!(of(vec![valve(0.2, 0.1, 0.05)]), Err(LayError::NothingToStretch));
    assert_eq!(of(vec![line(0.08, 100.0), line(0.2, 100.0)]), Err(LayError::SecondToStretch(1)));
    assert_eq!(of(vec![]), Err(LayError::Empty));
    assert_eq!(of(vec![line(0.08, 100.0), crate::common::rise(10.0)]), Err(LayError::RiseBesideRisePart(1)));
}

#[test]
fn the_lay_of_a_pair_is_the_template_stretched() {
    let many = ManyLays::new(problem(main(60.0, 40.0, 600.0), vec![line(0.08, 1.0)])).unwrap();
    let lay: Lay = many.lay(&main(90.0, 75.0, 1500.0), 800.0, 12.0).unwrap();
    assert_eq!(lay.problem().parts, vec![Part::Hose(hose(0.08, 800.0))]);
    assert_eq!(lay.problem().rise, Some(Rise::from_ft(12.0).unwrap()));
    assert_eq!(lay.problem().source, main(90.0, 75.0, 1500.0));
}

#[test]
fn a_pumper_s_whole_rating_is_told_whole() {
    // A strong main and a short lay without markings: nothing but the pumper's own rating binds.
    let lay = problem(main(60.0, 40.0, 600.0), vec![valve(0.2, 0.1, 0.05), line(0.08, 1.0)]);
    let many = ManyLays::new(LayProblem { boost: Some(pumper(1000.0, None)), scene_floor: psi(60.0), ..lay }).unwrap();
    let strong = main(80.0, 70.0, 2000.0);
    let found = many.arrives(&many.ready(&strong), 1000.0, 0.0);
    assert_eq!(found.best().gpm, gpm(1000.0).gpm());
    assert!(found.alone.gpm < 700.0, "{found:?}");
    // Nor is its low end a hair under: needs and ratings are round numbers, and the same ones.
    let exact = many.lay(&strong, 1000.0, 0.0).unwrap().answer().boosted.unwrap();
    assert_eq!((exact.band.low, found.best().low_gpm), (1000.0, 1000.0));
}
