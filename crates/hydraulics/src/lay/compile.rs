//! From parts to a line the solver can walk: sections between pumpers, each with its losses, its rise and its pressure ceiling.

use alloc::vec::Vec;

use thiserror::Error;

use crate::lay::budget::{PartKind, PartRef};
use crate::lay::parallel::{SteppedBranch, SteppedGroup, equivalent_squared};
use crate::lay::parts::{Branch, BranchPart, LayProblem, MAX_BRANCHES, MAX_PARTS, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve, PSI_PER_FOOT, squared_psi};
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
    smooth: bool,
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
        if !self.smooth {
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

    /// Whether its losses are squared only.
    pub(super) const fn is_smooth(&self) -> bool {
        self.smooth
    }
}

impl Lay {
    /// Checks a problem.
    ///
    /// # Errors
    /// No parts or too many, a second valve, `boost` beside a written pumper, branches that are none.
    pub fn new(problem: LayProblem) -> Result<Self, LayError> {
        check(&problem)?;
        let alone = compile(&problem, false);
        let pumped = problem.boost.is_some() || problem.parts.iter().any(|part| matches!(part, Part::Pumper(_)));
        let pumped = pumped.then(|| compile(&problem, true));
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

/// Builds the line part by part, with the pumpers or with all of them taken out.
fn compile(problem: &LayProblem, pumped: bool) -> Line {
    let mut line = Builder::new();
    if let Some(k) = problem.source.body_loss {
        line.squared(PartKind::HydrantBody, None, k.psi_per_100gpm2());
    }
    let boost = problem.boost.as_ref().filter(|_| pumped);
    let has_valve = problem.parts.iter().any(|part| matches!(part, Part::HydrantValve(_)));
    if let Some(pumper) = boost.filter(|_| !has_valve) {
        line.pumper(None, pumper);
    }
    for (i, part) in problem.parts.iter().enumerate() {
        match part {
            Part::Hose(hose) => line.hose(PartKind::Hose, Some(i), hose),
            Part::Parallel(branches) => line.parallel(i, branches),
            Part::Appliance(appliance) => line.appliance(i, appliance),
            Part::Rise(rise) => line.rise(i, rise.ft()),
            Part::HydrantValve(valve) => line.valve(i, valve, boost),
            Part::Pumper(pumper) if pumped => line.pumper(Some(i), pumper),
            Part::Pumper(_) => {}
        }
    }
    line.finish()
}

struct Builder {
    done: Vec<Section>,
    pumpers: Vec<Pumper>,
    pumper_parts: Vec<Option<usize>>,
    section: Section,
    height: Height,
}

/// Follows the ground through a section, so that a fall counts against the hose that runs down it wherever the rise is written. A hose reaches
/// from where the one before it ended to where the next begins.
#[derive(Default)]
struct Height {
    now_ft: f64,
    /// Lowest ground since the last hose ended.
    lowest_since_ft: f64,
    /// Marking of the last hose; its lowest ground is still open.
    open: Option<f64>,
}

impl Builder {
    fn new() -> Self {
        let section = Section { smooth: true, ..Section::default() };
        Self { done: Vec::new(), pumpers: Vec::new(), pumper_parts: Vec::new(), section, height: Height::default() }
    }

    fn push(&mut self, kind: PartKind, index: Option<usize>, loss: Loss, length_ft: f64, volume_gal: Option<f64>) {
        match &loss {
            Loss::Squared(k) => self.section.squared += k,
            Loss::Rise(feet) => self.section.rise_psi += PSI_PER_FOOT * feet,
            Loss::Step { .. } | Loss::Parallel(_) => self.section.smooth = false,
        }
        self.section.elements.push(Element { part: PartRef { kind, index }, loss, length_ft, volume_gal });
    }

    fn squared(&mut self, kind: PartKind, index: Option<usize>, k: f64) {
        self.push(kind, index, Loss::Squared(k), 0.0, Some(0.0));
    }

    fn hose(&mut self, kind: PartKind, index: Option<usize>, hose: &Hose) {
        self.push(kind, index, Loss::Squared(hose.squared_coefficient()), hose.length().ft(), hose.volume_gal());
        self.laid(hose.rating_psi(), hose.rating_psi().is_none());
    }

    fn appliance(&mut self, i: usize, appliance: &Appliance) {
        self.push(PartKind::Appliance, Some(i), appliance_loss(appliance), 0.0, Some(0.0));
        if let Some(rating) = appliance.max_operating {
            self.mark(rating.psi(), self.height.now_ft);
        }
    }

    fn rise(&mut self, i: usize, feet: f64) {
        self.push(PartKind::Rise, Some(i), Loss::Rise(feet), 0.0, Some(0.0));
        self.height.now_ft += feet;
        self.height.lowest_since_ft = self.height.lowest_since_ft.min(self.height.now_ft);
    }

    fn valve(&mut self, i: usize, valve: &HydrantValve, boost: Option<&Pumper>) {
        let Some(pumper) = boost else {
            self.squared(PartKind::ValveThrough, Some(i), valve.through.psi_per_100gpm2());
            return;
        };
        self.squared(PartKind::ValveToPump, Some(i), valve.to_pump.psi_per_100gpm2());
        if let Some(hose) = &valve.to_pump_hose {
            self.connecting_hose(i, hose);
        }
        self.pumper(None, pumper);
        if let Some(hose) = &valve.from_pump_hose {
            self.connecting_hose(i, hose);
        }
        self.squared(PartKind::ValveFromPump, Some(i), valve.from_pump.psi_per_100gpm2());
    }

    /// Beside the valve: it costs friction and holds water, and lays no distance.
    fn connecting_hose(&mut self, i: usize, hose: &Hose) {
        let loss = Loss::Squared(hose.squared_coefficient());
        self.push(PartKind::ConnectingHose, Some(i), loss, 0.0, hose.volume_gal());
        self.laid(hose.rating_psi(), hose.rating_psi().is_none());
    }

    fn parallel(&mut self, i: usize, branches: &[Branch]) {
        let mut squared = Vec::new();
        let mut longest: f64 = 0.0;
        let mut volume = Some(0.0);
        let mut rating: Option<f64> = None;
        let mut unmarked = false;
        let mut lower = |psi: Option<f64>| rating = lesser(rating, psi);
        for branch in branches {
            let (mut k, mut steps, mut length) = (0.0, Vec::new(), 0.0);
            for piece in &branch.parts {
                match piece {
                    BranchPart::Hose(hose) => {
                        k += hose.squared_coefficient();
                        length += hose.length().ft();
                        volume = volume.zip(hose.volume_gal()).map(|(a, b)| a + b);
                        unmarked |= hose.rating_psi().is_none();
                        lower(hose.rating_psi());
                    }
                    BranchPart::Appliance(appliance) => {
                        match appliance_loss(appliance) {
                            Loss::Step { fixed_psi, at_or_above_gpm } => steps.push((at_or_above_gpm, fixed_psi)),
                            loss => k += loss.psi(100.0),
                        }
                        lower(appliance.max_operating.map(crate::quantity::Pressure::psi));
                    }
                }
            }
            longest = longest.max(length);
            squared.push((k, steps));
        }
        let loss = if squared.iter().all(|(_, steps)| steps.is_empty()) {
            Loss::Squared(equivalent_squared(squared.iter().map(|(k, _)| *k)))
        } else {
            Loss::Parallel(SteppedGroup::new(squared.into_iter().map(|(k, s)| SteppedBranch::new(k, s)).collect()))
        };
        self.push(PartKind::Parallel, Some(i), loss, longest, volume);
        self.laid(rating, unmarked);
    }

    /// Hose has been laid from here on: close the reach of the hose before it, open its own.
    fn laid(&mut self, rating: Option<f64>, unmarked: bool) {
        let lowest = self.height.lowest_since_ft;
        self.close_reach();
        if let Some(rating) = rating {
            self.mark(rating, lowest);
        }
        self.section.unmarked_hose |= unmarked;
        self.height.open = rating;
        self.height.lowest_since_ft = self.height.now_ft;
    }

    fn close_reach(&mut self) {
        if let Some(rating) = self.height.open.take() {
            self.mark(rating, self.height.lowest_since_ft);
        }
    }

    /// A point of the section at this height may see this pressure at most.
    fn mark(&mut self, rating_psi: f64, height_ft: f64) {
        let at_start = rating_psi + PSI_PER_FOOT * height_ft;
        self.section.marking_psi = lesser(self.section.marking_psi, Some(at_start));
    }

    fn pumper(&mut self, part: Option<usize>, pumper: &Pumper) {
        self.end_section();
        self.pumpers.push(pumper.clone());
        self.pumper_parts.push(part);
    }

    fn end_section(&mut self) {
        self.close_reach();
        self.height = Height::default();
        let next = Section { smooth: true, ..Section::default() };
        self.done.push(core::mem::replace(&mut self.section, next));
    }

    fn finish(mut self) -> Line {
        self.end_section();
        Line { sections: self.done, pumpers: self.pumpers, pumper_parts: self.pumper_parts }
    }
}

fn appliance_loss(appliance: &Appliance) -> Loss {
    match appliance.loss {
        ApplianceLoss::Squared(k) => Loss::Squared(k.psi_per_100gpm2()),
        ApplianceLoss::Step { fixed, at_or_above } => {
            Loss::Step { fixed_psi: fixed.psi(), at_or_above_gpm: at_or_above.gpm() }
        }
    }
}

/// The lesser of what is given.
pub(super) fn lesser(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
