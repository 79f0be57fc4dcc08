//! Ends that miss each other by a hand's breadth still meet. They are joined by a step of its own length and not made one: a chain of near ends would
//! otherwise shrink to a point, and promise hose that is not there.

use crate::nodes::Node;
use crate::number::index;
use crate::order::{by_upper_half, lower_half};
use crate::pieces::{FIRST_PRIVATE, STEPS_PER_FT};

/// How far apart two ends may be and still meet, ft.
pub const JOINT_FT: f64 = 0.5;

/// A side of the cells in which nodes are compared, lattice steps as a power of two: 32 ft. Few nodes lie near an edge of such a cell.
const CELL_BITS: u32 = 9;
/// [`JOINT_FT`] in lattice steps.
const REACH: i64 = 8;

/// Two nodes that meet without being one, and how far apart they are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Joint {
    pub(crate) nodes: [u32; 2],
    pub(crate) ft: f64,
}

/// Every pair of nodes of one level that lie no farther apart than [`JOINT_FT`].
pub(crate) fn joints(nodes: &[Node]) -> Vec<Joint> {
    let mut order: Vec<u64> = Vec::with_capacity(nodes.len() + nodes.len() / 8);
    for (i, node) in nodes.iter().enumerate().filter(|(_, node)| node.tie < FIRST_PRIVATE) {
        for (column, row) in cells(node) {
            order.push(u64::from(mixed(column, row)) << 32 | u64::from(index(i)));
        }
    }
    by_upper_half(&mut order);
    let mut found = Vec::new();
    let mut run: Vec<(i32, u32)> = Vec::new();
    for same in order.chunk_by(|a, b| a >> 32 == b >> 32).filter(|same| same.len() > 1) {
        run.clear();
        run.extend(same.iter().map(|key| lower_half(*key)).map(|i| (nodes[i as usize].at[0], i)));
        run.sort_unstable();
        pairs(nodes, &run, &mut found);
    }
    // A pair near an edge is found in each of the cells that it touches.
    found.sort_unstable_by_key(|joint| joint.nodes);
    found.dedup_by_key(|joint| joint.nodes);
    found
}

/// Pairs of a run in order of `x`.
fn pairs(nodes: &[Node], run: &[(i32, u32)], found: &mut Vec<Joint>) {
    for (i, (x, a)) in run.iter().enumerate() {
        let near = run[i + 1..].iter().take_while(|(other, _)| i64::from(*other) - i64::from(*x) <= REACH);
        for (_, b) in near {
            let (one, other) = (&nodes[*a as usize], &nodes[*b as usize]);
            let [dx, dy] = [0, 1].map(|axis| i64::from(one.at[axis]) - i64::from(other.at[axis]));
            if a != b && one.tie == other.tie && dy.abs() <= REACH && dx * dx + dy * dy <= REACH * REACH {
                let [dx, dy] = [0, 1].map(|axis| f64::from(one.at[axis]) - f64::from(other.at[axis]));
                found.push(Joint { nodes: [*a.min(b), *a.max(b)], ft: (dx * dx + dy * dy).sqrt() / STEPS_PER_FT });
            }
        }
    }
}

/// The cells that a node is compared in: those that the square around it touches, so that two that meet share one.
fn cells(node: &Node) -> impl Iterator<Item = (i64, i64)> {
    const HALF: i64 = REACH / 2;
    let [columns, rows] = node.at.map(i64::from).map(|at| ((at - HALF) >> CELL_BITS, (at + HALF) >> CELL_BITS));
    (columns.0..=columns.1).flat_map(move |column| (rows.0..=rows.1).map(move |row| (column, row)))
}

/// Cells into four bytes; two cells that fall together cost a comparison and nothing else.
fn mixed(column: i64, row: i64) -> u32 {
    let hash = column.cast_unsigned().wrapping_mul(0x9e37_79b9_7f4a_7c15)
        ^ row.cast_unsigned().wrapping_mul(0xc2b2_ae3d_27d4_eb4f);
    u32::try_from((hash ^ hash >> 29).wrapping_mul(0xff51_afd7_ed55_8ccd) >> 32).unwrap_or(0)
}
