//! From what arrives to the cause.

use crate::cause::{Cause, CauseCode, Named};
use crate::flows::{Line, Working};
use crate::judge::{Desk, Judge};
use crate::most::{Found, Most};
use crate::outcome::Outcome;
use crate::records::Place;
use crate::ways::{Lay, Ways};

impl<'a> Judge<'a> {
    /// Why a place, which is of that rank, has what it needs, or has not; `outcome` gets the best two where they were looked for.
    pub(crate) fn cause(
        &self,
        desk: &mut Desk<'a>,
        (place, rank): (&Place, usize),
        need: f64,
        outcome: &mut Outcome,
    ) -> Cause {
        let one = [(CauseCode::Covered, outcome.alone), (CauseCode::CoveredIfBoosted, outcome.boosted)];
        for (code, best) in one {
            if let Some(best) = best.filter(|best| best.arrives.low_gpm >= need) {
                return covered(code, best.hydrant, best.lay_ft, best.arrives.low_gpm);
            }
        }
        let near = self.reach.of(rank);
        if self.rule.combined {
            let best = match self.two_working() {
                Working::Alone => outcome.alone,
                Working::Best => outcome.boosted,
            };
            // Two that bring no more than one are no help, and dear to work out.
            outcome.combined = self.best_two(place, &self.few(place, near, best), outcome.low_gpm());
        }
        if let Some(two) = outcome.combined.filter(|two| two.arrives.low_gpm >= need) {
            return covered(CauseCode::CoveredIfCombined, two.hydrants[0], two.lays_ft[0], two.arrives.low_gpm);
        }
        let best = outcome.boosted.or(outcome.alone).map(|best| self.found(&best));
        self.gap(desk, (place, rank), need, best.as_ref())
    }

    /// Why nothing that the department has brings it; `best` is the best of what is within reach.
    fn gap(&self, desk: &mut Desk<'a>, (place, rank): (&Place, usize), need: f64, best: Option<&Found>) -> Cause {
        let near = self.reach.of(rank);
        if let Some(cause) = self.broken(place, near, need).or_else(|| self.held_by_hose(place, near, need, best)) {
            return cause;
        }
        let farthest = if near.is_empty() { self.rule.searched() } else { self.may_meet_within(place, need) };
        if farthest <= self.rule.carried() {
            return self.held_by_main(place, near, need, best);
        }
        desk.search = desk.search.take().or_else(|| self.ways.desk());
        self.ways.lays(&mut desk.search, rank, self.rule, farthest, &mut desk.lays);
        let far = &desk.lays[..];
        let beyond = far.iter().filter(|lay| lay.sections > self.rule.carried() && self.in_service(**lay));
        if let Some(names) = self.first_that_meets(place, beyond, need) {
            return Cause { code: CauseCode::BeyondHose, names: Some(names) };
        }
        if !near.is_empty() {
            return self.held_by_main(place, near, need, best);
        }
        // Nothing is within the hose: what there is farther out is told of, with the hose that it takes.
        let held = || self.broken(place, far, need).or_else(|| self.held_by_hose(place, far, need, None));
        held().unwrap_or_else(|| self.held_by_main(place, far, need, None))
    }

    /// With how many sections a hydrant past the hose carried may still meet the need; the hose carried where none may. Most that are near enough as the crow
    /// flies do not, whatever the way to them.
    fn may_meet_within(&self, place: &Place, need: f64) -> u32 {
        let Ways::Streets { points, .. } = self.ways else { return self.rule.searched() };
        let mut most = self.rule.carried();
        let wanted = |hydrant| self.flows.has_main_for(need, hydrant);
        points.around([place.x, place.y], self.rule.feet(self.rule.searched()), wanted, |hydrant, feet| {
            let may = |sections| self.line(place, Lay { sections, hydrant }).is_some_and(|line| line.may_meet(need));
            let least = self.rule.sections(feet).max(most + 1);
            if least <= self.rule.searched() && may(least) {
                // Longer hose never brings more: halved until the last that may is known.
                let (mut low, mut high) = (least, self.rule.searched() + 1);
                while low + 1 < high {
                    let middle = low.midpoint(high);
                    if may(middle) { low = middle } else { high = middle }
                }
                most = low;
            }
        });
        most
    }

