//! One change after another, each the one that closes most for what it takes.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use longlay_hydraulics::lay::many::ManyLays;

use crate::cause::CauseCode;
use crate::outcome::Outcome;
use crate::records::{Hydrant, Place};
use crate::remedies::change::Change;
use crate::remedies::open::Brief;
use crate::remedies::plan::Lays;
use crate::remedies::town::Town;
use crate::run::{NoRun, Served};
use crate::streets::Streets;
use crate::summary::Summary;
use crate::threads::{Phase, Progress};

/// Changes that are tried for each one wanted: one that closes no more than it uncovers is given back, and costs as much as one that stays.
const TRIES: usize = 4;

/// What remedies are sought for: a town as a run judged it. How hose is counted comes with what the run found served.
pub struct Question<'a> {
    /// The streets.
    pub streets: &'a Streets,
    /// The places.
    pub places: &'a [Place],
    /// The hydrants.
    pub hydrants: &'a [Hydrant],
    /// The lay.
    pub many: &'a ManyLays,
    /// The lays that could be changed to.
    pub lays: &'a dyn Lays,
    /// Steps to take at the most.
    pub most: usize,
    /// Threads to work on.
    pub threads: usize,
}

/// A change that was looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Considered {
    /// What is changed.
    pub change: Change,
    /// As how many changes it counts.
    pub changes: u32,
    /// How many gaps it was counted to close.
    pub closes: u32,
    /// How far the hydrant is by whose test another is reckoned, ft.
    pub like_ft: Option<f64>,
}

/// A change that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What is changed.
    pub change: Change,
    /// As how many changes it counts.
    pub changes: u32,
    /// What was looked at, this one first and then those that close most for each change: every lay and length, and the best hydrant of each kind.
    pub considered: Vec<Considered>,
    /// Whether what it closes rests on a test that was not made there, by this change or by one before it.
    pub is_assumed: bool,
    /// The town after it.
    pub after: Summary,
    /// The places whose gap it closed.
    pub closed: Vec<u32>,
    /// The places that had what they need, and have it no more.
    pub opened: Vec<u32>,
}

/// Changes one after another.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedies {
    /// The town before any.
    pub before: Summary,
    /// The changes, each over the town with those before it.
    pub steps: Vec<Step>,
    /// Whether nothing more was found, rather than that no more was asked for.
    pub is_all: bool,
    /// The hydrants that gaps are left for the want of a test of, and how many gaps, most first: of what they give nothing can be said.
    pub to_test: Vec<(u32, u32)>,
}

impl Remedies {
    /// Looks for them, from what a run over the same town found served and came to.
    ///
    /// # Errors
    /// As those of a run.
    pub fn find<'q>(
        question: &'q Question<'q>,
        served: Served<'q>,
        outcomes: &[Outcome],
        progress: &Progress,
    ) -> Result<Self, NoRun> {
        progress.begin(Phase::Remedies, question.most);
        let quiet = progress.within();
        let mut found = Self { before: Summary::of(outcomes), steps: Vec::new(), is_all: false, to_test: Vec::new() };
        let mut briefs: Vec<Brief> = outcomes.iter().map(Brief::from).collect();
        let mut town = Town::new(question, served, &quiet);
        let mut tries = question.most.saturating_mul(TRIES);
        while found.steps.len() < question.most && tries > 0 {
            tries -= 1;
            let considered = town.considered(&briefs)?;
            let Some(Considered { change, changes, .. }) = considered.first().copied() else {
                found.is_all = true;
                break;
            };
            let outcomes = town.take(change)?;
            let after: Vec<Brief> = outcomes.iter().map(Brief::from).collect();
            let (closed, opened) = (closed(&briefs, &after), closed(&after, &briefs));
            let rests = |place: &u32| rests_on_borrowed(&outcomes[*place as usize], &town.plan.hydrants);
            let is_assumed = change.is_assumed() || closed.iter().any(rests);
            if closed.len() <= opened.len() {
                town.give_back(change)?;
                continue;
            }
            town.keep(change, !opened.is_empty());
            briefs = after;
            let after = Summary::of(&outcomes);
            found.steps.push(Step { change, changes, considered, is_assumed, after, closed, opened });
            progress.one_more();
        }
        found.to_test = to_test(&briefs);
        Ok(found)
    }
}

/// Where the cause is that nobody tested the hydrant.
fn to_test(outcomes: &[Brief]) -> Vec<(u32, u32)> {
    let mut counts = BTreeMap::<u32, u32>::new();
    for brief in outcomes.iter().filter(|brief| brief.code == CauseCode::Untested) {
        if let Some(hydrant) = brief.hydrant {
            *counts.entry(hydrant).or_default() += 1;
        }
    }
    let mut counts: Vec<_> = counts.into_iter().collect();
    counts.sort_by_key(|(hydrant, gaps)| (Reverse(*gaps), *hydrant));
    counts
}

/// Whether what covers a place stands on another hydrant's test.
fn rests_on_borrowed(outcome: &Outcome, hydrants: &[Hydrant]) -> bool {
    let two = outcome.combined.filter(|_| outcome.cause.code == CauseCode::CoveredIfCombined);
    let one = outcome.cause.names.map(|named| named.hydrant);
    let mut all = two.into_iter().flat_map(|two| two.hydrants).chain(one);
    all.any(|hydrant| hydrants[hydrant as usize].borrowed)
}

/// The places that were a gap and are covered then.
fn closed(before: &[Brief], after: &[Brief]) -> Vec<u32> {
    let pairs = before.iter().zip(after).zip(0_u32..);
    pairs
        .filter(|((before, after), _)| before.code.is_gap() && after.code.is_covered())
        .map(|(_, place)| place)
        .collect()
}
