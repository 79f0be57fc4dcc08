//! The bands of a lay's answer: every figure again with one input at an end of its span.

use alloc::vec::Vec;

use crate::band::{Band, Gather, Uncertain, VariedCurve, bounded, of_source, varied};
use crate::lay::build::build;
use crate::lay::compile::{Lay, Line};
use crate::lay::limits::{Limit, LimitFlow, Working, least};
use crate::lay::parts::{Branch, BranchPart, LayProblem, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve};
use crate::quantity::{ApplianceCoefficient, Flow, HoseCoefficient, Pressure};
use crate::spread::{End, Spread};

/// The bands of an answer.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bands {
    /// Of what the main gives at its floor.
    pub(super) main: Band,
    pub(super) alone: Band,
    pub(super) best: Option<Band>,
    pub(super) gain: Option<Band>,
    /// Of the scene intake, psi, at [`At::alone_gpm`].
    pub(super) scene: (f64, f64),
    /// Of the first pumper's intake, psi, at [`At::best_gpm`].
    pub(super) intake: Option<(f64, f64)>,
}

/// The figures as read that the bands lie around: the flows at which the intakes are read, and the gain.
#[derive(Debug, Clone, Copy)]
#[expect(clippy::struct_field_names, reason = "each carries its unit")]
pub(super) struct At {
    pub(super) alone_gpm: f64,
    pub(super) best_gpm: f64,
    pub(super) gain_gpm: f64,
}

/// What is asked of each variation. A flow of none is without bound.
#[derive(Debug, Clone)]
struct Figures {
    main: Option<f64>,
    alone: Worked,
    /// With the pumpers, if there are any.
    best: Option<Worked>,
    scene: f64,
    intake: f64,
}

/// A line's flow, and its limits in order from the source.
#[derive(Debug, Clone)]
struct Worked {
    gpm: Option<f64>,
    limits: Vec<Option<f64>>,
}

impl Figures {
    /// What the pumpers add, by each limit as if it alone bound them.
    fn gain(&self) -> Option<Worked> {
        let best = self.best.as_ref()?;
        let more = |gpm: Option<f64>| Some(gpm? - self.alone.gpm?);
        Some(Worked { gpm: more(best.gpm), limits: best.limits.iter().map(|limit| more(*limit)).collect() })
    }
}

/// Gathers a line's flow with each of its limits: where it is the least of several, one input alone shows neither how far two of them lift it together,
/// nor how far one that almost binds may lower it.
struct GatherLine {
    flow: Gather,
    limits: Vec<Option<Gather>>,
}

impl GatherLine {
    fn new(worked: &Worked, figure: f64, gather: fn(f64) -> Gather) -> Self {
        Self { flow: gather(figure), limits: worked.limits.iter().map(|limit| limit.map(gather)).collect() }
    }

    fn add(&mut self, input: Uncertain, ends: [&Worked; 2]) {
        self.flow.add(input, ends.map(|end| end.gpm));
        for (i, limit) in self.limits.iter_mut().enumerate() {
            if let Some(limit) = limit {
                limit.add(input, ends.map(|end| end.limits.get(i).copied().flatten()));
            }
        }
    }

    /// From the least of the low ends to the least of the limits' high ends; where none of them has one, to that of the flow itself.
    fn band(self) -> Band {
        let limits = || self.limits.iter().flatten();
        let high = limits().filter_map(Gather::high).reduce(f64::min).or_else(|| self.flow.high());
        let low = limits().map(|limit| limit.ends().0).fold(self.flow.ends().0, f64::min);
        Band { low, ..self.flow.band_up_to(high) }
    }
}

