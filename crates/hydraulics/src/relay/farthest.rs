//! The maximum-distance method: each pumper pushes as far as it may, and there stands the next.

use alloc::vec::Vec;

use crate::relay::answer::{HeldBy, Method, NoRelay, ROUNDING, RelayAnswer, RelayPumper};
use crate::relay::problem::{RelayError, RelayProblem};
use crate::relay::solve::Arrival;
use crate::relay::stand::Stand;

/// The last pumper stands this far before the scene or more, ft: a hose is a foot long at least.
const LEAST_STRETCH_FT: f64 = 1.0;

impl RelayProblem {
    /// Places the pumpers as far apart as each can push.
    ///
    /// # Formula
    /// From each pumper the first place where `most discharge - C (Q/100/n)² d/100 - 0.434 x rise` comes to the next intake's floor; the most is the least
    /// of intake + net, its own ceiling, and hose rating + 0.434 x (lowest ground of the stretch - its own).
    /// # Units
    /// gpm, psi, ft.
    /// # Range
    /// Steady flow; ground straight between its points. Nowhere on the way is less than the floor: what a hill takes is not counted on from behind it.
    /// # Errors
    /// No pumpers or too many; ground that is not the hose's.
    /// # Source
    /// `relay-outline` p. 3 for the method, `ifsta-tables` for its level form.
    pub fn maximum_distance(&self) -> Result<RelayAnswer, RelayError> {
        self.check()?;
        let mut placed = Vec::new();
        let outcome = self.place(&mut placed);
        Ok(self.answered(Method::MaximumDistance, placed, outcome))
    }

    fn place(&self, placed: &mut Vec<RelayPumper>) -> Result<Arrival, NoRelay> {
        let end_ft = self.ground.distance_ft();
        let scene_floor = self.scene_floor.psi();
        let mut stand = self.first()?;
        loop {
            let places = self.ground.places(stand.at_ft, end_ft);
            let to_scene_ft = stand.reach_ft(&places, scene_floor);
            if to_scene_ft >= end_ft {
                let (last, arrival) = self.last(&stand);
                placed.push(last);
                return Ok(arrival);
            }
            let Some(next) = self.pumper(stand.number + 1) else {
                // It still pumps as hard as it may, as far as it comes.
                placed.push(self.middle(&stand, to_scene_ft).0);
                return Err(NoRelay::PumpersRunOut { given: self.available(), reached_ft: to_scene_ft });
            };
            let floor_psi = next.intake_floor.psi();
            let next_ft = stand.reach_ft(&places, floor_psi).min(end_ft - LEAST_STRETCH_FT);
            let (pumper, arrives_psi) = self.middle(&stand, next_ft);
            if next_ft - stand.at_ft < LEAST_STRETCH_FT {
                let (number, at_ft, discharge_psi) = (stand.number, stand.at_ft, pumper.discharge_psi);
                return Err(NoRelay::ReachesNowhere { number, at_ft, discharge_psi, floor_psi });
            }
            placed.push(pumper);
            stand = Stand::after(self, stand.number + 1, next, next_ft, arrives_psi)?;
        }
    }

    /// A pumper that pushes as far as it may, and what arrives there, psi.
    fn middle(&self, stand: &Stand<'_>, to_ft: f64) -> (RelayPumper, f64) {
        let places = self.ground.places(stand.at_ft, to_ft);
        let (start, end) = (places[0], places[places.len() - 1]);
        let (psi, held_by) = stand.most(end.lowest - start.height);
        (stand.at(psi, held_by, to_ft - stand.at_ft), psi - stand.lost_psi(start, end))
    }

    /// The last pumper, which gives what is needed and no more.
    fn last(&self, stand: &Stand<'_>) -> (RelayPumper, Arrival) {
        let end_ft = self.ground.distance_ft();
        let places = self.ground.places(stand.at_ft, end_ft);
        let (start, end) = (places[0], places[places.len() - 1]);
        let (most, held_by) = stand.most(end.lowest - start.height);
        let needed = stand.needed_psi(&places, self.scene_floor.psi()).max(stand.intake_psi);
        let held_by = if needed < most - ROUNDING { HeldBy::Need } else { held_by };
        let last = stand.at(needed.min(most), held_by, end_ft - stand.at_ft);
        let scene_psi = last.discharge_psi - stand.lost_psi(start, end);
        let spare_psi = most - stand.lost_psi(start, end) - self.scene_floor.psi();
        (last, Arrival { scene_psi, spare_psi })
    }

    pub(super) fn first(&self) -> Result<Stand<'_>, NoRelay> {
        let none = NoRelay::PumpersRunOut { given: 0, reached_ft: 0.0 };
        Stand::first(self, self.pumper(1).ok_or(none)?)
    }
}
