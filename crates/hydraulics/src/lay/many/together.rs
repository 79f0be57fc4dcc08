//! Two hydrants to one scene.
//!
//! On one main each hydrant falls with all that both take, as its test fell with its own flow: the farther they stand from each other, the more they
//! bring over this. What is not known to be two mains is asked here as one, for two mains never bring less.

use crate::bulk::Powers;
use crate::lay::many::low::Low;
use crate::lay::many::pair::{Found, Pair};
use crate::lay::many::ready::CASES;
use crate::lay::many::{Arrives, By};
use crate::root::largest_holding_to;
use crate::supply::DROP_EXPONENT;

/// A total is sought to this share of itself, and lowered by it.
const CLOSE: f64 = 1e-7;
/// How far from what a main gives at its floor the power table may see that floor, as a share.
const SHORT_OF_FLOOR: f64 = 1e-6;
/// Nearer than this share to what the weaker main gives, rounding may say on which side of its floor a total lies.
const NEAR: f64 = 1e-5;

/// Alone and with the pumpers.
pub(super) fn both(pairs: [Pair<'_>; 2], shared_main: bool) -> By<Arrives> {
    let alone = pairs.map(|pair| Line { pair, found: pair.alone(), boosted: false });
    let boosted = alone.map(|Line { pair, found, .. }| Line {
        found: pair.boosted(&found).unwrap_or(found),
        boosted: true,
        pair,
    });
    let has_pumper = pairs.iter().all(|pair| pair.tables.boost.is_some());
    let total = |lines| if shared_main { sharing(lines) } else { apart(lines) };
    By { alone: total(&alone), boosted: has_pumper.then(|| total(&boosted)) }
}

/// Without pumpers only.
pub(super) fn alone(pairs: [Pair<'_>; 2], shared_main: bool) -> Arrives {
    let lines = pairs.map(|pair| Line { pair, found: pair.alone(), boosted: false });
    if shared_main { sharing(&lines) } else { apart(&lines) }
}

/// The figure of that, without its band.
pub(super) fn alone_gpm(pairs: [Pair<'_>; 2], shared_main: bool) -> f64 {
    let found = |pair: &Pair<'_>| Found { gpm: [pair.alone_gpm(); CASES], low_gpm: 0.0 };
    let lines = pairs.map(|pair| Line { found: found(&pair), boosted: false, pair });
    if shared_main { Total::read(&lines).gpm() } else { lines.iter().map(|line| line.in_case(0)).sum() }
}

/// A line of the two, with what it brings by itself.
#[derive(Clone, Copy)]
struct Line<'a> {
    pair: Pair<'a>,
    found: Found,
    boosted: bool,
}

/// On mains of their own: each as by itself, and the same reading is off for both.
fn apart<'a>(lines: &'a [Line<'a>; 2]) -> Arrives {
    let of = |case: usize| lines.iter().map(|line| line.in_case(case)).sum::<f64>();
    let mut low = Low::of(of(0));
    (1..CASES).for_each(|case| low.add(of(case)));
    Arrives { gpm: of(0), low_gpm: low.gpm().min(no_surer(lines.iter(), of(0))) }
}

/// On one main.
fn sharing<'a>(lines: &'a [Line<'a>; 2]) -> Arrives {
    let read = Total::read(lines);
    let mut low = Low::of(read.gpm());
    let mut held_back = Low::of(read.stronger_gpm);
    for case in (1..CASES).filter(|case| lines.iter().any(|line| line.pair.ready.has(*case))) {
        // No worse reading lets both bring more than as read.
        let then = Total::of(lines, case, read.both_gpm * (1.0 + 10.0 * CLOSE)).gpm();
        low.add(then);
        // Better readings may lift the weaker main off its floor: then both lines are open, and bring no less than as read, which may be less than the
        // stronger by itself.
        held_back.add(then.min(read.both_gpm));
    }
    let gpm = read.gpm();
    let low_gpm = if read.at_floor && read.stronger_gpm > read.both_gpm {
        held_back.gpm()
    } else if read.near_floor && read.stronger_gpm > read.both_gpm {
        held_back.gpm().min(low.gpm())
    } else {
        low.gpm()
    };
    // With a hair more in the main, so that rounding leaves no line out that brings some.
    let total = read.both_gpm * (1.0 - NEAR);
    let power = power_of(&lines[0].pair.tables.flows, total);
    let bringing = lines.iter().filter(|line| line.open(0).takes(power).0 > 0.0);
    Arrives { gpm, low_gpm: low_gpm.min(no_surer(bringing, gpm)).min(gpm) }
}

/// The total is never surer than the less sure of the lines that bring some of it.
fn no_surer<'a>(lines: impl Iterator<Item = &'a Line<'a>>, total_gpm: f64) -> f64 {
    let shares = lines.filter(|line| line.found.gpm[0] > 0.0);
    let least = shares.map(|line| line.found.low_gpm / line.found.gpm[0]).fold(1.0, f64::min);
    total_gpm * least * (1.0 - 10.0 * CLOSE)
}

/// What both bring in a case, or the one that would be left open.
struct Total {
    both_gpm: f64,
    /// The line by itself whose main gives more at its floor.
    stronger_gpm: f64,
    /// The weaker main is at its floor, and holds the other line back.
    at_floor: bool,
    near_floor: bool,
}

impl Total {
    /// As read: no more than what each brings by itself.
    fn read(lines: &[Line<'_>; 2]) -> Self {
        let each: f64 = lines.iter().map(|line| line.in_case(0)).sum();
        Self::of(lines, 0, each * (1.0 + 10.0 * CLOSE))
    }

    /// `most_gpm` is not under what both bring, or what they bring is told as no more.
    fn of(lines: &[Line<'_>; 2], case: usize, most_gpm: f64) -> Self {
        let mains = lines.each_ref().map(|line| line.pair.ready.main_of(case).gpm);
        let (weaker, stronger) = if mains[1] < mains[0] { (1, 0) } else { (0, 1) };
        let floor_gpm = mains[weaker];
        let (flows, open) = (&lines[0].pair.tables.flows, lines.each_ref().map(|line| line.open(case)));
        let taken = |total: f64| {
            let power = power_of(flows, total);
            let grows = if total > 0.0 { DROP_EXPONENT * power / total } else { 0.0 };
            let (mut gpm, mut slope) = (-total, -1.0);
            for line in &open {
                let (takes, per_psi) = line.takes(power);
                gpm += takes;
                slope -= line.drop * grows * per_psi;
            }
            (gpm, slope)
        };
        let at_floor = taken(floor_gpm).0 >= 0.0;
        // Where an intake's floor is the main's, what is taken jumps right there, and halving towards a jump is slow.
        let most_gpm = floor_gpm.min(most_gpm) * (1.0 - SHORT_OF_FLOOR);
        let both_gpm =
            if at_floor { floor_gpm } else { largest_holding_to(CLOSE / 4.0, 0.0, most_gpm, taken) * (1.0 - CLOSE) };
        let near_floor = both_gpm >= floor_gpm * (1.0 - NEAR);
        Self { both_gpm, stronger_gpm: lines[stronger].in_case(case), at_floor, near_floor }
    }

    fn gpm(&self) -> f64 {
        if self.at_floor { self.both_gpm.max(self.stronger_gpm) } else { self.both_gpm }
    }
}

impl Line<'_> {
    /// What it brings by itself; as read where the case is none of its own.
    fn in_case(&self, case: usize) -> f64 {
        self.found.gpm[if self.pair.ready.has(case) { case } else { 0 }]
    }

    /// As it is in a case.
    fn open(&self, case: usize) -> Open<'_> {
        let case = if self.pair.ready.has(case) { case } else { 0 };
        let (static_psi, drop) = (self.pair.ready.main_of(case).static_psi, self.pair.ready.drop_of(case));
        Open { line: self, case, static_psi, drop, k: self.pair.alone_k(case) }
    }
}

/// A line in one case, asked for many totals.
struct Open<'a> {
    line: &'a Line<'a>,
    case: usize,
    static_psi: f64,
    drop: f64,
    /// What it loses without a pumper, psi per gpm².
    k: f64,
}

impl Open<'_> {
    /// The most that it takes with so much taken from the main by both, with about what a psi more of the main brings. `power` is the total's, by which the
    /// main falls.
    fn takes(&self, power: f64) -> (f64, f64) {
        let psi = self.static_psi - self.drop * power;
        let alone = by_square(psi - self.line.pair.need_psi, self.k);
        let pumped = if self.line.boosted { self.line.pair.pumped_at(self.case, psi) } else { (0.0, 0.0) };
        if pumped.0 > alone.0 { pumped } else { alone }
    }
}

/// A total to the power that a main's drop goes with.
fn power_of(flows: &Powers, total_gpm: f64) -> f64 {
    if total_gpm > Powers::LEAST { flows.at(total_gpm) } else { 0.0 }
}

/// The flow that a squared loss takes a head at, gpm, with what a psi more of it brings.
pub(super) fn by_square(head_psi: f64, k: f64) -> (f64, f64) {
    if head_psi <= 0.0 {
        return (0.0, 0.0);
    }
    let gpm = libm::sqrt(head_psi / k);
    (gpm, 0.5 * gpm / head_psi)
}
