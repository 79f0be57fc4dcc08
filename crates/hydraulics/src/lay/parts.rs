//! The question: source, parts, pumper and floors.

use alloc::vec::Vec;

use crate::lay::Tank;
use crate::loss::{Appliance, Hose, HydrantValve};
use crate::pumper::Pumper;
use crate::quantity::{ApplianceCoefficient, PositiveFlow, Pressure, Rise};
use crate::spread::SourceSpread;
use crate::supply::SupplyCurve;

/// Most parts of a lay, and most parts of one branch.
pub const MAX_PARTS: usize = 100;
/// Most branches side by side.
pub const MAX_BRANCHES: usize = 8;

/// The hydrant: its main, and what its own body costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// The main at the hydrant.
    pub curve: SupplyCurve,
    /// Loss of the hydrant's body and outlet; nothing where the test already holds it.
    pub body_loss: Option<ApplianceCoefficient>,
    /// Whether that loss is a default and not this hydrant's own.
    pub body_loss_assumed: bool,
    /// How far the readings behind the curve may be off.
    pub spread: SourceSpread,
}

/// One part of a lay, hydrant to scene.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// One or more equal lines.
    Hose(Hose),
    /// Unequal lines side by side.
    Parallel(Vec<Branch>),
    /// An appliance.
    Appliance(Appliance),
    /// A four-way hydrant valve; at most one.
    HydrantValve(HydrantValve),
    /// The ground rises (or falls) here.
    Rise(Rise),
    /// A pumper in the line, computed as written.
    Pumper(Pumper),
}

/// One of several unequal lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// Its parts; at least one is hose.
    pub parts: Vec<BranchPart>,
}

/// What a branch may hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BranchPart {
    /// One or more equal lines.
    Hose(Hose),
    /// An appliance.
    Appliance(Appliance),
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct LayProblem {
    /// The hydrant.
    pub source: Source,
    /// The lay, hydrant to scene.
    pub parts: Vec<Part>,
    /// Ground at the scene above the hydrant's, for a lay whose parts hold no rise: it lies right after the last hose, so that what stands at the scene
    /// stands at the scene's height.
    pub rise: Option<Rise>,
    /// A pumper that joins at the hydrant valve, or at the hydrant where there is no valve.
    pub boost: Option<Pumper>,
    /// Least pressure left in the main.
    pub main_floor: Pressure,
    /// Least pressure wanted at the scene pumper's intake.
    pub scene_floor: Pressure,
    /// The flow wanted.
    pub target: Option<PositiveFlow>,
    /// Flow at which the dry line is filled; where not given, what the hydrant alone delivers.
    pub fill_flow: Option<PositiveFlow>,
    /// The scene pumper's tank while the line fills.
    pub tank: Option<Tank>,
}
