//! From what arrives to the cause.

use crate::cause::{Cause, CauseCode, Named};
use crate::judge::{Desk, Judge};
use crate::outcome::Outcome;
use crate::records::Place;
use crate::ways::Lay;

impl<'a> Judge<'a> {
    /// Why the place of that rank has what it needs, or has not; `outcome` gets the best two where they were looked for.
    pub(crate) fn cause(&self, desk: &mut Desk<'a>, rank: usize, need: f64, outcome: &mut Outcome) -> Cause {
        let place = &self.places[self.ways.place(rank) as usize];
        let one = [(CauseCode::Covered, outcome.alone), (CauseCode::CoveredIfBoosted, outcome.boosted)];
        for (code, best) in one {
            if let Some(best) = best.filter(|best| best.arrives.low_gpm >= need) {
                let names = Named {
                    hydrant: best.hydrant,
                    lay_ft: best.lay_ft,
                    extra_ft: 0.0,
                    low_gpm: Some(best.arrives.low_gpm),
                };
                return Cause { code, names: Some(names) };
            }
        }
        self.weigh(desk, place, rank);
        outcome.combined = self.best_two(place, &desk.weighed);
        if let Some(two) = outcome.combined.filter(|two| two.arrives.low_gpm >= need) {
            let names = Named {
                hydrant: two.hydrants[0],
                lay_ft: two.lays_ft[0],
                extra_ft: 0.0,
                low_gpm: Some(two.arrives.low_gpm),
            };
            return Cause { code: CauseCode::CoveredIfCombined, names: Some(names) };
        }
        self.gap(desk, place, rank, need)
    }

    /// Why nothing that the department has brings it.
    fn gap(&self, desk: &mut Desk<'a>, place: &Place, rank: usize, need: f64) -> Cause {
        let near = self.reach.of(rank);
        if let Some(cause) = self.broken(place, near, need).or_else(|| self.held_by_hose(place, near, need)) {
            return cause;
        }
        let search = desk.search.take().or_else(|| self.ways.desk());
        desk.search = search;
        self.ways.lays(&mut desk.search, rank, self.rule, self.rule.searched(), &mut desk.lays);
        let far = &desk.lays[..];
        let beyond = far.iter().filter(|lay| lay.sections > self.rule.carried() && self.in_service(lay));
        let would = |lay: &Lay| self.low(place, *lay).filter(|low| *low >= need).map(|low| self.named(*lay, Some(low)));
        if let Some(names) = beyond.filter_map(would).next() {
            return Cause { code: CauseCode::BeyondHose, names: Some(names) };
        }
        if !near.is_empty() {
            return self.held_by_main(place, near, need);
        }
        // Nothing is within the hose: what there is farther out is told of, with the hose that it takes.
        let held = || self.broken(place, far, need).or_else(|| self.held_by_hose(place, far, need));
        held().unwrap_or_else(|| self.held_by_main(place, far, need))
    }

    /// A hydrant out of service that would do it: the nearest.
    fn broken(&self, place: &Place, lays: &[Lay], need: f64) -> Option<Cause> {
        let broken = lays.iter().filter(|lay| !self.in_service(lay));
        let would = |lay: &Lay| self.low(place, *lay).filter(|low| *low >= need).map(|low| self.named(*lay, Some(low)));
        let names = broken.filter_map(would).next()?;
        Some(Cause { code: CauseCode::OutOfService, names: Some(names) })
    }

    /// A hydrant whose main has it, and that would bring it if hose took nothing: that which brings most as it is.
    fn held_by_hose(&self, place: &Place, lays: &[Lay], need: f64) -> Option<Cause> {
        let held = |lay: &&Lay| {
            let Some((ready, rise)) = self.flows.ready(place, lay.hydrant) else { return false };
            self.main_has(place, lay, need) && self.flows.lows_over(ready, 0.0, rise).best() >= need
        };
        let names = self.most(place, lays.iter().filter(|lay| self.in_service(lay)).filter(held))?;
        Some(Cause { code: CauseCode::Friction, names: Some(names) })
    }

    fn held_by_main(&self, place: &Place, lays: &[Lay], need: f64) -> Cause {
        let has_it = |lay: &&Lay| self.in_service(lay) && self.main_has(place, lay, need);
        let cause = |code, names| Cause { code, names };
        if let Some(names) = self.most(place, lays.iter().filter(has_it)) {
            return cause(CauseCode::Pumper, Some(names));
        }
        let untested = |lay: &&Lay| self.flows.hydrants[lay.hydrant as usize].source.is_none();
        if let Some(lay) = lays.iter().find(untested) {
            return cause(CauseCode::Untested, Some(self.named(*lay, None)));
        }
        match lays.first() {
            Some(nearest) => {
                let in_service = self.most(place, lays.iter().filter(|lay| self.in_service(lay)));
                cause(CauseCode::Water, in_service.or_else(|| Some(self.named(*nearest, self.low(place, *nearest)))))
            }
            None => cause(CauseCode::NoHydrant, None),
        }
    }

    fn main_has(&self, place: &Place, lay: &Lay, need: f64) -> bool {
        let ready = self.flows.ready(place, lay.hydrant);
        ready.is_some_and(|(ready, _)| self.flows.many.main(ready).low_gpm >= need)
    }

    /// The low end of the best that a hydrant brings, alone or with the pumper, gpm.
    fn low(&self, place: &Place, lay: Lay) -> Option<f64> {
        self.flows.lows(place, self.rule, lay).map(|lows| lows.best())
    }

    /// Of these the one that brings most; of equals the nearest.
    fn most<'l>(&self, place: &Place, lays: impl Iterator<Item = &'l Lay>) -> Option<Named> {
        let mut most: Option<(f64, Lay)> = None;
        for lay in lays {
            let Some(low) = self.low(place, *lay) else { continue };
            if most.is_none_or(|(most, _)| low > most) {
                most = Some((low, *lay));
            }
        }
        most.map(|(low, lay)| self.named(lay, Some(low)))
    }

    fn named(&self, lay: Lay, low_gpm: Option<f64>) -> Named {
        let lay_ft = self.rule.feet(lay.sections);
        Named { hydrant: lay.hydrant, lay_ft, extra_ft: (lay_ft - self.rule.carried_ft()).max(0.0), low_gpm }
    }
}
