//! The largest total: what the mains hold falls with all that is taken, and what each line takes falls with what its main holds.

use alloc::vec;
use alloc::vec::Vec;

use crate::lay::budget::Station;
use crate::lay::combined::feed::{Feed, Take};
use crate::lay::limits::{Limit, LimitFlow};
use crate::loss::squared_psi;
use crate::root::largest_holding;

/// Two flows nearer than this share of themselves are one: rounding does not choose what binds, nor which lines are open.
const SAME: f64 = 1e-9;
/// A hair, as a share: how far past a total it is looked at what each line would take there.
const HAIR: f64 = 1e-12;

/// What one line brings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Share {
    pub(super) gpm: f64,
    pub(super) limit: LimitFlow,
    /// Whether the line's pumpers bring it.
    pub(super) pumped: bool,
    /// Whether the line is open: it is shut where all lines bring less with it than without.
    pub(super) open: bool,
}

/// What all bring.
pub(super) struct Solved {
    /// Line by line.
    pub(super) shares: Vec<Share>,
    pub(super) total_gpm: f64,
    /// What the mains give at their floors, all together, for the lines that are open.
    pub(super) main_gpm: f64,
    /// Whether the test of a hydrant whose main's floor is met first showed no drop.
    pub(super) unproved: bool,
}

