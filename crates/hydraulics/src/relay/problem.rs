//! The question: source, hose, ground, flow and pumpers.

use alloc::vec::Vec;

use thiserror::Error;

use crate::drafting::Draft;
use crate::lay::Source;
use crate::loss::Hose;
use crate::pumper::Pumper;
use crate::quantity::{PositiveFlow, Pressure};
use crate::relay::ground::Ground;

/// Most pumpers that pump into a relay, the attack pumper left out.
pub const MAX_RELAY_PUMPERS: usize = 24;

/// Where the water comes from. The first pumper stands there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RelaySource {
    /// A hydrant.
    Hydrant {
        /// Its main and its body.
        source: Source,
        /// Least pressure left in the main.
        main_floor: Pressure,
    },
    /// Open water.
    Draft(Draft),
}

/// The pumpers that pump into the relay; the attack pumper at the scene is none of them.
#[derive(Debug, Clone, PartialEq)]
pub enum RelayPumpers {
    /// Those there are, source first.
    Listed(Vec<Pumper>),
    /// As many as are needed, all alike.
    Typical(Pumper),
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct RelayProblem {
    /// The water.
    pub source: RelaySource,
    /// The hose, as long as the relay.
    pub hose: Hose,
    /// The ground under it.
    pub ground: Ground,
    /// The flow wanted at the scene.
    pub flow: PositiveFlow,
    /// Least pressure wanted at the attack pumper's intake.
    pub scene_floor: Pressure,
    /// The pumpers.
    pub pumpers: RelayPumpers,
}

/// A question that is none.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum RelayError {
    /// No pumper, or more than [`MAX_RELAY_PUMPERS`].
    #[error("a relay has from 1 to {MAX_RELAY_PUMPERS} pumpers beside the attack pumper, not {0}")]
    PumperCount(usize),
    /// The ground ends elsewhere than the hose.
    #[error("the ground runs {ground_ft} ft and the hose {hose_ft} ft")]
    GroundAndHose {
        /// Length of the ground, ft.
        ground_ft: f64,
        /// Length of the hose, ft.
        hose_ft: f64,
    },
}

impl RelayProblem {
    /// # Errors
    /// No pumpers or too many; ground that is not the hose's.
    pub(super) fn check(&self) -> Result<(), RelayError> {
        if let RelayPumpers::Listed(pumpers) = &self.pumpers
            && !(1..=MAX_RELAY_PUMPERS).contains(&pumpers.len())
        {
            return Err(RelayError::PumperCount(pumpers.len()));
        }
        let (ground_ft, hose_ft) = (self.ground.distance_ft(), self.hose.length().ft());
        if ground_ft == hose_ft { Ok(()) } else { Err(RelayError::GroundAndHose { ground_ft, hose_ft }) }
    }

    /// Pumper `number` of the relay, from 1 at the source.
    pub(super) fn pumper(&self, number: usize) -> Option<&Pumper> {
        match &self.pumpers {
            RelayPumpers::Listed(pumpers) => pumpers.get(number.checked_sub(1)?),
            RelayPumpers::Typical(pumper) => (1..=MAX_RELAY_PUMPERS).contains(&number).then_some(pumper),
        }
    }

    /// How many there are.
    pub(super) const fn available(&self) -> usize {
        match &self.pumpers {
            RelayPumpers::Listed(pumpers) => pumpers.len(),
            RelayPumpers::Typical(_) => MAX_RELAY_PUMPERS,
        }
    }

    pub(super) const fn draft(&self) -> Option<&Draft> {
        match &self.source {
            RelaySource::Draft(draft) => Some(draft),
            RelaySource::Hydrant { .. } => None,
        }
    }

    /// Friction at the flow wanted, psi per ft.
    pub(super) fn friction_psi_per_ft(&self) -> f64 {
        crate::loss::squared_psi(self.hose.squared_coefficient(), self.flow.gpm()) / self.hose.length().ft()
    }
}
