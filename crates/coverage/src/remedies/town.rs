//! The town with the changes taken so far, and what could be taken next.

use std::cmp::Ordering;

use crate::flows::Flows;
use crate::number::index;
use crate::outcome::Outcome;
use crate::records::Hydrant;
use crate::remedies::candidates::{Candidates, Field};
use crate::remedies::change::Change;
use crate::remedies::find::{Considered, Question};
use crate::remedies::lenders::Lenders;
use crate::remedies::open::{Brief, Open};
use crate::remedies::plan::Plan;
use crate::run::{NoRun, Served};
use crate::threads::{Cancelled, Progress};

pub(crate) struct Town<'q> {
    pub(crate) question: &'q Question<'q>,
    pub(crate) progress: &'q Progress,
    pub(crate) plan: Plan,
    /// The plan before the change that is tried.
    before: Plan,
    pub(crate) served: Served<'q>,
    /// Sections carried before any change.
    pub(crate) carried_at_first: u32,
    lenders: Lenders<'q>,
    /// What hydrants could be had under this lay; none until they are counted.
    candidates: Option<Candidates>,
    pub(crate) given_back: Vec<Change>,
}

impl<'q> Town<'q> {
    pub(crate) fn new(question: &'q Question<'q>, served: Served<'q>, progress: &'q Progress) -> Self {
        let plan = Plan {
            rule: served.rule,
            hydrants: question.hydrants.to_vec(),
            lay: Vec::new(),
            many: question.many.clone(),
            worked: Vec::new(),
        };
        Self {
            question,
            progress,
            before: plan.clone(),
            carried_at_first: served.rule.carried(),
            served,
            plan,
            lenders: Lenders::new(question.hydrants),
            candidates: None,
            given_back: Vec::new(),
        }
    }

    /// Every lay and length that closes a gap and the best hydrant of each kind, what closes most for each change first; work on mains only where nothing else closes any.
    pub(crate) fn considered(&mut self, outcomes: &[Brief]) -> Result<Vec<Considered>, NoRun> {
        let open = Open::new(&self.served, outcomes);
        let mut considered = self.of_all(&open)?;
        considered.extend(self.of_hydrants(&open)?);
        considered.retain(|other| !self.given_back.contains(&other.change));
        considered.sort_by(better);
        if considered.is_empty() {
            considered.extend(self.of_mains(outcomes, &open)?);
        }
        for other in &mut considered {
            other.like_ft = self.like_ft(&other.change);
        }
        Ok(considered)
    }

    fn of_hydrants(&mut self, open: &Open) -> Result<Vec<Considered>, Cancelled> {
        let (threads, progress) = (self.question.threads, self.progress);
        let counted = self.candidates.take();
        let field = Field {
            served: &self.served,
            open,
            rule: &self.plan.rule,
            own: self.flows(self.question.hydrants)?,
            lent: self.flows(&self.lenders.lent)?,
        };
        let mut candidates = match counted {
            Some(candidates) => candidates,
            None => Candidates::new(&field, &self.plan, &self.lenders, threads, progress)?,
        };
        let best = candidates.best(&field, progress)?;
        self.candidates = Some(candidates);
        Ok(best.into_iter().map(|(change, closes)| Considered { change, changes: 1, closes, like_ft: None }).collect())
    }

    /// What hydrants give under the lay, wherever they stand.
    fn flows<'a>(&'a self, hydrants: &'a [Hydrant]) -> Result<Flows<'a>, Cancelled> {
        let order: Vec<u32> = (0..hydrants.len()).map(index).collect();
        Flows::new(&self.plan.many, self.question.places, hydrants, &order, self.question.threads, self.progress)
    }

    /// The town judged with one more change.
    pub(crate) fn take(&mut self, change: Change) -> Result<Vec<Outcome>, NoRun> {
        self.before = self.plan.clone();
        let many = match change {
            Change::Lay(lay) => self.question.lays.with(&self.plan.lay_with(lay)),
            _ => None,
        };
        self.plan.take(change, &self.lenders, many);
        self.serve(&change)?;
        self.served.judge(&self.plan.many, &self.plan.hydrants, self.question.threads, self.progress)
    }

    /// The change stays. Where it `opened` gaps, what hydrants close is counted anew.
    pub(crate) fn keep(&mut self, change: Change, opened: bool) {
        let of_hydrants =
            matches!(change, Change::BackInService { .. } | Change::Test { .. } | Change::NewHydrant { .. });
        if let Some(candidates) = self.candidates.as_mut().filter(|_| of_hydrants && !opened) {
            candidates.take(change);
        } else {
            self.candidates = None;
            // What closed nothing may close something now.
            self.given_back.clear();
        }
    }

    /// The change closes no gap after all: it is taken back, and offered no more.
    pub(crate) fn give_back(&mut self, change: Change) -> Result<(), NoRun> {
        if let Some(candidates) = &mut self.candidates {
            candidates.take(change);
        }
        self.given_back.push(change);
        self.plan = self.before.clone();
        self.serve(&change)
    }

    /// Finds anew who serves whom, where a change bears on it.
    fn serve(&mut self, change: &Change) -> Result<(), NoRun> {
        match change {
            Change::NewHydrant { .. } | Change::MoreHose { .. } => {
                self.served = served(self.question, &self.plan, self.progress)?;
            }
            _ => self.served.rule = self.plan.rule,
        }
        Ok(())
    }

    /// How far the hydrant is by whose test another is reckoned, ft.
    fn like_ft(&self, change: &Change) -> Option<f64> {
        let (at, like) = match *change {
            Change::BackInService { hydrant, like } => (self.at(hydrant), like?),
            Change::Test { hydrant, like } => (self.at(hydrant), like),
            Change::NewHydrant { at, like } => (at, like),
            _ => return None,
        };
        Some(self.lenders.distance_ft(at, like))
    }

    fn at(&self, hydrant: u32) -> [f64; 2] {
        let hydrant = &self.plan.hydrants[hydrant as usize];
        [hydrant.x, hydrant.y]
    }
}

fn served<'q>(question: &'q Question<'q>, plan: &Plan, progress: &Progress) -> Result<Served<'q>, NoRun> {
    Served::new(question.streets, question.places, &plan.hydrants, plan.rule, question.threads, progress)
}

/// What closes more for each change comes first; of equals the cheaper kind.
fn better(a: &Considered, b: &Considered) -> Ordering {
    let share = |one: &Considered, other: &Considered| u64::from(one.closes) * u64::from(other.changes);
    let by_change = || a.change.partial_cmp(&b.change).unwrap_or(Ordering::Equal);
    share(b, a).cmp(&share(a, b)).then(a.changes.cmp(&b.changes)).then_with(by_change)
}
