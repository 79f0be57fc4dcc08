//! From readings at open outlets to the flow of a test.

use alloc::vec::Vec;

use thiserror::Error;

use crate::quantity::{Diameter, OutletCoefficient, PitotPressure, PositiveFlow};

/// K of the discharge formula for gpm, inches and psi, water at ordinary temperature.
///
/// Source: `flow-precision` (newer texts; older ones print 29.83, water of 62.4 lb/ft³: 0.03 % apart).
pub const DISCHARGE_CONSTANT: f64 = 29.84;

/// Diameter from which an outlet is a pumper outlet, inches: larger than any 2-1/2 or 3 inch hose outlet. Common practice.
pub const PUMPER_OUTLET_FROM_IN: f64 = 3.5;

/// The pumper-outlet factor by whole psi of velocity pressure, from 2 psi.
///
/// Source: `nfpa-291`, pumper outlet table: 0.83 at 7 psi and over was read, the others are from memory.
pub const PUMPER_OUTLET_FACTORS: [(f64, f64); 6] =
    [(2.0, 0.97), (3.0, 0.92), (4.0, 0.89), (5.0, 0.86), (6.0, 0.84), (7.0, 0.83)];

/// One pitot reading at one open outlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PitotReading {
    /// Inside diameter of the outlet.
    pub diameter: Diameter,
    /// Its coefficient: 0.9 smooth, 0.8 square, 0.7 projecting.
    pub coefficient: OutletCoefficient,
    /// The velocity pressure read.
    pub pitot: PitotPressure,
}

impl PitotReading {
    /// What this outlet discharged, gpm.
    ///
    /// # Formula
    /// `Q = 29.84 c d² √p`, times the pumper-outlet factor for outlets from 3.5 in.
    /// # Units
    /// inches, psi; gpm out.
    /// # Range
    /// Pitot 10 to 30 psi is trusted best.
    /// # Source
    /// `nfpa-291`, `flow-precision`.
    pub fn discharge_gpm(&self) -> f64 {
        let d = self.diameter.inches();
        let p = self.pitot.psi();
        let factor = if d >= PUMPER_OUTLET_FROM_IN { pumper_outlet_factor(p) } else { 1.0 };
        DISCHARGE_CONSTANT * self.coefficient.number() * d * d * libm::sqrt(p) * factor
    }
}

/// The factor a large outlet's discharge is multiplied by: the stream leaves part of it empty.
///
/// # Formula
/// [`PUMPER_OUTLET_FACTORS`], linear between whole psi, level outside.
/// # Units
/// psi in, a share out.
/// # Range
/// 2 psi and over; under 2 the factor of 2 psi is used.
/// # Source
/// `nfpa-291`, pumper outlet table.
pub fn pumper_outlet_factor(velocity_pressure_psi: f64) -> f64 {
    let mut low = PUMPER_OUTLET_FACTORS[0];
    for point in PUMPER_OUTLET_FACTORS {
        if velocity_pressure_psi <= point.0 {
            let width = point.0 - low.0;
            let share = if width > 0.0 { (velocity_pressure_psi - low.0) / width } else { 0.0 };
            return low.1 + share * (point.1 - low.1);
        }
        low = point;
    }
    low.1
}

/// How a test's flow was measured.
#[derive(Debug, Clone, PartialEq)]
pub enum MeasuredFlow {
    /// By pitot at one or more open outlets.
    Pitot(Vec<PitotReading>),
    /// By a meter.
    Metered(PositiveFlow),
}

/// Readings that are no flow.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoFlow {
    /// No outlet was open.
    #[error("a flow test needs at least one open outlet or a measured flow")]
    NoOutlets,
    /// The outlets' sum is no flow that a main can give.
    #[error(transparent)]
    OutOfBounds(#[from] crate::quantity::OutOfBounds),
}

impl MeasuredFlow {
    /// The test's flow.
    ///
    /// # Errors
    /// No outlets, or a sum outside the bounds of a flow.
    pub fn total(&self) -> Result<PositiveFlow, NoFlow> {
        match self {
            Self::Metered(flow) => Ok(*flow),
            Self::Pitot(readings) if readings.is_empty() => Err(NoFlow::NoOutlets),
            Self::Pitot(readings) => {
                let sum = readings.iter().map(PitotReading::discharge_gpm).sum();
                Ok(PositiveFlow::from_gpm(sum)?)
            }
        }
    }
}
