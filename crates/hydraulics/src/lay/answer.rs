//! The whole answer: flows, limits, diagnosis, gauges, budget, findings and cautions.

use alloc::vec::Vec;

use crate::caution::Caution;
use crate::finding::{Finding, FindingCode};
use crate::formula::Formula;
use crate::lay::budget::{BudgetLine, Gauge, PartKind, Station};
use crate::lay::compile::{Lay, Line};
use crate::lay::diagnosis::{Diagnosis, Flows};
use crate::lay::fill::Fill;
use crate::lay::limits::{Limit, LimitFlow, Working, least};
use crate::lay::plan::PumperReading;
use crate::quantity::PositiveFlow;

/// One working of the lay, at the flow it delivers.
#[derive(Debug, Clone, PartialEq)]
pub struct LineAnswer {
    /// The most that arrives, gpm.
    pub deliverable_gpm: f64,
    /// What binds.
    pub limited_by: LimitFlow,
    /// Every limit: flow ascending, those that never bind last. The first binds, the second would be met next.
    pub limits: Vec<LimitFlow>,
    /// What stands between the crew and the water.
    pub diagnosis: Diagnosis,
    /// Where the pressure goes.
    pub budget: Vec<BudgetLine>,
    /// What the gauges read.
    pub gauges: Vec<Gauge>,
    /// What the pumpers do.
    pub pumpers: Vec<PumperReading>,
    /// Scene intake with nothing flowing and the pumpers as they are, psi.
    pub scene_no_flow_psi: f64,
}

/// The lay at the flow wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct AtTarget {
    /// Whether it arrives.
    pub met: bool,
    /// How much is missing, gpm.
    pub shortfall_gpm: f64,
    /// What the pumpers do then; empty where it does not arrive.
    pub pumpers: Vec<PumperReading>,
    /// What the gauges read then; empty where it does not arrive.
    pub gauges: Vec<Gauge>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct LayAnswer {
    /// The hydrant alone, every pumper taken out.
    pub unboosted: LineAnswer,
    /// With the pumpers, if there are any. Through a hydrant valve never less than unboosted; pumpers written into a lay as they are written.
    pub boosted: Option<LineAnswer>,
    /// Boosted less unboosted, gpm.
    pub gain_gpm: Option<f64>,
    /// What the main gives at its floor, gpm.
    pub main_limit_gpm: f64,
    /// Is it friction or is it water: that of the hydrant alone, or of a lay with pumpers written in, as written.
    pub diagnosis: Diagnosis,
    /// The lay at the flow wanted, if one is.
    pub at_target: Option<AtTarget>,
    /// Discharge at which the hydrant valve changes over, with the unboosted flow running, psi.
    pub change_over_psi: Option<f64>,
    /// What the first pumper's intake reads when the main is at its floor, psi; none without pumpers, or where it would be under nothing.
    pub intake_at_main_floor_psi: Option<f64>,
    /// The longest lay that carries the flow wanted, ft.
    pub longest_lay_ft: Option<f64>,
    /// Filling the line.
    pub fill: Option<Fill>,
    /// What is weak about the data.
    pub findings: Vec<Finding>,
    /// What the people must know.
    pub cautions: Vec<Caution>,
    /// The formulas used.
    pub basis: Vec<&'static Formula>,
}

impl LayAnswer {
    /// The working that is the answer: with the pumpers where there are any.
    pub fn answer(&self) -> &LineAnswer {
        self.boosted.as_ref().unwrap_or(&self.unboosted)
    }

    /// What binds.
    pub fn limited_by(&self) -> &LimitFlow {
        &self.answer().limited_by
    }
}

/// A working solved for its flow, not yet worded.
struct Solved<'a> {
    working: Working<'a>,
    limits: Vec<LimitFlow>,
    binding: LimitFlow,
    gpm: f64,
}

impl<'a> Solved<'a> {
    fn new(working: Working<'a>) -> Self {
        let mut limits = working.limits();
        let nothing = LimitFlow { limit: Limit::MainFloor, station: Station::Main, flow_gpm: Some(0.0) };
        let (binding, gpm) = least(&limits).unwrap_or((nothing, 0.0));
        // Stable: equals stay in order from the source.
        limits.sort_by(|a, b| a.flow_gpm.unwrap_or(f64::MAX).total_cmp(&b.flow_gpm.unwrap_or(f64::MAX)));
        Self { working, limits, binding, gpm }
    }

