//! The answer: what all lines bring, what each brings of it, what holds them, and what the gauges read.

use alloc::vec::Vec;

use crate::band::Band;
use crate::caution::Caution;
use crate::finding::Finding;
use crate::formula::Formula;
use crate::lay::answer::LayAnswer;
use crate::lay::combined::feed::Feed;
use crate::lay::combined::problem::{CheckedLine, Combined, Mains};
use crate::lay::combined::reading::{HydrantMain, LineReading, State};
use crate::lay::combined::solve::{Share, Solved, solve};
use crate::lay::diagnosis::Diagnosis;
use crate::lay::limits::LimitFlow;
use crate::quantity::PositiveFlow;

/// One line's part in the supply.
#[derive(Debug, Clone, PartialEq)]
pub struct LineSupply {
    /// The hydrant it leaves.
    pub hydrant: usize,
    /// Whether it is open; shut where all lines bring less with it than without.
    pub open: bool,
    /// What holds it.
    pub limited_by: LimitFlow,
    /// Its flow and its gauges with all lines flowing.
    pub reading: LineReading,
    /// What it would bring if it were the only one, gpm.
    pub alone_gpm: f64,
    /// What all bring with it over what they bring without it, gpm.
    pub adds_gpm: f64,
    /// What is weak about its data.
    pub findings: Vec<Finding>,
}

/// The supply at the flow wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct CombinedAtTarget {
    /// Whether it arrives.
    pub met: bool,
    /// Whether it arrives at the low end of the band too.
    pub met_at_low_end: bool,
    /// How much is missing, gpm.
    pub shortfall_gpm: f64,
    /// The lines then, each carrying its share as of the total; empty where it does not arrive.
    pub lines: Vec<LineReading>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct CombinedAnswer {
    /// The most that arrives over all lines, gpm.
    pub total_gpm: f64,
    /// How sure that is; its low end is what to plan on.
    pub total_band: Band,
    /// The same if every hydrant stood on a main of its own, gpm: the upper end where the mains are not known.
    pub upper_gpm: Option<f64>,
    /// The most that arrives over the best line by itself, gpm.
    pub best_single_gpm: f64,
    /// What all lines bring over the best one by itself, gpm.
    pub gain_gpm: f64,
    /// What the mains give at their floors, gpm, for the lines that are open.
    pub main_limit_gpm: f64,
    /// How sure that is.
    pub main_band: Band,
    /// Line by line.
    pub lines: Vec<LineSupply>,
    /// The main at each hydrant.
    pub mains: Vec<HydrantMain>,
    /// Is it friction or is it water.
    pub diagnosis: Diagnosis,
    /// The supply at the flow wanted, if one is.
    pub at_target: Option<CombinedAtTarget>,
    /// What is weak about the whole; what is weak about a line stands with it.
    pub findings: Vec<Finding>,
    /// What the people must know.
    pub cautions: Vec<Caution>,
    /// The formulas used.
    pub basis: Vec<&'static Formula>,
}

impl Combined {
    /// Answers the question.
    ///
    /// # Formula
    /// The largest T with `T = Σ Qi`, each Qi the most its own limits let through with `Pi(T) - k (Qh/100)²` at its hydrant's outlet, Qh that
    /// hydrant's total, and `Pi(T) >= main floor` for every line that is open. With mains of their own, T of each hydrant by itself. A line with
    /// which all bring less than without it is shut.
    /// # Units
    /// gpm, psi.
    /// # Range
    /// Steady flow in filled lines. On one main every hydrant is counted as falling with the total as its test fell with its own flow: the farther
    /// the hydrants stand from each other, the more they bring over this. What is not known to be two mains is counted as one.
    /// # Source
    /// Continuity and the formulas of the parts; `kolb-fpt102` for the main.
    pub fn answer(&self) -> CombinedAnswer {
        let alone: Vec<LayAnswer> = self.lines.iter().map(|line| line.lay.answer()).collect();
        let solved = self.solved(None, self.mains != Mains::Separate);
        let upper_gpm = (self.mains == Mains::Unknown).then(|| self.solved(None, false).total_gpm);
        let bands = self.bands(&solved, &alone);
        let state = State::new(self, &solved.shares, 1.0);
        let best_single_gpm = alone.iter().map(|alone| alone.answer().deliverable_gpm).fold(0.0, f64::max);
        let lines = self.line_supplies(&alone, &solved, state.lines());
        let mut answer = CombinedAnswer {
            total_gpm: solved.total_gpm,
            upper_gpm: upper_gpm.map(|upper| upper.max(solved.total_gpm)),
            best_single_gpm,
            gain_gpm: (solved.total_gpm - best_single_gpm).max(0.0),
            main_limit_gpm: solved.main_gpm,
            mains: state.mains(),
            diagnosis: self.diagnosis(&solved, &bands),
            at_target: self.target.map(|target| self.at_target(&solved, &bands.total, target)),
            total_band: bands.total,
            main_band: bands.main,
            findings: Vec::new(),
            cautions: self.cautions(&alone, &solved),
            basis: Self::basis(&alone),
            lines,
        };
        answer.findings = self.findings(&answer);
        answer
    }

    /// All lines together, or all but one.
    pub(super) fn solved(&self, without: Option<usize>, shared: bool) -> Solved {
        let lines = self.lines.iter().enumerate().filter(|(i, _)| Some(*i) != without);
        let feeds: Vec<Feed<'_>> = lines.map(|(_, line)| line.feed()).collect();
        solve(&feeds, shared)
    }

    fn line_supplies(&self, alone: &[LayAnswer], solved: &Solved, readings: Vec<LineReading>) -> Vec<LineSupply> {
        let shared = self.mains != Mains::Separate;
        let supply = |(i, reading): (usize, LineReading)| {
            let Share { open, limit, .. } = solved.shares[i];
            LineSupply {
                hydrant: self.lines[i].hydrant,
                open,
                limited_by: limit,
                reading,
                alone_gpm: alone[i].answer().deliverable_gpm,
                adds_gpm: (solved.total_gpm - self.solved(Some(i), shared).total_gpm).max(0.0),
                findings: CheckedLine::findings(&alone[i], open),
            }
        };
        readings.into_iter().enumerate().map(supply).collect()
    }

    fn at_target(&self, solved: &Solved, band: &Band, target: PositiveFlow) -> CombinedAtTarget {
        let target = target.gpm();
        let met = solved.total_gpm >= target;
        let lines = if met { State::new(self, &solved.shares, target / solved.total_gpm).lines() } else { Vec::new() };
        let met_at_low_end = met && band.low >= target;
        CombinedAtTarget { met, met_at_low_end, shortfall_gpm: (target - solved.total_gpm).max(0.0), lines }
    }
}
