//! The limits: for each, by itself, the largest flow at which it still holds with every pumper upstream doing the most it may.

use alloc::vec::Vec;

use crate::lay::budget::Station;
use crate::lay::compile::{Lay, Line, Section, lesser};
use crate::quantity::Pressure;
use crate::root::largest_holding;
use crate::supply::SupplyCurve;

/// What can stop more water from arriving.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Limit {
    /// The main is at its floor.
    MainFloor,
    /// The scene pumper's intake is at its floor, fed by the hydrant alone.
    SceneIntake,
    /// The first pumper's intake is at its floor.
    PumperIntake,
    /// A pumper's discharge is at the ceiling of the hose it feeds.
    HoseRating,
    /// A pumper is giving all it can.
    PumperCapacity,
}

impl Limit {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::MainFloor => "main_floor",
            Self::SceneIntake => "scene_intake",
            Self::PumperIntake => "pumper_intake",
            Self::HoseRating => "hose_rating",
            Self::PumperCapacity => "pumper_capacity",
        }
    }
}

/// A limit, where it stands, and the flow at which it is met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitFlow {
    /// The limit.
    pub limit: Limit,
    /// Where.
    pub station: Station,
    /// The largest flow at which it holds, gpm; none if it never binds.
    pub flow_gpm: Option<f64>,
}

/// A flow rounded down for planning: to 10 gpm under 500, else to 25. What is no flow is planned as none.
pub fn planning_gpm(gpm: f64) -> f64 {
    if gpm.is_nan() || gpm <= 0.0 {
        return 0.0;
    }
    let step = if gpm < 500.0 { 10.0 } else { 25.0 };
    libm::floor(gpm / step) * step
}

/// A line worked from a source.
pub(super) struct Working<'a> {
    pub(super) curve: SupplyCurve,
    pub(super) line: &'a Line,
    pub(super) main_floor_psi: f64,
    pub(super) scene_floor_psi: f64,
}

impl Lay {
    pub(super) fn working<'a>(&self, line: &'a Line) -> Working<'a> {
        Working {
            curve: self.problem.source.curve,
            line,
            main_floor_psi: self.problem.main_floor.psi(),
            scene_floor_psi: self.problem.scene_floor.psi(),
        }
    }

    /// The most that arrives with the hydrant alone, gpm.
    ///
    /// # Formula
    /// The largest Q with `P(Q) - losses(Q) - 0.434 x rise >= scene floor` and `P(Q) >= main floor`.
    /// # Units
    /// gpm.
    /// # Range
    /// Steady flow in a filled line.
    /// # Source
    /// Continuity and the formulas of the parts; `kolb-fpt102` for the main.
    pub fn alone_gpm(&self) -> f64 {
        least(&self.working(&self.alone).limits()).map_or(0.0, |(_, gpm)| gpm)
    }
}

/// The limit that binds, with its flow. The list is in order from the source, and the first of equals stands.
pub(super) fn least(limits: &[LimitFlow]) -> Option<(LimitFlow, f64)> {
    let mut found: Option<(LimitFlow, f64)> = None;
    for limit in limits {
        if let Some(gpm) = limit.flow_gpm
            && found.is_none_or(|(_, least)| gpm < least)
        {
            found = Some((*limit, gpm));
        }
    }
    found
}

/// Two limits that are the same flow but for the last digits are the lesser of the two, so that rounding does not choose the diagnosis: a pumper
/// right at the hydrant meets its intake floor with the main's. The lesser, because a limit just under a step must stay under it.
fn tie(limits: &mut [LimitFlow]) {
    const SAME: f64 = 1e-9;
    for i in 1..limits.len() {
        let (nearer, rest) = limits.split_at_mut(i);
        let Some(gpm) = rest[0].flow_gpm else { continue };
        let same =
            nearer.iter_mut().find(|limit| limit.flow_gpm.is_some_and(|other| (gpm - other).abs() <= SAME * gpm));
        if let Some(limit) = same {
            let least = limit.flow_gpm.map_or(gpm, |other| other.min(gpm));
            (limit.flow_gpm, rest[0].flow_gpm) = (Some(least), Some(least));
        }
    }
}

