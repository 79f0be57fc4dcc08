//! Where a main and what is open on it meet.

use longlay_hydraulics::flow_test::PitotReading;
use longlay_hydraulics::quantity::{PitotPressure, PositiveFlow, Pressure};
use longlay_hydraulics::spread::DROP_PSI;
use longlay_hydraulics::supply::SupplyCurve;

/// The readings with every pitot so many times what it is.
pub(super) fn scaled(readings: &[PitotReading], times: f64) -> Option<Vec<PitotReading>> {
    let at = |reading: &PitotReading| {
        let psi = (reading.pitot.psi() * times).max(PitotPressure::BOUND.min);
        Some(PitotReading { pitot: PitotPressure::from_psi(psi).ok()?, ..*reading })
    };
    readings.iter().map(at).collect()
}

/// What leaves the outlets with every pitot so many times what it is, gpm.
pub(super) fn discharged_gpm(open: &[PitotReading], times: f64) -> f64 {
    scaled(open, times).unwrap_or_default().iter().map(PitotReading::discharge_gpm).sum()
}

/// The main where the gauge was off by its span at what flows now: every drop is larger by the same share, and a level main falls by the pipe law.
pub(super) fn weakest(curve: &SupplyCurve, now_gpm: f64) -> Option<impl Fn(f64) -> f64> {
    let (static_psi, curve) = (curve.static_psi(), *curve);
    let [still, lower] = [static_psi, (static_psi - DROP_PSI).max(0.0)].map(Pressure::from_psi);
    let level = SupplyCurve::new(still.ok()?, lower.ok()?, PositiveFlow::from_gpm(now_gpm).ok()?).ok()?;
    let drop_psi = static_psi - curve.pressure_psi(now_gpm);
    let times = 1.0 + DROP_PSI / drop_psi;
    Some(move |gpm| {
        if drop_psi > 0.0 {
            static_psi - (static_psi - curve.pressure_psi(gpm)) * times
        } else {
            level.pressure_psi(gpm)
        }
    })
}

/// Halvings of a residual that is looked for: the static is at most 1000 psi, and a thousandth of a psi is more than a gauge shows.
const HALVINGS: u32 = 24;

/// Where the main and what is open agree: what leaves the outlets falls with the residual, and the residual with what leaves them.
pub(super) fn settled(residual_psi: f64, flow_gpm: impl Fn(f64) -> f64, main_psi: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, residual_psi);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if main_psi(flow_gpm(middle)) > middle { low = middle } else { high = middle }
    }
    low
}