    /// The fewest sections, over those carried and up to `most`, with which one hydrant brings what a place, which is of that rank, needs.
    pub(crate) fn sections_enough(&self, desk: &mut Desk<'a>, place: &Place, rank: usize, most: u32) -> Option<u32> {
        let need = place.need()?;
        let farthest = self.may_meet_within(place, need).min(most);
        if farthest <= self.rule.carried() {
            return None;
        }
        desk.search = desk.search.take().or_else(|| self.ways.desk());
        self.ways.lays(&mut desk.search, rank, self.rule, farthest, &mut desk.lays);
        let beyond = desk.lays.iter().filter(|lay| lay.sections > self.rule.carried() && self.in_service(**lay));
        Some(self.rule.sections(self.first_that_meets(place, beyond, need)?.lay_ft))
    }

    /// A hydrant out of service that would do it: the nearest.
    fn broken(&self, place: &Place, lays: &[Lay], need: f64) -> Option<Cause> {
        let names = self.first_that_meets(place, lays.iter().filter(|lay| !self.in_service(**lay)), need)?;
        Some(Cause { code: CauseCode::OutOfService, names: Some(names) })
    }

    fn first_that_meets<'l>(&self, place: &Place, lays: impl Iterator<Item = &'l Lay>, need: f64) -> Option<Named> {
        let meets = |lay: &&Lay| self.line(place, **lay).is_some_and(|line| line.meets(need));
        let lay = *lays.into_iter().find(meets)?;
        Some(self.named(lay, self.line(place, lay).map(|line| line.arrives(Working::Best).low_gpm)))
    }

    /// A hydrant whose main has it, and that would bring it if hose took nothing: that which brings most as it is.
    fn held_by_hose(&self, place: &Place, lays: &[Lay], need: f64, best: Option<&Found>) -> Option<Cause> {
        let held = |line: &Line<'_>| line.without_hose().meets(need);
        let most = self.most_that(place, lays, best, held)?;
        Some(Cause { code: CauseCode::Friction, names: Some(self.as_named(&most)) })
    }

    /// Of lays in service that which brings most of those of a kind; `best` is that which brings most of all, where it is known.
    fn most_that(
        &self,
        place: &Place,
        lays: &[Lay],
        best: Option<&Found>,
        is: impl Fn(&Line<'_>) -> bool,
    ) -> Option<Found> {
        if let Some(best) = best.filter(|best| self.line(place, best.lay).is_some_and(|line| is(&line))) {
            return Some(*best);
        }
        let mut most = Most::<1>::default();
        for lay in lays.iter().filter(|lay| self.in_service(**lay)) {
            if let Some(line) = self.line(place, *lay) {
                most.look_if(*lay, &line, Working::Best, &is);
            }
        }
        most.first().copied()
    }

    fn held_by_main(&self, place: &Place, lays: &[Lay], need: f64, best: Option<&Found>) -> Cause {
        let cause = |code, names| Cause { code, names };
        if let Some(most) = self.most_that(place, lays, best, |line| line.main_low() >= need) {
            return cause(CauseCode::Pumper, Some(self.as_named(&most)));
        }
        let untested = |lay: &&Lay| self.flows.hydrants[lay.hydrant as usize].source.is_none();
        if let Some(lay) = lays.iter().find(untested) {
            return cause(CauseCode::Untested, Some(self.named(*lay, None)));
        }
        // Where none is in service, the nearest of those that are not.
        let most = self.most_that(place, lays, best, |_| true);
        let nearest = || {
            lays.first()
                .map(|lay| self.named(*lay, self.line(place, *lay).map(|line| line.arrives(Working::Best).low_gpm)))
        };
        let names = most.map(|most| self.as_named(&most)).or_else(nearest);
        cause(if names.is_some() { CauseCode::Water } else { CauseCode::NoHydrant }, names)
    }

    fn as_named(&self, found: &Found) -> Named {
        self.named(found.lay, Some(found.arrives.low_gpm))
    }

    fn named(&self, lay: Lay, low_gpm: Option<f64>) -> Named {
        let lay_ft = self.rule.feet(lay.sections);
        Named { hydrant: lay.hydrant, lay_ft, extra_ft: (lay_ft - self.rule.carried_ft()).max(0.0), low_gpm }
    }
}

fn covered(code: CauseCode, hydrant: u32, lay_ft: f64, low_gpm: f64) -> Cause {
    Cause { code, names: Some(Named { hydrant, lay_ft, extra_ft: 0.0, low_gpm: Some(low_gpm) }) }
}
