//! What is changed for the whole town at once: the lay, the pumpers, the hose carried.

use longlay_hydraulics::lay::many::ManyLays;

use crate::flows::Flows;
use crate::judge::{Desk, Judge};
use crate::number::index;
use crate::remedies::change::{Change, LayKind};
use crate::remedies::find::Considered;
use crate::remedies::open::Open;
use crate::remedies::town::Town;
use crate::rule::{MOST_HOSE_FT, Rule};
use crate::threads::{Cancelled, in_chunks};

/// Places that one thread looks at at a time.
const CHUNK: usize = 256;
/// More hose is offered by as many steps, each of a quarter of the hose that is carried at first, in whole sections and one at the least.
const HOSE_STEPS: [u32; 4] = [1, 2, 4, 8];
/// How many steps are as much again as is carried.
const STEPS_OF_ALL: u32 = 4;

impl Town<'_> {
    /// Every change of that kind that closes a gap, and how many.
    pub(crate) fn of_all(&self, open: &Open) -> Result<Vec<Considered>, Cancelled> {
        let lays = self.question.lays;
        let mut considered = Vec::new();
        let mut add = |change, changes, closes| {
            if closes > 0 {
                considered.push(Considered { change, changes, closes, like_ft: None });
            }
        };
        for offer in lays.offers() {
            let again = offer.kind == LayKind::SecondLine && self.plan.lay.iter().any(|taken| taken.kind == offer.kind);
            let many = (!again && !self.plan.lay.contains(offer)).then(|| lays.with(&self.plan.lay_with(*offer)));
            if let Some(many) = many.flatten() {
                add(Change::Lay(*offer), 1, self.covered(&many, &self.plan.rule, open)?);
            }
        }
        if self.plan.rule.combined && !self.plan.rule.second_pumper && self.plan.many.capacity_gpm().is_some() {
            let rule = Rule { second_pumper: true, ..self.plan.rule };
            add(Change::SecondPumper, 1, self.covered(&self.plan.many, &rule, open)?);
        }
        for (change, changes, closes) in self.more_hose(open)? {
            add(change, changes, closes);
        }
        Ok(considered)
    }

    /// How many gaps another lay would close.
    fn covered(&self, many: &ManyLays, rule: &Rule, open: &Open) -> Result<u32, Cancelled> {
        let (served, threads, progress) = (&self.served, self.question.threads, self.progress);
        let order = served.ways.hydrants();
        let flows = Flows::new(many, served.places, &self.plan.hydrants, &order, threads, progress)?;
        let judge = Judge { ways: &served.ways, reach: &served.reach, rule, flows: &flows };
        let counts = in_chunks(
            open.ranks.len(),
            CHUNK,
            threads,
            progress,
            || (),
            |(), range| {
                open.ranks[range].iter().filter(|rank| judge.covers(served.place(**rank), **rank as usize)).count()
            },
        )?;
        Ok(index(counts.into_iter().sum()))
    }

    /// How many gaps one hydrant would close with so much more hose. A step counts as a change.
    fn more_hose(&self, open: &Open) -> Result<Vec<(Change, u32, u32)>, Cancelled> {
        let (served, threads, progress) = (&self.served, self.question.threads, self.progress);
        let rule = &self.plan.rule;
        let step = (self.carried_at_first / STEPS_OF_ALL).max(1);
        let sections = |steps: u32| rule.carried().saturating_add(steps.saturating_mul(step));
        let most = HOSE_STEPS.into_iter().map(sections).max().unwrap_or(0).min(rule.searched());
        let order = served.ways.hydrants();
        let flows = Flows::new(&self.plan.many, served.places, &self.plan.hydrants, &order, threads, progress)?;
        let judge = Judge { ways: &served.ways, reach: &served.reach, rule, flows: &flows };
        let found = in_chunks(open.ranks.len(), CHUNK, threads, progress, Desk::default, |desk, range| {
            let enough = |rank: &u32| judge.sections_enough(desk, served.place(*rank), *rank as usize, most);
            open.ranks[range].iter().filter_map(enough).collect::<Vec<_>>()
        })?;
        let closes = |steps: u32| {
            let enough = sections(steps);
            index(found.iter().flatten().filter(|sections| **sections <= enough).count())
        };
        let told = |steps: u32| (Change::MoreHose { hose_ft: rule.feet(sections(steps)) }, steps, closes(steps));
        let can_be = |steps: &u32| rule.feet(sections(*steps)) <= MOST_HOSE_FT;
        Ok(HOSE_STEPS.into_iter().filter(can_be).map(told).collect())
    }
}
