//! The streets that hose is laid along: what meets, what is cut, and how far it is from one node to the next.
//!
//! Everything is numbered by where it lies, so that the order of the lines, and how a street is divided into lines, changes nothing.

use crate::barrier::Barriers;
use crate::finding::{Counts, Finding, FindingKind, TooMany};
use crate::grid::Grid;
use crate::joints::{Joint, joints};
use crate::nodes::Nodes;
use crate::number::index;
use crate::order::{by_upper_half, lower_half};
use crate::pieces::{Piece, Pieces};
use crate::threads::both;

/// The farthest that a coordinate may be from the plane's origin, ft. What lies farther was not put on the plane.
pub const FARTHEST_FT: f64 = 1e8;

/// A line as it comes: a street, or what hose may not be laid across.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line<'a> {
    /// Where it runs, feet in the plane.
    pub points: &'a [[f64; 2]],
    /// The level of its first point: bridges and tunnels meet only what is on theirs.
    pub from_level: i16,
    /// The level of its last point. Where it is another than that of the first, the points between meet nothing.
    pub to_level: i16,
    /// A railway, a limited-access road, a median, a wall: nothing is laid along it or across it.
    pub barrier: bool,
}

/// A straight stretch of street between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// From where to where, feet in the plane.
    pub ends: [[f64; 2]; 2],
    /// The node at each end.
    pub nodes: [u32; 2],
    /// How long it is, ft.
    pub ft: f64,
    /// The line it is of: of several that lie on one another, the first.
    pub line: u32,
    /// The levels that the line spans, the lower first.
    pub levels: [i16; 2],
}

/// A way from a node to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Way {
    pub(crate) to: u32,
    /// The segment; [`NO_SEGMENT`] for a joint.
    pub(crate) segment: u32,
    pub(crate) ft: f64,
}

pub(crate) const NO_SEGMENT: u32 = u32::MAX;

/// Pieces of street from which on a second thread is worth its start.
const MUCH: usize = 10_000;

/// Streets, ready to be searched.
#[derive(Debug, Clone)]
pub struct Streets {
    pub(crate) segments: Vec<Segment>,
    pub(crate) barriers: Option<Barriers>,
    pub(crate) grid: Grid,
    first_way: Vec<u32>,
    ways: Vec<Way>,
    findings: Vec<Finding>,
}

impl Streets {
    /// Streets and barriers out of lines, many of them on two threads. What is wrong with a line is left out and found in [`Self::findings`].
    ///
    /// # Errors
    /// More points than can be counted.
    pub fn new(lines: &[Line<'_>]) -> Result<Self, TooMany> {
        TooMany::check("points of streets", lines.iter().map(|line| line.points.len()).sum())?;
        let mut counts = Counts::default();
        let mut pieces = Pieces::new(lines, &mut counts);
        let barriers = Barriers::new(&pieces.barriers);
        if let Some(barriers) = &barriers {
            barriers.cut(&mut pieces, &mut counts);
        }
        let much = pieces.streets.len() > MUCH;
        let pieces = &pieces.streets[..];
        // Where they lie does not wait for what they are called: they get their numbers as segments afterwards.
        let grid = || Grid::new(pieces.len(), |i| pieces[i].ends);
        let (mut grid, (numbered, first_way, ways)) = both(much, grid, || {
            let nodes = Nodes::new(pieces);
            let joined = || joined(&nodes, barriers.as_ref());
            let (joints, numbered) = both(much, joined, || numbered(pieces, &nodes, &mut counts));
            let (first_way, ways) = ways(nodes.nodes.len(), &numbered.segments, &joints);
            (numbered, first_way, ways)
        });
        grid.renumber(&numbered.of_piece);
        Ok(Self { segments: numbered.segments, barriers, grid, first_way, ways, findings: counts.findings() })
    }

    /// The stretches, in order of where they lie.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    /// How many nodes they lie between.
    pub fn node_count(&self) -> usize {
        self.first_way.len() - 1
    }

    /// Whether there is no street at all.
    pub fn is_empty(&self) -> bool {
        self.segments.is_empty()
    }

    /// What was wrong with the lines, and what barriers cut.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    pub(crate) fn ways(&self, node: u32) -> &[Way] {
        let node = node as usize;
        &self.ways[self.first_way[node] as usize..self.first_way[node + 1] as usize]
    }
}

