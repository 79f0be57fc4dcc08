//! One place: what arrives at best, alone, with the pumper and from two hydrants, and why it is or is not enough.

use longlay_hydraulics::lay::many::{Arrives, Ready};

use crate::cause::CauseCode;
use crate::flows::{Flows, Line, Working};
use crate::most::{Found, Most};
use crate::outcome::{Arrival, Best, BestTwo, Outcome};
use crate::reach::Reach;
use crate::records::Place;
use crate::rule::Rule;
use crate::search::Search;
use crate::ways::{Lay, Ways};

/// What places are judged by.
pub(crate) struct Judge<'a> {
    pub(crate) ways: &'a Ways<'a>,
    pub(crate) reach: &'a Reach,
    pub(crate) rule: &'a Rule,
    pub(crate) flows: &'a Flows<'a>,
}

/// What one thread judges on.
#[derive(Default)]
pub(crate) struct Desk<'a> {
    pub(crate) search: Option<Search<'a>>,
    pub(crate) lays: Vec<Lay>,
}

impl<'a> Judge<'a> {
    /// What one hydrant brings to a place, which is of that rank.
    pub(crate) fn arrival(&self, place: &Place, rank: usize) -> Arrival {
        let lays = || self.reach.of(rank).iter().filter(|lay| self.in_service(**lay));
        let alone = self.most::<1>(place, lays(), Working::Alone, None);
        let boosted = self.flows.pumped().then(|| {
            // What is best alone is mostly best with the pumper too: looked at first, it spares most of the others.
            self.most::<1>(place, lays(), Working::Best, alone.first().map(|found| found.lay))
        });
        let mut arrival = Arrival {
            need_gpm: place.need(),
            alone: alone.first().map(|found| self.told(found)),
            boosted: boosted.and_then(|most| most.first().map(|found| self.told(found))),
            ground_unknown: false,
        };
        arrival.ground_unknown = self.is_ground_unknown(place, arrival.hydrants());
        arrival
    }

    /// What one and two bring to it, and why that is or is not enough.
    pub(crate) fn outcome(&self, desk: &mut Desk<'a>, place: &Place, rank: usize) -> Outcome {
        let arrival = self.arrival(place, rank);
        let mut outcome = Outcome::new(&arrival, CauseCode::NoNeedGiven);
        if let Some(need) = outcome.need_gpm {
            outcome.cause = self.cause(desk, (place, rank), need, &mut outcome);
            outcome.shortfall_gpm = Some((need - outcome.low_gpm()).max(0.0));
            let two = outcome.combined.into_iter().flat_map(|two| two.hydrants);
            let told = two.chain(outcome.cause.names.map(|named| named.hydrant));
            outcome.ground_unknown = arrival.ground_unknown || self.is_ground_unknown(place, told);
        }
        outcome
    }

    /// Whether a place, which is of that rank, has what it needs with what the department has, one way or another.
    pub(crate) fn covers(&self, place: &Place, rank: usize) -> bool {
        let (Some(need), near) = (place.need(), self.reach.of(rank)) else { return false };
        let meets = |lay: &Lay| self.in_service(*lay) && self.line(place, *lay).is_some_and(|line| line.meets(need));
        let two = || self.best_two(place, &self.few(place, near, None), 0.0);
        near.iter().any(meets) || self.rule.combined && two().is_some_and(|two| two.arrives.low_gpm >= need)
    }

    fn told(&self, found: &Found) -> Best {
        Best { hydrant: found.lay.hydrant, lay_ft: self.rule.feet(found.lay.sections), arrives: found.arrives }
    }

