//! The whole answer: flows, limits, diagnosis, gauges, budget, findings and cautions.

use alloc::vec::Vec;

use crate::band::Band;
use crate::caution::Caution;
use crate::finding::{Finding, FindingCode};
use crate::formula::Formula;
use crate::lay::budget::{BudgetLine, Gauge, Station};
use crate::lay::compile::Lay;
use crate::lay::diagnosis::{Diagnosis, Flows};
use crate::lay::fill::Fill;
use crate::lay::limits::LimitFlow;
use crate::lay::plan::PumperReading;
use crate::lay::sure::At;
use crate::lay::workings::{Solved, Workings};
use crate::quantity::PositiveFlow;

/// One working of the lay, at the flow it delivers.
#[derive(Debug, Clone, PartialEq)]
pub struct LineAnswer {
    /// The most that arrives, gpm.
    pub deliverable_gpm: f64,
    /// How sure that is. Its low end is what to plan on.
    pub band: Band,
    /// How sure the reading is at the end of the hydrant's own section: at the scene intake without pumpers, else at the first pumper's.
    pub intake: IntakeBand,
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

/// How sure an intake's reading is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntakeBand {
    /// Where.
    pub station: Station,
    /// The flow it is read at, gpm: the one wanted where it arrives, else what is delivered.
    pub at_gpm: f64,
    /// What it reads, psi.
    pub pressure_psi: f64,
    /// Under this once in twenty, psi; under nothing the intake collapses.
    pub low_psi: f64,
    /// Over this once in twenty, psi.
    pub high_psi: f64,
}

/// The lay at the flow wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct AtTarget {
    /// Whether it arrives.
    pub met: bool,
    /// Whether it arrives at the low end of the band too.
    pub met_at_low_end: bool,
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
    /// How sure that is.
    pub gain_band: Option<Band>,
    /// What the main gives at its floor, gpm.
    pub main_limit_gpm: f64,
    /// How sure that is.
    pub main_band: Band,
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
        let both = Workings::new(self);
        let (alone, best) = (&both.alone, both.best());
        let change_over_psi = self.change_over_psi(alone.gpm).filter(|_| self.problem.boost.is_some());
        let main_limit_gpm = self.problem.source.curve.flow_gpm(self.problem.main_floor.psi());
        let target_gpm = self.problem.target.map(PositiveFlow::gpm);
        let reading = |solved: &Solved<'_>| target_gpm.filter(|target| *target <= solved.gpm).unwrap_or(solved.gpm);
        let gain_gpm = best.map_or(0.0, |best| best.gpm - alone.gpm);
        let at = At { alone_gpm: reading(alone), best_gpm: best.map_or(0.0, reading), gain_gpm };
        let bands = self.bands(at);
        let flows = self.flows(&both, main_limit_gpm, &bands.main);

        let scene = alone.intake(at.alone_gpm, bands.scene);
        let boosted = best.zip(bands.best).map(|(best, band)| {
            let pumped = bands.intake.filter(|_| !best.working.line.pumpers.is_empty());
            let intake = pumped.map_or(scene, |ends| best.intake(at.best_gpm, ends));
            best.worded(flows.boosted(best.gpm, &band), change_over_psi, (band, intake))
        });
        let unboosted = alone.worded(flows.alone(&bands.alone), None, (bands.alone, scene));
        let chosen = boosted.as_ref().unwrap_or(&unboosted);
        let fill = self.fill(alone.gpm, main_limit_gpm);
        let mut findings = self.findings(fill.as_ref(), both.over_marking(&chosen.pumpers), both.used_line());
        findings.extend(both.findings(change_over_psi));
        findings.extend(target_gpm.into_iter().flat_map(|target| in_doubt(target, &chosen.band, &bands.main)));
        let mut answer = LayAnswer {
            gain_gpm: boosted.as_ref().map(|boosted| boosted.deliverable_gpm - unboosted.deliverable_gpm),
            gain_band: bands.gain,
            main_limit_gpm,
            diagnosis: boosted.as_ref().filter(|_| both.written).unwrap_or(&unboosted).diagnosis.clone(),
            at_target: target_gpm.map(|target| at_target(both.chosen(), &chosen.band, target, change_over_psi)),
            change_over_psi,
            intake_at_main_floor_psi: both.intake_at_main_floor_psi(main_limit_gpm),
            longest_lay_ft: target_gpm.and_then(|target| both.longest_ft(target)),
            fill,
            findings,
            cautions: Vec::new(),
            basis: self.basis(),
            main_band: bands.main,
            unboosted,
            boosted,
        };
        answer.cautions = self.cautions(&answer);
        answer
    }

    fn flows<'a>(&self, both: &Workings<'_>, main_gpm: f64, main_band: &'a Band) -> Flows<'a> {
        Flows {
            alone_gpm: both.alone.gpm,
            boosted: both.best().map(|best| (best.gpm, best.binding.limit)),
            main_gpm,
            target_gpm: self.problem.target.map(PositiveFlow::gpm),
            too_high: both.alone.working.too_high(),
            pumper_is_no_help: both.would_limit(),
            no_drop: self.problem.source.curve.no_drop(),
            hose_before_pumper: both.pumped.as_ref().is_some_and(|pumped| pumped.working.line.lays_before_pumper()),
            main_band,
        }
    }
}

/// What is wanted lies where the figures may be off.
pub(super) fn in_doubt(target_gpm: f64, arrives: &Band, main: &Band) -> impl Iterator<Item = Finding> {
    let weighed = [(arrives, FindingCode::TargetInBand), (main, FindingCode::TargetInMainBand)];
    weighed.map(|(band, code)| band.straddles(target_gpm).then_some(Finding::new(code, band.low))).into_iter().flatten()
}

fn at_target(solved: &Solved<'_>, band: &Band, target: f64, change_over: Option<f64>) -> AtTarget {
    let met = solved.gpm >= target;
    let met_at_low_end = met && band.low >= target;
    let pumpers = if met { solved.working.plan(target, change_over) } else { Vec::new() };
    let gauges = if met { solved.working.gauges(target, &pumpers) } else { Vec::new() };
    AtTarget { met, met_at_low_end, shortfall_gpm: (target - solved.gpm).max(0.0), pumpers, gauges }
}
