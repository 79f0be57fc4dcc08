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

const CHUNK: usize = 4096;

impl Seats {
    pub(crate) fn new(
        streets: &Streets,
        count: usize,
        point: impl Fn(usize) -> [f64; 2] + Sync,
        within_ft: f64,
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let feet = in_chunks(
            count,
            CHUNK,
            threads,
            progress,
            || (),
            |(), range| range.map(|i| streets.snap(point(i), within_ft)).collect::<Vec<_>>(),
        )?;
        Ok(Self::sorted(streets.segments().len(), &feet.concat()))
    }

    fn sorted(segments: usize, feet: &[Option<Foot>]) -> Self {
        let found = || feet.iter().enumerate().filter_map(|(i, foot)| foot.map(|foot| Seat { index: index(i), foot }));
        let mut first = vec![0_u32; segments + 2];
        for seat in found() {
            first[seat.foot.segment as usize + 2] += 1;
        }
        for segment in 2..first.len() {
            first[segment] += first[segment - 1];
        }
        let nobody = Seat { index: 0, foot: Foot { segment: 0, along_ft: 0.0, set_back_ft: 0.0 } };
        let mut seats = vec![nobody; first.last().map_or(0, |n| *n as usize)];
        for seat in found() {
            let slot = &mut first[seat.foot.segment as usize + 1];
            seats[*slot as usize] = seat;
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