/// The most that these lines bring; `shared` where all hydrants stand on one main.
///
/// # Formula
/// The largest T with `T = Σ Qi`, each Qi the most its own limits let through with `Pi(T) - k (Qh/100)²` at its hydrant's outlet, Qh that hydrant's
/// total, and `Pi(T) >= main floor` for every hydrant in use. Each on its own main: T of each hydrant by itself.
/// # Units
/// gpm, psi.
/// # Range
/// Steady flow in filled lines. On one main every hydrant is counted as falling with the total as it fell with its own flow in its test: the
/// farther two hydrants stand from each other, the more this is under what they bring.
/// # Source
/// Continuity and the formulas of the parts; `kolb-fpt102` for the main.
pub(super) fn solve(feeds: &[Feed<'_>], shared: bool) -> Solved {
    let mut solved = Solved { shares: vec![SHUT; feeds.len()], total_gpm: 0.0, main_gpm: 0.0, unproved: false };
    let mut done: Vec<usize> = Vec::new();
    for feed in feeds {
        if done.contains(&feed.hydrant) {
            continue;
        }
        let on_main: Vec<usize> = (0..feeds.len()).filter(|&i| shared || feeds[i].hydrant == feed.hydrant).collect();
        done.extend(on_main.iter().map(|&i| feeds[i].hydrant));
        let main = best_of_main(feeds, &on_main);
        solved.total_gpm += main.total_gpm;
        solved.main_gpm += main.main_gpm;
        solved.unproved |= main.floor_unproved;
        for (i, share) in main.shares {
            solved.shares[i] = share;
        }
    }
    solved
}

const SHUT: Share = Share {
    gpm: 0.0,
    limit: LimitFlow { limit: Limit::MainFloor, station: Station::Main, flow_gpm: Some(0.0) },
    pumped: false,
    open: false,
};

/// The lines of one main that are open, at their total.
struct MainSolved {
    shares: Vec<(usize, Share)>,
    total_gpm: f64,
    main_gpm: f64,
    at_floor: bool,
    floor_unproved: bool,
}

/// All lines of a main, or fewer where that is more: a hydrant whose main is at its floor early holds the others back. Only the lines whose floor
/// is met first can be in the way, for leaving out any other takes water and gives none.
fn best_of_main(feeds: &[Feed<'_>], on_main: &[usize]) -> MainSolved {
    let mut order = on_main.to_vec();
    order.sort_by(|&a, &b| feeds[a].main_gpm().total_cmp(&feeds[b].main_gpm()));
    let mut best = solve_main(feeds, &order);
    for first in 1..order.len() {
        if !best.at_floor {
            break;
        }
        let fewer = solve_main(feeds, &order[first..]);
        if fewer.total_gpm > best.total_gpm * (1.0 + SAME) {
            best = fewer;
        }
    }
    best
}

fn solve_main(feeds: &[Feed<'_>], open: &[usize]) -> MainSolved {
    let weakest = open.iter().map(|&i| &feeds[i]).min_by(|a, b| a.main_gpm().total_cmp(&b.main_gpm()));
    let main_gpm = weakest.map_or(0.0, Feed::main_gpm);
    let hydrants = by_hydrant(feeds, open);
    let sole = if let [hydrant] = &hydrants[..] { Some(hydrant) } else { None };
    let total_gpm = largest_holding(0.0, main_gpm, |total| {
        let by_all = || hydrants.iter().map(|hydrant| hydrant.flow_and_slope(total)).fold((0.0, 0.0), add);
        let (taken, slope) = sole.map_or_else(by_all, |hydrant| hydrant.by_itself(total));
        (taken - total, slope - 1.0)
    });
    let at_floor = total_gpm >= main_gpm * (1.0 - SAME);
    let takes = |total: f64| hydrants.iter().flat_map(|h| h.takes(total, sole.is_some())).collect::<Vec<_>>();
    let (before, past) = (takes(total_gpm), takes(total_gpm * (1.0 + HAIR)));
    let lines = hydrants.iter().flat_map(|hydrant| &hydrant.lines).map(|(i, _)| *i);
    let shares = lines.zip(settled(&before, &past, total_gpm)).map(|(i, take)| (i, share(take, at_floor))).collect();
    let floor_unproved = weakest.is_some_and(|feed| feed.curve.no_drop());
    MainSolved { shares, total_gpm, main_gpm, at_floor, floor_unproved }
}

fn share(take: Take, at_floor: bool) -> Share {
    let (limit, station) =
        if at_floor { (Limit::MainFloor, Station::Main) } else { (take.limit.limit, take.limit.station) };
    let limit = LimitFlow { limit, station, flow_gpm: Some(take.gpm) };
    // Throttled by the main to what its pumpers bring too, a line keeps its pumpers.
    let pumped = take.pumped || take.by_pumpers.is_some_and(|gpm| gpm >= take.gpm);
    Share { gpm: take.gpm, limit, pumped, open: true }
}

fn add(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0 + b.0, a.1 + b.1)
}

/// The lines of one hydrant, with their places among all lines.
struct Hydrant<'a> {
    lines: Vec<(usize, &'a Feed<'a>)>,
}

fn by_hydrant<'a>(feeds: &'a [Feed<'a>], open: &[usize]) -> Vec<Hydrant<'a>> {
    let mut hydrants: Vec<Hydrant<'a>> = Vec::new();
    for &i in open {
        let feed = &feeds[i];
        match hydrants.iter_mut().find(|hydrant| hydrant.lines[0].1.hydrant == feed.hydrant) {
            Some(hydrant) => hydrant.lines.push((i, feed)),
            None => hydrants.push(Hydrant { lines: vec![(i, feed)] }),
        }
    }
    hydrants
}

impl Hydrant<'_> {
    fn feed(&self) -> &Feed<'_> {
        self.lines[0].1
    }

    /// What its lines take together with this at the outlet, and the slope, gpm per psi.
    fn at_outlet(&self, psi: f64) -> (f64, f64) {
        self.lines.iter().map(|(_, feed)| feed.take(psi)).map(|take| (take.gpm, take.slope)).fold((0.0, 0.0), add)
    }

    /// What stands at the outlet with so much in the main and so much through the body, psi.
    fn outlet_psi(&self, main_psi: f64, gpm: f64) -> f64 {
        main_psi - squared_psi(self.feed().body, gpm)
    }

    fn body_slope(&self, gpm: f64) -> f64 {
        2.0 * self.feed().body * gpm / 1e4
    }

    /// What it takes with so much in the main: its lines share what its body leaves.
    fn at_main(&self, main_psi: f64) -> f64 {
        let most = self.at_outlet(main_psi).0;
        if self.feed().body == 0.0 {
            return most;
        }
        largest_holding(0.0, most, |gpm| {
            let (taken, slope) = self.at_outlet(self.outlet_psi(main_psi, gpm));
            (taken - gpm, -slope * self.body_slope(gpm) - 1.0)
        })
    }

    /// What it takes with so much taken from the main by all, and the slope.
    fn flow_and_slope(&self, total_gpm: f64) -> (f64, f64) {
        let (main_psi, falls) = self.feed().curve.pressure_and_slope(total_gpm);
        if let [(_, feed)] = self.lines[..] {
            let take = feed.take_from_main(main_psi);
            return (take.gpm, falls * take.slope);
        }
        let gpm = self.at_main(main_psi);
        let slope = self.at_outlet(self.outlet_psi(main_psi, gpm)).1;
        (gpm, falls * slope / (1.0 + slope * self.body_slope(gpm)))
    }

    /// The same where no other hydrant takes from the main, so that what it takes is the total.
    fn by_itself(&self, total_gpm: f64) -> (f64, f64) {
        let (main_psi, falls) = self.feed().curve.pressure_and_slope(total_gpm);
        let (taken, slope) = self.at_outlet(self.outlet_psi(main_psi, total_gpm));
        (taken, (falls - self.body_slope(total_gpm)) * slope)
    }

    /// The same line by line.
    fn takes(&self, total_gpm: f64, by_itself: bool) -> Vec<Take> {
        let main_psi = self.feed().curve.pressure_and_slope(total_gpm).0;
        let at = |gpm: f64| {
            let outlet_psi = self.outlet_psi(main_psi, gpm);
            self.lines.iter().map(|(_, feed)| feed.take(outlet_psi)).collect::<Vec<_>>()
        };
        match self.lines[..] {
            _ if by_itself => at(total_gpm),
            [(_, feed)] => vec![feed.take_from_main(main_psi)],
            _ => {
                let gpm = self.at_main(main_psi);
                settled(&at(gpm), &at(gpm * (1.0 + HAIR)), gpm)
            }
        }
    }
}

