//! From parts to a line the solver can walk: sections between pumpers, each with its losses, its rise and its pressure ceiling.

use alloc::vec::Vec;

use thiserror::Error;

use crate::lay::budget::PartRef;
use crate::lay::build::build;
use crate::lay::parallel::SteppedGroup;
use crate::lay::parts::{Branch, BranchPart, LayProblem, MAX_BRANCHES, MAX_PARTS, Part};
use crate::loss::{HydrantValve, PSI_PER_FOOT, squared_psi};
use crate::pumper::Pumper;

/// Parts that make no lay. Indices count the parts from 0, hydrant to scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LayError {
    /// There is no part at all.
    #[error("a lay needs at least one part")]
    Empty,
    /// More than [`MAX_PARTS`].
    #[error("a lay has at most {MAX_PARTS} parts")]
    TooManyParts,
    /// A second hydrant valve.
    #[error("part {0}: a lay has at most one hydrant valve")]
    SecondValve(usize),
    /// `boost` given and a pumper written into the lay.
    #[error("part {0}: a pumper is written into the lay, so `boost` says nothing")]
    BoostBesidePumper(usize),
    /// `rise` given and a rise written into the lay.
    #[error("part {0}: a rise is written into the lay: give it once")]
    RiseBesideRisePart(usize),
    /// One branch, or more than [`MAX_BRANCHES`].
    #[error("part {0}: lines side by side are from 2 to {MAX_BRANCHES} branches")]
    BranchCount(usize),
    /// A branch of more than [`MAX_PARTS`].
    #[error("part {0}: a branch has at most {MAX_PARTS} parts")]
    TooManyBranchParts(usize),
    /// A branch that holds no hose.
    #[error("part {part}, branch {branch}: a branch needs hose")]
    BranchWithoutHose {
        /// The part.
        part: usize,
        /// The branch in it.
        branch: usize,
    },
    /// A lay that is asked for many lengths holds no hose that could be stretched.
    #[error("a lay for many lengths needs a supply hose, not in branches and not beside a valve")]
    NothingToStretch,
    /// A lay that is asked for many lengths holds a second hose that could be stretched.
    #[error("part {0}: a lay for many lengths has one supply hose: which is to be stretched?")]
    SecondToStretch(usize),
}

/// A checked problem, ready to be answered.
#[derive(Debug, Clone)]
pub struct Lay {
    pub(super) problem: LayProblem,
    /// Without any pumper.
    pub(super) alone: Line,
    /// With the pumpers, if there are any.
    pub(super) pumped: Option<Line>,
}

/// One way of working the lay: the sections between its pumpers. `sections[0]` begins at the main, `sections[i]` at `pumpers[i - 1]`.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) sections: Vec<Section>,
    pub(super) pumpers: Vec<Pumper>,
    /// Where each pumper is written in the lay; none for one that boosts.
    pub(super) pumper_parts: Vec<Option<usize>>,
}

/// The stretch from the main or a pumper to the next pumper or the scene.
#[derive(Debug, Clone, Default)]
pub(super) struct Section {
    pub(super) elements: Vec<Element>,
    /// All squared losses together, psi per (100 gpm)².
    pub(super) squared: f64,
    pub(super) rise_psi: f64,
    /// The most its start may be pressed to with nozzles shut, by the markings of its hose and appliances, psi.
    pub(super) marking_psi: Option<f64>,
    /// Whether some hose in it bears no marking.
    pub(super) unmarked_hose: bool,
    /// Whether something in it steps, so that its losses are not squared only.
    pub(super) stepped: bool,
}

/// One thing passed on the way.
#[derive(Debug, Clone)]
pub(super) struct Element {
    pub(super) part: PartRef,
    pub(super) loss: Loss,
    pub(super) length_ft: f64,
    pub(super) volume_gal: Option<f64>,
}

#[derive(Debug, Clone)]
pub(super) enum Loss {
    /// psi per (100 gpm)².
    Squared(f64),
    Step {
        fixed_psi: f64,
        at_or_above_gpm: f64,
    },
    Parallel(SteppedGroup),
    /// ft, signed.
    Rise(f64),
}

