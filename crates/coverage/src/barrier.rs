//! What hose may not be laid across: streets are cut at it, and no line to a street passes it.

use crate::finding::{Counts, FindingKind};
use crate::grid::Grid;
use crate::pieces::{Piece, Pieces, lattice};

/// How far before a barrier a cut street ends, ft, so that it is plain on which side it lies.
const SHORT_OF_BARRIER_FT: f64 = 0.125;

/// The barriers, found by where they are.
#[derive(Debug, Clone)]
pub(crate) struct Barriers {
    pieces: Vec<Barrier>,
    grid: Grid,
}

#[derive(Debug, Clone, Copy)]
struct Barrier {
    ends: [[f64; 2]; 2],
    /// Whether an end is just an end. A median that begins at a crossroads does not close it.
    loose: [bool; 2],
    levels: [i16; 2],
}

impl Barriers {
    pub(crate) fn new(pieces: &[Piece]) -> Option<Self> {
        if pieces.is_empty() {
            return None;
        }
        let key = |piece: &Piece, end: usize| (lattice(piece.ends[end]), piece.ties[end]);
        let mut met: Vec<_> = pieces.iter().flat_map(|piece| [key(piece, 0), key(piece, 1)]).collect();
        met.sort_unstable();
        let loose = |at| met.partition_point(|other| *other <= at) - met.partition_point(|other| *other < at) < 2;
        let barrier = |piece: &Piece| Barrier {
            ends: piece.ends,
            loose: [loose(key(piece, 0)), loose(key(piece, 1))],
            levels: piece.levels,
        };
        let grid = Grid::new(pieces.len(), |i| pieces[i].ends);
        Some(Self { pieces: pieces.iter().map(barrier).collect(), grid })
    }

    /// Whether a straight line on some of these levels meets a barrier.
    pub(crate) fn block(&self, from: [f64; 2], to: [f64; 2], levels: [i16; 2]) -> bool {
        let mut blocked = false;
        self.near(from, to, levels, |barrier| blocked = blocked || meets([from, to], barrier.ends));
        blocked
    }

    fn near(&self, from: [f64; 2], to: [f64; 2], levels: [i16; 2], mut visit: impl FnMut(&Barrier)) {
        let least = [from[0].min(to[0]), from[1].min(to[1])];
        let most = [from[0].max(to[0]), from[1].max(to[1])];
        self.grid.touching(least, most, |item| {
            let barrier = &self.pieces[item as usize];
            if barrier.levels[0] <= levels[1] && levels[0] <= barrier.levels[1] {
                visit(barrier);
            }
        });
    }

    /// Cuts the streets where they meet a barrier of their level. What ends at it meets nothing there.
    pub(crate) fn cut(&self, pieces: &mut Pieces, counts: &mut Counts) {
        let streets = std::mem::take(&mut pieces.streets);
        let mut kept = Vec::with_capacity(streets.len());
        let mut at: Vec<f64> = Vec::new();
        for street in streets {
            at.clear();
            self.near(street.ends[0], street.ends[1], street.levels, |barrier| meetings(&street, barrier, &mut at));
            if at.is_empty() {
                kept.push(street);
                continue;
            }
            counts.note(FindingKind::CutAtBarrier, street.line as usize);
            at.sort_unstable_by(f64::total_cmp);
            at.dedup();
            stretches(&street, &at, pieces, &mut kept);
        }
        pieces.streets = kept;
    }
}

/// What is left of a street between its cuts, given in order as shares of its length.
fn stretches(street: &Piece, at: &[f64], pieces: &mut Pieces, kept: &mut Vec<Piece>) {
    let [a, b] = street.ends;
    let point = |share: f64| [0, 1].map(|axis| a[axis] + (b[axis] - a[axis]) * share);
    let short = SHORT_OF_BARRIER_FT / street.ft();
    let mut from = None;
    for to in at.iter().copied().map(Some).chain([None]) {
        let start = from.map_or(0.0, |cut: f64| cut + short);
        let end = to.map_or(1.0, |cut| cut - short);
        if start < end {
            let first = if from.is_some() { (point(start), pieces.private()) } else { (a, street.ties[0]) };
            let last = if to.is_some() { (point(end), pieces.private()) } else { (b, street.ties[1]) };
            kept.push(Piece { ends: [first.0, last.0], ties: [first.1, last.1], ..*street });
        }
        from = to;
    }
}

/// Where a street meets a barrier, as shares of its length. Points of the lattice make the turns exact.
fn meetings(street: &Piece, barrier: &Barrier, at: &mut Vec<f64>) {
    let ([a, b], [c, d]) = (street.ends, barrier.ends);
    let (turn_a, turn_b) = (turn(c, d, a), turn(c, d, b));
    let (turn_c, turn_d) = (turn(a, b, c), turn(a, b, d));
    if opposite(turn_a, turn_b) && opposite(turn_c, turn_d) {
        at.push(turn_a / (turn_a - turn_b));
        return;
    }
    let loose_end = |point: [f64; 2]| (barrier.loose[0] && point == c) || (barrier.loose[1] && point == d);
    for (share, point, turn) in [(0.0, a, turn_a), (1.0, b, turn_b)] {
        if turn == 0.0 && in_box(point, c, d) && !loose_end(point) {
            at.push(share);
        }
    }
    for (end, point, turn) in [(0, c, turn_c), (1, d, turn_d)] {
        if turn == 0.0 && !barrier.loose[end] && in_box(point, a, b) && point != a && point != b {
            let (along, whole) = (crate::pieces::distance_ft(a, point), street.ft());
            at.push(along / whole);
        }
    }
}

/// Whether two straight lines have a point in common.
fn meets([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> bool {
    let (turn_a, turn_b) = (turn(c, d, a), turn(c, d, b));
    let (turn_c, turn_d) = (turn(a, b, c), turn(a, b, d));
    (opposite(turn_a, turn_b) && opposite(turn_c, turn_d))
        || (turn_a == 0.0 && in_box(a, c, d))
        || (turn_b == 0.0 && in_box(b, c, d))
        || (turn_c == 0.0 && in_box(c, a, b))
        || (turn_d == 0.0 && in_box(d, a, b))
}

/// Over nothing where `c` lies left of the line from `a` to `b`. Exact for points of the lattice within 800 miles of each other.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

fn opposite(a: f64, b: f64) -> bool {
    (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0)
}

fn in_box(point: [f64; 2], a: [f64; 2], b: [f64; 2]) -> bool {
    (0..2).all(|axis| a[axis].min(b[axis]) <= point[axis] && point[axis] <= a[axis].max(b[axis]))
}
