//! Which hydrants serve which places, against the plain model and against itself.

use longlay_coverage::one_place::lays_to;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;
use longlay_coverage::run::Served;
use longlay_coverage::streets::Streets;
use longlay_coverage::threads::Progress;
use proptest::collection::vec;
use proptest::prelude::*;

use crate::model::Model;
use crate::town::{Street, hydrant, place, served, streets};

/// Points of a coarse grid, so that lines often meet, with a few that only nearly do.
pub(crate) fn point() -> impl Strategy<Value = [f64; 2]> {
    let near = prop_oneof![6 => Just(0.0), 1 => Just(0.25), 1 => Just(0.4375), 1 => Just(0.625)];
    (0..7_u8, 0..7_u8, near).prop_map(|(x, y, near)| [f64::from(x) * 150.0 + near, f64::from(y) * 150.0])
}

pub(crate) fn street() -> impl Strategy<Value = Street> {
    let levels = prop_oneof![8 => Just([0, 0]), 1 => Just([1, 1]), 1 => Just([0, 1])];
    (vec(point(), 2..6), levels).prop_map(|(points, levels)| Street { levels, ..Street::flat(&points) })
}

pub(crate) fn anywhere() -> impl Strategy<Value = [f64; 2]> {
    (-150.0..1050.0, -150.0..1050.0).prop_map(|(x, y)| [x, y])
}

pub(crate) fn town() -> impl Strategy<Value = (Vec<Street>, Vec<Place>, Vec<Hydrant>)> {
    let places = vec(anywhere().prop_map(|[x, y]| place(x, y, 500.0)), 1..12);
    let hydrants = vec(anywhere().prop_map(|[x, y]| hydrant(x, y)), 1..12);
    (vec(street(), 1..14), places, hydrants)
}

fn all_lays(served: &Served<'_>, places: &[Place]) -> Vec<Vec<(u32, u32)>> {
    (0..places.len()).map(|i| served.lays(i).iter().map(|lay| (lay.sections, lay.hydrant)).collect()).collect()
}

fn lays_of(lines: &[Street], places: &[Place], hydrants: &[Hydrant], rule: Rule) -> Vec<Vec<(u32, u32)>> {
    let streets = streets(lines);
    all_lays(&served(&streets, places, hydrants, rule), places)
}

fn feet_of(lines: &[Street]) -> Vec<f64> {
    lines.iter().flat_map(|line| line.points.windows(2)).map(|pair| crate::model::apart(pair[0], pair[1])).collect()
}

