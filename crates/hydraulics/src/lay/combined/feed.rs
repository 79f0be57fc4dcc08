//! One line, fed at a pressure that stands at its hydrant's outlet whatever it takes itself.

use crate::lay::compile::{Lay, Line};
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
}

impl Feed<'_> {
    /// What its hydrant's main gives at this line's floor for it, gpm.
    pub(super) fn main_gpm(&self) -> f64 {
        self.curve.flow_gpm(self.main_floor_psi)
    }

    /// The most that it takes with this at the outlet: never less for a higher pressure.
    pub(super) fn take(&self, outlet_psi: f64) -> Take {
        let alone = || self.working(false, outlet_psi).take(false);
        if self.lay.pumped.is_none() {
            return alone();
        }
        let pumped = self.working(true, outlet_psi).take(true);
        // As in a lay by itself: a pumper that joins falls back to hydrant pressure, one written into the lay does not.
        let written = self.lay.problem.boost.is_none();
        if written { pumped } else { Some(alone()).filter(|alone| pumped.gpm < alone.gpm).unwrap_or(pumped) }
    }

    /// The line with this at the outlet.
    pub(super) fn working(&self, pumped: bool, outlet_psi: f64) -> Working<'_> {
        let line: &Line = self.lay.pumped.as_ref().filter(|_| pumped).unwrap_or(&self.lay.alone);
        Working {
            curve: SupplyCurve::level(outlet_psi),
            line,
            // The main's floor is a matter of what all lines take.
            main_floor_psi: f64::MIN,
            scene_floor_psi: self.lay.problem.scene_floor.psi(),
        }
    }
}

impl Working<'_> {
    fn take(&self, pumped: bool) -> Take {
        let nothing =
            LimitFlow { limit: Limit::MainFloor, station: crate::lay::budget::Station::Main, flow_gpm: Some(0.0) };
        let (limit, gpm) = least(&self.limits()).unwrap_or((nothing, 0.0));
        Take { gpm, slope: self.slope(limit.limit, limit.station, gpm), limit, pumped }
    }

    fn slope(&self, limit: Limit, station: crate::lay::budget::Station, gpm: f64) -> f64 {
        use crate::lay::budget::Station;
        let steeper = match (limit, station) {
            (Limit::SceneIntake | Limit::PumperIntake, _) => self.line.sections[0].loss_and_slope(gpm).1,
            (Limit::PumperCapacity, Station::PumperDischarge(n)) => {
                let (pumper, before) = (&self.line.pumpers[n - 1], self.most_after(n - 1, gpm).1);
                if gpm >= pumper.curve.capacity_gpm() {
                    return 0.0;
                }
                self.line.sections[n].loss_and_slope(gpm).1 - before - pumper.curve.net_and_slope(gpm).1
            }
            _ => 0.0,
        };
        if gpm > 0.0 && steeper > 0.0 { 1.0 / steeper } else { 0.0 }
    }
}
