//! The question: the lines, the hydrants they leave, and whether those hydrants share a main.

use alloc::vec::Vec;

use thiserror::Error;

use crate::lay::combined::feed::Feed;
use crate::lay::compile::{Lay, LayError};
use crate::lay::parts::{LayProblem, Source};
use crate::quantity::{ApplianceCoefficient, PositiveFlow};

/// Most lines that feed one scene.
pub const MAX_SUPPLY_LINES: usize = 8;

/// One line to the scene.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyLine {
    /// The hydrant it leaves: lines of the same number leave the same one.
    pub hydrant: usize,
    /// Its source and its lay. What is asked of the lay beyond its flow is not asked here: target, fill and tank are not looked at.
    pub problem: LayProblem,
}

/// Whether the hydrants stand on one main. Lines of one hydrant always do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mains {
    /// All on one.
    Shared,
    /// Each on its own.
    Separate,
    /// Not known: counted as one, and told what it would be if it were not.
    Unknown,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct CombinedProblem {
    /// The lines, from 1 to [`MAX_SUPPLY_LINES`].
    pub lines: Vec<SupplyLine>,
    /// The mains.
    pub mains: Mains,
    /// The flow wanted of all of them together.
    pub target: Option<PositiveFlow>,
}

/// Lines that make no supply. Indices count the lines from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum CombinedError {
    /// None, or more than [`MAX_SUPPLY_LINES`].
    #[error("a scene is fed by 1 to {MAX_SUPPLY_LINES} lines")]
    LineCount,
    /// A line whose parts are no lay.
    #[error("line {line}: {error}")]
    Lay {
        /// The line.
        line: usize,
        /// What is wrong with it.
        error: LayError,
    },
    /// A line that says another thing of its hydrant than the first line of the same.
    #[error("line {0}: lines of one hydrant have one source")]
    SourceDiffers(usize),
}

/// A checked problem, ready to be answered.
#[derive(Debug, Clone)]
pub struct Combined {
    pub(super) lines: Vec<CheckedLine>,
    pub(super) mains: Mains,
    pub(super) target: Option<PositiveFlow>,
}

#[derive(Debug, Clone)]
pub(super) struct CheckedLine {
    pub(super) hydrant: usize,
    /// The line by itself.
    pub(super) lay: Lay,
    /// The same from the hydrant's outlet on: what the hydrant's body takes depends on all of its lines.
    pub(super) from_outlet: Lay,
}

impl Combined {
    /// Checks a problem.
    ///
    /// # Errors
    /// No lines or too many, a line that is no lay, or one hydrant with two sources.
    pub fn new(problem: CombinedProblem) -> Result<Self, CombinedError> {
        if !(1..=MAX_SUPPLY_LINES).contains(&problem.lines.len()) {
            return Err(CombinedError::LineCount);
        }
        let first_of = |hydrant| problem.lines.iter().find(|line| line.hydrant == hydrant);
        for (i, line) in problem.lines.iter().enumerate() {
            if first_of(line.hydrant).is_some_and(|first| first.problem.source != line.problem.source) {
                return Err(CombinedError::SourceDiffers(i));
            }
        }
        let check = |(i, line)| checked(line).map_err(|error| CombinedError::Lay { line: i, error });
        let lines = problem.lines.into_iter().enumerate().map(check).collect::<Result<_, _>>()?;
        Ok(Self { lines, mains: problem.mains, target: problem.target })
    }
}

pub(super) fn checked(line: SupplyLine) -> Result<CheckedLine, LayError> {
    let own = LayProblem { target: None, fill_flow: None, tank: None, ..line.problem };
    let bare = Source { body_loss: None, ..own.source };
    let from_outlet = Lay::new(LayProblem { source: bare, ..own.clone() })?;
    Ok(CheckedLine { hydrant: line.hydrant, lay: Lay::new(own)?, from_outlet })
}

impl CheckedLine {
    pub(super) fn feed(&self) -> Feed<'_> {
        let problem = &self.lay.problem;
        Feed {
            hydrant: self.hydrant,
            curve: problem.source.curve,
            body: problem.source.body_loss.map_or(0.0, ApplianceCoefficient::psi_per_100gpm2),
            main_floor_psi: problem.main_floor.psi(),
            lay: &self.from_outlet,
            from_main: &self.lay,
        }
    }
}
