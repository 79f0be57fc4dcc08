//! Summaries, counted by hand over the district of all causes.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::summary::{Summary, worst};

use crate::causes::{district, judged};

#[test]
fn a_summary_counts_every_cause_once() {
    let summary = Summary::of(&judged(&district()));
    assert_eq!((summary.places, summary.by_cause), (12, [1; 12]));
    assert_eq!(summary.gaps(), 8);
    assert_eq!(summary.share(CauseCode::Friction), Some(1.0 / 12.0));
    assert_eq!(Summary::default().share(CauseCode::Water), None);
    let shortfall = summary.shortfall.unwrap();
    assert_eq!((shortfall.places, shortfall.bands.iter().sum::<usize>()), (8, 8));
}

#[test]
fn shortfalls_are_told_as_they_are() {
    let mut outcomes = judged(&district())[..1].repeat(11);
    for (i, outcome) in (0_u8..).zip(&mut outcomes) {
        outcome.shortfall_gpm = Some(100.0 * f64::from(i));
    }
    let shortfall = Summary::of(&outcomes).shortfall.unwrap();
    assert_eq!((shortfall.places, shortfall.most_gpm), (10, 1000.0));
    assert_eq!(shortfall.bands, [2, 3, 5, 0, 0]);
    assert_eq!(shortfall.quantiles_gpm, [200.0, 400.0, 600.0, 800.0, 1000.0]);
    assert_eq!(worst(&outcomes, 3), [10, 9, 8]);
    assert_eq!(worst(&outcomes, 0), []);
    assert_eq!(worst(&outcomes, 99).len(), 10);
}