impl Lay {
    /// Every band, for at most fourteen solves more than the answer's.
    pub(super) fn bands(&self, at: At) -> Bands {
        let source = &self.problem.source;
        let read = VariedCurve { curve: source.curve, level: false };
        let figures = self.figures(read, &self.alone, self.pumped.as_ref(), at);
        let flow = |gpm: Option<f64>| gpm.unwrap_or(Flow::BOUND.max);
        let mut main = Gather::of_flow(flow(figures.main));
        let mut alone = GatherLine::new(&figures.alone, flow(figures.alone.gpm), Gather::of_flow);
        let mut best = figures.best.as_ref().map(|best| GatherLine::new(best, flow(best.gpm), Gather::of_flow));
        let mut gain = figures.gain().map(|gain| GatherLine::new(&gain, at.gain_gpm, Gather::of_any));
        let mut scene = Gather::of_any(figures.scene);
        let mut intake = Gather::of_any(figures.intake);
        self.vary(read, at, |input, ends| {
            main.add(input, ends.each_ref().map(|f| f.main));
            alone.add(input, ends.each_ref().map(|f| &f.alone));
            if let (Some(best), [Some(low), Some(high)]) = (&mut best, ends.each_ref().map(|f| f.best.as_ref())) {
                best.add(input, [low, high]);
            }
            if let (Some(gain), [Some(low), Some(high)]) = (&mut gain, ends.each_ref().map(Figures::gain)) {
                gain.add(input, [&low, &high]);
            }
            scene.add(input, ends.each_ref().map(|f| Some(f.scene)));
            intake.add(input, ends.each_ref().map(|f| Some(f.intake)));
        });
        let by_itself = gain.as_ref().and_then(|gain| gain.flow.high());
        let (alone, mut best, mut gain) = (alone.band(), best.map(GatherLine::band), gain.map(GatherLine::band));
        if let Some(best) = &mut best {
            // However good the main, no pumper passes more than it has.
            let most =
                self.pumped.iter().flat_map(|line| &line.pumpers).map(|p| p.curve.capacity_gpm()).reduce(f64::min);
            best.high = best.high.into_iter().chain(most).reduce(f64::min);
        }
        if let Some(gain) = &mut gain {
            // A difference of two flows that meet different limits: the least of their high ends would be far too wide for it.
            gain.high = by_itself;
        }
        if self.problem.boost.is_some() {
            // At the valve a pumper is left out where it would limit: what the hydrant alone may bring arrives then too.
            if let Some(best) = &mut best {
                best.low = best.low.max(alone.low);
                best.high = best.high.zip(alone.high).map(|(pumped, alone)| pumped.max(alone));
            }
            if let Some(gain) = &mut gain {
                gain.low = gain.low.max(0.0);
            }
        }
        let intake = self.pumped.is_some().then(|| intake.ends());
        Bands { main: main.band(), alone, best, gain, intake, scene: scene.ends() }
    }

    /// Every uncertain input of the lay at both its ends.
    fn vary(&self, read: VariedCurve, at: At, mut each: impl FnMut(Uncertain, [Figures; 2])) {
        let source = &self.problem.source;
        for input in of_source(&source.curve, &source.spread) {
            each(
                input,
                ENDS.map(|end| {
                    let curve = varied(source.curve, &source.spread, input, end);
                    self.figures(curve, &self.alone, self.pumped.as_ref(), at)
                }),
            );
        }
        for input in [Uncertain::Hose, Uncertain::Losses].into_iter().filter(|input| self.problem.holds(*input)) {
            each(
                input,
                ENDS.map(|end| {
                    let problem = self.problem.with(input, end);
                    let pumped = self.pumped.is_some().then(|| build(&problem, true));
                    self.figures(read, &build(&problem, false), pumped.as_ref(), at)
                }),
            );
        }
    }

    fn figures(&self, varied: VariedCurve, alone: &Line, pumped: Option<&Line>, at: At) -> Figures {
        let VariedCurve { curve, level } = varied;
        let worked = |line| {
            let limits = Working { curve, ..self.working(line) }.limits();
            let open = |limit: &LimitFlow| level && limit.limit == Limit::MainFloor;
            let gpm = least(&limits).and_then(|(limit, gpm)| if open(&limit) { None } else { bounded(gpm) });
            Worked { gpm, limits: limits.iter().map(|l| l.flow_gpm.filter(|_| !open(l)).and_then(bounded)).collect() }
        };
        let arrives = |line: &Line, gpm: f64| curve.pressure_psi(gpm) - line.sections[0].loss_psi(gpm);
        let alone_worked = worked(alone);
        let best = pumped.map(|line| {
            let mut best = worked(line);
            // Through a hydrant valve the line falls back to the hydrant; a pumper written into the lay does not.
            if self.problem.boost.is_some() && best.gpm.is_some_and(|gpm| alone_worked.gpm.is_none_or(|a| a > gpm)) {
                best.gpm = alone_worked.gpm;
            }
            best
        });
        Figures {
            main: if level { None } else { bounded(curve.flow_gpm(self.problem.main_floor.psi())) },
            best,
            scene: arrives(alone, at.alone_gpm),
            intake: pumped.map_or(0.0, |line| arrives(line, at.best_gpm)),
            alone: alone_worked,
        }
    }
}

