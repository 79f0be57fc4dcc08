//! Work on a main, where nothing else closes a gap.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use longlay_hydraulics::lay::Source;

use crate::cause::CauseCode;
use crate::flows::Flows;
use crate::judge::Judge;
use crate::number::index;
use crate::records::{Hydrant, Place};
use crate::remedies::change::Change;
use crate::remedies::find::Considered;
use crate::remedies::open::{Brief, Open};
use crate::remedies::town::Town;
use crate::threads::Cancelled;

/// So many of the hydrants that most places hang on are looked at: the others close little.
const LOOKED_AT: usize = 200;
/// How many times what its test showed a main may be worked up to give. More is no work on a main any more, but another source.
const TIMES: [f64; 4] = [1.5, 2.0, 3.0, 4.0];

impl Town<'_> {
    /// The hydrant at which a larger main would close most gaps that are for want of water, by itself, and the least that does.
    pub(crate) fn of_mains(&self, outcomes: &[Brief], open: &Open) -> Result<Option<Considered>, Cancelled> {
        let mut hanging: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for rank in &open.ranks {
            let brief = &outcomes[self.served.ways.place(*rank as usize) as usize];
            if let (CauseCode::Water, Some(hydrant)) = (brief.code, brief.hydrant) {
                hanging.entry(hydrant).or_default().push(*rank);
            }
        }
        // Those that most hang on first: they leave the fewest of the others to be looked at.
        let mut hanging: Vec<_> = hanging.into_iter().collect();
        hanging.sort_by_key(|(hydrant, ranks)| (Reverse(ranks.len()), *hydrant));
        let mut best: Option<Considered> = None;
        let mut hydrants = self.plan.hydrants.clone();
        // Of a main that was worked on, or that nobody tested here, nobody knows what it gives.
        let is_known =
            |hydrant: u32| !self.plan.hydrants[hydrant as usize].borrowed && !self.plan.worked.contains(&hydrant);
        hanging.retain(|(hydrant, _)| is_known(*hydrant));
        for (hydrant, ranks) in hanging.into_iter().take(LOOKED_AT) {
            for times in TIMES {
                let change = Change::MainWork { hydrant, times };
                let most = best.map_or(0, |best| best.closes);
                if ranks.len() <= most as usize || self.given_back.contains(&change) {
                    continue;
                }
                let before = hydrants[hydrant as usize];
                hydrants[hydrant as usize].source = before.source.and_then(|source| enlarged(source, times));
                let closes = self.covered_by(&ranks, &hydrants, hydrant)?;
                hydrants[hydrant as usize] = before;
                if closes > most {
                    best = Some(Considered { change, changes: 1, closes, like_ft: None });
                }
            }
        }
        Ok(best)
    }

    /// How many of the places of these ranks one hydrant covers by itself.
    fn covered_by(&self, ranks: &[u32], hydrants: &[Hydrant], hydrant: u32) -> Result<u32, Cancelled> {
        let served = &self.served;
        let places: Vec<Place> = ranks.iter().map(|rank| *served.place(*rank)).collect();
        // Of this one only: the others bring nothing here.
        let flows = Flows::new(&self.plan.many, &places, hydrants, &[hydrant], 1, self.progress)?;
        let (rule, ways, reach) = (&self.plan.rule, &served.ways, &served.reach);
        let judge = Judge { ways, reach, rule, flows: &flows };
        let covered = ranks.iter().zip(&places).filter(|(rank, place)| judge.covers(place, **rank as usize));
        Ok(index(covered.count()))
    }
}

fn enlarged(source: Source, times: f64) -> Option<Source> {
    Some(Source { curve: source.curve.enlarged(times)?, ..source })
}