proptest! {
    #[test]
    fn reach_is_what_all_pairs_say((lines, places, hydrants) in town(), hose in 300.0..2500.0_f64, section in 1.0..120.0_f64) {
        let rule = Rule { section_ft: section, place_within_ft: 120.0, ..Rule::with_hose(hose) };
        let lines: Vec<_> = lines.into_iter().filter(|line| feet_of(std::slice::from_ref(line)).iter().all(|ft| *ft > 0.0)).collect();
        prop_assume!(!lines.is_empty());
        let model = Model::new(&lines);
        let found = lays_of(&lines, &places, &hydrants, rule);
        for (i, place) in places.iter().enumerate() {
            for (h, hydrant) in hydrants.iter().enumerate() {
                let exact = model.hose_ft(place, hydrant, &rule) / section;
                if model.in_doubt([place.x, place.y]) || model.in_doubt([hydrant.x, hydrant.y]) {
                    continue;
                }
                // Whichever way a whole section falls by the last digits is right.
                if (exact - exact.round()).abs() < 1e-6 {
                    continue;
                }
                let wanted = (exact.ceil() <= f64::from(rule.carried())).then_some(exact.ceil());
                let own = found[i].iter().find(|(_, hydrant)| *hydrant as usize == h).map(|(n, _)| f64::from(*n));
                prop_assert_eq!(own, wanted, "place {} hydrant {}: {} sections", i, h, exact);
            }
        }
    }

    #[test]
    fn one_place_is_served_as_in_a_run((lines, places, hydrants) in town(), barrier in vec(point(), 2..4), hose in 300.0..2500.0_f64) {
        let mut lines = lines;
        lines.push(Street::barrier(&barrier));
        let rule = Rule { place_within_ft: 120.0, ..Rule::with_hose(hose) };
        let points: Vec<_> = hydrants.iter().map(|hydrant| [hydrant.x, hydrant.y]).collect();
        for streets in [streets(&lines), Streets::new(&[]).unwrap()] {
            let served = served(&streets, &places, &hydrants, rule);
            for (i, place) in places.iter().enumerate() {
                let place = [place.x, place.y];
                let found = lays_to(&streets, place, &points, &rule, rule.carried());
                let on_street = streets.is_empty() || streets.snap(place, rule.place_within_ft).is_some();
                prop_assert_eq!(found.is_some(), on_street);
                prop_assert_eq!(found.unwrap_or_default(), served.lays(i), "place {}", i);
            }
        }
    }

    #[test]
    fn splitting_a_street_at_a_vertex_changes_nothing((lines, places, hydrants) in town(), barrier in vec(point(), 2..4)) {
        let mut whole: Vec<_> = lines.into_iter().filter(|line| line.levels[0] == line.levels[1]).collect();
        whole.push(Street::barrier(&barrier));
        let split: Vec<_> = whole.iter().flat_map(|line| {
            line.points.windows(2).map(|pair| Street { points: pair.to_vec(), ..line.clone() }).collect::<Vec<_>>()
        }).collect();
        let rule = Rule::with_hose(1200.0);
        prop_assert_eq!(lays_of(&whole, &places, &hydrants, rule), lays_of(&split, &places, &hydrants, rule));
    }

    #[test]
    fn the_order_and_the_direction_of_lines_change_nothing((lines, places, hydrants) in town(), by in 0..14_usize) {
        let rule = Rule::with_hose(1200.0);
        // A ramp that runs twice over the same way has two places there, and which of them is meant nothing tells.
        let model = Model::new(&lines);
        let ramps = lines.iter().any(|line| line.levels[0] != line.levels[1]);
        let told = |at: [f64; 2]| !ramps || !model.in_doubt(at);
        let places: Vec<_> = places.into_iter().filter(|place| told([place.x, place.y])).collect();
        let hydrants: Vec<_> = hydrants.into_iter().filter(|hydrant| told([hydrant.x, hydrant.y])).collect();
        let mut turned = lines.clone();
        turned.rotate_left(by % lines.len());
        for line in &mut turned {
            line.points.reverse();
            line.levels.reverse();
        }
        prop_assert_eq!(lays_of(&lines, &places, &hydrants, rule), lays_of(&turned, &places, &hydrants, rule));
    }

    #[test]
    fn a_barrier_brings_no_hydrant_nearer((lines, places, hydrants) in town(), barrier in vec(anywhere(), 2..4)) {
        let rule = Rule { place_within_ft: 0.001, hydrant_within_ft: 0.001, ..Rule::with_hose(1500.0) };
        // On a street already, so that a barrier does not send them to another.
        let on = streets(&lines);
        let onto = |at: [f64; 2]| on.snap(at, 5000.0).map(|foot| {
            let segment = on.segments()[foot.segment as usize];
            [0, 1].map(|axis| segment.ends[0][axis] + (segment.ends[1][axis] - segment.ends[0][axis]) * foot.along_ft / segment.ft)
        });
        // Where two lie as near, a barrier changes which is taken.
        let model = Model::new(&lines);
        let onto = |at: [f64; 2]| onto(at).filter(|at| !model.in_doubt(*at));
        let places: Vec<_> = places.iter().filter_map(|p| onto([p.x, p.y])).map(|[x, y]| place(x, y, 500.0)).collect();
        let hydrants: Vec<_> = hydrants.iter().filter_map(|h| onto([h.x, h.y])).map(|[x, y]| hydrant(x, y)).collect();
        let open = lays_of(&lines, &places, &hydrants, rule);
        let mut cut = lines.clone();
        cut.push(Street::barrier(&barrier));
        for (cut, open) in lays_of(&cut, &places, &hydrants, rule).iter().zip(&open) {
            for (sections, hydrant) in cut {
                prop_assert!(open.iter().any(|(n, h)| h == hydrant && n <= sections));
            }
        }
    }

    #[test]
    fn reach_is_the_same_on_any_number_of_threads((lines, places, hydrants) in town(), threads in 1..9_usize) {
        let (places, hydrants) = (places.repeat(60), hydrants.repeat(60));
        let streets = streets(&lines);
        let on = |threads| {
            let rule = Rule::with_hose(1200.0);
            all_lays(&Served::new(&streets, &places, &hydrants, rule, threads, &Progress::default()).unwrap(), &places)
        };
        prop_assert_eq!(on(1), on(threads));
    }

    #[test]
    fn without_streets_the_detour_factor_is_laid(places in vec(anywhere(), 1..20), hydrants in vec(anywhere(), 1..20), hose in 100.0..2000.0_f64) {
        let places: Vec<_> = places.into_iter().map(|[x, y]| place(x, y, 500.0)).collect();
        let hydrants: Vec<_> = hydrants.into_iter().map(|[x, y]| hydrant(x, y)).collect();
        let rule = Rule::with_hose(hose);
        let none = Streets::new(&[]).unwrap();
        let served = served(&none, &places, &hydrants, rule);
        for (i, place) in places.iter().enumerate() {
            let mut wanted: Vec<(u32, u32)> = hydrants.iter().zip(0..).filter_map(|(hydrant, h)| {
                let exact = 1.4 * crate::model::apart([place.x, place.y], [hydrant.x, hydrant.y]) / 100.0;
                let sections = (1..=rule.carried()).find(|n| f64::from(*n) >= exact - 1e-8)?;
                Some((sections, h))
            }).collect();
            wanted.sort_unstable();
            prop_assert_eq!(served.lays(i).iter().map(|lay| (lay.sections, lay.hydrant)).collect::<Vec<_>>(), wanted);
        }
    }
}
