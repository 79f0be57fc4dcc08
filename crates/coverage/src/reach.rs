//! Which hydrants serve which places with the hose carried: found once, read by everything after.

use std::ops::Range;

use crate::rule::Rule;
use crate::search::Search;
use crate::seats::Seats;
use crate::threads::{Cancelled, Phase, Progress, both, in_chunks};
use crate::ways::{Lay, Ways};

/// For every place the hydrants within the hose carried, the nearest first.
#[derive(Debug, Clone)]
pub(crate) struct Reach {
    /// Where the lays of each rank begin.
    first: Vec<usize>,
    lays: Vec<Lay>,
}

/// Hydrants, or places, that one thread takes at a time.
const CHUNK: usize = 256;

impl Reach {
    pub(crate) fn new(ways: &Ways<'_>, rule: &Rule, threads: usize, progress: &Progress) -> Result<Self, Cancelled> {
        match ways {
            Ways::Streets { streets, places, hydrants, .. } => {
                progress.begin(Phase::Reach, hydrants.seats.len());
                let desk = || Search::new(streets);
                let found = in_chunks(hydrants.seats.len(), CHUNK, threads, progress, desk, |search, range| {
                    from_hydrants(search, range, places, hydrants, rule)
                })?;
                Ok(Self::by_place(places.seats.len(), &found, threads > 1))
            }
            Ways::Straight { places, .. } => {
                let count = places.len();
                progress.begin(Phase::Reach, count);
                let found = in_chunks(
                    count,
                    CHUNK,
                    threads,
                    progress,
                    || (),
                    |(), range| {
                        let mut lays = Vec::new();
                        range
                            .map(|rank| {
                                ways.lays(&mut None, rank, rule, rule.carried(), &mut lays);
                                lays.clone()
                            })
                            .collect::<Vec<_>>()
                    },
                )?;
                let mut first = vec![0];
                let mut lays = Vec::new();
                for own in found.iter().flatten() {
                    lays.extend_from_slice(own);
                    first.push(lays.len());
                }
                Ok(Self { first, lays })
            }
        }
    }

    /// From lays in order of their hydrants to lays in order of their places.
    fn by_place(places: usize, found: &[Vec<(u32, Lay)>], much: bool) -> Self {
        let mut first = vec![0_usize; places + 2];
        for (rank, _) in found.iter().flatten() {
            first[*rank as usize + 2] += 1;
        }
        for rank in 2..first.len() {
            first[rank] += first[rank - 1];
        }
        let mut lays = vec![Lay { sections: 0, hydrant: 0 }; first.last().copied().unwrap_or(0)];
        for (rank, lay) in found.iter().flatten() {
            let slot = &mut first[*rank as usize + 1];
            lays[*slot] = *lay;
            *slot += 1;
        }
        first.pop();
        let half = places / 2;
        let (lower, upper) = lays.split_at_mut(first[half]);
        both(much, || nearest_first(&first[..=half], lower), || nearest_first(&first[half..], upper));
        Self { first, lays }
    }

    /// The hydrants that serve the place of that rank, the nearest first.
    pub(crate) fn of(&self, rank: usize) -> &[Lay] {
        &self.lays[self.first[rank]..self.first[rank + 1]]
    }

    /// How many pairs of place and hydrant there are.
    pub(crate) fn pair_count(&self) -> usize {
        self.lays.len()
    }
}

/// Sorts the lays of each place, which begin where `first` says.
fn nearest_first(first: &[usize], lays: &mut [Lay]) {
    let begin = first.first().copied().unwrap_or(0);
    for ends in first.windows(2) {
        lays[ends[0] - begin..ends[1] - begin].sort_unstable();
    }
}

fn from_hydrants(
    search: &mut Search<'_>,
    range: Range<usize>,
    places: &Seats,
    hydrants: &Seats,
    rule: &Rule,
) -> Vec<(u32, Lay)> {
    let carried = rule.carried();
    let mut found = Vec::new();
    for hydrant in &hydrants.seats[range] {
        let own_ft = hydrant.foot.set_back_ft;
        search.reach(&hydrant.foot, rule.path_ft(carried, own_ft), places, |rank, place, path_ft| {
            let feet = rule.along_ft(path_ft, own_ft + place.foot.set_back_ft);
            let lay = Lay { sections: rule.sections(feet), hydrant: hydrant.index };
            if lay.sections <= carried {
                found.push((rank, lay));
            }
        });
    }
    found
}
