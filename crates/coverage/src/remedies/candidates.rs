//! Hydrants that could be put back, tested or set, and how many gaps each would close.
//!
//! Gaps only ever close, so that what a hydrant would have closed earlier bounds what it would close now: it is counted anew only when it leads.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::flows::Flows;
use crate::number::index;
use crate::records::{Hydrant, Place, somewhere};
use crate::remedies::change::Change;
use crate::remedies::lenders::Lenders;
use crate::remedies::open::Open;
use crate::remedies::plan::Plan;
use crate::remedies::spots::spots;
use crate::rule::Rule;
use crate::run::Served;
use crate::search::Search;
use crate::snap::Foot;
use crate::threads::{Cancelled, Progress, in_chunks};
use crate::ways::{Lay, Ways};

/// Candidates that one thread counts at a time.
const CHUNK: usize = 32;

/// A hydrant that could be had.
struct Candidate {
    change: Change,
    at: [f64; 2],
    /// Its place on the streets, where there are any.
    foot: Option<Foot>,
    /// Whose test it is reckoned by; its own where it was tested.
    like: u32,
    taken: bool,
}

/// What each counted for when it was last counted, the most first; of equals those that come first.
type Ranked = BinaryHeap<(u32, Reverse<u32>)>;

/// All that could be had under one lay, by kind.
pub(crate) struct Candidates {
    all: Vec<Candidate>,
    /// Put back, tested, new.
    kinds: [Ranked; 3],
}

/// What candidates are counted over.
pub(crate) struct Field<'a> {
    pub(crate) served: &'a Served<'a>,
    pub(crate) open: &'a Open,
    pub(crate) rule: &'a Rule,
    /// What hydrants give by their own tests.
    pub(crate) own: Flows<'a>,
    /// The same as others borrow it.
    pub(crate) lent: Flows<'a>,
}

impl Candidates {
    pub(crate) fn new(
        field: &Field<'_>,
        plan: &Plan,
        lenders: &Lenders<'_>,
        threads: usize,
        progress: &Progress,
    ) -> Result<Self, Cancelled> {
        let all = candidates(field, &plan.hydrants, lenders);
        let desk = || field.served.ways.desk();
        let counts = in_chunks(all.len(), CHUNK, threads, progress, desk, |desk, range| {
            all[range].iter().map(|candidate| field.closes(desk, candidate)).collect::<Vec<_>>()
        })?;
        let mut kinds = [const { BinaryHeap::new() }; 3];
        for (i, (candidate, count)) in all.iter().zip(counts.into_iter().flatten()).enumerate() {
            if count > 0 {
                kinds[kind(&candidate.change)].push((count, Reverse(index(i))));
            }
        }
        Ok(Self { all, kinds })
    }

    /// Of each kind the one that closes most now, and how many.
    pub(crate) fn best(&mut self, field: &Field<'_>, progress: &Progress) -> Result<Vec<(Change, u32)>, Cancelled> {
        let Self { all, kinds } = self;
        let mut desk = field.served.ways.desk();
        let mut leads = |ranked: &mut Ranked| leader(ranked, all, field, &mut desk, progress);
        let best: Vec<_> = kinds.iter_mut().filter_map(&mut leads).collect();
        if progress.is_cancelled() { Err(Cancelled) } else { Ok(best) }
    }

    /// A change that was taken is offered no more.
    pub(crate) fn take(&mut self, change: Change) {
        self.all.iter_mut().filter(|candidate| candidate.change == change).for_each(|candidate| candidate.taken = true);
    }
}

fn leader<'s>(
    ranked: &mut Ranked,
    all: &[Candidate],
    field: &Field<'s>,
    desk: &mut Option<Search<'s>>,
    progress: &Progress,
) -> Option<(Change, u32)> {
    while !progress.is_cancelled() {
        let (_, Reverse(i)) = ranked.pop()?;
        let candidate = &all[i as usize];
        let count = if candidate.taken { 0 } else { field.closes(desk, candidate) };
        if count == 0 {
            continue;
        }
        let leads = ranked.peek().is_none_or(|next| (count, Reverse(i)) >= *next);
        ranked.push((count, Reverse(i)));
        if leads {
            return Some((candidate.change, count));
        }
    }
    None
}

