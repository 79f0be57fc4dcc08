//! One place: what arrives at best, alone, with the pumper and from two hydrants, and why it is or is not enough.

use longlay_hydraulics::lay::many::{Arrives, By};

use crate::cause::{Cause, CauseCode};
use crate::flows::Flows;
use crate::outcome::{Best, BestTwo, Outcome};
use crate::reach::Reach;
use crate::records::Place;
use crate::rule::Rule;
use crate::search::Search;
use crate::ways::{Lay, Ways};

/// What places are judged by.
pub(crate) struct Judge<'a> {
    pub(crate) places: &'a [Place],
    pub(crate) ways: &'a Ways<'a>,
    pub(crate) reach: &'a Reach,
    pub(crate) rule: &'a Rule,
    pub(crate) flows: &'a Flows<'a>,
}

/// What one thread judges on.
pub(crate) struct Desk<'a> {
    pub(crate) search: Option<Search<'a>>,
    pub(crate) lays: Vec<Lay>,
    pub(crate) weighed: Vec<Weighed>,
}

/// A hydrant within reach that can be counted on, and the low ends of what it brings, gpm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Weighed {
    pub(crate) lay: Lay,
    pub(crate) low_gpm: f64,
}

impl<'a> Judge<'a> {
    pub(crate) fn desk(&self) -> Desk<'a> {
        Desk { search: None, lays: Vec::new(), weighed: Vec::new() }
    }

    /// The place of that rank.
    pub(crate) fn outcome(&self, desk: &mut Desk<'a>, rank: usize) -> Outcome {
        let place = &self.places[self.ways.place(rank) as usize];
        let need_gpm = place.need();
        let lays = self.reach.of(rank);
        let many = self.flows.many;
        let alone = self.best(place, lays, |ready, feet, rise| many.low_alone(ready, feet, rise), |by| by.alone);
        let boosted = many.capacity_gpm().and_then(|_| {
            let low = |ready: &_, feet, rise| many.low_boosted(ready, feet, rise).unwrap_or(0.0);
            self.best(place, lays, low, |by| by.best())
        });
        let mut outcome = Outcome {
            need_gpm,
            alone,
            boosted,
            combined: None,
            shortfall_gpm: None,
            cause: Cause { code: CauseCode::NoNeedGiven, names: None },
            ground_unknown: false,
        };
        if let Some(need) = need_gpm {
            outcome.cause = self.cause(desk, rank, need, &mut outcome);
            outcome.shortfall_gpm = Some((need - outcome.low_gpm()).max(0.0));
        }
        outcome.ground_unknown = self.is_ground_unknown(place, &outcome);
        outcome
    }

    /// The tested hydrant in service that brings most at its low end; of equals the nearest.
    fn best(
        &self,
        place: &Place,
        lays: &[Lay],
        low: impl Fn(&longlay_hydraulics::lay::many::Ready, f64, f64) -> f64,
        of: impl Fn(By<Arrives>) -> Arrives,
    ) -> Option<Best> {
        let many = self.flows.many;
        let mut best: Option<(f64, Lay)> = None;
        for lay in lays.iter().filter(|lay| self.in_service(lay)) {
            let Some((ready, rise)) = self.flows.ready(place, lay.hydrant) else { continue };
            // No lay brings more than the main has.
            if best.is_some_and(|(most, _)| many.main(ready).low_gpm <= most) {
                continue;
            }
            let gpm = low(ready, self.rule.feet(lay.sections), rise);
            if best.is_none_or(|(most, _)| gpm > most) {
                best = Some((gpm, *lay));
            }
        }
        let (_, lay) = best?;
        let (ready, rise) = self.flows.ready(place, lay.hydrant)?;
        let lay_ft = self.rule.feet(lay.sections);
        Some(Best { hydrant: lay.hydrant, lay_ft, arrives: of(many.arrives(ready, lay_ft, rise)) })
    }

    pub(crate) fn in_service(&self, lay: &Lay) -> bool {
        self.flows.hydrants[lay.hydrant as usize].in_service
    }

    /// Every hydrant within reach that can be counted on, with what it brings, most first.
    pub(crate) fn weigh(&self, desk: &mut Desk<'a>, place: &Place, rank: usize) {
        let weigh = |lay: &Lay| {
            let lows = self.flows.lows(place, self.rule, *lay)?;
            Some(Weighed { lay: *lay, low_gpm: lows.best() })
        };
        desk.weighed.clear();
        desk.weighed.extend(self.reach.of(rank).iter().filter(|lay| self.in_service(lay)).filter_map(weigh));
        desk.weighed.sort_by(|a, b| b.low_gpm.total_cmp(&a.low_gpm).then(a.lay.cmp(&b.lay)));
    }

    /// The best two of the three that bring most.
    pub(crate) fn best_two(&self, place: &Place, weighed: &[Weighed]) -> Option<BestTwo> {
        let mut best: Option<BestTwo> = None;
        for (i, j) in [(0, 1), (0, 2), (1, 2)] {
            let (Some(a), Some(b)) = (weighed.get(i), weighed.get(j)) else { continue };
            let Some(two) = self.two(place, [a.lay, b.lay]) else { continue };
            if best.is_none_or(|best| two.arrives.low_gpm > best.arrives.low_gpm) {
                best = Some(two);
            }
        }
        best
    }

    fn two(&self, place: &Place, lays: [Lay; 2]) -> Option<BestTwo> {
        let lays_ft = lays.map(|lay| self.rule.feet(lay.sections));
        let hydrants = lays.map(|lay| lay.hydrant);
        let (a, b) = (self.flows.ready(place, hydrants[0])?, self.flows.ready(place, hydrants[1])?);
        let mains = hydrants.map(|hydrant| self.flows.hydrants[hydrant as usize].main);
        let shared_main = mains[0].is_none() || mains[1].is_none() || mains[0] == mains[1];
        let lines = [(a.0, lays_ft[0], a.1), (b.0, lays_ft[1], b.1)];
        let arrives = self.flows.many.together(lines, shared_main).best();
        Some(BestTwo { hydrants, lays_ft, shared_main, arrives })
    }

    fn is_ground_unknown(&self, place: &Place, outcome: &Outcome) -> bool {
        let one = [outcome.alone, outcome.boosted].into_iter().flatten().map(|best| best.hydrant);
        let two = outcome.combined.into_iter().flat_map(|two| two.hydrants);
        let named = outcome.cause.names.map(|named| named.hydrant);
        place.ground().is_none() || one.chain(two).chain(named).any(|h| !self.flows.is_ground_known(place, h))
    }
}
