//! One line, fed at a pressure that stands at its hydrant's outlet whatever it takes itself.

use crate::lay::budget::Station;
use crate::lay::compile::Lay;
use crate::lay::limits::{Limit, LimitFlow, Working, least};
use crate::supply::SupplyCurve;

/// A line as the solver sees it, and its hydrant. Everything that may be off in a reading or a coefficient is in here, so that the same lines are
/// solved again with other curves and other losses at no more cost.
pub(super) struct Feed<'a> {
    /// The hydrant it leaves.
    pub(super) hydrant: usize,
    /// That hydrant's main.
    pub(super) curve: SupplyCurve,
    /// Loss of that hydrant's body, psi per (100 gpm)².
    pub(super) body: f64,
    pub(super) main_floor_psi: f64,
    /// The lay from the outlet on.
    pub(super) lay: &'a Lay,
    /// The lay from the main on.
    pub(super) from_main: &'a Lay,
}

/// What a line takes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Take {
    pub(super) gpm: f64,
    /// How it grows with the pressure at the outlet, gpm per psi. It only has to be near: it speeds the search.
    pub(super) slope: f64,
    pub(super) limit: LimitFlow,
    /// Whether the pumpers of the line are what brings it.
    pub(super) pumped: bool,
    /// What the pumpers would bring, where they bring less than the hydrant alone.
    pub(super) by_pumpers: Option<f64>,
}

impl Feed<'_> {
    /// What its hydrant's main gives at this line's floor for it, gpm.
    pub(super) fn main_gpm(&self) -> f64 {
        self.curve.flow_gpm(self.main_floor_psi)
    }

    /// The most that it takes with this at the outlet: never less for a higher pressure.
    pub(super) fn take(&self, outlet_psi: f64) -> Take {
        take(self.lay, outlet_psi)
    }

    /// The most that it takes with this in the main and the hydrant's body to itself.
    pub(super) fn take_from_main(&self, main_psi: f64) -> Take {
        take(self.from_main, main_psi)
    }

    /// The line with this at the outlet.
    pub(super) fn working(&self, pumped: bool, outlet_psi: f64) -> Working<'_> {
        working(self.lay, pumped, outlet_psi)
    }
}

fn take(lay: &Lay, psi: f64) -> Take {
    let alone = || working(lay, false, psi).take(false);
    if lay.pumped.is_none() {
        return alone();
    }
    let pumped = working(lay, true, psi).take(true);
    // As in a lay by itself: a pumper that joins falls back to hydrant pressure, one written into the lay does not.
    if lay.problem.boost.is_none() {
        return pumped;
    }
    let alone = alone();
    if pumped.gpm < alone.gpm { Take { by_pumpers: Some(pumped.gpm), ..alone } } else { pumped }
}

fn working(lay: &Lay, pumped: bool, psi: f64) -> Working<'_> {
    Working {
        curve: SupplyCurve::level(psi),
        line: lay.pumped.as_ref().filter(|_| pumped).unwrap_or(&lay.alone),
        // The main's floor is a matter of what all lines take.
        main_floor_psi: f64::MIN,
        scene_floor_psi: lay.problem.scene_floor.psi(),
    }
}

impl Working<'_> {
    fn take(&self, pumped: bool) -> Take {
        let nothing = LimitFlow { limit: Limit::MainFloor, station: Station::Main, flow_gpm: Some(0.0) };
        let (limit, gpm) = least(&self.limits()).unwrap_or((nothing, 0.0));
        Take { gpm, slope: self.slope(limit.limit, limit.station, gpm), limit, pumped, by_pumpers: None }
    }

    fn slope(&self, limit: Limit, station: Station, gpm: f64) -> f64 {
        let steeper = match (limit, station) {
            (Limit::SceneIntake | Limit::PumperIntake, _) => {
                let (loss, slope) = self.line.sections[0].loss_and_slope(gpm);
                // At a step there is pressure to spare, and a little more of it brings nothing.
                let spare = self.curve.static_psi() - loss - self.floor_after(0);
                if spare > SPARE_PSI { 0.0 } else { slope }
            }
            (Limit::PumperCapacity, Station::PumperDischarge(n)) => {
                let pumper = &self.line.pumpers[n - 1];
                let (loss, slope) = self.line.sections[n].loss_and_slope(gpm);
                let (intake, before) = self.most_after(n - 1, gpm);
                let (net, net_slope) = pumper.curve.net_and_slope(gpm);
                let spare = intake + net - loss - self.floor_after(n);
                if spare > SPARE_PSI { 0.0 } else { slope - before - net_slope }
            }
            _ => 0.0,
        };
        if gpm > 0.0 && steeper > 0.0 { 1.0 / steeper } else { 0.0 }
    }
}

/// Pressure left over that is more than rounding.
const SPARE_PSI: f64 = 1e-9;
