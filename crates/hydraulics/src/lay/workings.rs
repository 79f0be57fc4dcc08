//! A lay worked alone and with its pumpers, solved for its flows and not yet worded.

use alloc::vec::Vec;

use crate::band::Band;
use crate::finding::{Finding, FindingCode};
use crate::lay::answer::{IntakeBand, LineAnswer};
use crate::lay::budget::{PartKind, Station};
use crate::lay::compile::{Lay, Line};
use crate::lay::diagnosis::Diagnosis;
use crate::lay::limits::{Limit, LimitFlow, Working, least};
use crate::lay::plan::PumperReading;

/// A lay worked alone, and with its pumpers if it has any.
pub(super) struct Workings<'a> {
    pub(super) alone: Solved<'a>,
    pub(super) pumped: Option<Solved<'a>>,
    /// The pumpers are written into the lay.
    pub(super) written: bool,
}

impl<'a> Workings<'a> {
    pub(super) fn new(lay: &'a Lay) -> Self {
        let pumped = lay.pumped.as_ref().map(|line| Solved::new(lay.working(line)));
        let written = lay.problem.boost.is_none() && pumped.is_some();
        Self { alone: Solved::new(lay.working(&lay.alone)), pumped, written }
    }

    pub(super) fn would_limit(&self) -> bool {
        self.pumped.as_ref().is_some_and(|pumped| pumped.gpm < self.alone.gpm)
    }

    /// A pumper at a valve falls back to hydrant pressure; a pumper written into the lay does not.
    pub(super) fn best(&self) -> Option<&Solved<'a>> {
        let left_out = self.would_limit() && !self.written;
        self.pumped.as_ref().map(|pumped| if left_out { &self.alone } else { pumped })
    }

    pub(super) fn chosen(&self) -> &Solved<'a> {
        self.best().unwrap_or(&self.alone)
    }

    /// The line that pumpers press on, if they do.
    pub(super) fn used_line(&self) -> Option<&'a Line> {
        let pumped = self.pumped.as_ref().filter(|_| self.written || !self.would_limit());
        pumped.map(|pumped| pumped.working.line)
    }

    /// By how much something would be over its marking with nothing flowing, boosted as it is or alone, psi.
    pub(super) fn over_marking(&self, pumpers: &[PumperReading]) -> Option<f64> {
        let boosted = self.chosen().working.over_marking(pumpers);
        boosted.into_iter().chain(self.alone.working.over_marking(&[])).reduce(f64::max)
    }

    pub(super) fn findings(&self, change_over_psi: Option<f64>) -> impl Iterator<Item = Finding> {
        let ceiling = self.pumped.as_ref().and_then(|pumped| pumped.working.ceiling_psi(0));
        let shut = change_over_psi.filter(|psi| ceiling.is_some_and(|ceiling| *psi > ceiling));
        let shut = shut.map(|psi| Finding::new(FindingCode::ValveStaysShut, psi));
        let limits = self.would_limit().then(|| Finding::new(FindingCode::PumperWouldLimit, self.alone.gpm));
        shut.into_iter().chain(limits)
    }

    pub(super) fn intake_at_main_floor_psi(&self, main_gpm: f64) -> Option<f64> {
        self.pumped.as_ref().and_then(|pumped| pumped.working.intake_at_main_floor_psi(main_gpm))
    }

    /// Alone or with the pumper, whichever reaches farther; a lay with pumpers written in, as written.
    pub(super) fn longest_ft(&self, target: f64) -> Option<f64> {
        let by_pumpers = self.pumped.as_ref().and_then(|pumped| pumped.working.longest_ft(target));
        if self.written {
            return by_pumpers;
        }
        by_pumpers.into_iter().chain(self.alone.working.longest_ft(target)).reduce(f64::max)
    }
}

/// A working solved for its flow, not yet worded.
pub(super) struct Solved<'a> {
    pub(super) working: Working<'a>,
    pub(super) limits: Vec<LimitFlow>,
    pub(super) binding: LimitFlow,
    pub(super) gpm: f64,
}

impl<'a> Solved<'a> {
    pub(super) fn new(working: Working<'a>) -> Self {
        let mut limits = working.limits();
        let nothing = LimitFlow { limit: Limit::MainFloor, station: Station::Main, flow_gpm: Some(0.0) };
        let (binding, gpm) = least(&limits).unwrap_or((nothing, 0.0));
        // Stable: equals stay in order from the source.
        limits.sort_by(|a, b| a.flow_gpm.unwrap_or(f64::MAX).total_cmp(&b.flow_gpm.unwrap_or(f64::MAX)));
        Self { working, limits, binding, gpm }
    }

    pub(super) fn worded(
        &self,
        diagnosis: Diagnosis,
        change_over: Option<f64>,
        (band, intake): (Band, IntakeBand),
    ) -> LineAnswer {
        let pumpers = self.working.plan(self.gpm, change_over);
        let scene_no_flow_psi = self.working.at_rest(&pumpers).last().copied().unwrap_or(0.0);
        LineAnswer {
            deliverable_gpm: self.gpm,
            band,
            intake,
            limited_by: self.binding,
            limits: self.limits.clone(),
            diagnosis,
            budget: self.working.budget(self.gpm, &pumpers),
            gauges: self.working.gauges(self.gpm, &pumpers),
            pumpers,
            scene_no_flow_psi,
        }
    }
}

impl Solved<'_> {
    /// The reading at the end of the hydrant's own section.
    pub(super) fn intake(&self, at_gpm: f64, (low_psi, high_psi): (f64, f64)) -> IntakeBand {
        let pumped = !self.working.line.pumpers.is_empty();
        let station = if pumped { Station::PumperIntake(1) } else { Station::Scene };
        let pressure_psi = self.working.curve.pressure_psi(at_gpm) - self.working.line.sections[0].loss_psi(at_gpm);
        IntakeBand { station, at_gpm, pressure_psi, low_psi, high_psi }
    }
}

impl Working<'_> {
    /// What the first pumper's intake reads when the main is at its floor. None where the main cannot come to its floor, or was never above it, or
    /// the reading would be under nothing.
    pub(super) fn intake_at_main_floor_psi(&self, main_gpm: f64) -> Option<f64> {
        if self.curve.no_drop() || self.curve.static_psi() < self.main_floor_psi {
            return None;
        }
        let intake = self.curve.pressure_psi(main_gpm) - self.line.sections[0].loss_psi(main_gpm);
        (intake >= 0.0).then_some(intake)
    }

    /// Whether the rise to the end of the hydrant's own section leaves less than the floor there even with nothing flowing.
    pub(super) fn too_high(&self) -> bool {
        self.curve.static_psi() - self.line.sections[0].rise_psi < self.floor_after(0)
            && self.curve.static_psi() >= self.floor_after(0)
    }
}

impl Line {
    /// Whether supply hose lies between the hydrant and the first pumper: more than the connecting hose beside a valve.
    pub(super) fn lays_before_pumper(&self) -> bool {
        let laid = |kind| matches!(kind, PartKind::Hose | PartKind::Parallel);
        self.sections[0].elements.iter().any(|element| laid(element.part.kind))
    }
}
