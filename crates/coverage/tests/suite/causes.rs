//! A district in which every cause is there, each on a street of its own.

use longlay_coverage::cause::CauseCode;
use longlay_coverage::outcome::Outcome;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;

use crate::town::{Street, hydrant, lays, outcomes, place, source};

/// Streets so far apart that nothing on one is on another.
pub(crate) struct District {
    pub(crate) lines: Vec<Street>,
    pub(crate) places: Vec<Place>,
    pub(crate) hydrants: Vec<Hydrant>,
}

impl District {
    /// A street with a place at its west end, and hydrants so far along it.
    fn street(&mut self, place: Place, hydrants: &[(f64, Hydrant)]) {
        let y = 10_000.0 * f64::from(u32::try_from(self.lines.len()).unwrap());
        self.lines.push(Street::flat(&[[0.0, y], [3000.0, y]]));
        self.places.push(Place { y, ..place });
        self.hydrants.extend(hydrants.iter().map(|(x, hydrant)| Hydrant { x: *x, y, ..*hydrant }));
    }
}

/// In the order of the causes.
pub(crate) fn district() -> District {
    let of = |s, r, q| Hydrant { source: Some(source(s, r, q)), ..hydrant(0.0, 0.0) };
    let strong = of(90.0, 85.0, 2000.0);
    let weak = of(60.0, 40.0, 600.0);
    let needs = |gpm| place(0.0, 0.0, gpm);
    let mut district = District { lines: Vec::new(), places: Vec::new(), hydrants: Vec::new() };
    district.street(needs(500.0), &[(100.0, strong)]);
    district.street(needs(1000.0), &[(900.0, strong)]);
    district.street(
        needs(1000.0),
        &[(100.0, Hydrant { main: Some(1), ..weak }), (200.0, Hydrant { main: Some(2), ..weak })],
    );
    district.street(needs(500.0), &[(100.0, Hydrant { in_service: false, ..strong })]);
    district.street(needs(1800.0), &[(900.0, strong)]);
    district.street(needs(500.0), &[(2000.0, strong)]);
    district.street(Place { ground_ft: Some(160.0), ..needs(1600.0) }, &[(100.0, strong)]);
    district.street(needs(2500.0), &[(100.0, weak), (300.0, Hydrant { source: None, ..weak })]);
    district.street(needs(2500.0), &[(100.0, weak)]);
    district.street(needs(500.0), &[]);
    district.street(Place { need_gpm: None, ..needs(1.0) }, &[(100.0, strong)]);
    district.street(needs(500.0), &[(100.0, strong)]);
    district.places[11].y += 3000.0;
    district
}

pub(crate) fn judged(district: &District) -> Vec<Outcome> {
    outcomes(&district.lines, &district.places, &district.hydrants, Rule::with_hose(1000.0), &lays(Some(1500.0)))
}

#[test]
fn every_cause_is_told_where_it_is() {
    let found: Vec<_> = judged(&district()).iter().map(|outcome| outcome.cause.code).collect();
    assert_eq!(found, CauseCode::ALL);
}

#[test]
fn a_cause_names_the_hydrant_and_what_it_takes() {
    let found = judged(&district());
    let names = |i: usize| found[i].cause.names.unwrap();
    assert_eq!((names(0).hydrant, names(0).lay_ft, names(0).extra_ft), (0, 200.0, 0.0));
    assert!(names(3).hydrant == 4 && names(3).low_gpm.unwrap() >= 500.0);
    // 2000 ft of street is 2200 ft of hose, of which 1000 are carried.
    assert_eq!((names(5).hydrant, names(5).lay_ft, names(5).extra_ft), (6, 2200.0, 1200.0));
    assert!(names(5).low_gpm.unwrap() >= 500.0);
    assert_eq!((names(7).hydrant, names(7).low_gpm), (9, None));
    assert!(found[9].cause.names.is_none() && found[11].cause.names.is_none());
}

#[test]
fn covered_means_at_the_low_end() {
    for outcome in judged(&district()) {
        let Some(need) = outcome.need_gpm else { continue };
        assert_eq!(outcome.cause.code.is_covered(), outcome.low_gpm() >= need);
        assert_eq!(outcome.shortfall_gpm == Some(0.0), outcome.cause.code.is_covered());
    }
}

#[test]
fn water_is_said_only_where_every_hydrant_in_reach_is_tested() {
    let mut district = district();
    district.hydrants.iter_mut().for_each(|hydrant| hydrant.source = None);
    let found = judged(&district);
    assert!(found.iter().all(|outcome| outcome.cause.code != CauseCode::Water));
    assert_eq!(found[8].cause.code, CauseCode::Untested);
}

#[test]
fn a_need_of_a_pumper_s_whole_rating_is_met_by_it() {
    let mut district = District { lines: Vec::new(), places: Vec::new(), hydrants: Vec::new() };
    let strong = Hydrant { source: Some(source(110.0, 100.0, 3000.0)), ..hydrant(0.0, 0.0) };
    // Both bring all that the pumper is rated for: the nearer is told.
    district.street(place(0.0, 0.0, 1500.0), &[(900.0, strong), (800.0, strong)]);
    let found = judged(&district)[0];
    assert_eq!((found.cause.code, found.shortfall_gpm), (CauseCode::CoveredIfBoosted, Some(0.0)));
    assert_eq!(found.boosted.map(|best| (best.hydrant, best.arrives.low_gpm)), Some((1, 1500.0)));
}