fn kind(change: &Change) -> usize {
    match change {
        Change::BackInService { .. } => 0,
        Change::Test { .. } => 1,
        _ => 2,
    }
}

fn candidates(field: &Field<'_>, hydrants: &[Hydrant], lenders: &Lenders<'_>) -> Vec<Candidate> {
    let feet = feet(&field.served.ways, hydrants.len());
    let like = |at| lenders.weaker_of_two(at, |hydrant| field.lent.main_low(hydrant));
    let stands = |(i, hydrant): (usize, &Hydrant)| {
        let (at, number) = ([hydrant.x, hydrant.y], index(i));
        if hydrant.in_service && hydrant.source.is_some() || !somewhere(at) || (feet[i].is_none() && field.on_streets())
        {
            return None;
        }
        let (change, like) = match (hydrant.source, hydrant.in_service) {
            (Some(_), _) => (Change::BackInService { hydrant: number, like: None }, number),
            (None, false) => {
                let like = like(at)?;
                (Change::BackInService { hydrant: number, like: Some(like) }, like)
            }
            (None, true) => {
                let like = like(at)?;
                (Change::Test { hydrant: number, like }, like)
            }
        };
        Some(Candidate { change, at, foot: feet[i], like, taken: false })
    };
    let new = |(at, foot): ([f64; 2], Foot)| {
        let like = like(at)?;
        Some(Candidate { change: Change::NewHydrant { at, like }, at, foot: Some(foot), like, taken: false })
    };
    let spots = spots(&field.served.ways, field.open, field.rule);
    hydrants.iter().enumerate().filter_map(stands).chain(spots.into_iter().filter_map(new)).collect()
}

/// Where hydrants belong on the streets.
fn feet(ways: &Ways<'_>, count: usize) -> Vec<Option<Foot>> {
    let mut feet = vec![None; count];
    if let Ways::Streets { hydrants, .. } = ways {
        hydrants.seats.iter().for_each(|seat| feet[seat.index as usize] = Some(seat.foot));
    }
    feet
}

impl<'a> Field<'a> {
    fn on_streets(&self) -> bool {
        matches!(self.served.ways, Ways::Streets { .. })
    }

    /// How many gaps a hydrant would close by itself.
    fn closes(&self, desk: &mut Option<Search<'a>>, candidate: &Candidate) -> u32 {
        let carried = self.rule.carried();
        let flows = if candidate.change.is_assumed() { &self.lent } else { &self.own };
        let meets = |place: &Place, feet: f64| {
            let lay = Lay { sections: self.rule.sections(feet), hydrant: candidate.like };
            let line = || flows.line(place, self.rule, lay);
            lay.sections <= carried && place.need().is_some_and(|need| line().is_some_and(|line| line.meets(need)))
        };
        let mut count = 0;
        match (&self.served.ways, desk, candidate.foot) {
            (Ways::Streets { places, .. }, Some(search), Some(foot)) => {
                let own_ft = foot.set_back_ft;
                search.reach(&foot, self.rule.path_ft(carried, own_ft), places, |rank, seat, path_ft| {
                    let feet = self.rule.along_ft(path_ft, own_ft + seat.foot.set_back_ft);
                    let met = self.open.has(rank) && meets(&self.served.places[seat.index as usize], feet);
                    count += u32::from(met);
                });
            }
            (Ways::Straight { places, .. }, ..) => {
                for rank in &self.open.ranks {
                    let (at, place) = places[*rank as usize];
                    let feet = crate::pieces::distance_ft(at, candidate.at) * self.rule.detour;
                    count += u32::from(meets(&self.served.places[place as usize], feet));
                }
            }
            _ => {}
        }
        count
    }
}
