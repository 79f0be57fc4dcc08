//! The same question by the plainest means: all pairs of vertices, every segment looked at.

use std::collections::HashMap;

use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::rule::Rule;

use crate::town::Street;

/// A piece between two vertices.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) ends: [[f64; 2]; 2],
    pub(crate) vertices: [usize; 2],
}

pub(crate) struct Model {
    pub(crate) pieces: Vec<Piece>,
    feet: Vec<Vec<f64>>,
}

pub(crate) fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

impl Model {
    /// Streets without barriers, at points of the lattice.
    pub(crate) fn new(lines: &[Street]) -> Self {
        let mut vertices: Vec<([f64; 2], Option<i16>)> = Vec::new();
        let mut known: HashMap<([u64; 2], i16), usize> = HashMap::new();
        let mut pieces = Vec::new();
        for line in lines {
            let last = line.points.len() - 1;
            let ends: Vec<usize> = line
                .points
                .iter()
                .enumerate()
                .map(|(i, point)| {
                    let own = [(i == 0, line.levels[0]), (i == last, line.levels[1])];
                    let level = own.iter().find(|(is, _)| *is).map(|(_, level)| *level);
                    let level = level.or((line.levels[0] == line.levels[1]).then_some(line.levels[0]));
                    let new = vertices.len();
                    let vertex =
                        level.map_or(new, |level| *known.entry((point.map(f64::to_bits), level)).or_insert(new));
                    if vertex == new {
                        vertices.push((*point, level));
                    }
                    vertex
                })
                .collect();
            for (points, vertices) in line.points.windows(2).zip(ends.windows(2)) {
                pieces.push(Piece { ends: [points[0], points[1]], vertices: [vertices[0], vertices[1]] });
            }
        }
        Self { feet: all_pairs(&vertices, &pieces), pieces }
    }

    /// Whether two pieces lie as near to a point and it matters which is taken: they do not meet where they are nearest.
    pub(crate) fn in_doubt(&self, point: [f64; 2]) -> bool {
        let Some((nearest, along, least)) = self.foot(point, f64::INFINITY) else { return false };
        let end = |piece: usize, along: f64| {
            let Piece { ends: [a, b], vertices } = self.pieces[piece];
            if along == 0.0 { Some(vertices[0]) } else { (along == apart(a, b)).then_some(vertices[1]) }
        };
        let others = self.pieces.iter().enumerate().filter(|(i, _)| *i != nearest);
        let mut near = others.filter_map(|(i, piece)| {
            let (_, along, off) = Self { pieces: vec![*piece], feet: Vec::new() }.foot(point, f64::INFINITY)?;
            (off - least < 1e-6).then_some((i, along))
        });
        near.any(|(other, other_along)| end(nearest, along).is_none() || end(nearest, along) != end(other, other_along))
    }

    /// The nearest piece to a point, how far along it the nearest point lies, and how far off.
    pub(crate) fn foot(&self, point: [f64; 2], within: f64) -> Option<(usize, f64, f64)> {
        let mut best: Option<(usize, f64, f64)> = None;
        for (i, piece) in self.pieces.iter().enumerate() {
            let [a, b] = piece.ends;
            let length = apart(a, b);
            if length == 0.0 {
                continue;
            }
            let along = ((point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1])) / length;
            let along = along.clamp(0.0, length);
            let foot = [0, 1].map(|axis| a[axis] + (b[axis] - a[axis]) * along / length);
            let off = apart(point, foot);
            if off <= within && best.is_none_or(|(_, _, least)| off < least) {
                best = Some((i, along, off));
            }
        }
        best
    }

    /// Hose from a hydrant to a place, ft, not rounded; infinite where no street joins them.
    pub(crate) fn hose_ft(&self, place: &Place, hydrant: &Hydrant, rule: &Rule) -> f64 {
        let from = self.foot([place.x, place.y], rule.place_within_ft);
        let to = self.foot([hydrant.x, hydrant.y], rule.hydrant_within_ft);
        let (Some(from), Some(to)) = (from, to) else { return f64::INFINITY };
        let ends = |(piece, along, _): (usize, f64, f64)| {
            let Piece { ends: [a, b], vertices } = self.pieces[piece];
            [(vertices[0], along), (vertices[1], apart(a, b) - along)]
        };
        let mut path = if from.0 == to.0 { (from.1 - to.1).abs() } else { f64::INFINITY };
        for (u, to_u) in ends(from) {
            for (v, to_v) in ends(to) {
                path = path.min(to_u + self.feet[u][v] + to_v);
            }
        }
        path * rule.slack + from.2 + to.2
    }
}

fn all_pairs(vertices: &[([f64; 2], Option<i16>)], pieces: &[Piece]) -> Vec<Vec<f64>> {
    let n = vertices.len();
    let mut feet = vec![vec![f64::INFINITY; n]; n];
    for (i, (a, level)) in vertices.iter().enumerate() {
        for (j, (b, other)) in vertices.iter().enumerate() {
            if i == j || (level.is_some() && level == other && apart(*a, *b) <= 0.5) {
                feet[i][j] = apart(*a, *b);
            }
        }
    }
    for Piece { ends, vertices: [u, v] } in pieces {
        let length = apart(ends[0], ends[1]).min(feet[*u][*v]);
        (feet[*u][*v], feet[*v][*u]) = (length, length);
    }
    for k in 0..n {
        for i in 0..n {
            for j in 0..n {
                feet[i][j] = feet[i][j].min(feet[i][k] + feet[k][j]);
            }
        }
    }
    feet
}
