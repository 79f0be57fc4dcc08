//! What meets, what does not, and what is left out.

use longlay_coverage::finding::{Finding, FindingKind};
use longlay_coverage::rule::Rule;

use crate::town::{Street, hydrant, place, served, streets};

/// Sections from a hydrant at the west end to a place at the given point; none where it is not reached.
fn sections(lines: &[Street], hydrant_at: [f64; 2], place_at: [f64; 2]) -> Option<u32> {
    let streets = streets(lines);
    let places = [place(place_at[0], place_at[1], 500.0)];
    let hydrants = [hydrant(hydrant_at[0], hydrant_at[1])];
    let rule = Rule { slack: 1.0, ..Rule::with_hose(3000.0) };
    served(&streets, &places, &hydrants, rule).lays(0).first().map(|lay| lay.sections)
}

fn cross() -> [Street; 2] {
    [Street::flat(&[[0.0, 0.0], [1000.0, 0.0]]), Street::flat(&[[500.0, -500.0], [500.0, 500.0]])]
}

const WEST: [f64; 2] = [0.0, 0.0];
const NORTH: [f64; 2] = [500.0, 500.0];

#[test]
fn a_crossing_without_a_shared_vertex_does_not_connect() {
    assert_eq!(sections(&cross(), WEST, NORTH), None);
}

#[test]
fn a_shared_vertex_connects_ends_and_insides() {
    let [mut street, mut other] = cross();
    street.points.insert(1, [500.0, 0.0]);
    assert_eq!(sections(&[street.clone(), other.clone()], WEST, NORTH), None);
    other.points.insert(1, [500.0, 0.0]);
    assert_eq!(sections(&[street, other], WEST, NORTH), Some(10));
}

#[test]
fn what_misses_by_less_than_half_a_foot_connects() {
    let [mut street, mut other] = cross();
    street.points.insert(1, [500.0, 0.0]);
    other.points.insert(1, [500.25, 0.25]);
    assert!(sections(&[street.clone(), other.clone()], WEST, NORTH).is_some());
    other.points[1] = [500.375, 0.375];
    assert_eq!(sections(&[street, other], WEST, NORTH), None);
}

#[test]
fn a_bridge_meets_only_what_is_on_its_level() {
    let [mut street, mut other] = cross();
    street.points.insert(1, [500.0, 0.0]);
    other.points.insert(1, [500.0, 0.0]);
    assert_eq!(sections(&[street.clone(), other.clone().on(1, 1)], WEST, NORTH), None);
    // A ramp from the ground up to the bridge joins the two, and nothing on its way does.
    let ramp = Street::flat(&[[1000.0, 0.0], [700.0, 300.0], [500.0, 400.0]]).on(0, 1);
    other.points.insert(2, [500.0, 400.0]);
    let lines = [street.clone(), other.clone().on(1, 1), ramp];
    assert!(sections(&lines, WEST, NORTH).is_some());
    let side = Street::flat(&[[700.0, 300.0], [900.0, 600.0]]);
    let lines = [lines.to_vec(), vec![side]].concat();
    assert_eq!(sections(&lines, WEST, [900.0, 600.0]), None);
}

#[test]
fn a_street_is_cut_where_a_barrier_of_its_level_crosses_it() {
    let street = Street::flat(&[[0.0, 0.0], [1000.0, 0.0]]);
    let railway = Street::barrier(&[[300.0, -400.0], [350.0, 400.0]]);
    let end = [1000.0, 0.0];
    assert_eq!(sections(std::slice::from_ref(&street), WEST, end), Some(10));
    assert_eq!(sections(&[street.clone(), railway.clone()], WEST, end), None);
    assert_eq!(sections(&[street.clone(), railway.clone().on(-1, -1)], WEST, end), Some(10));
    assert_eq!(sections(&[street.on(1, 1), railway], WEST, end), Some(10));
}

#[test]
fn a_barrier_through_a_vertex_cuts_as_one_beside_it() {
    let through = Street::flat(&[[0.0, 0.0], [500.0, 0.0], [1000.0, 0.0]]);
    let end = [1000.0, 0.0];
    for x in [499.0, 500.0, 501.0] {
        let railway = Street::barrier(&[[x, -400.0], [x, 0.0], [x, 400.0]]);
        assert_eq!(sections(&[through.clone(), railway], WEST, end), None, "{x}");
    }
    // In two lines that meet at the street it is still one railway.
    let halves = [[500.0, -400.0], [500.0, 400.0]].map(|far| Street::barrier(&[far, [500.0, 0.0]]));
    assert_eq!(sections(&[vec![through.clone()], halves.to_vec()].concat(), WEST, end), None);
    // A median that begins at a vertex does not close it.
    assert_eq!(sections(&[through, halves[0].clone()], WEST, end), Some(10));
}

#[test]
fn what_nearly_meets_does_not_meet_through_a_wall() {
    let left = Street::flat(&[[0.0, 0.0], [500.0, 0.0]]);
    let right = Street::flat(&[[500.4375, 0.0], [1000.0, 0.0]]);
    let wall = Street::barrier(&[[500.1875, -100.0], [500.1875, 100.0]]);
    assert!(sections(&[left.clone(), right.clone()], WEST, [1000.0, 0.0]).is_some());
    assert_eq!(sections(&[left, right, wall], WEST, [1000.0, 0.0]), None);
}

#[test]
fn a_barrier_is_not_run_along() {
    let railway = Street::barrier(&[[0.0, 0.0], [1000.0, 0.0]]);
    let stub = Street::flat(&[[0.0, 50.0], [10.0, 50.0]]);
    assert_eq!(sections(&[railway, stub], WEST, [1000.0, 0.0]), None);
}

#[test]
fn a_curve_drawn_point_by_point_keeps_its_length() {
    let points: Vec<[f64; 2]> = (0..=4000).map(|i| [f64::from(i) * 0.25, 0.0]).collect();
    assert_eq!(sections(&[Street::flat(&points)], WEST, [1000.0, 0.0]), Some(10));
}

#[test]
fn what_is_wrong_is_counted_with_the_first_that_has_it() {
    let good = Street::flat(&[[0.0, 0.0], [100.0, 0.0]]);
    let lines = [
        good.clone(),
        Street::flat(&[[0.0, 0.0], [f64::NAN, 0.0], [50.0, 50.0], [60.0, 50.0]]),
        Street::flat(&[[7.0, 7.0], [7.0, 7.0]]),
        Street::flat(&[[100.0, 0.0], [0.0, 0.0]]),
        Street::flat(&[[f64::INFINITY, 0.0], [1e12, 0.0]]),
        good.on(1, 1),
    ];
    let streets = streets(&lines);
    let found = |kind, count, first| Finding { kind, count, first };
    assert_eq!(
        streets.findings(),
        [
            found(FindingKind::PointNotFinite, 3, 1),
            found(FindingKind::ZeroLength, 1, 2),
            found(FindingKind::Duplicate, 1, 3)
        ]
    );
    assert_eq!(streets.segments().len(), 3);
}
