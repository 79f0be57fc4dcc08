//! The longest lay that still carries a flow.

use crate::lay::budget::PartKind;
use crate::lay::compile::{Element, Loss};
use crate::lay::limits::Working;

impl Working<'_> {
    /// Total length of the lay at which `gpm` just arrives, ft, all else as given: the longest hose of it stretches (or shrinks), the first among
    /// equals. None where the flow does not arrive at any length, or no hose is laid in the line.
    ///
    /// # Formula
    /// Loss is straight in length: `L + (pressure to spare) / (C (Q/100/n)² / 100)`.
    /// # Units
    /// gpm; ft out.
    /// # Range
    /// As the losses'. The lay's rise stays as it is.
    /// # Source
    /// `relay-outline` (maximum-distance relay), solved for length.
    pub(super) fn longest_ft(&self, gpm: f64) -> Option<f64> {
        if gpm > self.curve.flow_gpm(self.main_floor_psi) {
            return None;
        }
        let (stretch, hose) = self.longest_hose()?;
        let Loss::Squared(k) = hose.loss else { return None };
        let start = self.most_into(stretch, gpm)?;
        let spare = start - self.line.sections[stretch].loss_psi(gpm) - self.needed_after(stretch, gpm)?;
        let psi_per_ft = crate::loss::squared_psi(k, gpm) / hose.length_ft;
        let hose_ft = hose.length_ft + spare / psi_per_ft;
        let total: f64 = self.line.sections.iter().flat_map(|s| &s.elements).map(|e| e.length_ft).sum();
        (hose_ft >= 0.0).then_some(total - hose.length_ft + hose_ft)
    }

    fn longest_hose(&self) -> Option<(usize, &Element)> {
        let mut found: Option<(usize, &Element)> = None;
        for (i, section) in self.line.sections.iter().enumerate() {
            for element in section.elements.iter().filter(|element| element.part.kind == PartKind::Hose) {
                if found.is_none_or(|(_, longest)| element.length_ft > longest.length_ft) {
                    found = Some((i, element));
                }
            }
        }
        found
    }

    /// The most that can stand at the start of section `i`, psi; none where a pumper before it is past its floor or its capacity.
    fn most_into(&self, i: usize, gpm: f64) -> Option<f64> {
        let mut psi = self.curve.pressure_psi(gpm);
        for (k, pumper) in self.line.pumpers[..i].iter().enumerate() {
            let intake = psi - self.line.sections[k].loss_psi(gpm);
            if intake < pumper.intake_floor.psi() || gpm > pumper.curve.capacity_gpm() {
                return None;
            }
            let free = intake + pumper.curve.net_psi(gpm);
            psi = self.ceiling_psi(k).map_or(free, |ceiling| ceiling.min(free));
        }
        Some(psi)
    }

    /// The least that must arrive at the end of section `i`, psi; none where a pumper after it cannot do its part.
    fn needed_after(&self, i: usize, gpm: f64) -> Option<f64> {
        let mut at_end = self.scene_floor_psi;
        for (k, pumper) in self.line.pumpers.iter().enumerate().skip(i).rev() {
            let discharge = at_end + self.line.sections[k + 1].loss_psi(gpm);
            let over = self.ceiling_psi(k).is_some_and(|ceiling| discharge > ceiling);
            if over || gpm > pumper.curve.capacity_gpm() {
                return None;
            }
            at_end = pumper.intake_floor.psi().max(discharge - pumper.curve.net_psi(gpm));
        }
        Some(at_end)
    }
}
