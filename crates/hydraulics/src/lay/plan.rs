//! What each pumper has to do for a flow: the discharge the rest of the line needs, and no more.

use alloc::vec::Vec;

use crate::lay::budget::PartKind;
use crate::lay::compile::Lay;
use crate::lay::limits::Working;
use crate::loss::PSI_PER_FOOT;
use crate::quantity::Pressure;

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
    /// The discharges needed for a flow, or what there is of them where the line cannot carry it. `change_over_psi` is what the first pumper's
    /// discharge must pass before a hydrant valve lets its water in.
    ///
    /// Backwards for what each must give, so that a weak pumper downstream is fed more; forwards for what then stands on the gauges.
    pub(super) fn plan(&self, gpm: f64, change_over_psi: Option<f64>) -> Vec<PumperReading> {
        self.plan_with(gpm, change_over_psi, &[])
    }

    /// The same where some discharges were read: such a pumper does what its gauge says.
    pub(super) fn plan_with(
        &self,
        gpm: f64,
        change_over_psi: Option<f64>,
        read: &[Option<Pressure>],
    ) -> Vec<PumperReading> {
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
            let valve = change_over_psi.filter(|_| i == 0).unwrap_or(0.0);
            // No more than it can and may, even where that is too little and nothing arrives; no less than runs through it by itself.
            let planned_psi = needed[i].max(valve).min(most).max(intake_psi);
            let discharge_psi = read.get(i).copied().flatten().map_or(planned_psi, Pressure::psi);
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

    /// What stands at the start of each section with nothing flowing and the pumpers as they are, psi, and at the scene last: what comes from
    /// upstream runs through a pumper that adds less.
    pub(super) fn at_rest(&self, readings: &[PumperReading]) -> Vec<f64> {
        let mut psi = self.curve.static_psi();
        let mut standing = Vec::with_capacity(self.line.sections.len() + 1);
        for (i, section) in self.line.sections.iter().enumerate() {
            if let Some(reading) = i.checked_sub(1).and_then(|pumper| readings.get(pumper)) {
                psi = psi.max(reading.discharge_psi);
            }
            standing.push(psi);
            psi -= section.rise_psi;
        }
        standing.push(psi);
        standing
    }

    /// By how much some hose or appliance is over its marking then, psi.
    pub(super) fn over_marking(&self, readings: &[PumperReading]) -> Option<f64> {
        let standing = self.at_rest(readings);
        let over =
            self.line.sections.iter().zip(standing).filter_map(|(section, psi)| Some(psi - section.marking_psi?));
        over.filter(|psi| *psi > OVER_MARKING_PSI).reduce(f64::max)
    }
}

/// A pumper right at its ceiling is over it by rounding only.
const OVER_MARKING_PSI: f64 = 1e-9;

impl Lay {
    /// The pumper discharge at which a hydrant valve changes over while `gpm` is running unboosted, psi: the pressure on the valve's hydrant side
    /// and the loss from pumper to valve, at most what stands there with nothing flowing. None without a valve.
    ///
    /// # Formula
    /// `min(P(Q) - losses before the valve + from_pump loss, S - 0.434 x rise to the valve)`.
    /// # Units
    /// gpm; psi out.
    /// # Range
    /// A valve whose clapper swings on pressure: valves differ, and the maker's instructions govern.
    /// # Source
    /// `common-practice`.
    pub fn change_over_psi(&self, gpm: f64) -> Option<f64> {
        let valve = self.valve()?;
        let curve = self.problem.source.curve;
        let before = || self.alone.sections[0].elements.iter().take_while(|e| e.part.kind != PartKind::ValveThrough);
        let lost: f64 = before().map(|element| element.loss.psi(gpm)).sum();
        let rise_ft: f64 = before().map(|element| element.loss.rise_ft()).sum();
        let hose = valve.from_pump_hose.map_or(0.0, |hose| hose.squared_coefficient());
        let leg = crate::loss::squared_psi(valve.from_pump.psi_per_100gpm2() + hose, gpm);
        Some((curve.pressure_psi(gpm) - lost + leg).min(curve.static_psi() - PSI_PER_FOOT * rise_ft))
    }
}
