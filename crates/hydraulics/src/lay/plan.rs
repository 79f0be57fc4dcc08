//! What each pumper has to do for a flow: the discharge the rest of the line needs, and no more.

use alloc::vec::Vec;

use crate::lay::compile::Lay;
use crate::lay::limits::Working;

/// One pumper's gauges at a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumperReading {
    /// Which pumper, from 1 at the hydrant.
    pub number: usize,
    /// At its intake, psi.
    pub intake_psi: f64,
    /// At its discharge, psi.
    pub discharge_psi: f64,
    /// What it adds, psi.
    pub net_psi: f64,
}

impl Working<'_> {
    /// The discharges needed for a flow the line can carry. `change_over_psi` is what the first pumper's discharge must pass before a hydrant
    /// valve lets its water in.
    ///
    /// Backwards for what each must give, so that a weak pumper downstream is fed more; forwards for what then stands on the gauges.
    pub(super) fn plan(&self, gpm: f64, change_over_psi: Option<f64>) -> Vec<PumperReading> {
        let pumpers = &self.line.pumpers;
        let mut needed = Vec::with_capacity(pumpers.len());
        let mut at_end = self.scene_floor_psi;
        for (i, pumper) in pumpers.iter().enumerate().rev() {
            let discharge = at_end + self.line.sections[i + 1].loss_psi(gpm);
            needed.push(discharge);
            at_end = pumper.intake_floor.psi().max(discharge - pumper.curve.net_psi(gpm));
        }
        needed.reverse();

        let mut readings = Vec::with_capacity(pumpers.len());
        let mut psi = self.curve.pressure_psi(gpm);
        for (i, pumper) in pumpers.iter().enumerate() {
            let intake_psi = psi - self.line.sections[i].loss_psi(gpm);
            let most = intake_psi + pumper.curve.net_psi(gpm);
            let most = self.ceiling_psi(i).map_or(most, |ceiling| ceiling.min(most));
            // A change-over pressure the pumper cannot reach is not planned with; what the line needs always is.
            let valve = change_over_psi.filter(|_| i == 0).map_or(0.0, |psi| psi.min(most));
            let discharge_psi = needed[i].max(valve).max(intake_psi);
            readings.push(PumperReading {
                number: i + 1,
                intake_psi,
                discharge_psi,
                net_psi: discharge_psi - intake_psi,
            });
            psi = discharge_psi;
        }
        readings
    }
}

impl Lay {
    /// The pumper discharge at which a hydrant valve changes over while `gpm` is running unboosted, psi: the pressure on the valve's hydrant side
    /// and the loss from pumper to valve, at most static. None without a valve.
    ///
    /// # Formula
    /// `min(P(Q) - losses before the valve + from_pump loss, S)`.
    /// # Units
    /// gpm; psi out.
    /// # Range
    /// A valve whose clapper swings on pressure. Common practice: valves differ, and the maker's instructions govern.
    /// # Source
    /// Common practice.
    pub fn change_over_psi(&self, gpm: f64) -> Option<f64> {
        use crate::lay::budget::PartKind;
        let valve = self.valve()?;
        let curve = self.problem.source.curve;
        let before: f64 = self.alone.sections[0]
            .elements
            .iter()
            .take_while(|element| element.part.kind != PartKind::ValveThrough)
            .map(|element| element.loss.psi(gpm))
            .sum();
        let hose = valve.from_pump_hose.map_or(0.0, |hose| hose.squared_coefficient());
        let leg = crate::loss::squared_psi(valve.from_pump.psi_per_100gpm2() + hose, gpm);
        Some((curve.pressure_psi(gpm) - before + leg).min(curve.static_psi()))
    }
}
