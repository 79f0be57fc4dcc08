//! Relays by the rule: how far one pumper reaches, how many a distance asks, and whether a pumper is large enough.

use thiserror::Error;

use crate::pumper::RATING_POINTS;
use crate::quantity::{HoseCoefficient, Length, PositiveFlow, Pressure};

/// What is left for the next pumper's intake in the maximum-distance method, psi.
///
/// Source: `relay-outline` p. 3.
pub const RELAY_RESIDUAL_PSI: f64 = 20.0;

/// A relay that reaches nowhere.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error(
    "with {discharge_psi} psi at the pump, {residual_psi} psi left for the next, and {friction_psi_per_100ft} psi lost in 100 ft, \
     one pumper reaches less than a foot"
)]
pub struct ReachesNowhere {
    /// Discharge pressure, psi.
    pub discharge_psi: f64,
    /// Pressure left for the next pumper, psi.
    pub residual_psi: f64,
    /// Friction at the flow, psi in 100 ft.
    pub friction_psi_per_100ft: f64,
}

/// How far one pumper reaches on level ground.
///
/// # Formula
/// `D = (PDP - residual) 100 / FL`, `FL = C (Q/100)²` per 100 ft.
/// # Units
/// psi, gpm; ft out.
/// # Range
/// Level ground, one line. Never more than [`Length::BOUND`]'s most.
/// # Errors
/// The discharge does not exceed the residual by what a foot of hose loses.
/// # Examples
/// ```
/// # use longlay_hydraulics::{relay::{max_distance, RELAY_RESIDUAL_PSI}, quantity::{HoseCoefficient, PositiveFlow, Pressure}};
/// let hose = HoseCoefficient::from_psi_per_100gpm2_100ft(0.8)?;
/// let (discharge, residual) = (Pressure::from_psi(200.0)?, Pressure::from_psi(RELAY_RESIDUAL_PSI)?);
/// assert_eq!(max_distance(discharge, residual, hose, PositiveFlow::from_gpm(500.0)?)?.ft(), 900.0);
/// # Ok::<(), Box<dyn core::error::Error>>(())
/// ```
/// # Source
/// `ifsta-tables` for the form, from `memory`; `relay-outline` for the residual.
pub fn max_distance(
    discharge: Pressure,
    residual: Pressure,
    coefficient: HoseCoefficient,
    flow: PositiveFlow,
) -> Result<Length, ReachesNowhere> {
    let friction = crate::loss::squared_psi(coefficient.psi_per_100gpm2_100ft(), flow.gpm());
    let feet = (discharge.psi() - residual.psi()) * 100.0 / friction;
    Length::from_ft(feet.min(Length::BOUND.max)).map_err(|_| ReachesNowhere {
        discharge_psi: discharge.psi(),
        residual_psi: residual.psi(),
        friction_psi_per_100ft: friction,
    })
}

/// How many pumpers a relay asks, the one at the source and the one at the fire among them.
///
/// # Formula
/// `R/D + 1`, rounded up.
/// # Units
/// ft.
/// # Range
/// Like pumpers and hose on level ground.
/// # Examples
/// ```
/// # use longlay_hydraulics::{relay::pumpers_needed, quantity::{Length, OutOfBounds}};
/// assert_eq!(pumpers_needed(Length::from_ft(6000.0)?, Length::from_ft(2062.5)?), 4);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `relay-cards`.
pub fn pumpers_needed(distance: Length, max_distance: Length) -> u32 {
    let pumpers = libm::ceil(distance.ft() / max_distance.ft() + 1.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number from 2 to 100,001, by the bounds of a length"
    )]
    let whole = pumpers as u32;
    whole
}

/// Whether a pumper is large enough for its place in a relay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpSize {
    /// The share of its rating it has at the pressure; none over the last rating point, where no share is known.
    pub share: Option<f64>,
    /// What it can flow there, gpm; nothing where no share is known.
    pub capacity_gpm: f64,
    /// Whether that is at least the relay's flow.
    pub enough: bool,
}

/// Whether a pumper of a rating carries a flow at a net pressure, by the rating point at or above that pressure.
///
/// # Formula
/// 100 % of the rating to 150 psi, 70 % over 150 to 200, 50 % over 200 to 250; enough where `share x rating >= Q`.
/// # Units
/// psi, gpm.
/// # Range
/// Net pressure. A discharge given for it is on the safe side by what the intake holds.
/// # Source
/// `pump-service-test`; the check `relay-outline` p. 3.
pub fn pump_size(rated: PositiveFlow, net: Pressure, flow: PositiveFlow) -> PumpSize {
    let share = RATING_POINTS.iter().rev().find(|(_, psi)| net.psi() <= *psi).map(|(share, _)| *share);
    let capacity_gpm = share.map_or(0.0, |share| share * rated.gpm());
    PumpSize { share, capacity_gpm, enough: capacity_gpm >= flow.gpm() }
}