/// The flows that make up a total, from what each line takes at it and a hair past it. Where the two are the same, these are they. Where a hair more
/// would shut some lines (a pumper whose intake is at its floor), those take what the others leave. Where the main is at its floor and more would
/// be taken, each line is throttled alike.
fn settled(before: &[Take], past: &[Take], total_gpm: f64) -> Vec<Take> {
    let sum = |takes: &[Take]| takes.iter().map(|take| take.gpm).sum::<f64>();
    let (most, least) = (sum(before), sum(past));
    let toward = if most > least { ((most - total_gpm) / (most - least)).clamp(0.0, 1.0) } else { 0.0 };
    let mut settled: Vec<Take> = before.iter().zip(past).map(|(a, b)| between(a, b, toward)).collect();
    let sum = sum(&settled);
    // Never up, not by the last digit either: a line may rest right under a step.
    let scale = if sum > total_gpm { total_gpm / sum } else { 1.0 };
    for take in &mut settled {
        take.gpm *= scale;
    }
    settled
}

fn between(before: &Take, past: &Take, toward: f64) -> Take {
    let take = Take { gpm: before.gpm + toward * (past.gpm - before.gpm), ..*before };
    if before.gpm <= past.gpm * (1.0 + SAME) {
        return take;
    }
    // A hair more would shut it. Where it would then be supplied in the other way, with its pumpers or without, the pressure at its intake says so.
    let limit = match (before.pumped == past.pumped, before.pumped) {
        (true, _) => past.limit,
        (_, true) => LimitFlow { limit: Limit::PumperIntake, station: Station::PumperIntake(1), ..past.limit },
        (_, false) => LimitFlow { limit: Limit::SceneIntake, station: Station::Scene, ..past.limit },
    };
    Take { limit, ..take }
}
