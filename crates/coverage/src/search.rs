//! The shortest ways along the streets from one point, as far as they are asked for.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::seats::{Seat, Seats};
use crate::snap::Foot;
use crate::streets::{NO_SEGMENT, Streets};

/// A desk to search on: kept from one search to the next, because clearing what was touched is far less than making it.
pub(crate) struct Search<'a> {
    streets: &'a Streets,
    feet: Vec<f64>,
    touched: Vec<u32>,
    /// By distance and then by node. The bits of numbers that are not less than nothing are in the numbers' own order.
    heap: BinaryHeap<Reverse<(u64, u32)>>,
}

impl<'a> Search<'a> {
    pub(crate) fn new(streets: &'a Streets) -> Self {
        let feet = vec![f64::INFINITY; streets.node_count()];
        Self { streets, feet, touched: Vec::new(), heap: BinaryHeap::new() }
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
                let other = feet(way.to);
                // Of a segment whose ends are both reached, the lower end sees to it.
                if other == f64::INFINITY {
                    on_from(*node, way.to, feet(*node), |ends| on(way.segment, ends, way.ft, None));
                } else if *node < way.to {
                    on(way.segment, [feet(*node), other], way.ft, None);
                }
            }
        }
        self.clear();
    }

    /// Settles every node within the limit.
    fn run(&mut self, from: &Foot, limit_ft: f64) {
        let segment = &self.streets.segments[from.segment as usize];
        let [a, b] = segment.nodes;
        self.relax(a, from.along_ft, limit_ft);
        self.relax(b, segment.ft - from.along_ft, limit_ft);
        while let Some(Reverse((bits, node))) = self.heap.pop() {
            let feet = f64::from_bits(bits);
            if feet > self.feet[node as usize] {
                continue;
            }
            for way in self.streets.ways(node) {
                self.relax(way.to, feet + way.ft, limit_ft);
            }
        }
    }

    #[inline]
    fn relax(&mut self, node: u32, feet: f64, limit_ft: f64) {
        let known = &mut self.feet[node as usize];
        if feet <= limit_ft && feet < *known {
            if *known == f64::INFINITY {
                self.touched.push(node);
            }
            *known = feet;
            self.heap.push(Reverse((feet.to_bits(), node)));
        }
    }

    fn clear(&mut self) {
        for node in self.touched.drain(..) {
            self.feet[node as usize] = f64::INFINITY;
        }
    }
}

/// The distances of a segment's ends, the lower node's first, of which only one is reached.
#[inline]
fn on_from(node: u32, other: u32, feet: f64, on: impl FnOnce([f64; 2])) {
    on(if node < other { [feet, f64::INFINITY] } else { [f64::INFINITY, feet] });
}
