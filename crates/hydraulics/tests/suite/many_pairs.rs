//! The lays that departments make, for very many hydrants: every pair by the exact solver besides.

use std::thread;

use longlay_hydraulics::lay::many::ManyLays;
use longlay_hydraulics::lay::{Branch, BranchPart, LayProblem, Part, Source};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose};
use longlay_hydraulics::pumper::Pumper;
use longlay_hydraulics::spread::Spread;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};

use crate::common::{hose, k, line, main, marked, problem, pumper, step, valve};
use crate::lays::{Range, sources};
use crate::many_laws::is_told;

/// Pairs of all lays together.
const PAIRS: usize = 100_000;
/// How near low ends are in lays that somebody would make, as a share of the figure.
const NEAR: f64 = 1e-5;

fn appliance(loss: f64) -> Part {
    let loss = ApplianceLoss::Squared(k(loss));
    Part::Appliance(Appliance { loss, max_operating: None, assumed: false, spread: Spread::ASSUMED_LOSS })
}

fn lines(c: f64, lines: u8) -> Part {
    let one = hose(c, 100.0);
    Part::Hose(Hose::new(one.coefficient(), one.length(), lines).unwrap())
}

fn beside(c: f64) -> Branch {
    Branch { parts: vec![BranchPart::Hose(hose(c, 200.0))] }
}

/// Each alone and with each pumper.
fn lays() -> Vec<LayProblem> {
    let four_way = || valve(0.22, 0.1, 0.05);
    let parts = [
        vec![line(0.08, 100.0)],
        vec![line(0.2, 100.0)],
        vec![four_way(), Part::Hose(marked(hose(0.08, 100.0), 185.0))],
        vec![four_way(), Part::Hose(marked(hose(0.2, 100.0), 185.0)), appliance(0.06)],
        vec![lines(0.8, 2), appliance(0.25)],
        vec![four_way(), lines(0.8, 3), appliance(0.1)],
        // What the tables do not hold.
        vec![four_way(), line(0.08, 100.0), Part::Parallel(vec![beside(0.8), beside(2.0)])],
        vec![line(0.08, 100.0), Part::Appliance(step(10.0, 350.0))],
    ];
    let boosts: [Option<Pumper>; 4] =
        [None, Some(pumper(1000.0, Some(185.0))), Some(pumper(1500.0, None)), Some(pumper(2000.0, Some(250.0)))];
    let lay = |parts: &Vec<Part>, boost: &Option<Pumper>| LayProblem {
        boost: boost.clone(),
        ..problem(main(60.0, 40.0, 600.0), parts.clone())
    };
    parts.iter().flat_map(|parts| boosts.iter().map(move |boost| lay(parts, boost))).collect()
}

/// Asks one lay of so many pairs, of which each hydrant has ten, and counts those at which anything arrives.
fn check(lay: LayProblem, seed: u8, pairs: usize) -> usize {
    let mut flowing = 0;
    let many = ManyLays::new(lay).unwrap();
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[seed; 32]);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), rng);
    let drawn = (sources(Range::Usual), prop::collection::vec((50.0..4000.0_f64, -80.0..80.0_f64), 10));
    for _ in 0..pairs.div_ceil(10) {
        let (source, ways): (Source, Vec<_>) = drawn.new_tree(&mut runner).unwrap().current();
        let ready = many.ready(&source);
        for (feet, rise) in ways {
            let (found, exact) = (many.arrives(&ready, feet, rise), many.lay(&source, feet, rise).unwrap().answer());
            flowing += usize::from(found.alone.gpm > 0.0);
            let told = is_told(found.alone, exact.unboosted.deliverable_gpm, exact.unboosted.band.low, (NEAR, 0.0));
            told.unwrap_or_else(|why| panic!("alone, lay {seed}, {feet} ft, {rise} ft up, {source:?}: {why}"));
            assert_eq!(found.boosted.is_some(), exact.boosted.is_some());
            if let (Some(found), Some(exact)) = (found.boosted, exact.boosted) {
                let told = is_told(found, exact.deliverable_gpm, exact.band.low, (NEAR, 0.0));
                told.unwrap_or_else(|why| panic!("boosted, lay {seed}, {feet} ft, {rise} ft up, {source:?}: {why}"));
            }
        }
    }
    flowing
}

#[test]
fn a_hundred_thousand_pairs_are_told_as_one_by_one_and_never_over() {
    let lays: Vec<_> = (0..).zip(lays()).collect();
    let each = PAIRS.div_ceil(lays.len());
    let (one, other) = lays.split_at(lays.len() / 2);
    let flowing: usize = thread::scope(|scope| {
        let all =
            |half: &[(u8, LayProblem)]| half.iter().map(|(seed, lay)| check(lay.clone(), *seed, each)).sum::<usize>();
        let threads = [one, other].map(|half| scope.spawn(move || all(half)));
        threads.into_iter().map(|thread| thread.join().unwrap()).sum()
    });
    // Most of them are lays that somebody would make.
    assert!(flowing > PAIRS / 2, "at {flowing} of {PAIRS} something arrives");
}
