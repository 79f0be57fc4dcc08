//! The answer: where each pumper stands and what it does, what the whole would carry, or why it carries too little.

use alloc::vec::Vec;

use thiserror::Error;

use crate::caution::Caution;
use crate::finding::Finding;
use crate::formula::Formula;
use crate::lay::LimitFlow;

/// How the pumpers are placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// Each as far as the one before it can push.
    MaximumDistance,
    /// Equal spacing, and all at one discharge, psi.
    ConstantPressure(f64),
}

/// What holds a pumper's discharge where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeldBy {
    /// It adds all it has at this flow.
    NetPressure,
    /// The hose it feeds.
    HoseRating,
    /// The department's ceiling.
    MaxDischarge,
    /// No more is needed.
    Need,
}

impl HeldBy {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::NetPressure => "net_pressure",
            Self::HoseRating => "hose_rating",
            Self::MaxDischarge => "max_discharge",
            Self::Need => "need",
        }
    }
}

/// One pumper of the relay at the flow wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RelayPumper {
    /// Which, from 1 at the source.
    pub number: usize,
    /// Where it stands, ft from the source.
    pub at_ft: f64,
    /// Hose from it to the next, or to the scene, ft.
    pub stretch_ft: f64,
    /// At its intake, psi; under nothing at draft.
    pub intake_psi: f64,
    /// Its intake is kept at or above this, psi; none at draft.
    pub intake_floor_psi: Option<f64>,
    /// At its discharge, psi.
    pub discharge_psi: f64,
    /// What holds that.
    pub held_by: HeldBy,
    /// What it adds, psi.
    pub net_psi: f64,
    /// What it could add at this flow, psi.
    pub net_available_psi: f64,
    /// The most it carries here, gpm.
    pub capacity_gpm: f64,
}

impl RelayPumper {
    /// What it has to spare, psi.
    pub fn spare_psi(&self) -> f64 {
        self.net_available_psi - self.net_psi
    }

    /// Whether its intake is at its floor or above, but for rounding.
    pub fn floor_met(&self) -> bool {
        self.intake_floor_psi.is_none_or(|floor| self.intake_psi >= floor - ROUNDING)
    }
}

/// Pressures, psi, and flows, gpm, that differ by less are the same.
pub(super) const ROUNDING: f64 = 1e-9;

/// A relay that carries the flow wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// Pumpers, the one at the source and the attack pumper among them.
    pub pumpers_needed: usize,
    /// At the attack pumper's intake, psi.
    pub scene_psi: f64,
    /// How much more hose on level ground the last pumper would fill, ft.
    pub hose_to_spare_ft: f64,
    /// The pumper with the least to spare; the first among equals.
    pub weakest: usize,
    /// The most that the relay carries with these places, gpm.
    pub most_gpm: f64,
    /// The low end of its 90 % band, gpm: what to plan on.
    pub low_gpm: f64,
    /// What binds then.
    pub most_limited_by: Option<LimitFlow>,
}