    pub(crate) fn line(&self, place: &Place, lay: Lay) -> Option<Line<'_>> {
        self.flows.line(place, self.rule, lay)
    }

    /// Of these lays those that bring most at their low end, most first; of equals the nearer. `first` is looked at before the others.
    pub(crate) fn most<'l, const N: usize>(
        &self,
        place: &Place,
        lays: impl Iterator<Item = &'l Lay>,
        working: Working,
        first: Option<Lay>,
    ) -> Most<N> {
        let mut most = Most::default();
        for lay in first.into_iter().chain(lays.copied().filter(|lay| Some(*lay) != first)) {
            if let Some(line) = self.line(place, lay) {
                most.look(lay, &line, working);
            }
        }
        most
    }

    /// What was told, as it was found.
    pub(crate) fn found(&self, best: &Best) -> Found {
        let lay = Lay { sections: self.rule.sections(best.lay_ft), hydrant: best.hydrant };
        Found { lay, arrives: best.arrives }
    }

    /// How two hydrants are worked together.
    pub(crate) fn two_working(&self) -> Working {
        if self.rule.second_pumper && self.flows.pumped() { Working::Best } else { Working::Alone }
    }

    /// Those of which two may bring most together, of which the best by itself is known: the three that bring most by themselves, and where pumpers stand
    /// at both, the three whose mains give most besides, because what a pumper is rated at many bring alike.
    pub(crate) fn few(&self, place: &Place, lays: &[Lay], best: Option<Best>) -> Vec<Found> {
        let mut few: Vec<Found> = self.three(place, lays, best).iter().copied().collect();
        if self.two_working() == Working::Best {
            let in_service = lays.iter().filter(|lay| self.in_service(**lay));
            let mut mains: Vec<_> = in_service.filter_map(|lay| Some((*lay, self.line(place, *lay)?))).collect();
            mains.sort_by(|(_, a), (_, b)| b.main_low().total_cmp(&a.main_low()));
            for (lay, line) in mains.into_iter().take(3) {
                if few.iter().all(|found| found.lay != lay) {
                    few.push(Found { lay, arrives: line.arrives(Working::Best) });
                }
            }
        }
        few
    }

    fn three(&self, place: &Place, lays: &[Lay], best: Option<Best>) -> Most<3> {
        let mut most = Most::default();
        let working = self.two_working();
        let known = best.map(|best| self.found(&best));
        if let Some(found) = known {
            most.keep(found);
        }
        let known = known.map(|found| found.lay);
        for lay in lays.iter().filter(|lay| self.in_service(**lay) && Some(**lay) != known) {
            if let Some(line) = self.line(place, *lay) {
                most.look(*lay, &line, working);
            }
        }
        most
    }

    pub(crate) fn in_service(&self, lay: Lay) -> bool {
        self.flows.in_service(lay.hydrant)
    }

    /// The best two of these, where they bring more than `least`.
    pub(crate) fn best_two(&self, place: &Place, few: &[Found], least: f64) -> Option<BestTwo> {
        let second = |(i, one)| few[i + 1..].iter().filter_map(move |other| self.two(place, [one, other]));
        let mut twos: Vec<Two<'_>> = few.iter().enumerate().flat_map(second).collect();
        // What may bring most mostly does, and each step further is many times dearer.
        twos.sort_by(|a, b| b.most_gpm.total_cmp(&a.most_gpm));
        let mut best: Option<(BestTwo, f64)> = None;
        for two in &twos {
            let least = best.map_or(least, |(best, _)| best.arrives.low_gpm);
            if two.most_gpm < least {
                continue;
            }
            let promise = self.promise(two);
            if promise < least {
                continue;
            }
            let arrives = self.together(two);
            // Of equals that which promises more, and then that of those that bring more by themselves.
            let other = best.map_or((least, promise), |(best, promise)| (best.arrives.low_gpm, promise));
            let before = other < (arrives.low_gpm, promise);
            best = if before { Some((BestTwo { arrives, ..two.told }, promise)) } else { best };
        }
        best.map(|(best, _)| best)
    }

    /// The low end of two together is no more than this, gpm. With pumpers no figure is cheaper than the low end.
    fn promise(&self, two: &Two<'_>) -> f64 {
        match self.two_working() {
            Working::Alone => two.sure * self.flows.many.together_alone_gpm(two.lines(), two.told.shared_main),
            Working::Best => two.most_gpm,
        }
    }

    fn together(&self, two: &Two<'_>) -> Arrives {
        match self.two_working() {
            Working::Alone => self.flows.many.together_alone(two.lines(), two.told.shared_main),
            Working::Best => self.flows.many.together(two.lines(), two.told.shared_main).best(),
        }
    }

    /// Two together, by what costs nothing.
    fn two(&self, place: &Place, found: [&Found; 2]) -> Option<Two<'_>> {
        let [a, b] = [self.line(place, found[0].lay)?, self.line(place, found[1].lay)?];
        let hydrants = found.map(|found| found.lay.hydrant);
        let mains = hydrants.map(|hydrant| self.flows.hydrants[hydrant as usize].main);
        let shared_main = mains[0].is_none() || mains[1].is_none() || mains[0] == mains[1];
        let told = BestTwo { hydrants, lays_ft: [a.feet, b.feet], shared_main, arrives: Arrives::default() };
        // Together they are no surer than the less sure of the two, and on one main bring no more than it gives, or the stronger by itself.
        let sure = found.iter().map(|found| found.sure()).fold(1.0, f64::min);
        let alone = found.map(|found| found.arrives.gpm);
        let by_main = a.main_gpm().min(b.main_gpm()).max(alone[0]).max(alone[1]);
        let together = alone[0] + alone[1];
        let most_gpm = sure * OVER * if shared_main { together.min(by_main) } else { together };
        Some(Two { told, lines: [a, b], sure, most_gpm })
    }

    fn is_ground_unknown(&self, place: &Place, mut hydrants: impl Iterator<Item = u32>) -> bool {
        place.ground().is_none() || hydrants.any(|hydrant| !self.flows.is_ground_known(place, hydrant))
    }
}

/// More than the tables of figures are off.
const OVER: f64 = 1.0 + 2e-6;

/// Two hydrants, before what they bring together is worked.
struct Two<'f> {
    told: BestTwo,
    lines: [Line<'f>; 2],
    /// Of the figure the low end is no more than this share.
    sure: f64,
    /// The low end is no more than this, gpm.
    most_gpm: f64,
}

impl<'f> Two<'f> {
    fn lines(&self) -> [(&'f Ready, f64, f64); 2] {
        self.lines.map(|line| (line.ready, line.feet, line.rise_ft))
    }
}