    fn worded(&self, diagnosis: Diagnosis, change_over: Option<f64>) -> LineAnswer {
        let pumpers = self.working.plan(self.gpm, change_over);
        let scene_no_flow_psi = self.working.at_rest(&pumpers).last().copied().unwrap_or(0.0);
        LineAnswer {
            deliverable_gpm: self.gpm,
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

impl Lay {
    /// Answers the question.
    ///
    /// # Formula
    /// The least, over the limits, of the largest flow at which each holds; then every loss and gauge at that flow.
    /// # Units
    /// gpm, psi, ft.
    /// # Range
    /// Steady flow in a filled line; the ranges of the parts' formulas, which the answer's `basis` lists.
    /// # Source
    /// Continuity, and the sources of the parts.
    pub fn answer(&self) -> LayAnswer {
        let alone = Solved::new(self.working(&self.alone));
        let pumped = self.pumped.as_ref().map(|line| Solved::new(self.working(line)));
        let written = self.problem.boost.is_none() && pumped.is_some();
        let change_over_psi = self.change_over_psi(alone.gpm).filter(|_| self.problem.boost.is_some());
        let stays_shut = change_over_psi.filter(|psi| {
            pumped.as_ref().and_then(|pumped| pumped.working.ceiling_psi(0)).is_some_and(|ceiling| *psi > ceiling)
        });
        let would_limit = pumped.as_ref().is_some_and(|pumped| pumped.gpm < alone.gpm);
        // A pumper at a valve falls back to hydrant pressure; a pumper written into the lay does not.
        let best = pumped.as_ref().map(|pumped| if would_limit && !written { &alone } else { pumped });
        let main_limit_gpm = self.problem.source.curve.flow_gpm(self.problem.main_floor.psi());
        let target_gpm = self.problem.target.map(PositiveFlow::gpm);
        let flows = Flows {
            alone_gpm: alone.gpm,
            boosted: best.map(|best| (best.gpm, best.binding.limit)),
            main_gpm: main_limit_gpm,
            target_gpm,
            too_high: alone.working.too_high(),
            pumper_is_no_help: would_limit,
            no_drop: self.problem.source.curve.no_drop(),
            hose_before_pumper: pumped.as_ref().is_some_and(|pumped| pumped.working.line.lays_before_pumper()),
        };

        let unboosted = alone.worded(flows.alone(), None);
        let boosted = best.map(|best| best.worded(flows.boosted(best.gpm), change_over_psi));
        let chosen = best.unwrap_or(&alone);
        let fill = self.fill(alone.gpm, main_limit_gpm);
        let used = self.pumped.as_ref().filter(|_| written || !would_limit);
        let over = chosen.working.over_marking(&boosted.as_ref().unwrap_or(&unboosted).pumpers);
        let mut findings = self.findings(fill.as_ref(), greater(over, alone.working.over_marking(&[])), used);
        findings.extend(stays_shut.map(|psi| Finding::new(FindingCode::ValveStaysShut, psi)));
        findings.extend(would_limit.then(|| Finding::new(FindingCode::PumperWouldLimit, alone.gpm)));
        let mut answer = LayAnswer {
            gain_gpm: boosted.as_ref().map(|boosted| boosted.deliverable_gpm - unboosted.deliverable_gpm),
            main_limit_gpm,
            diagnosis: boosted.as_ref().filter(|_| written).unwrap_or(&unboosted).diagnosis.clone(),
            at_target: target_gpm.map(|target| at_target(chosen, target, change_over_psi)),
            change_over_psi,
            intake_at_main_floor_psi: pumped.as_ref().and_then(|p| p.working.intake_at_main_floor_psi(main_limit_gpm)),
            longest_lay_ft: target_gpm.and_then(|target| longest(&alone, pumped.as_ref(), written, target)),
            fill,
            findings,
            cautions: Vec::new(),
            basis: self.basis(),
            unboosted,
            boosted,
        };
        answer.cautions = self.cautions(&answer);
        answer
    }
}

/// The greater of what is given.
fn greater(a: Option<f64>, b: Option<f64>) -> Option<f64> {
    a.into_iter().chain(b).reduce(f64::max)
}

fn at_target(solved: &Solved<'_>, target: f64, change_over: Option<f64>) -> AtTarget {
    let met = solved.gpm >= target;
    let pumpers = if met { solved.working.plan(target, change_over) } else { Vec::new() };
    let gauges = if met { solved.working.gauges(target, &pumpers) } else { Vec::new() };
    AtTarget { met, shortfall_gpm: (target - solved.gpm).max(0.0), pumpers, gauges }
}

/// Alone or with the pumper, whichever reaches farther; a lay with pumpers written in, as written.
fn longest(alone: &Solved<'_>, pumped: Option<&Solved<'_>>, written: bool, target: f64) -> Option<f64> {
    let by_pumpers = pumped.and_then(|pumped| pumped.working.longest_ft(target));
    if written {
        return by_pumpers;
    }
    let by_hydrant = alone.working.longest_ft(target);
    match (by_pumpers, by_hydrant) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    }
}

impl Working<'_> {
    /// What the first pumper's intake reads when the main is at its floor. None where the main cannot come to its floor, or was never above it, or
    /// the reading would be under nothing.
    fn intake_at_main_floor_psi(&self, main_gpm: f64) -> Option<f64> {
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
