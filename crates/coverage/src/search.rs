//! The shortest ways along the streets from one point, as far as they are asked for.

use crate::number::whole;
use crate::seats::{Seat, Seats};
use crate::snap::Foot;
use crate::streets::{NO_SEGMENT, Streets};

/// A desk to search on: kept from one search to the next, because clearing what was touched is far less than making it.
pub(crate) struct Search<'a> {
    streets: &'a Streets,
    feet: Vec<f64>,
    touched: Vec<u32>,
    /// The nodes to go on from, by distance in [`RINGS`] steps up to the limit. In a heap they would be in full order, at several times the cost: here one may
    /// be gone on from again, and what comes out is the same.
    rings: Vec<Vec<u32>>,
}

/// So many that a street is mostly longer than one is wide, and that looking through empty ones is nothing.
const RINGS: u16 = 64;

impl<'a> Search<'a> {
    pub(crate) fn new(streets: &'a Streets) -> Self {
        let feet = vec![f64::INFINITY; streets.node_count()];
        Self { streets, feet, touched: Vec::new(), rings: vec![Vec::new(); usize::from(RINGS) + 1] }
    }

    /// Calls `meet` with the rank in `seats` of everything within `limit_ft` along the streets of a point of them, and with how far it is, ft.
    pub(crate) fn reach(&mut self, from: &Foot, limit_ft: f64, seats: &Seats, mut meet: impl FnMut(u32, &Seat, f64)) {
        self.run(from, limit_ft);
        let segment = &self.streets.segments[from.segment as usize];
        let mut on = |segment: u32, feet: [f64; 2], length_ft: f64, here: Option<f64>| {
            for (rank, seat) in (seats.rank(segment)..).zip(seats.of(segment)) {
                let along = seat.foot.along_ft;
                let around = (feet[0] + along).min(feet[1] + (length_ft - along));
                let path = here.map_or(around, |here| around.min((along - here).abs()));
                if path <= limit_ft {
                    meet(rank, seat, path);
                }
            }
        };
        let feet = |node: u32| self.feet[node as usize];
        on(from.segment, segment.nodes.map(feet), segment.ft, Some(from.along_ft));
        for node in &self.touched {
            for way in self.streets.ways(*node) {
                if way.segment == NO_SEGMENT || way.segment == from.segment {
                    continue;
                }
                // Of a segment whose ends are both reached, the lower end sees to it.
                let other = feet(way.to);
                if *node < way.to {
                    on(way.segment, [feet(*node), other], way.ft, None);
                } else if other == f64::INFINITY {
                    on(way.segment, [other, feet(*node)], way.ft, None);
                }
            }
        }
        self.clear();
    }

    /// Settles every node within the limit.
    fn run(&mut self, from: &Foot, limit_ft: f64) {
        let streets = self.streets;
        let segment = &streets.segments[from.segment as usize];
        let limit = Limit { feet: limit_ft, rings_per_ft: f64::from(RINGS) / limit_ft.max(f64::MIN_POSITIVE) };
        let [a, b] = segment.nodes;
        self.relax(a, from.along_ft, &limit);
        self.relax(b, segment.ft - from.along_ft, &limit);
        for ring in 0..self.rings.len() {
            while let Some(node) = self.rings[ring].pop() {
                let feet = self.feet[node as usize];
                // Else it has come nearer since, and was gone on from there.
                if limit.ring(feet) == ring {
                    for way in streets.ways(node) {
                        self.relax(way.to, feet + way.ft, &limit);
                    }
                }
            }
        }
    }

    #[inline]
    fn relax(&mut self, node: u32, feet: f64, limit: &Limit) {
        let known = &mut self.feet[node as usize];
        if feet <= limit.feet && feet < *known {
            if *known == f64::INFINITY {
                self.touched.push(node);
            }
            *known = feet;
            self.rings[limit.ring(feet)].push(node);
        }
    }

    fn clear(&mut self) {
        for node in self.touched.drain(..) {
            self.feet[node as usize] = f64::INFINITY;
        }
    }
}

/// How far a search goes.
struct Limit {
    feet: f64,
    rings_per_ft: f64,
}

impl Limit {
    #[inline]
    fn ring(&self, feet: f64) -> usize {
        whole(feet * self.rings_per_ft).min(u32::from(RINGS)) as usize
    }
}
