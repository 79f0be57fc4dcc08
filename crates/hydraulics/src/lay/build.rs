//! Part by part from hydrant to scene: the sections of a line, with what bears on them.

use alloc::vec::Vec;

use crate::lay::budget::{PartKind, PartRef};
use crate::lay::compile::{Element, Line, Loss, Section, lesser};
use crate::lay::parallel::{SteppedBranch, SteppedGroup};
use crate::lay::parts::{Branch, BranchPart, LayProblem, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve, PSI_PER_FOOT};
use crate::parallel_lines::equivalent_squared;
use crate::pumper::Pumper;
use crate::quantity::Pressure;

/// Builds the line part by part, with the pumpers or with all of them taken out.
pub(super) fn build(problem: &LayProblem, pumped: bool) -> Line {
    let mut line = Builder::default();
    if let Some(k) = problem.source.body_loss {
        line.squared(PartKind::HydrantBody, None, k.psi_per_100gpm2());
    }
    let boost = problem.boost.as_ref().filter(|_| pumped);
    let has_valve = problem.parts.iter().any(|part| matches!(part, Part::HydrantValve(_)));
    if let Some(pumper) = boost.filter(|_| !has_valve) {
        line.pumper(None, pumper);
    }
    let last_hose = problem.parts.iter().rposition(|part| matches!(part, Part::Hose(_) | Part::Parallel(_)));
    for (i, part) in problem.parts.iter().enumerate() {
        match part {
            Part::Hose(hose) => line.hose(PartKind::Hose, Some(i), hose),
            Part::Parallel(branches) => line.parallel(i, branches),
            Part::Appliance(appliance) => line.appliance(i, appliance),
            Part::Rise(rise) => line.rise(Some(i), rise.ft()),
            Part::HydrantValve(valve) => line.valve(i, valve, boost),
            Part::Pumper(pumper) if pumped => line.pumper(Some(i), pumper),
            Part::Pumper(_) => {}
        }
        if let Some(rise) = problem.rise.filter(|_| last_hose == Some(i)) {
            line.rise(None, rise.ft());
        }
    }
    if let Some(rise) = problem.rise.filter(|_| last_hose.is_none()) {
        line.rise(None, rise.ft());
    }
    line.finish()
}

#[derive(Default)]
struct Builder {
    done: Vec<Section>,
    pumpers: Vec<Pumper>,
    pumper_parts: Vec<Option<usize>>,
    section: Section,
    height: Height,
}

/// Follows the ground through a section, so that a fall counts against the hose that runs down it wherever the rise is written. A hose reaches
/// from where the one before it ended to where the next begins.
#[derive(Default)]
struct Height {
    now_ft: f64,
    /// Lowest ground since the last hose ended.
    lowest_since_ft: f64,
    /// Marking of the last hose; its lowest ground is still open.
    open: Option<f64>,
}

impl Builder {
    fn push(&mut self, kind: PartKind, index: Option<usize>, loss: Loss, length_ft: f64, volume_gal: Option<f64>) {
        match &loss {
            Loss::Squared(k) => self.section.squared += k,
            Loss::Rise(feet) => self.section.rise_psi += PSI_PER_FOOT * feet,
            Loss::Step { .. } | Loss::Parallel(_) => self.section.stepped = true,
        }
        self.section.elements.push(Element { part: PartRef { kind, index }, loss, length_ft, volume_gal });
    }

    fn squared(&mut self, kind: PartKind, index: Option<usize>, k: f64) {
        self.push(kind, index, Loss::Squared(k), 0.0, Some(0.0));
    }

    fn hose(&mut self, kind: PartKind, index: Option<usize>, hose: &Hose) {
        self.push(kind, index, Loss::Squared(hose.squared_coefficient()), hose.length().ft(), hose.volume_gal());
        self.laid(hose.rating_psi(), hose.rating_psi().is_none());
    }

    fn appliance(&mut self, i: usize, appliance: &Appliance) {
        self.push(PartKind::Appliance, Some(i), appliance_loss(appliance), 0.0, Some(0.0));
        if let Some(rating) = appliance.max_operating {
            self.mark(rating.psi(), self.height.now_ft);
        }
    }

    fn rise(&mut self, index: Option<usize>, feet: f64) {
        self.push(PartKind::Rise, index, Loss::Rise(feet), 0.0, Some(0.0));
        self.height.now_ft += feet;
        self.height.lowest_since_ft = self.height.lowest_since_ft.min(self.height.now_ft);
    }

