//! What goes with the answer: the diagnosis, what is weak, what the people must know, the formulas.

use alloc::vec::Vec;

use crate::caution::{ALWAYS, Caution};
use crate::finding::{Finding, FindingCode};
use crate::formula::{self, Formula};
use crate::lay::advice::EVERY_LAY;
use crate::lay::answer::{LayAnswer, in_doubt};
use crate::lay::combined::answer::CombinedAnswer;
use crate::lay::combined::problem::{CheckedLine, Combined, Mains};
use crate::lay::combined::solve::Solved;
use crate::lay::combined::sure::Bands;
use crate::lay::diagnosis::{Diagnosis, Flows, worth_it};
use crate::lay::limits::Limit;
use crate::lay::planned::Subject;
use crate::quantity::PositiveFlow;

impl Combined {
    /// Of the lines that the main does not hold, the one on the hydrant alone says why no more arrives, for it is helped most easily; else the
    /// first.
    pub(super) fn diagnosis(&self, solved: &Solved, bands: &Bands) -> Diagnosis {
        let open = || (0..self.lines.len()).filter(|&i| solved.shares[i].open);
        let limit = |i: usize| solved.shares[i].limit.limit;
        let by_friction = open().find(|&i| limit(i) == Limit::SceneIntake);
        let telling = by_friction.or_else(|| open().find(|&i| limit(i) != Limit::MainFloor));
        let working = telling.map(|i| (i, solved.shares[i].pumped));
        let pumps = telling.is_some_and(|i| self.lines[i].lay.pumped.is_some());
        let too_high = working.is_some_and(|(i, pumped)| {
            let feed = self.lines[i].feed();
            feed.working(pumped, feed.curve.static_psi()).too_high()
        });
        let flows = Flows {
            alone_gpm: solved.total_gpm,
            boosted: Some((solved.total_gpm, telling.map_or(Limit::MainFloor, limit))),
            main_gpm: solved.main_gpm,
            target_gpm: self.target.map(PositiveFlow::gpm),
            too_high,
            pumper_is_no_help: pumps && by_friction.is_some(),
            no_drop: solved.unproved,
            hose_before_pumper: working.is_some_and(|(i, pumped)| {
                let feed = self.lines[i].feed();
                pumped && feed.working(pumped, 0.0).line.lays_before_pumper()
            }),
            main_band: &bands.main,
        };
        let subject = if self.lines.len() == 1 { Subject::Line } else { Subject::Lines };
        flows.of(solved.total_gpm, &bands.total, subject)
    }

    pub(super) fn findings(&self, answer: &CombinedAnswer) -> Vec<Finding> {
        let unknown = self.mains == Mains::Unknown && self.lines.iter().any(|l| l.hydrant != self.lines[0].hydrant);
        let little = self.lines.len() > 1 && !worth_it(answer.best_single_gpm, answer.total_gpm);
        let found = [
            unknown.then(|| Finding::plain(FindingCode::MainNotKnown)),
            little.then(|| Finding::new(FindingCode::SecondLineAddsLittle, answer.gain_gpm)),
        ];
        let target = self.target.map(PositiveFlow::gpm);
        let doubts = target.into_iter().flat_map(|target| in_doubt(target, &answer.total_band, &answer.main_band));
        found.into_iter().flatten().chain(doubts).collect()
    }

    /// What is special to the lines first, each once; what goes with every lay last.
    pub(super) fn cautions(&self, alone: &[LayAnswer], solved: &Solved) -> Vec<Caution> {
        let at_floor = solved.shares.iter().any(|share| share.open && share.limit.limit == Limit::MainFloor);
        let own = [
            (Caution::MainFloor, at_floor),
            (Caution::SharedMain, self.lines.len() > 1 && self.mains != Mains::Separate),
        ];
        let own = own.into_iter().filter_map(|(caution, applies)| applies.then_some(caution));
        let of_lines = alone.iter().flat_map(|alone| alone.cautions.iter().copied());
        let common = || ALWAYS.into_iter().chain(EVERY_LAY);
        let special = own.chain(of_lines).filter(|caution| common().all(|other| other != *caution));
        unique(special.chain(common()))
    }

    pub(super) fn basis(alone: &[LayAnswer]) -> Vec<&'static Formula> {
        let of_lines = alone.iter().flat_map(|alone| alone.basis.iter().copied());
        // Not asked of the lines together.
        let asked = of_lines.filter(|formula| **formula != formula::LINE_FILL);
        unique(asked.chain([&formula::COMBINED_SUPPLY]))
    }
}

fn unique<T: PartialEq>(items: impl Iterator<Item = T>) -> Vec<T> {
    let mut seen = Vec::new();
    for item in items {
        if !seen.contains(&item) {
            seen.push(item);
        }
    }
    seen
}

impl CheckedLine {
    /// What the line's own lay says against its data, and whether it is left shut.
    pub(super) fn findings(alone: &LayAnswer, open: bool) -> Vec<Finding> {
        let mut found = alone.findings.clone();
        found.extend((!open).then(|| Finding::plain(FindingCode::LineLeftShut)));
        found
    }
}