const ENDS: [End; 2] = [End::Low, End::High];

impl LayProblem {
    /// Whether anything of the lay is of this kind.
    pub(super) fn holds(&self, input: Uncertain) -> bool {
        if input == Uncertain::Losses && self.source.body_loss.is_some() {
            return true;
        }
        self.parts.iter().any(|part| match part {
            Part::Hose(_) => input == Uncertain::Hose,
            Part::Appliance(_) => input == Uncertain::Losses,
            Part::HydrantValve(valve) => match input {
                Uncertain::Hose => valve.to_pump_hose.is_some() || valve.from_pump_hose.is_some(),
                input => input == Uncertain::Losses,
            },
            Part::Parallel(branches) => branches.iter().flat_map(|branch| &branch.parts).any(|piece| match piece {
                BranchPart::Hose(_) => input == Uncertain::Hose,
                BranchPart::Appliance(_) => input == Uncertain::Losses,
            }),
            Part::Rise(_) | Part::Pumper(_) => false,
        })
    }

    /// The same with all hose, or all other losses, at an end of their spans; with any other input as it is.
    pub(super) fn with(&self, input: Uncertain, end: End) -> Self {
        let mut problem = self.clone();
        let hose = match input {
            Uncertain::Hose => true,
            Uncertain::Losses => false,
            _ => return problem,
        };
        if let (false, Some(k)) = (hose, problem.source.body_loss) {
            // A hydrant's body is a figure of one hydrant in a department's hand: none is sure of it.
            problem.source.body_loss = Some(loss_at(k, Spread::ASSUMED_LOSS, end));
        }
        for part in &mut problem.parts {
            match part {
                Part::Hose(line) if hose => *line = line.at(end),
                Part::Appliance(appliance) if !hose => *appliance = appliance.at(end),
                Part::HydrantValve(valve) => *valve = if hose { valve.with_hose_at(end) } else { valve.at(end) },
                Part::Parallel(branches) => branches.iter_mut().for_each(|branch| branch.set(hose, end)),
                _ => {}
            }
        }
        problem
    }
}

impl Branch {
    fn set(&mut self, hose: bool, end: End) {
        for piece in &mut self.parts {
            match piece {
                BranchPart::Hose(line) if hose => *line = line.at(end),
                BranchPart::Appliance(appliance) if !hose => *appliance = appliance.at(end),
                _ => {}
            }
        }
    }
}

impl Hose {
    fn at(self, end: End) -> Self {
        let c = self.spread.end(self.coefficient().psi_per_100gpm2_100ft(), end);
        let bound = HoseCoefficient::BOUND;
        HoseCoefficient::from_psi_per_100gpm2_100ft(c.clamp(bound.min, bound.max))
            .map_or(self, |c| self.with_coefficient(c))
    }
}

impl Appliance {
    fn at(self, end: End) -> Self {
        let loss = match self.loss {
            ApplianceLoss::Squared(k) => ApplianceLoss::Squared(loss_at(k, self.spread, end)),
            ApplianceLoss::Step { fixed, at_or_above } => {
                let psi = self.spread.end(fixed.psi(), end).min(Pressure::BOUND.max);
                ApplianceLoss::Step { fixed: Pressure::from_psi(psi).unwrap_or(fixed), at_or_above }
            }
        };
        Self { loss, ..self }
    }
}

impl HydrantValve {
    fn at(self, end: End) -> Self {
        Self {
            through: loss_at(self.through, self.spread.through, end),
            to_pump: loss_at(self.to_pump, self.spread.to_pump, end),
            from_pump: loss_at(self.from_pump, self.spread.from_pump, end),
            ..self
        }
    }

    fn with_hose_at(self, end: End) -> Self {
        let [to_pump_hose, from_pump_hose] =
            [self.to_pump_hose, self.from_pump_hose].map(|hose| hose.map(|hose| hose.at(end)));
        Self { to_pump_hose, from_pump_hose, ..self }
    }
}

pub(super) fn loss_at(k: ApplianceCoefficient, spread: Spread, end: End) -> ApplianceCoefficient {
    let value = spread.end(k.psi_per_100gpm2(), end).min(ApplianceCoefficient::BOUND.max);
    ApplianceCoefficient::from_psi_per_100gpm2(value).unwrap_or(k)
}
