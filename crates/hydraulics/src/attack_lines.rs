//! Several attack lines off one pump: what it must make, and what that puts on hose and appliances.

use alloc::vec::Vec;

use crate::finding::{Finding, FindingCode};
use crate::lay::BranchPart;
use crate::quantity::Pressure;
use crate::stream::PumpPressure;

/// What the pump must make for all lines at once, psi: the most that any asks. The others are gated down.
///
/// # Formula
/// `max PDP`, and never under nothing.
/// # Units
/// psi.
/// # Range
/// Lines off one pump, all flowing.
/// # Examples
/// ```
/// # use longlay_hydraulics::attack_lines::pump_must_make_psi;
/// assert_eq!(pump_must_make_psi(&[]), 0.0);
/// ```
/// # Source
/// `ifsta-pump-ops`.
pub fn pump_must_make_psi(lines: &[PumpPressure]) -> f64 {
    lines.iter().map(|line| line.pump_psi).fold(0.0, f64::max)
}

/// How much over a marking the pump puts hose or an appliance of a line, psi; none where it is not over.
///
/// # Formula
/// `max(PDP, PDP - 0.434 h) - marking`: with its nozzle shut a line stands under the whole pump pressure however far it is gated down, and a fall
/// adds to it.
/// # Units
/// psi.
/// # Range
/// Nozzle shut, nothing flowing.
/// # Examples
/// ```
/// # use longlay_hydraulics::attack_lines::over_marking_psi;
/// assert_eq!(over_marking_psi(300.0, 10.0, 275.0), Some(25.0));
/// assert_eq!(over_marking_psi(270.0, -10.0, 275.0), Some(5.0));
/// assert_eq!(over_marking_psi(275.0, 10.0, 275.0), None);
/// ```
/// # Source
/// `nfpa-1962`; `derived`.
pub fn over_marking_psi(pump_psi: f64, elevation_psi: f64, marking_psi: f64) -> Option<f64> {
    let over = pump_psi - elevation_psi.min(0.0) - marking_psi;
    (over > 0.0).then_some(over)
}

/// What the pump's pressure and the data say against the parts of a line, each by its place.
pub fn line_findings(parts: &[BranchPart], pump_psi: f64, elevation_psi: f64) -> Vec<Finding> {
    let mut found = Vec::new();
    for (i, part) in parts.iter().enumerate() {
        let (marking_psi, weak) = match part {
            BranchPart::Hose(hose) => {
                let marking_psi = hose.rating_psi();
                (marking_psi, marking_psi.is_none().then(|| Finding::plain(FindingCode::HoseUnmarked)))
            }
            BranchPart::Appliance(appliance) => (appliance.max_operating.map(Pressure::psi), appliance.assumed_loss()),
        };
        let over = marking_psi.and_then(|marking_psi| over_marking_psi(pump_psi, elevation_psi, marking_psi));
        let over = over.map(|psi| Finding::new(FindingCode::PumpOverMarking, psi));
        found.extend(over.into_iter().chain(weak).map(|finding| finding.at(Some(i))));
    }
    found
}
