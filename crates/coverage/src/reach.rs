//! Which hydrants serve which places with the hose carried: found once, read by everything after.

use std::ops::Range;

use crate::number::index;
use crate::rule::Rule;
use crate::search::Search;
use crate::seats::Seats;
use crate::threads::{Cancelled, Phase, Progress, both, in_chunks};
use crate::ways::{Lay, Ways};

/// For every place the hydrants within the hose carried, the nearest first.
#[derive(Debug, Clone)]
pub(crate) struct Reach {
    /// Of the ranks under `half`, and of the others: each put in order by a thread of its own.
    parts: [Part; 2],
    half: usize,
}

/// The lays of ranks one after another.
#[derive(Debug, Clone)]
struct Part {
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
                let half = places.seats.len() / 2;
                let desk = || Search::new(streets);
                let found = in_chunks(hydrants.seats.len(), CHUNK, threads, progress, desk, |search, range| {
                    from_hydrants(search, range, (places, half), hydrants, rule)
                })?;
                let part = |of: usize, ranks| Part::new(ranks, found.iter().flat_map(move |found| &found[of]));
                let (lower, upper) = both(threads > 1, || part(0, half), || part(1, places.seats.len() - half));
                Ok(Self { parts: [lower, upper], half })
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
                let none = Part { first: vec![0], lays: Vec::new() };
                Ok(Self { parts: [Part { first, lays }, none], half: count })
            }
        }
    }

    /// The hydrants that serve the place of that rank, the nearest first.
    pub(crate) fn of(&self, rank: usize) -> &[Lay] {
        match rank.checked_sub(self.half) {
            None => self.parts[0].of(rank),
            Some(rank) => self.parts[1].of(rank),
        }
    }

    /// How many pairs of place and hydrant there are.
    pub(crate) fn pair_count(&self) -> usize {
        self.parts.iter().map(|part| part.lays.len()).sum()
    }
}

impl Part {
    /// From lays in order of their hydrants to lays in order of their places.
    fn new<'f>(ranks: usize, found: impl Iterator<Item = &'f (u32, Lay)> + Clone) -> Self {
        let mut first = vec![0_usize; ranks + 2];
        for (rank, _) in found.clone() {
            first[*rank as usize + 2] += 1;
        }
        for rank in 2..first.len() {
            first[rank] += first[rank - 1];
        }
        let mut lays = vec![Lay { sections: 0, hydrant: 0 }; first.last().copied().unwrap_or(0)];
        for (rank, lay) in found {
            let slot = &mut first[*rank as usize + 1];
            lays[*slot] = *lay;
            *slot += 1;
        }
        first.pop();
        for ends in first.windows(2) {
            lays[ends[0]..ends[1]].sort_unstable();
        }
        Self { first, lays }
    }

    fn of(&self, rank: usize) -> &[Lay] {
        &self.lays[self.first[rank]..self.first[rank + 1]]
    }
}

/// Lays by the rank of their place, of the ranks under `half` and of the others, counted from there.
fn from_hydrants(
    search: &mut Search<'_>,
    range: Range<usize>,
    (places, half): (&Seats, usize),
    hydrants: &Seats,
    rule: &Rule,
) -> [Vec<(u32, Lay)>; 2] {
    let (carried, half) = (rule.carried(), index(half));
    let mut found = [Vec::new(), Vec::new()];
    for hydrant in &hydrants.seats[range] {
        let own_ft = hydrant.foot.set_back_ft;
        search.reach(&hydrant.foot, rule.path_ft(carried, own_ft), places, |rank, place, path_ft| {
            let feet = rule.along_ft(path_ft, own_ft + place.foot.set_back_ft);
            let lay = Lay { sections: rule.sections(feet), hydrant: hydrant.index };
            if lay.sections <= carried {
                match rank.checked_sub(half) {
                    None => found[0].push((rank, lay)),
                    Some(rank) => found[1].push((rank, lay)),
                }
            }
        });
    }
    found
}
