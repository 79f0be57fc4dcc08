//! What goes with an answer: what is weak about the data, what the people must know, which formulas it rests on.

use alloc::vec::Vec;

use crate::caution::{ALWAYS, Caution};
use crate::finding::{Finding, FindingCode, Floor};
use crate::formula::{self, Formula};
use crate::lay::answer::LayAnswer;
use crate::lay::compile::{Lay, Line};
use crate::lay::fill::Fill;
use crate::lay::limits::Limit;
use crate::lay::parts::{BranchPart, LayProblem, Part};
use crate::supply::RATING_PRESSURE_PSI;

/// Pressure at the scene intake with nothing flowing from which shutting nozzles is worth a caution, psi: about what a fog nozzle needs.
/// Common practice.
const NOZZLE_SHUT_PSI: f64 = 100.0;

/// The cautions that go with every lay.
pub(super) const EVERY_LAY: [Caution; 4] =
    [Caution::SupplyLost, Caution::ChargedLine, Caution::BleedAir, Caution::OpenSlowly];

impl Lay {
    /// `pumped` is the line that pumpers press on, if they do.
    pub(super) fn findings(
        &self,
        fill: Option<&Fill>,
        over_marking: Option<f64>,
        pumped: Option<&Line>,
    ) -> Vec<Finding> {
        let source = &self.problem.source;
        let mut found = source.curve.findings();
        if let Some(k) = source.body_loss.filter(|_| source.body_loss_assumed) {
            found.push(Finding::new(FindingCode::AssumedLoss, k.psi_per_100gpm2()));
        }
        for (i, part) in self.problem.parts.iter().enumerate() {
            found.extend(assumed(part).map(|finding| finding.at(Some(i))));
        }
        found.extend(self.lowered_floors());
        let connected = self.valve().is_some_and(|v| v.to_pump_hose.is_some() && v.from_pump_hose.is_some());
        if self.problem.boost.is_some() && !connected {
            found.push(Finding::plain(FindingCode::ConnectingHosesLeftOut));
        }
        found.extend(over_marking.map(|psi| Finding::new(FindingCode::HoseOverRating, psi)));
        if pumped.is_some_and(|line| line.sections.iter().skip(1).any(|section| section.unmarked_hose)) {
            found.push(Finding::plain(FindingCode::HoseUnmarked));
        }
        if self.problem.tank.is_some() && fill.is_none() {
            found.push(Finding::plain(FindingCode::FillUnknown));
        }
        found
    }

    /// The floors set under what is to be left.
    fn lowered_floors(&self) -> impl Iterator<Item = Finding> {
        let LayProblem { main_floor, scene_floor, boost, parts, .. } = &self.problem;
        let ends = [
            Finding::floor_lowered(Floor::Main, *main_floor),
            Finding::floor_lowered(Floor::Scene, *scene_floor),
            boost.as_ref().and_then(|pumper| Finding::floor_lowered(Floor::Intake, pumper.intake_floor)),
        ];
        let between = parts.iter().enumerate().filter_map(|(i, part)| {
            let Part::Pumper(pumper) = part else { return None };
            Finding::floor_lowered(Floor::Intake, pumper.intake_floor).map(|finding| finding.at(Some(i)))
        });
        ends.into_iter().flatten().chain(between)
    }

    pub(super) fn cautions(&self, answer: &LayAnswer) -> Vec<Caution> {
        let pumped = self.pumped.is_some();
        let no_flow_psi = answer.answer().scene_no_flow_psi;
        let over = answer.findings.iter().any(|finding| finding.code == FindingCode::HoseOverRating);
        let low_main = self.problem.main_floor.psi() < RATING_PRESSURE_PSI;
        let when = [
            (
                Caution::TankRunsOutFirst,
                self.problem.tank.is_some() && answer.fill.is_none_or(|fill| fill.tank_runs_out_first()),
            ),
            (Caution::HoseOverRating, over),
            (Caution::MainFloor, pumped || low_main || answer.limited_by().limit == Limit::MainFloor),
            (Caution::SharedMain, pumped),
            (Caution::NozzleShut, pumped || no_flow_psi > NOZZLE_SHUT_PSI),
            (Caution::NoValve, self.valve().is_none()),
        ];
        // What is special to this answer first: the rest comes with every lay, and is read less.
        let special = when.into_iter().filter_map(|(caution, applies)| applies.then_some(caution));
        special.chain(ALWAYS).chain(EVERY_LAY).collect()
    }

    pub(super) fn basis(&self) -> Vec<&'static Formula> {
        let any = |test: fn(&Part) -> bool| self.problem.parts.iter().any(test);
        let appliance = |part: &Part| match part {
            Part::Appliance(_) => true,
            Part::Parallel(branches) => {
                branches.iter().flat_map(|b| &b.parts).any(|piece| matches!(piece, BranchPart::Appliance(_)))
            }
            _ => false,
        };
        let used = [
            (&formula::SUPPLY_CURVE, self.problem.source.curve.fitted_exponent().is_none()),
            (&formula::FITTED_SUPPLY_CURVE, self.problem.source.curve.fitted_exponent().is_some()),
            (&formula::HYDRANT_BODY, self.problem.source.body_loss.is_some()),
            (&formula::HOSE_FRICTION, any(|part| matches!(part, Part::Hose(_) | Part::Parallel(_)))),
            (&formula::PARALLEL_LINES, any(|part| matches!(part, Part::Parallel(_)))),
            (&formula::APPLIANCE_LOSS, self.problem.parts.iter().any(appliance)),
            (&formula::HYDRANT_VALVE, self.valve().is_some()),
            (&formula::ELEVATION, self.problem.rise.is_some() || any(|part| matches!(part, Part::Rise(_)))),
            (&formula::PUMP_RATING, self.pumped.is_some()),
            (&formula::PRESSURE_CEILING, self.pumped.is_some()),
            (&formula::DELIVERABLE_FLOW, true),
            (&formula::FLOW_BAND, true),
            (&formula::CHANGE_OVER, self.valve().is_some() && self.problem.boost.is_some()),
            (&formula::LONGEST_LAY, self.problem.target.is_some()),
            (&formula::LINE_FILL, true),
        ];
        used.into_iter().filter_map(|(formula, applies)| applies.then_some(formula)).collect()
    }
}

/// What is assumed of a part, with the coefficient where there is one.
fn assumed(part: &Part) -> Option<Finding> {
    match part {
        Part::HydrantValve(valve) if valve.assumed => {
            Some(Finding::new(FindingCode::AssumedLoss, valve.through.psi_per_100gpm2()))
        }
        Part::Appliance(appliance) => appliance.assumed_loss(),
        Part::Parallel(branches) => branches.iter().flat_map(|branch| &branch.parts).find_map(|piece| match piece {
            BranchPart::Appliance(appliance) => appliance.assumed_loss(),
            BranchPart::Hose(_) => None,
        }),
        _ => None,
    }
}
