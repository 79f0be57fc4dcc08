//! Filling the dry line, and whether the tank lasts so long.

use crate::lay::compile::Lay;
use crate::quantity::{PositiveFlow, Volume};

/// What the scene pumper has while it waits for the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tank {
    /// Water in the tank.
    pub volume: Volume,
    /// What the attack lines take meanwhile.
    pub attack_flow: PositiveFlow,
}

/// The water in the line and the time to put it there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fill {
    /// Water that fills the lay, gallons.
    pub gallons: f64,
    /// Time to fill it at `at_gpm`, seconds.
    pub seconds: f64,
    /// The flow the line is filled at, gpm: never more than the main gives at its floor.
    pub at_gpm: f64,
    /// Time the tank lasts at the attack flow, seconds.
    pub tank_seconds: Option<f64>,
}

impl Fill {
    /// Whether the tank is empty before the line is full. Never the other way round: a tank that outlasts the fill by this figure is not called
    /// safe.
    pub fn tank_runs_out_first(&self) -> bool {
        self.tank_seconds.is_some_and(|tank| tank < self.seconds)
    }
}

impl Lay {
    /// Water and time to fill the line; none where a hose's diameter is not known or nothing flows.
    pub(super) fn fill(&self, alone_gpm: f64, main_gpm: f64) -> Option<Fill> {
        let line = self.pumped.as_ref().unwrap_or(&self.alone);
        let mut elements = line.sections.iter().flat_map(|section| &section.elements);
        let gallons = elements.try_fold(0.0, |sum, element| Some(sum + element.volume_gal?))?;
        let at_gpm = self.problem.fill_flow.map_or(alone_gpm, PositiveFlow::gpm).min(main_gpm);
        // Under one gallon a minute a line is not being filled.
        let seconds = (gallons > 0.0 && at_gpm >= PositiveFlow::BOUND.min).then(|| 60.0 * gallons / at_gpm)?;
        let tank_seconds = self.problem.tank.map(|tank| 60.0 * tank.volume.gal() / tank.attack_flow.gpm());
        Some(Fill { gallons, seconds, at_gpm, tank_seconds })
    }
}
