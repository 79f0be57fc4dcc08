//! Lines into straight pieces whose ends lie on one fine lattice, so that what coincides is decided exactly.

use crate::finding::{Counts, FindingKind};
use crate::number::{nearest, signed};
use crate::streets::{FARTHEST_FT, Line};

/// Lattice steps in a foot. Fine enough that no length is off by more than a twentieth of a foot, and coarse enough that a coordinate fits four bytes.
pub(crate) const STEPS_PER_FT: f64 = 16.0;

/// What an end meets: ends of one tie at one place are one node. Ties from [`FIRST_PRIVATE`] on are each met by the neighbours in their own line only.
pub(crate) type Tie = u32;
/// The first tie that is no level.
pub(crate) const FIRST_PRIVATE: Tie = 1 << 16;

/// A straight piece of a line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    /// Its ends, ft.
    pub(crate) ends: [[f64; 2]; 2],
    pub(crate) ties: [Tie; 2],
    /// The line it is of.
    pub(crate) line: u32,
    /// The levels that the line spans.
    pub(crate) levels: [i16; 2],
}

impl Piece {
    pub(crate) fn ft(&self) -> f64 {
        distance_ft(self.ends[0], self.ends[1])
    }
}

pub(crate) fn distance_ft(a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
    (dx * dx + dy * dy).sqrt()
}

pub(crate) fn lattice(point: [f64; 2]) -> [i32; 2] {
    point.map(|ft| signed(nearest(ft * STEPS_PER_FT)))
}

/// Streets and barriers, in pieces.
#[derive(Debug, Default)]
pub(crate) struct Pieces {
    pub(crate) streets: Vec<Piece>,
    pub(crate) barriers: Vec<Piece>,
    next_private: Tie,
}

impl Pieces {
    pub(crate) fn new(lines: &[Line<'_>], counts: &mut Counts) -> Self {
        let mut pieces = Self { next_private: FIRST_PRIVATE, ..Self::default() };
        pieces.streets.reserve(lines.iter().map(|line| line.points.len().saturating_sub(1)).sum());
        for (i, line) in lines.iter().enumerate() {
            pieces.add(i, line, counts);
        }
        pieces
    }

    /// A tie that nothing else has.
    pub(crate) fn private(&mut self) -> Tie {
        self.next_private = self.next_private.saturating_add(1);
        self.next_private - 1
    }

    fn add(&mut self, index: usize, line: &Line<'_>, counts: &mut Counts) {
        let levels = [line.from_level.min(line.to_level), line.from_level.max(line.to_level)];
        let mut before: Option<([f64; 2], Tie)> = None;
        for (i, point) in line.points.iter().enumerate() {
            if !point.iter().all(|ft| ft.abs() <= FARTHEST_FT) {
                counts.note(FindingKind::PointNotFinite, index);
                before = None;
                continue;
            }
            let point = point.map(|ft| nearest(ft * STEPS_PER_FT) / STEPS_PER_FT);
            if before.is_some_and(|(before, _)| before == point) {
                counts.note(FindingKind::ZeroLength, index);
                // The end of a line that changes level bears that level, also where the last stretch of it is none.
                if i + 1 < line.points.len() {
                    continue;
                }
            }
            let tie = self.tie(line, i);
            if let Some((before, before_tie)) = before.filter(|(before, _)| *before != point) {
                let line_index = crate::number::index(index);
                let piece = Piece { ends: [before, point], ties: [before_tie, tie], line: line_index, levels };
                if line.barrier { &mut self.barriers } else { &mut self.streets }.push(piece);
            } else if let (Some((_, before_tie)), Some(last)) = (before, self.streets.last_mut())
                && !line.barrier
                && last.ties[1] == before_tie
                && last.line == crate::number::index(index)
            {
                last.ties[1] = tie;
            }
            before = Some((point, tie));
        }
        if line.points.len() == 1 {
            counts.note(FindingKind::ZeroLength, index);
        }
    }

    /// Between its ends, a line that changes level is on none.
    fn tie(&mut self, line: &Line<'_>, point: usize) -> Tie {
        let level = if point == 0 {
            line.from_level
        } else if point + 1 == line.points.len() || line.from_level == line.to_level {
            line.to_level
        } else {
            return self.private();
        };
        tie(level)
    }
}

fn tie(level: i16) -> Tie {
    Tie::from(level.cast_unsigned())
}

/// The level that a tie stands for; of one that is private, none that matters.
pub(crate) fn level(tie: Tie) -> i16 {
    u16::try_from(tie).unwrap_or(0).cast_signed()
}
