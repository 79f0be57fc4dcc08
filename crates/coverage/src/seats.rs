//! Places or hydrants on their streets, in order of where they lie.

use crate::number::index;
use crate::snap::Foot;
use crate::streets::Streets;
use crate::threads::{Cancelled, Progress, in_chunks};

/// Something on its street.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Seat {
    /// Its index in the input.
    pub(crate) index: u32,
    pub(crate) foot: Foot,
}

/// All that found a street, by segment and along it.
#[derive(Debug, Clone)]
pub(crate) struct Seats {
    pub(crate) seats: Vec<Seat>,
    /// Where the seats of each segment begin.
    first: Vec<u32>,
}

const CHUNK: usize = 1024;

impl Seats {
    pub(crate) fn new(
        streets: &Streets,
        count: usize,
        point: impl Fn(usize) -> [f64; 2] + Sync,
        within_ft: f64,
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let order = by_tile(streets, count, &point);
        let feet = in_chunks(
            count,
            CHUNK,
            threads,
            progress,
            || (),
            |(), range| {
                // Read all at once they are waited for together, and not one by one.
                let points: Vec<_> = order[range].iter().map(|i| (*i, point(*i as usize))).collect();
                let seat = |(index, point)| Some(Seat { index, foot: streets.snap(point, within_ft)? });
                points.into_iter().filter_map(seat).collect::<Vec<_>>()
            },
        )?;
        Ok(Self::sorted(streets.segments().len(), &feet))
    }

    fn sorted(segments: usize, feet: &[Vec<Seat>]) -> Self {
        let mut first = vec![0_u32; segments + 2];
        for seat in feet.iter().flatten() {
            first[seat.foot.segment as usize + 2] += 1;
        }
        for segment in 2..first.len() {
            first[segment] += first[segment - 1];
        }
        let nobody = Seat { index: 0, foot: Foot { segment: 0, along_ft: 0.0, set_back_ft: 0.0 } };
        let mut seats = vec![nobody; first.last().map_or(0, |n| *n as usize)];
        for seat in feet.iter().flatten() {
            let slot = &mut first[seat.foot.segment as usize + 1];
            seats[*slot as usize] = *seat;
            *slot += 1;
        }
        first.pop();
        Self { seats, first }
    }

    /// Those of a segment.
    #[inline]
    pub(crate) fn of(&self, segment: u32) -> &[Seat] {
        let segment = segment as usize;
        &self.seats[self.first[segment] as usize..self.first[segment + 1] as usize]
    }

    /// The rank of the first of a segment.
    #[inline]
    pub(crate) fn rank(&self, segment: u32) -> u32 {
        self.first[segment as usize]
    }
}

/// Points in order of their neighbourhoods, and in their own within one.
fn by_tile(streets: &Streets, count: usize, point: &impl Fn(usize) -> [f64; 2]) -> Vec<u32> {
    let tile = |i: usize| streets.grid.tile(point(i)).0;
    let mut first = vec![0_u32; streets.grid.tile([0.0; 2]).1 + 1];
    let tiles: Vec<u32> = (0..count).map(|i| index(tile(i))).collect();
    for tile in &tiles {
        first[*tile as usize + 1] += 1;
    }
    for tile in 1..first.len() {
        first[tile] += first[tile - 1];
    }
    let mut order = vec![0; count];
    for (tile, i) in tiles.iter().zip(0..) {
        let slot = &mut first[*tile as usize];
        order[*slot as usize] = i;
        *slot += 1;
    }
    order
}
