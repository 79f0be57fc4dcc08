//! Ends into nodes: numbered along a curve that keeps near what is near, and alike whatever the order of the lines.

use crate::number::index;
use crate::order::{by_upper_half, lower_half};
use crate::pieces::{Piece, STEPS_PER_FT, Tie, lattice, level};

/// A place where pieces meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Node {
    /// Lattice steps.
    pub(crate) at: [i32; 2],
    pub(crate) tie: Tie,
}

impl Node {
    pub(crate) fn point(&self) -> [f64; 2] {
        self.at.map(|steps| f64::from(steps) / STEPS_PER_FT)
    }

    /// The level of a node that is not private.
    pub(crate) fn level(&self) -> i16 {
        level(self.tie)
    }
}

/// The nodes, and for each piece the two it lies between.
pub(crate) struct Nodes {
    pub(crate) nodes: Vec<Node>,
    pub(crate) of_piece: Vec<[u32; 2]>,
}

impl Nodes {
    pub(crate) fn new(pieces: &[Piece]) -> Self {
        let end = |piece: &Piece, end: usize| Node { at: lattice(piece.ends[end]), tie: piece.ties[end] };
        // By themselves they lie closer together than in their pieces: they are looked up again in another order.
        let ends: Vec<Node> = pieces.iter().flat_map(|piece| [end(piece, 0), end(piece, 1)]).collect();
        let curve = Curve::around(ends.iter().map(|end| end.at));
        let key = |(end, slot): (&Node, u32)| u64::from(curve.along(end.at)) << 32 | u64::from(slot);
        let mut order: Vec<u64> = ends.iter().zip(0..).map(key).collect();
        by_upper_half(&mut order);
        let mut nodes: Vec<Node> = Vec::with_capacity(pieces.len());
        let mut of_piece = vec![[0; 2]; pieces.len()];
        let mut run: Vec<(Node, u32)> = Vec::new();
        for same in order.chunk_by(|a, b| a >> 32 == b >> 32) {
            run.clear();
            run.extend(same.iter().map(|key| lower_half(*key)).map(|slot| (ends[slot as usize], slot)));
            if run.windows(2).any(|pair| pair[0].0 != pair[1].0) {
                run.sort_unstable();
            }
            for (i, (node, slot)) in run.iter().enumerate() {
                if i == 0 || nodes.last() != Some(node) {
                    nodes.push(*node);
                }
                of_piece[*slot as usize / 2][*slot as usize % 2] = index(nodes.len() - 1);
            }
        }
        Self { nodes, of_piece }
    }
}

/// A walk through the plane that takes near points close after one another (Morton's order).
struct Curve {
    least: [i64; 2],
    shift: u32,
}

impl Curve {
    fn around(points: impl Iterator<Item = [i32; 2]>) -> Self {
        let (mut least, mut most) = ([i32::MAX; 2], [i32::MIN; 2]);
        for point in points {
            for axis in 0..2 {
                least[axis] = least[axis].min(point[axis]);
                most[axis] = most[axis].max(point[axis]);
            }
        }
        let span = |axis: usize| i64::from(most[axis]).saturating_sub(i64::from(least[axis])).max(0);
        let bits = 64 - span(0).max(span(1)).leading_zeros();
        Self { least: least.map(i64::from), shift: bits.saturating_sub(16) }
    }

    fn along(&self, point: [i32; 2]) -> u32 {
        let part = |axis: usize| spread((i64::from(point[axis]) - self.least[axis]) >> self.shift);
        part(0) | part(1) << 1
    }
}

/// Every bit of sixteen at twice its place.
fn spread(bits: i64) -> u32 {
    let mut x = u32::try_from(bits & 0xffff).unwrap_or(0);
    x = (x | x << 8) & 0x00ff_00ff;
    x = (x | x << 4) & 0x0f0f_0f0f;
    x = (x | x << 2) & 0x3333_3333;
    (x | x << 1) & 0x5555_5555
}
