//! The bands of a lay's answer: every figure again with one input at an end of its span.

use crate::band::{Band, Gather, Uncertain, VariedCurve, bounded, of_source, varied};
use crate::lay::build::build;
use crate::lay::compile::{Lay, Line};
use crate::lay::limits::{Limit, Working, least};
use crate::lay::parts::{Branch, BranchPart, LayProblem, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve};
use crate::quantity::{ApplianceCoefficient, HoseCoefficient, Pressure};
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

/// The flows at which the intakes are read.
#[derive(Debug, Clone, Copy)]
pub(super) struct At {
    pub(super) alone_gpm: f64,
    pub(super) best_gpm: f64,
}

/// What is asked of each variation.
#[derive(Debug, Clone, Copy)]
struct Figures {
    main: Option<f64>,
    alone: Option<f64>,
    best: Option<f64>,
    gain: Option<f64>,
    scene: f64,
    intake: f64,
}

impl Lay {
    /// Every band, for at most fourteen solves more than the answer's.
    pub(super) fn bands(&self, at: At) -> Bands {
        let source = &self.problem.source;
        let read = VariedCurve { curve: source.curve, level: false };
        let figures = self.figures(read, &self.alone, self.pumped.as_ref(), at);
        let flow = |gpm: Option<f64>| Gather::of_flow(gpm.unwrap_or(crate::quantity::Flow::BOUND.max));
        let mut bands = [
            flow(figures.main),
            flow(figures.alone),
            flow(figures.best),
            Gather::of_any(figures.gain.unwrap_or(0.0)),
            Gather::of_any(figures.scene),
            Gather::of_any(figures.intake),
        ];
        let mut add = |input: Uncertain, ends: [Figures; 2]| {
            let of = |figure: fn(&Figures) -> Option<f64>| ends.each_ref().map(figure);
            let each = [
                of(|f| f.main),
                of(|f| f.alone),
                of(|f| f.best),
                of(|f| f.gain),
                of(|f| Some(f.scene)),
                of(|f| Some(f.intake)),
            ];
            bands.iter_mut().zip(each).for_each(|(band, ends)| band.add(input, ends));
        };
        for input in of_source(&source.curve, &source.spread) {
            add(
                input,
                ENDS.map(|end| {
                    let curve = varied(source.curve, &source.spread, input, end);
                    self.figures(curve, &self.alone, self.pumped.as_ref(), at)
                }),
            );
        }
        for input in [Uncertain::Hose, Uncertain::Losses] {
            if self.problem.holds(input) {
                add(
                    input,
                    ENDS.map(|end| {
                        let problem = self.problem.with(input, end);
                        let pumped = self.pumped.is_some().then(|| build(&problem, true));
                        self.figures(read, &build(&problem, false), pumped.as_ref(), at)
                    }),
                );
            }
        }
        let [main, alone, best, gain, scene, intake] = bands;
        let pumped = |gather: Gather| self.pumped.is_some().then(|| gather.band());
        Bands {
            main: main.band(),
            alone: alone.band(),
            best: pumped(best),
            gain: pumped(gain),
            scene: scene.ends(),
            intake: self.pumped.is_some().then(|| intake.ends()),
        }
    }

    fn figures(&self, varied: VariedCurve, alone: &Line, pumped: Option<&Line>, at: At) -> Figures {
        let VariedCurve { curve, level } = varied;
        let working = |line| Working { curve, ..self.working(line) };
        let solved = |line| {
            let (binding, gpm) =
                least(&working(line).limits()).map_or((Limit::MainFloor, 0.0), |(l, gpm)| (l.limit, gpm));
            (gpm, level && binding == Limit::MainFloor)
        };
        let arrives = |line, gpm: f64| curve.pressure_psi(gpm) - first_loss(line, gpm);
        let (alone_gpm, alone_open) = solved(alone);
        let (best_gpm, best_open) = pumped.map_or((alone_gpm, alone_open), |line| {
            let (gpm, open) = solved(line);
            // Through a hydrant valve the line falls back to the hydrant; a pumper written into the lay does not.
            if self.problem.boost.is_some() && gpm < alone_gpm { (alone_gpm, alone_open) } else { (gpm, open) }
        });
        let flow = |gpm: f64, open: bool| if open { None } else { bounded(gpm) };
        Figures {
            main: flow(curve.flow_gpm(self.problem.main_floor.psi()), level),
            alone: flow(alone_gpm, alone_open),
            best: flow(best_gpm, best_open),
            gain: flow(best_gpm, best_open).map(|_| best_gpm - alone_gpm),
            scene: arrives(alone, at.alone_gpm),
            intake: pumped.map_or(0.0, |line| arrives(line, at.best_gpm)),
        }
    }
}

const ENDS: [End; 2] = [End::Low, End::High];

fn first_loss(line: &Line, gpm: f64) -> f64 {
    line.sections[0].loss_psi(gpm)
}

impl LayProblem {
    /// Whether anything of the lay is of this kind.
    fn holds(&self, input: Uncertain) -> bool {
        if input == Uncertain::Losses && self.source.body_loss.is_some() {
            return true;
        }
        self.parts.iter().any(|part| match part {
            Part::Hose(_) => input == Uncertain::Hose,
            Part::Appliance(_) => input == Uncertain::Losses,
            Part::HydrantValve(valve) => {
                input == Uncertain::Losses || valve.to_pump_hose.is_some() || valve.from_pump_hose.is_some()
            }
            Part::Parallel(branches) => branches.iter().flat_map(|branch| &branch.parts).any(|piece| match piece {
                BranchPart::Hose(_) => input == Uncertain::Hose,
                BranchPart::Appliance(_) => input == Uncertain::Losses,
            }),
            Part::Rise(_) | Part::Pumper(_) => false,
        })
    }

    /// The same with all hose, or all other losses, at an end of their spans.
    fn with(&self, input: Uncertain, end: End) -> Self {
        let mut problem = self.clone();
        let hose = input == Uncertain::Hose;
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

fn loss_at(k: ApplianceCoefficient, spread: Spread, end: End) -> ApplianceCoefficient {
    let value = spread.end(k.psi_per_100gpm2(), end).min(ApplianceCoefficient::BOUND.max);
    ApplianceCoefficient::from_psi_per_100gpm2(value).unwrap_or(k)
}
