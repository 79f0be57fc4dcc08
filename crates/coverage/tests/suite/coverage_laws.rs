//! What never makes less water.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::outcome::Outcome;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::Served;
use longlay_coverage::threads::Progress;
use proptest::collection::vec;
use proptest::prelude::*;

use crate::reach_laws::{anywhere, street};
use crate::town::{Street, hydrant, lays, outcomes, place, source, streets};

pub(crate) fn hydrants() -> impl Strategy<Value = Vec<Hydrant>> {
    let one = (anywhere(), 45.0..95.0_f64, 5.0..25.0_f64, 400.0..2000.0_f64, 0..8_u8, -40.0..40.0_f64);
    let one = one.prop_map(|([x, y], s, drop, q, kind, ground)| Hydrant {
        source: (kind != 0).then(|| source(s, s - drop, q)),
        in_service: kind != 1,
        main: (kind > 3).then_some(u32::from(kind)),
        ground_ft: (kind != 2).then_some(ground),
        ..hydrant(x, y)
    });
    vec(one, 1..8)
}

pub(crate) fn places() -> impl Strategy<Value = Vec<Place>> {
    let one =
        (anywhere(), prop::option::weighted(0.9, 250.0..3000.0_f64), prop::option::weighted(0.9, -40.0..40.0_f64));
    vec(one.prop_map(|([x, y], need_gpm, ground_ft)| Place { need_gpm, ground_ft, ..place(x, y, 1.0) }), 1..8)
}

pub(crate) fn lines() -> impl Strategy<Value = Vec<Street>> {
    vec(street(), 1..14)
}

/// Whether one hydrant covers it.
fn by_one(outcome: &Outcome) -> bool {
    matches!(outcome.cause.code, CauseCode::Covered | CauseCode::CoveredIfBoosted)
}

fn single_low(outcome: &Outcome) -> f64 {
    [outcome.alone, outcome.boosted].into_iter().flatten().map(|best| best.arrives.low_gpm).fold(0.0, f64::max)
}

/// A hair, for figures worked by tables.
fn no_less(after: f64, before: f64) -> bool {
    after >= before * (1.0 - 1e-4)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn more_hose_and_more_hydrants_never_bring_less(lines in lines(), places in places(), hydrants in hydrants(), hose in 300.0..900.0_f64) {
        let many = lays(Some(1500.0));
        let ask = |hydrants: &[Hydrant], hose| outcomes(&lines, &places, hydrants, Rule::with_hose(hose), &many);
        let before = ask(&hydrants[..hydrants.len().div_ceil(2)], hose);
        for after in [ask(&hydrants, hose), ask(&hydrants[..hydrants.len().div_ceil(2)], hose + 700.0)] {
            for (before, after) in before.iter().zip(&after) {
                prop_assert!(single_low(after) >= single_low(before));
                prop_assert!(by_one(after) || !by_one(before));
            }
        }
    }

    #[test]
    fn a_lower_need_is_never_harder_to_meet(lines in lines(), places in places(), hydrants in hydrants(), share in 0.05..1.0_f64) {
        let many = lays(Some(1500.0));
        let ask = |places: &[Place]| outcomes(&lines, places, &hydrants, Rule::with_hose(1000.0), &many);
        let less: Vec<_> = places.iter().map(|p| Place { need_gpm: p.need_gpm.map(|gpm| gpm * share), ..*p }).collect();
        for (before, after) in ask(&places).iter().zip(&ask(&less)) {
            prop_assert!(after.cause.code <= before.cause.code || !before.cause.code.is_covered());
        }
    }

    #[test]
    fn a_pumper_allowed_never_lowers_what_arrives(lines in lines(), places in places(), hydrants in hydrants()) {
        let ask = |many| outcomes(&lines, &places, &hydrants, Rule::with_hose(1000.0), &many);
        for (alone, boosted) in ask(lays(None)).iter().zip(&ask(lays(Some(1500.0)))) {
            prop_assert!(no_less(single_low(boosted), single_low(alone)));
            prop_assert!(by_one(boosted) || !by_one(alone));
        }
    }

    #[test]
    fn outcomes_are_the_same_on_any_number_of_threads(lines in lines(), places in places(), hydrants in hydrants(), threads in 2..9_usize) {
        let (places, many, streets) = (places.repeat(200), lays(None), streets(&lines));
        let on = |threads| {
            let progress = Progress::default();
            let served = Served::new(&streets, &places, &hydrants, Rule::with_hose(1000.0), threads, &progress).unwrap();
            served.judge(&many, &hydrants, threads, &progress).unwrap()
        };
        prop_assert_eq!(on(1), on(threads));
    }

    #[test]
    fn covered_is_the_low_end_at_the_need(lines in lines(), places in places(), hydrants in hydrants()) {
        for outcome in outcomes(&lines, &places, &hydrants, Rule::with_hose(1000.0), &lays(Some(1500.0))) {
            let met = outcome.need_gpm.is_some_and(|need| outcome.low_gpm() >= need);
            prop_assert_eq!(outcome.cause.code.is_covered(), met);
            prop_assert_eq!(outcome.shortfall_gpm == Some(0.0), met);
        }
    }
}
