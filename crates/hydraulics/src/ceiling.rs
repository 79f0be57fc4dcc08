//! The most a pumper may discharge into what it feeds.

use crate::loss::PSI_PER_FOOT;
use crate::quantity::{Pressure, Rise};

/// The share of a hose's service-test pressure that a pumper may put on it.
///
/// Source: `nfpa-1962` (relief on large-diameter hose never above 90 % of the service test pressure).
pub const SERVICE_TEST_SHARE: f64 = 0.9;

/// A point of the line and what is marked on the hose or appliance there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarkedPoint {
    /// Marked operating pressure.
    pub max_operating: Option<Pressure>,
    /// Service-test pressure.
    pub service_test: Option<Pressure>,
    /// How much higher it is than the pumper.
    pub rise: Rise,
}

/// The most a pumper may discharge, psi: the least over the points; none where nothing is marked, which is no licence.
///
/// # Formula
/// `min(min(marked operating, 0.9 x service test) + 0.434 x rise)`.
/// # Units
/// psi, ft; psi out.
/// # Range
/// Nozzles shut, so that nothing is lost on the way: a fall makes it stricter.
/// # Examples
/// ```
/// # use longlay_hydraulics::{ceiling::{MarkedPoint, pressure_ceiling_psi}, quantity::{OutOfBounds, Pressure, Rise}};
/// let below = MarkedPoint {
///     max_operating: Some(Pressure::from_psi(185.0)?),
///     service_test: Some(Pressure::from_psi(200.0)?),
///     rise: Rise::from_ft(-10.0)?,
/// };
/// assert!((pressure_ceiling_psi(&[below]).unwrap_or_default() - 175.66).abs() < 1e-9);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `nfpa-1962`.
pub fn pressure_ceiling_psi(points: &[MarkedPoint]) -> Option<f64> {
    let ceilings = points.iter().filter_map(|point| {
        let rating = rating_psi(point.max_operating, point.service_test)?;
        Some(at_pumper_psi(rating, point.rise.ft()))
    });
    ceilings.reduce(f64::min)
}

/// What a hose's markings allow, psi.
pub(crate) fn rating_psi(max_operating: Option<Pressure>, service_test: Option<Pressure>) -> Option<f64> {
    let tested = service_test.map(|test| SERVICE_TEST_SHARE * test.psi());
    match (max_operating.map(Pressure::psi), tested) {
        (Some(marked), Some(tested)) => Some(if marked < tested { marked } else { tested }),
        (marked, tested) => marked.or(tested),
    }
}

/// The discharge that puts this pressure on a point at this height above the pumper, psi.
pub(crate) fn at_pumper_psi(rating_psi: f64, rise_ft: f64) -> f64 {
    rating_psi + PSI_PER_FOOT * rise_ft
}
