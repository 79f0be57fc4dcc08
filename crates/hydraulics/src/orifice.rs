//! An opening that stays as it is: what it flows at another pressure, and the pressure it takes to flow otherwise.

use thiserror::Error;

use crate::quantity::{Flow, OutOfBounds, PositiveFlow, Pressure};

/// A reading that tells nothing of another.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoScaling {
    /// The flow was read at no pressure.
    #[error("a flow read at no pressure tells nothing of the flow at another")]
    NoPressure,
    /// The answer is more than any accepted.
    #[error("the opening would then be past what is accepted: {0}")]
    OutOfBounds(#[from] OutOfBounds),
}

/// What an opening flows at another pressure.
///
/// # Formula
/// `Q2 = Q1 √(P2/P1)`.
/// # Units
/// gpm, psi; gpm out.
/// # Range
/// One opening that does not change: an open butt, a smooth bore, a fixed fog nozzle. Not a main, whose residual falls as it flows, and not a nozzle
/// that holds its pressure.
/// # Errors
/// No pressure at the reading, or a flow past any accepted.
/// # Examples
/// ```
/// # use longlay_hydraulics::{orifice::flow_at, quantity::{PositiveFlow, Pressure}};
/// let flow = flow_at(PositiveFlow::from_gpm(1000.0)?, Pressure::from_psi(50.0)?, Pressure::from_psi(30.0)?)?;
/// assert!((flow.gpm() - 774.6).abs() < 0.01);
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
/// # Source
/// `vccs-civ240`.
pub fn flow_at(flow: PositiveFlow, pressure: Pressure, other: Pressure) -> Result<Flow, NoScaling> {
    if pressure.psi() <= 0.0 {
        return Err(NoScaling::NoPressure);
    }
    Ok(Flow::from_gpm(flow.gpm() * libm::sqrt(other.psi() / pressure.psi()))?)
}

/// The pressure at which an opening flows otherwise.
///
/// # Formula
/// `P2 = P1 (Q2/Q1)²`.
/// # Units
/// psi, gpm; psi out.
/// # Range
/// As [`flow_at`].
/// # Errors
/// No pressure at the reading, or a pressure past any accepted.
/// # Examples
/// ```
/// # use longlay_hydraulics::{orifice::pressure_for, quantity::{Flow, PositiveFlow, Pressure}};
/// let pressure = pressure_for(PositiveFlow::from_gpm(660.0)?, Pressure::from_psi(88.0)?, Flow::from_gpm(750.0)?)?;
/// assert!((pressure.psi() - 113.636).abs() < 0.001);
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
/// # Source
/// `vccs-civ240`.
pub fn pressure_for(flow: PositiveFlow, pressure: Pressure, other: Flow) -> Result<Pressure, NoScaling> {
    if pressure.psi() <= 0.0 {
        return Err(NoScaling::NoPressure);
    }
    let ratio = other.gpm() / flow.gpm();
    Ok(Pressure::from_psi(pressure.psi() * ratio * ratio)?)
}
