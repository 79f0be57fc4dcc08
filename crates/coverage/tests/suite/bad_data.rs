//! Data as it comes: islands, holes, nothing at all.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::finding::FindingKind;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::{Joined, NoRun, Served};
use longlay_coverage::streets::Streets;
use longlay_coverage::threads::Progress;
use proptest::prelude::*;

use crate::town::{Street, hydrant, lays, outcomes, place, served, streets};

fn road() -> Street {
    Street::flat(&[[0.0, 0.0], [1000.0, 0.0]])
}

#[test]
fn a_town_without_hydrants_has_none_to_serve_it() {
    let places = [place(100.0, 20.0, 500.0)];
    let found = outcomes(&[road()], &places, &[], Rule::with_hose(1000.0), &lays(Some(1500.0)));
    assert_eq!(found[0].cause.code, CauseCode::NoHydrant);
    assert_eq!(found[0].shortfall_gpm, Some(500.0));
}

#[test]
fn a_town_without_streets_is_joined_straight_and_says_so() {
    let none = Streets::new(&[]).unwrap();
    let places = [place(0.0, 0.0, 500.0)];
    let served = served(&none, &places, &[hydrant(300.0, 400.0)], Rule::with_hose(1000.0));
    assert_eq!(served.joined(), Joined::Straight);
    assert_eq!(served.lays(0)[0].sections, 7);
}

#[test]
fn nothing_at_all_is_an_answer() {
    assert_eq!(outcomes(&[], &[], &[], Rule::with_hose(1000.0), &lays(None)), []);
}

#[test]
fn a_hydrant_in_the_lake_serves_nobody_and_is_found() {
    let streets = streets(&[road()]);
    let places = [place(500.0, 10.0, 500.0)];
    let served = served(&streets, &places, &[hydrant(500.0, 0.0), hydrant(500.0, 900.0)], Rule::with_hose(5000.0));
    assert_eq!(served.lays(0).len(), 1);
    let finding = served.findings()[0];
    assert_eq!((finding.kind, finding.count, finding.first), (FindingKind::HydrantNotOnStreets, 1, 1));
}

#[test]
fn an_island_is_not_reached() {
    let island = Street::flat(&[[0.0, 100.0], [1000.0, 100.0]]);
    let places = [place(500.0, 10.0, 500.0)];
    let found = outcomes(&[road(), island], &places, &[hydrant(500.0, 100.0)], Rule::with_hose(1000.0), &lays(None));
    assert_eq!(found[0].cause.code, CauseCode::NoHydrant);
}

#[test]
fn ground_that_is_not_known_is_said_and_never_surer() {
    let (mut here, mut there) = (place(500.0, 10.0, 500.0), hydrant(0.0, 0.0));
    let many = lays(None);
    let one =
        |place: Place, hydrant: Hydrant| outcomes(&[road()], &[place], &[hydrant], Rule::with_hose(1000.0), &many)[0];
    let level = one(here, there);
    assert!(!level.ground_unknown);
    there.ground_ft = None;
    let without = one(here, there);
    here.ground_ft = Some(f64::NAN);
    there.ground_ft = Some(0.0);
    for unknown in [without, one(here, there)] {
        assert!(unknown.ground_unknown);
        assert!(unknown.low_gpm() < level.low_gpm());
    }
}

#[test]
fn a_rule_that_cannot_be_is_refused_with_every_fault() {
    let none = Streets::new(&[]).unwrap();
    let rule = Rule { section_ft: 0.0, slack: f64::NAN, ..Rule::with_hose(1000.0) };
    let Err(NoRun::Rule(faults)) = Served::new(&none, &[], &[], rule, 1, &Progress::default()) else { panic!() };
    assert_eq!(faults.0.iter().map(|fault| fault.name).collect::<Vec<_>>(), ["section_ft", "slack"]);
}

#[test]
fn a_run_that_is_called_off_ends() {
    let streets = streets(&[road()]);
    let places = [place(500.0, 10.0, 500.0)];
    let served = served(&streets, &places, &[hydrant(0.0, 0.0)], Rule::with_hose(1000.0));
    let progress = Progress::default();
    progress.cancel();
    assert!(served.judge(&lays(None), &[hydrant(0.0, 0.0)], 2, &progress).is_err());
}

#[test]
fn other_hydrants_than_before_are_refused() {
    let streets = streets(&[road()]);
    let served = served(&streets, &[], &[hydrant(0.0, 0.0)], Rule::with_hose(1000.0));
    let found = served.judge(&lays(None), &[], 2, &Progress::default());
    assert_eq!(found, Err(NoRun::OtherHydrants { given: 0, wanted: 1 }));
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -2000.0..2000.0_f64,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -1e8, 1e8, 0.0, -0.0, f64::MIN_POSITIVE])
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_numbers_give_finite_answers(
        lines in prop::collection::vec((prop::collection::vec([number(), number()], 0..5), -1..2_i16, -1..2_i16, any::<bool>()), 0..8),
        places in prop::collection::vec([number(), number(), number(), number()], 1..5),
        hydrants in prop::collection::vec([number(), number(), number()], 0..5),
    ) {
        let lines: Vec<_> = lines.into_iter().map(|(points, from, to, barrier)| Street { points, levels: [from, to], barrier }).collect();
        let places: Vec<_> = places.iter().map(|[x, y, need, ground]| Place { x: *x, y: *y, need_gpm: Some(*need), ground_ft: Some(*ground) }).collect();
        let hydrants: Vec<_> = hydrants.iter().map(|[x, y, ground]| Hydrant { ground_ft: Some(*ground), ..hydrant(*x, *y) }).collect();
        for outcome in outcomes(&lines, &places, &hydrants, Rule::with_hose(1000.0), &lays(Some(1500.0))) {
            prop_assert!(outcome.low_gpm().is_finite() && outcome.low_gpm() >= 0.0);
            prop_assert!(outcome.shortfall_gpm.is_none_or(|gpm| gpm.is_finite() && gpm >= 0.0));
            prop_assert!(outcome.cause.names.is_none_or(|named| named.lay_ft.is_finite() && named.extra_ft.is_finite()));
        }
    }
}