    fn valve(&mut self, i: usize, valve: &HydrantValve, boost: Option<&Pumper>) {
        let Some(pumper) = boost else {
            self.squared(PartKind::ValveThrough, Some(i), valve.through.psi_per_100gpm2());
            return;
        };
        self.squared(PartKind::ValveToPump, Some(i), valve.to_pump.psi_per_100gpm2());
        if let Some(hose) = &valve.to_pump_hose {
            self.connecting_hose(i, hose);
        }
        self.pumper(None, pumper);
        if let Some(hose) = &valve.from_pump_hose {
            self.connecting_hose(i, hose);
        }
        self.squared(PartKind::ValveFromPump, Some(i), valve.from_pump.psi_per_100gpm2());
    }

    /// Beside the valve: it costs friction and holds water, and lays no distance.
    fn connecting_hose(&mut self, i: usize, hose: &Hose) {
        let loss = Loss::Squared(hose.squared_coefficient());
        self.push(PartKind::ConnectingHose, Some(i), loss, 0.0, hose.volume_gal());
        self.laid(hose.rating_psi(), hose.rating_psi().is_none());
    }

    fn parallel(&mut self, i: usize, branches: &[Branch]) {
        let mut squared = Vec::new();
        let mut longest: f64 = 0.0;
        let mut volume = Some(0.0);
        let mut rating: Option<f64> = None;
        let mut unmarked = false;
        let mut lower = |psi: Option<f64>| rating = lesser(rating, psi);
        for branch in branches {
            let (mut k, mut steps, mut length) = (0.0, Vec::new(), 0.0);
            for piece in &branch.parts {
                match piece {
                    BranchPart::Hose(hose) => {
                        k += hose.squared_coefficient();
                        length += hose.length().ft();
                        volume = volume.zip(hose.volume_gal()).map(|(a, b)| a + b);
                        unmarked |= hose.rating_psi().is_none();
                        lower(hose.rating_psi());
                    }
                    BranchPart::Appliance(appliance) => {
                        match appliance_loss(appliance) {
                            Loss::Step { fixed_psi, at_or_above_gpm } => steps.push((at_or_above_gpm, fixed_psi)),
                            loss => k += loss.psi(100.0),
                        }
                        lower(appliance.max_operating.map(Pressure::psi));
                    }
                }
            }
            longest = longest.max(length);
            squared.push((k, steps));
        }
        let loss = if squared.iter().all(|(_, steps)| steps.is_empty()) {
            Loss::Squared(equivalent_squared(squared.iter().map(|(k, _)| *k)))
        } else {
            Loss::Parallel(SteppedGroup::new(squared.into_iter().map(|(k, s)| SteppedBranch::new(k, s)).collect()))
        };
        self.push(PartKind::Parallel, Some(i), loss, longest, volume);
        self.laid(rating, unmarked);
    }

    /// Hose has been laid from here on: close the reach of the hose before it, open its own.
    fn laid(&mut self, rating: Option<f64>, unmarked: bool) {
        let lowest = self.height.lowest_since_ft;
        self.close_reach();
        if let Some(rating) = rating {
            self.mark(rating, lowest);
        }
        self.section.unmarked_hose |= unmarked;
        self.height.open = rating;
        self.height.lowest_since_ft = self.height.now_ft;
    }

    fn close_reach(&mut self) {
        if let Some(rating) = self.height.open.take() {
            self.mark(rating, self.height.lowest_since_ft);
        }
    }

    /// A point of the section at this height may see this pressure at most.
    fn mark(&mut self, rating_psi: f64, height_ft: f64) {
        let at_start = crate::ceiling::at_pumper_psi(rating_psi, height_ft);
        self.section.marking_psi = lesser(self.section.marking_psi, Some(at_start));
    }

    fn pumper(&mut self, part: Option<usize>, pumper: &Pumper) {
        self.end_section();
        self.pumpers.push(pumper.clone());
        self.pumper_parts.push(part);
    }

    fn end_section(&mut self) {
        self.close_reach();
        self.height = Height::default();
        self.done.push(core::mem::take(&mut self.section));
    }

    fn finish(mut self) -> Line {
        self.end_section();
        Line { sections: self.done, pumpers: self.pumpers, pumper_parts: self.pumper_parts }
    }
}

fn appliance_loss(appliance: &Appliance) -> Loss {
    match appliance.loss {
        ApplianceLoss::Squared(k) => Loss::Squared(k.psi_per_100gpm2()),
        ApplianceLoss::Step { fixed, at_or_above } => {
            Loss::Step { fixed_psi: fixed.psi(), at_or_above_gpm: at_or_above.gpm() }
        }
    }
}
