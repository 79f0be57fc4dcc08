//! The constant-pressure method: equal spacing, and everyone at one discharge.

use alloc::vec::Vec;

use crate::quantity::Pressure;
use crate::relay::answer::{HeldBy, Method, NoRelay, ROUNDING, RelayAnswer, RelayPumper};
use crate::relay::problem::{RelayError, RelayProblem, RelayPumpers};
use crate::relay::solve::Arrival;
use crate::relay::stand::Stand;

/// The discharge that is customary, psi.
///
/// Source: `relay-outline` p. 4.
pub const CUSTOMARY_DISCHARGE_PSI: f64 = 175.0;

/// What everyone discharges. There is no default: who asks says which.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ConstantDischarge {
    /// [`CUSTOMARY_DISCHARGE_PSI`].
    Customary,
    /// The department's own.
    Given(Pressure),
}

impl ConstantDischarge {
    const fn psi(self) -> f64 {
        match self {
            Self::Customary => CUSTOMARY_DISCHARGE_PSI,
            Self::Given(pressure) => pressure.psi(),
        }
    }
}

impl RelayProblem {
    /// Places as few pumpers as carry the flow at equal spacing and one discharge; the attack pumper keeps the flow steady.
    ///
    /// # Formula
    /// The least n at which for every stretch of `distance/n` `discharge - C (Q/100/n)² d/100 - 0.434 x rise >= next intake's floor`, with the discharge
    /// under every ceiling and within every pumper's net pressure.
    /// # Units
    /// gpm, psi, ft.
    /// # Range
    /// As [`Self::maximum_distance`].
    /// # Errors
    /// No pumpers or too many; ground that is not the hose's.
    /// # Source
    /// `relay-outline` p. 4.
    pub fn constant_pressure(&self, discharge: ConstantDischarge) -> Result<RelayAnswer, RelayError> {
        self.check()?;
        let psi = discharge.psi();
        let (mut pumpers, mut outcome) = (Vec::new(), Err(NoRelay::PumpersRunOut { given: 0, reached_ft: 0.0 }));
        for count in 1..=self.available() {
            pumpers.clear();
            outcome = self.spaced(count, psi, &mut pumpers);
            if outcome.is_ok() {
                break;
            }
        }
        // Of pumpers that nobody has, no row of gauges is shown.
        if outcome.is_err() && matches!(self.pumpers, RelayPumpers::Typical(_)) {
            pumpers.clear();
        }
        Ok(self.answered(Method::ConstantPressure(psi), pumpers, outcome))
    }

    fn spaced(&self, count: usize, psi: f64, pumpers: &mut Vec<RelayPumper>) -> Result<Arrival, NoRelay> {
        #[expect(clippy::cast_precision_loss, reason = "no more than a handful of pumpers")]
        let place = |number: usize| self.ground.distance_ft() * (number as f64 / count as f64);
        let mut fault = None;
        let mut stand = self.first()?;
        loop {
            let (arrives_psi, found) = self.stretch(&stand, place(stand.number), psi, stand.number == count, pumpers);
            fault = fault.or(found);
            match self.pumper(stand.number + 1) {
                Some(next) if stand.number < count => {
                    stand = Stand::after(self, stand.number + 1, next, place(stand.number), arrives_psi)?;
                }
                _ => {
                    let spare_psi = arrives_psi - self.scene_floor.psi();
                    return fault.map_or(Ok(Arrival { scene_psi: arrives_psi, spare_psi }), Err);
                }
            }
        }
    }

    /// One pumper with its stretch: what arrives at its end, and what is wrong with it.
    fn stretch(
        &self,
        stand: &Stand<'_>,
        to_ft: f64,
        psi: f64,
        is_last: bool,
        pumpers: &mut Vec<RelayPumper>,
    ) -> (f64, Option<NoRelay>) {
        let number = stand.number;
        let places = self.ground.places(stand.at_ft, to_ft);
        let (start, end) = (places[0], places[places.len() - 1]);
        let (most_psi, held_by) = stand.most(end.lowest - start.height);
        pumpers.push(stand.at(psi, HeldBy::Need, to_ft - stand.at_ft));
        let next_floor = self.pumper(number + 1).map(|next| next.intake_floor.psi());
        let floor_psi = next_floor.filter(|_| !is_last).unwrap_or(self.scene_floor.psi());
        let least_psi = psi - (stand.needed_psi(&places, floor_psi) - floor_psi);
        let fault = if psi > most_psi + ROUNDING && held_by == HeldBy::NetPressure {
            let (needed_psi, available_psi) = (psi - stand.intake_psi, stand.net_available_psi);
            Some(NoRelay::NetTooSmall { number, needed_psi, available_psi })
        } else if psi > most_psi + ROUNDING {
            Some(NoRelay::DischargeOverCeiling { number, most_psi })
        } else if least_psi < floor_psi - ROUNDING {
            Some(NoRelay::IntakeUnderFloor { number: number + 1, least_psi, floor_psi })
        } else {
            None
        };
        (psi - stand.lost_psi(start, end), fault)
    }
}