/// Ends that meet without being one, and no barrier between them.
fn joined(nodes: &Nodes, barriers: Option<&Barriers>) -> Vec<Joint> {
    let mut joints = joints(&nodes.nodes);
    if let Some(barriers) = barriers {
        joints.retain(|joint| {
            let [a, b] = joint.nodes.map(|node| &nodes.nodes[node as usize]);
            let level = a.level();
            !barriers.block(a.point(), b.point(), [level, level])
        });
    }
    joints
}

/// Pieces as segments.
struct Numbered {
    segments: Vec<Segment>,
    /// The segment that each piece is.
    of_piece: Vec<u32>,
}

/// Pieces in order of the nodes they lie between, each but once.
fn numbered(pieces: &[Piece], nodes: &Nodes, counts: &mut Counts) -> Numbered {
    let ends = |i: usize| {
        let [a, b] = nodes.of_piece[i];
        [a.min(b), a.max(b)]
    };
    let mut order: Vec<u64> = (0..pieces.len()).map(|i| u64::from(ends(i)[0]) << 32 | u64::from(index(i))).collect();
    by_upper_half(&mut order);
    let mut segments: Vec<Segment> = Vec::with_capacity(pieces.len());
    let mut of_piece = vec![0; pieces.len()];
    let mut run: Vec<(u32, u32)> = Vec::new();
    for same in order.chunk_by(|a, b| a >> 32 == b >> 32) {
        run.clear();
        run.extend(same.iter().map(|key| lower_half(*key)).map(|i| (ends(i as usize)[1], i)));
        run.sort_unstable();
        let mut last = None;
        for (other, i) in &run {
            let piece = &pieces[*i as usize];
            // Of pieces on one another the first stands, and pieces come in the order of their lines.
            if last.replace(*other) == Some(*other) {
                counts.note(FindingKind::Duplicate, piece.line as usize);
            } else {
                let (mut ends, mut nodes) = (piece.ends, nodes.of_piece[*i as usize]);
                if nodes[0] > nodes[1] {
                    ends.reverse();
                    nodes.reverse();
                }
                segments.push(Segment { ends, nodes, ft: piece.ft(), line: piece.line, levels: piece.levels });
            }
            of_piece[*i as usize] = index(segments.len() - 1);
        }
    }
    Numbered { segments, of_piece }
}

/// The ways out of each node.
fn ways(nodes: usize, segments: &[Segment], joints: &[Joint]) -> (Vec<u32>, Vec<Way>) {
    let of_segments = || segments.iter().zip(0..).map(|(segment, i)| (segment.nodes, i, segment.ft));
    let all = || of_segments().chain(joints.iter().map(|joint| (joint.nodes, NO_SEGMENT, joint.ft)));
    let mut first = vec![0_u32; nodes + 2];
    for ([a, b], ..) in all() {
        first[a as usize + 2] += 1;
        first[b as usize + 2] += 1;
    }
    for node in 2..first.len() {
        first[node] += first[node - 1];
    }
    let mut ways = vec![Way { to: 0, segment: NO_SEGMENT, ft: 0.0 }; 2 * (segments.len() + joints.len())];
    for ([a, b], segment, ft) in all() {
        for (from, to) in [(a, b), (b, a)] {
            let slot = &mut first[from as usize + 1];
            ways[*slot as usize] = Way { to, segment, ft };
            *slot += 1;
        }
    }
    first.pop();
    (first, ways)
}
