//! Friction in pipe and hose by Hazen and Williams, in the two forms that are printed.
//!
//! Each form keeps the exponents it is printed with, because its constant belongs to them. No lay is computed with either: hose has
//! its own squared law ([`crate::loss::Hose`]), mains their tested curve ([`crate::supply::SupplyCurve`]).

use crate::quantity::{Diameter, Flow, Roughness};

/// Friction loss, psi for each foot.
///
/// # Formula
/// `p = 4.52 Q^1.85 / (C^1.85 d^4.87)`.
/// # Units
/// gpm, in; psi/ft out.
/// # Range
/// Water at ordinary temperature, turbulent flow; the true bore, which in charged hose is more than the nominal.
/// # Examples
/// ```
/// # use longlay_hydraulics::{hazen_williams::loss_psi_per_ft, quantity::{Diameter, Flow, OutOfBounds, Roughness}};
/// let (flow, bore) = (Flow::from_gpm(1000.0)?, Diameter::from_in(5.0)?);
/// let loss = 100.0 * loss_psi_per_ft(flow, bore, Roughness::from_number(140.0)?);
/// assert!((loss - 6.77).abs() < 0.01);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `hazen-williams-psi`, from `memory`.
pub fn loss_psi_per_ft(flow: Flow, bore: Diameter, roughness: Roughness) -> f64 {
    4.52 * libm::pow(flow.gpm() / roughness.number(), 1.85) / libm::pow(bore.inches(), 4.87)
}

/// Friction loss, feet of water for each 100 feet.
///
/// # Formula
/// `h = 0.2083 (100/C)^1.852 q^1.852 / d^4.8655`.
/// # Units
/// gpm, in; ft/100 ft out.
/// # Range
/// As [`loss_psi_per_ft`].
/// # Source
/// `engineering-toolbox-797`.
pub fn loss_ft_per_100ft(flow: Flow, bore: Diameter, roughness: Roughness) -> f64 {
    0.2083 * libm::pow(100.0 * flow.gpm() / roughness.number(), 1.852) / libm::pow(bore.inches(), 4.8655)
}