impl Working<'_> {
    /// Floor at the end of section `i`, psi.
    pub(super) fn floor_after(&self, i: usize) -> f64 {
        self.line.pumpers.get(i).map_or(self.scene_floor_psi, |pumper| pumper.intake_floor.psi())
    }

    /// The most pumper `i` may discharge into the section it feeds, psi.
    pub(super) fn ceiling_psi(&self, i: usize) -> Option<f64> {
        lesser(self.line.pumpers[i].max_discharge.map(Pressure::psi), self.line.sections[i + 1].marking_psi)
    }

    /// What reaches the end of section `i` with every pumper upstream doing the most it may, psi, and its slope.
    pub(super) fn most_after(&self, i: usize, gpm: f64) -> (f64, f64) {
        let (mut psi, mut slope) = self.curve.pressure_and_slope(gpm);
        for (k, section) in self.line.sections[..=i].iter().enumerate() {
            if k > 0 {
                (psi, slope) = self.most_discharge(k - 1, gpm, (psi, slope));
            }
            let (loss, steeper) = section.loss_and_slope(gpm);
            psi -= loss;
            slope -= steeper;
        }
        (psi, slope)
    }

    fn most_discharge(&self, pumper: usize, gpm: f64, intake: (f64, f64)) -> (f64, f64) {
        let (net, net_slope) = self.line.pumpers[pumper].curve.net_and_slope(gpm);
        let free = (intake.0 + net, intake.1 + net_slope);
        match self.ceiling_psi(pumper) {
            Some(ceiling) if ceiling < free.0 => (ceiling, 0.0),
            _ => free,
        }
    }

    /// Every limit, nearest the source first.
    pub(super) fn limits(&self) -> Vec<LimitFlow> {
        let main_gpm = self.curve.flow_gpm(self.main_floor_psi);
        let mut limits = Vec::with_capacity(2 + 2 * self.line.pumpers.len());
        limits.push(LimitFlow { limit: Limit::MainFloor, station: Station::Main, flow_gpm: Some(main_gpm) });
        let (limit, station) = if self.line.pumpers.is_empty() {
            (Limit::SceneIntake, Station::Scene)
        } else {
            (Limit::PumperIntake, Station::PumperIntake(1))
        };
        limits.push(LimitFlow { limit, station, flow_gpm: self.hydrant_reach() });
        for i in 0..self.line.pumpers.len() {
            let station = Station::PumperDischarge(i + 1);
            limits.push(LimitFlow { limit: Limit::HoseRating, station, flow_gpm: self.hose_rating(i) });
            limits.push(LimitFlow { limit: Limit::PumperCapacity, station, flow_gpm: Some(self.capacity(i)) });
        }
        tie(&mut limits);
        limits
    }

    /// The most the hydrant presses to the end of the first section at its floor; none where the test shows no drop and the losses
    /// leave room at all it proved.
    fn hydrant_reach(&self) -> Option<f64> {
        let section = &self.line.sections[0];
        let floor = self.floor_after(0);
        let slack = |gpm: f64| {
            let (psi, slope) = self.curve.pressure_and_slope(gpm);
            let (loss, steeper) = section.loss_and_slope(gpm);
            (psi - loss - floor, slope - steeper)
        };
        if slack(0.0).0 < 0.0 {
            return Some(0.0);
        }
        let head = self.curve.static_psi() - section.rise_psi - floor;
        if self.curve.no_drop() {
            let tested = self.curve.tested_gpm();
            // The hose alone would have used up the head here.
            let most = by_squares(head, section).map_or(tested, |by_hose| by_hose.min(tested));
            return (slack(tested).0 < 0.0).then(|| largest_holding(0.0, most, slack));
        }
        // The main alone, or the hose alone, would have used up the head here: the lay passes neither.
        let by_main = self.curve.flow_gpm(self.curve.static_psi() - head);
        let by_hose = by_squares(head, section).unwrap_or(by_main);
        Some(largest_holding(0.0, by_main.min(by_hose), slack))
    }

    fn hose_rating(&self, i: usize) -> Option<f64> {
        let section = &self.line.sections[i + 1];
        let head = self.ceiling_psi(i)? - self.floor_after(i + 1) - section.rise_psi;
        let by_squares = by_squares(head, section);
        if !section.stepped {
            return by_squares;
        }
        // Steps only take more: the squared losses by themselves bound the flow, and where there are none, what a main can give does.
        let most = by_squares.unwrap_or(crate::quantity::Flow::BOUND.max);
        let slack = |gpm: f64| {
            let (loss, slope) = section.loss_and_slope(gpm);
            (head + section.rise_psi - loss, -slope)
        };
        let found = largest_holding(0.0, most, slack);
        (by_squares.is_some() || found < most).then_some(found)
    }

    fn capacity(&self, i: usize) -> f64 {
        let pumper = &self.line.pumpers[i];
        let section = &self.line.sections[i + 1];
        let floor = self.floor_after(i + 1);
        largest_holding(0.0, pumper.curve.capacity_gpm(), |gpm| {
            let (intake, intake_slope) = self.most_after(i, gpm);
            let (net, net_slope) = pumper.curve.net_and_slope(gpm);
            let (loss, loss_slope) = section.loss_and_slope(gpm);
            (intake + net - loss - floor, intake_slope + net_slope - loss_slope)
        })
    }
}

/// The flow at which the squared losses take a head, gpm: nothing where the head is less than nothing, none where nothing is lost.
fn by_squares(head: f64, section: &Section) -> Option<f64> {
    if head < 0.0 {
        return Some(0.0);
    }
    (section.squared > 0.0).then(|| 100.0 * libm::sqrt(head / section.squared))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn planning_flows_round_down() {
        for (exact, planned) in [(0.0, 0.0), (9.9, 0.0), (494.3, 490.0), (500.0, 500.0), (542.9, 525.0), (764.9, 750.0)]
        {
            assert_eq!(planning_gpm(exact), planned, "{exact}");
        }
    }
}