/// Why a relay does not carry the flow wanted. Pumpers are numbered from 1 at the source; the attack pumper comes after the last.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoRelay {
    /// The main, or the hydrant's body, leaves too little for the first pumper.
    #[error(
        "the source is too weak: at this flow {main_psi:.1} psi is left in the main and {intake_psi:.1} psi at the first intake; the main gives {main_most_gpm:.0} gpm at its floor"
    )]
    SourceTooWeak {
        /// In the main at the flow, psi.
        main_psi: f64,
        /// At the first intake, psi.
        intake_psi: f64,
        /// What the main gives at its floor, gpm.
        main_most_gpm: f64,
    },
    /// The lift is over what a pump attains.
    #[error("a lift of {lift_ft:.1} ft is over the {attainable_ft:.1} ft that a pump attains here")]
    LiftNotAttainable {
        /// The lift, ft.
        lift_ft: f64,
        /// What a pump attains, ft.
        attainable_ft: f64,
    },
    /// No figure is known for the lift.
    #[error("no share of a pumper's rating is known for a lift of {lift_ft:.1} ft here: try it, and measure")]
    LiftUnknown {
        /// The lift, ft.
        lift_ft: f64,
    },
    /// A pumper that does not carry the flow at any pressure.
    #[error(
        "pumper {number} is too small: it carries {capacity_gpm:.0} gpm at most, and {share_percent:.0} % of that is wanted"
    )]
    PumperTooSmall {
        /// Which.
        number: usize,
        /// What it carries, gpm.
        capacity_gpm: f64,
        /// The flow wanted as a share of that, %.
        share_percent: f64,
    },
    /// A pumper that pushes the flow less than a foot.
    #[error(
        "pumper {number}, {at_ft:.0} ft from the source, reaches nowhere: {discharge_psi:.1} psi at most, and {floor_psi:.1} psi must be left"
    )]
    ReachesNowhere {
        /// Which.
        number: usize,
        /// Where it stands, ft.
        at_ft: f64,
        /// The most it may discharge, psi.
        discharge_psi: f64,
        /// What must be left, psi.
        floor_psi: f64,
    },
    /// There are not pumpers enough.
    #[error("{given} pumpers carry the flow {reached_ft:.0} ft and no farther: more, larger, or better hose")]
    PumpersRunOut {
        /// How many there are.
        given: usize,
        /// How far they bring the flow, ft.
        reached_ft: f64,
    },
    /// The constant discharge is over what a pumper may put on the hose.
    #[error("pumper {number} may discharge {most_psi:.1} psi at most, under the constant discharge")]
    DischargeOverCeiling {
        /// Which.
        number: usize,
        /// The most it may discharge, psi.
        most_psi: f64,
    },
    /// A pumper cannot reach the constant discharge.
    #[error(
        "pumper {number} must add {needed_psi:.1} psi for the constant discharge, and has {available_psi:.1} psi at this flow"
    )]
    NetTooSmall {
        /// Which.
        number: usize,
        /// What it must add, psi.
        needed_psi: f64,
        /// What it has, psi.
        available_psi: f64,
    },
    /// Too little arrives, with all the pumpers there are.
    #[error("pressure falls to {least_psi:.1} psi before pumper {number}, under its floor of {floor_psi:.1} psi")]
    IntakeUnderFloor {
        /// Which.
        number: usize,
        /// The least pressure of the stretch before it, psi.
        least_psi: f64,
        /// Its floor, psi.
        floor_psi: f64,
    },
}

impl NoRelay {
    /// Its stable code.
    pub const fn code(&self) -> &'static str {
        match self {
            Self::SourceTooWeak { .. } => "source_too_weak",
            Self::LiftNotAttainable { .. } => "lift_not_attainable",
            Self::LiftUnknown { .. } => "lift_unknown",
            Self::PumperTooSmall { .. } => "pumper_too_small",
            Self::ReachesNowhere { .. } => "reaches_nowhere",
            Self::PumpersRunOut { .. } => "pumpers_run_out",
            Self::DischargeOverCeiling { .. } => "discharge_over_ceiling",
            Self::NetTooSmall { .. } => "net_too_small",
            Self::IntakeUnderFloor { .. } => "intake_under_floor",
        }
    }

    /// The pumper it is about.
    pub const fn number(&self) -> Option<usize> {
        match self {
            Self::PumperTooSmall { number, .. }
            | Self::ReachesNowhere { number, .. }
            | Self::DischargeOverCeiling { number, .. }
            | Self::NetTooSmall { number, .. }
            | Self::IntakeUnderFloor { number, .. } => Some(*number),
            Self::SourceTooWeak { .. } | Self::LiftNotAttainable { .. } | Self::LiftUnknown { .. } => Some(1),
            Self::PumpersRunOut { .. } => None,
        }
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct RelayAnswer {
    /// How the pumpers are placed.
    pub method: Method,
    /// What the relay does, or why it does not.
    pub outcome: Result<Carried, NoRelay>,
    /// The pumpers, source first; where the relay does not carry the flow, those that were placed.
    pub pumpers: Vec<RelayPumper>,
    /// What is weak about it.
    pub findings: Vec<Finding>,
    /// What the people must know.
    pub cautions: Vec<Caution>,
    /// The formulas used.
    pub basis: Vec<&'static Formula>,
}