impl Loss {
    /// Loss without elevation at a flow, psi, and its slope, psi per gpm.
    fn loss_and_slope(&self, gpm: f64) -> (f64, f64) {
        match self {
            Self::Squared(k) => (squared_psi(*k, gpm), 2.0 * k * gpm / 1e4),
            Self::Step { fixed_psi, at_or_above_gpm } if gpm >= *at_or_above_gpm => (*fixed_psi, 0.0),
            Self::Step { .. } | Self::Rise(_) => (0.0, 0.0),
            Self::Parallel(group) => group.loss_and_slope(gpm),
        }
    }

    /// What this element takes at a flow, elevation included, psi.
    pub(super) fn psi(&self, gpm: f64) -> f64 {
        if let Self::Rise(feet) = self { PSI_PER_FOOT * feet } else { self.loss_and_slope(gpm).0 }
    }

    /// Its height, ft.
    pub(super) fn rise_ft(&self) -> f64 {
        if let Self::Rise(feet) = self { *feet } else { 0.0 }
    }
}

impl Section {
    /// Losses and rise at a flow, psi, with the slope, psi per gpm.
    pub(super) fn loss_and_slope(&self, gpm: f64) -> (f64, f64) {
        let (mut loss, mut slope) = (squared_psi(self.squared, gpm) + self.rise_psi, 2.0 * self.squared * gpm / 1e4);
        if self.stepped {
            for element in self.elements.iter().filter(|element| !matches!(element.loss, Loss::Squared(_))) {
                let (more, steeper) = element.loss.loss_and_slope(gpm);
                loss += more;
                slope += steeper;
            }
        }
        (loss, slope)
    }

    /// See [`Self::loss_and_slope`].
    pub(super) fn loss_psi(&self, gpm: f64) -> f64 {
        self.loss_and_slope(gpm).0
    }
}

impl Lay {
    /// Checks a problem.
    ///
    /// # Errors
    /// No parts or too many, a second valve, `boost` beside a written pumper, branches that are none.
    pub fn new(problem: LayProblem) -> Result<Self, LayError> {
        check(&problem)?;
        let alone = build(&problem, false);
        let pumped = problem.boost.is_some() || problem.parts.iter().any(|part| matches!(part, Part::Pumper(_)));
        let pumped = pumped.then(|| build(&problem, true));
        Ok(Self { problem, alone, pumped })
    }

    /// The problem as it was put.
    pub const fn problem(&self) -> &LayProblem {
        &self.problem
    }

    pub(super) fn valve(&self) -> Option<&HydrantValve> {
        self.problem.parts.iter().find_map(|part| if let Part::HydrantValve(valve) = part { Some(valve) } else { None })
    }
}

fn check(problem: &LayProblem) -> Result<(), LayError> {
    if problem.parts.is_empty() {
        return Err(LayError::Empty);
    }
    if problem.parts.len() > MAX_PARTS {
        return Err(LayError::TooManyParts);
    }
    let mut valve = false;
    for (i, part) in problem.parts.iter().enumerate() {
        match part {
            Part::HydrantValve(_) if valve => return Err(LayError::SecondValve(i)),
            Part::HydrantValve(_) => valve = true,
            Part::Rise(_) if problem.rise.is_some() => return Err(LayError::RiseBesideRisePart(i)),
            Part::Pumper(_) if problem.boost.is_some() => return Err(LayError::BoostBesidePumper(i)),
            Part::Parallel(branches) => check_branches(i, branches)?,
            _ => {}
        }
    }
    Ok(())
}

fn check_branches(part: usize, branches: &[Branch]) -> Result<(), LayError> {
    if !(2..=MAX_BRANCHES).contains(&branches.len()) {
        return Err(LayError::BranchCount(part));
    }
    for (i, branch) in branches.iter().enumerate() {
        if branch.parts.len() > MAX_PARTS {
            return Err(LayError::TooManyBranchParts(part));
        }
        if !branch.parts.iter().any(|piece| matches!(piece, BranchPart::Hose(_))) {
            return Err(LayError::BranchWithoutHose { part, branch: i });
        }
    }
    Ok(())
}

/// The lesser of what is given.
pub(super) fn lesser(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
