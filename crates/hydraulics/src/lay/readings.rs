//! A lay that was really laid: what its gauges should have read, and what each stretch between two of them says of the coefficients.

use alloc::vec;
use alloc::vec::Vec;
use core::str::FromStr;

use thiserror::Error;

use crate::calibrate::{LEVEL_DEVIATIONS, LossReading, Unknown};
use crate::lay::budget::{Gauge, PartKind, Station};
use crate::lay::compile::{Element, Lay, Line};
use crate::lay::parallel::equivalent_squared;
use crate::lay::parts::{Branch, BranchPart, Part};
use crate::loss::{Appliance, ApplianceLoss, Hose, HydrantValve};
use crate::quantity::{ApplianceCoefficient, Bound, HoseCoefficient, MeterUncertainty, PositiveFlow, Pressure};
use crate::spread::{DROP_PSI, Spread};

/// Which figure of a lay it is. Numbers are places in [`crate::lay::LayProblem::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoefficientOf {
    /// The hydrant's own body.
    HydrantBody,
    /// Hose.
    Hose(usize),
    /// An appliance.
    Appliance(usize),
    /// A hydrant valve, unboosted.
    ValveThrough(usize),
    /// A hydrant valve's leg to the pumper.
    ValveToPump(usize),
    /// A hydrant valve's leg from the pumper.
    ValveFromPump(usize),
    /// The hose from a hydrant valve to the pumper.
    HoseToPump(usize),
    /// The hose from the pumper to a hydrant valve.
    HoseFromPump(usize),
    /// Hose or an appliance of one of several lines side by side.
    Piece {
        /// The part.
        part: usize,
        /// The branch in it.
        branch: usize,
        /// Its place in the branch.
        piece: usize,
    },
    /// Several lines side by side of which one steps: told only as a whole.
    SteppedGroup(usize),
}

/// One figure's share of a stretch's loss: its value times its factor, psi.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Which.
    pub of: CoefficientOf,
    /// The figure as it stands now, and how far it may be off.
    pub unknown: Unknown,
    /// What it costs for each unit of the figure at the flow, psi.
    pub factor: f64,
}

/// What was lost between two gauges, one after the other and no pumper between.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// The gauge upstream.
    pub from: Station,
    /// The gauge downstream.
    pub to: Station,
    /// What was read to be lost, less the rise, psi.
    pub read_loss_psi: f64,
    /// What makes up the loss.
    pub terms: Vec<Term>,
}

/// Text that names no gauge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("a station is main, hydrant, pumper_1_intake, pumper_1_discharge, ..., or scene")]
pub struct NoStation;

impl FromStr for Station {
    type Err = NoStation;

    fn from_str(text: &str) -> Result<Self, NoStation> {
        match text {
            "main" => Ok(Self::Main),
            "hydrant" => Ok(Self::Hydrant),
            "scene" => Ok(Self::Scene),
            _ => {
                let (number, side) =
                    text.strip_prefix("pumper_").and_then(|rest| rest.split_once('_')).ok_or(NoStation)?;
                let digits = number.bytes().all(|b| b.is_ascii_digit()) && !number.starts_with('0');
                let number = number.parse().ok().filter(|_| digits).ok_or(NoStation)?;
                match side {
                    "intake" => Ok(Self::PumperIntake(number)),
                    "discharge" => Ok(Self::PumperDischarge(number)),
                    _ => Err(NoStation),
                }
            }
        }
    }
}

/// A stretch that has its upstream gauge.
struct Open {
    from: Station,
    psi: f64,
    rise_psi: f64,
    terms: Vec<Term>,
}

/// The way from one place for a gauge to the next.
struct Leg<'a> {
    from: Station,
    to: Station,
    section: usize,
    elements: &'a [Element],
}

impl Lay {
    /// What every gauge should read at a measured flow: with the pumpers of the problem, or alone where it has none. A pumper whose discharge was
    /// read starts its section at that pressure; any other does what the rest of the line needs, and no more.
    pub fn predicted_gauges(&self, flow: PositiveFlow, discharges: &[Option<Pressure>]) -> Vec<Gauge> {
        let working = self.working(self.laid());
        let change_over = self.change_over_psi(self.alone_gpm()).filter(|_| self.problem.boost.is_some());
        let pumpers = working.plan_with(flow.gpm(), change_over, discharges);
        working.gauges(flow.gpm(), &pumpers)
    }

    /// How many pumpers the lay has.
    pub fn pumpers(&self) -> usize {
        self.laid().pumpers.len()
    }

    /// What the gauges read say of the losses between them: a stretch for every two gauges that follow one another with no pumper between.
    pub fn stretches(&self, flow: PositiveFlow, readings: &[(Station, Pressure)]) -> Vec<Stretch> {
        let read = |station| readings.iter().find(|(at, _)| *at == station).map(|(_, pressure)| pressure.psi());
        let mut found = Vec::new();
        let mut open: Option<Open> = None;
        for leg in self.laid().legs() {
            let starts_section = matches!(leg.from, Station::Main | Station::PumperDischarge(_));
            open = match read(leg.from) {
                Some(psi) => Some(Open { from: leg.from, psi, rise_psi: 0.0, terms: Vec::new() }),
                None => open.filter(|_| !starts_section),
            };
            let Some(stretch) = &mut open else { continue };
            for element in leg.elements {
                match element.part.kind {
                    PartKind::Rise => stretch.rise_psi += element.loss.psi(flow.gpm()),
                    _ => self.terms(element, leg.section, flow.gpm(), &mut stretch.terms),
                }
            }
            if let Some(psi) = read(leg.to)
                && let Some(Open { from, psi: upstream, rise_psi, terms }) = open.take()
            {
                found.push(Stretch { from, to: leg.to, read_loss_psi: upstream - psi - rise_psi, terms });
            }
        }
        found
    }

    fn laid(&self) -> &Line {
        self.pumped.as_ref().unwrap_or(&self.alone)
    }

    fn terms(&self, element: &Element, section: usize, gpm: f64, terms: &mut Vec<Term>) {
        let squared = (gpm / 100.0) * (gpm / 100.0);
        let mut valve_leg = |of, k: ApplianceCoefficient, spread| terms.push(squared_term(of, k, spread, squared));
        let Some(i) = element.part.index else {
            if let Some(k) = self.problem.source.body_loss {
                valve_leg(CoefficientOf::HydrantBody, k, Spread::ASSUMED_LOSS);
            }
            return;
        };
        match (element.part.kind, &self.problem.parts[i]) {
            (_, Part::Hose(hose)) => terms.push(hose_term(CoefficientOf::Hose(i), hose, squared)),
            (_, Part::Appliance(appliance)) => {
                terms.push(appliance_term(CoefficientOf::Appliance(i), appliance, gpm));
            }
            (_, Part::Parallel(branches)) => {
                let whole = element.loss.psi(gpm);
                terms.extend(parallel_terms(i, branches, whole, gpm));
            }
            (PartKind::ValveThrough, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveThrough(i), v.through, v.spread.through);
            }
            (PartKind::ValveToPump, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveToPump(i), v.to_pump, v.spread.to_pump);
            }
            (PartKind::ValveFromPump, Part::HydrantValve(v)) => {
                valve_leg(CoefficientOf::ValveFromPump(i), v.from_pump, v.spread.from_pump);
            }
            (_, Part::HydrantValve(valve)) => terms.extend(connecting_term(i, valve, section, squared)),
            (_, Part::Rise(_) | Part::Pumper(_)) => {}
        }
    }
}

impl Line {
    fn legs(&self) -> Vec<Leg<'_>> {
        let mut legs = Vec::with_capacity(self.sections.len() + 1);
        for (i, section) in self.sections.iter().enumerate() {
            let last = i + 1 == self.sections.len();
            let end = if last { Station::Scene } else { Station::PumperIntake(i + 1) };
            if i > 0 {
                legs.push(Leg { from: Station::PumperDischarge(i), to: end, section: i, elements: &section.elements });
                continue;
            }
            let has_body = section.elements.first().is_some_and(|e| e.part.kind == PartKind::HydrantBody);
            let (body, rest) = section.elements.split_at(usize::from(has_body));
            legs.push(Leg { from: Station::Main, to: Station::Hydrant, section: i, elements: body });
            legs.push(Leg { from: Station::Hydrant, to: end, section: i, elements: rest });
        }
        legs
    }
}

fn term(of: CoefficientOf, value: f64, spread: Spread, bound: Bound, factor: f64) -> Term {
    Term { of, unknown: Unknown { value, spread, bound }, factor }
}

fn squared_term(of: CoefficientOf, k: ApplianceCoefficient, spread: Spread, squared: f64) -> Term {
    term(of, k.psi_per_100gpm2(), spread, ApplianceCoefficient::BOUND, squared)
}

fn hose_term(of: CoefficientOf, hose: &Hose, squared: f64) -> Term {
    let lines = f64::from(hose.lines());
    let factor = squared * hose.length().ft() / 100.0 / (lines * lines);
    term(of, hose.coefficient().psi_per_100gpm2_100ft(), hose.spread, HoseCoefficient::BOUND, factor)
}

fn appliance_term(of: CoefficientOf, appliance: &Appliance, gpm: f64) -> Term {
    match appliance.loss {
        ApplianceLoss::Squared(k) => squared_term(of, k, appliance.spread, (gpm / 100.0) * (gpm / 100.0)),
        ApplianceLoss::Step { fixed, at_or_above } => {
            let stands = if gpm >= at_or_above.gpm() { 1.0 } else { 0.0 };
            term(of, fixed.psi(), appliance.spread, Pressure::BOUND, stands)
        }
    }
}

/// The valve stands in front of its pumper, so that its section tells which of its two hoses it is.
fn connecting_term(i: usize, valve: &HydrantValve, section: usize, squared: f64) -> Option<Term> {
    let (of, hose) = if section == 0 {
        (CoefficientOf::HoseToPump(i), &valve.to_pump_hose)
    } else {
        (CoefficientOf::HoseFromPump(i), &valve.from_pump_hose)
    };
    hose.as_ref().map(|hose| hose_term(of, hose, squared))
}

/// Each piece by what the group's loss changes with it. A group without steps loses in proportion to all its coefficients together, so that the
/// terms sum to its loss.
fn parallel_terms(part: usize, branches: &[Branch], whole_psi: f64, gpm: f64) -> Vec<Term> {
    let steps =
        |piece: &BranchPart| matches!(piece, BranchPart::Appliance(Appliance { loss: ApplianceLoss::Step { .. }, .. }));
    if branches.iter().any(|branch| branch.parts.iter().any(steps)) {
        let of = CoefficientOf::SteppedGroup(part);
        return vec![term(of, whole_psi, Spread::ASSUMED_LOSS, Pressure::BOUND, 1.0)];
    }
    let squared = (gpm / 100.0) * (gpm / 100.0);
    let pieces: Vec<Vec<Term>> = branches
        .iter()
        .enumerate()
        .map(|(b, branch)| {
            let of = |piece| CoefficientOf::Piece { part, branch: b, piece };
            let piece = |(i, piece): (usize, &BranchPart)| match piece {
                BranchPart::Hose(hose) => hose_term(of(i), hose, squared),
                BranchPart::Appliance(appliance) => appliance_term(of(i), appliance, gpm),
            };
            branch.parts.iter().enumerate().map(piece).collect()
        })
        .collect();
    let resistances: Vec<f64> = pieces.iter().map(|terms| terms.iter().map(Term::loss_psi).sum()).collect();
    let together = equivalent_squared(resistances.iter().copied());
    let weighted = pieces.into_iter().zip(resistances).flat_map(|(terms, own)| {
        let share = together / own;
        let weight = share * libm::sqrt(share);
        terms.into_iter().map(move |term| Term { factor: term.factor * weight, ..term })
    });
    weighted.collect()
}

impl Term {
    /// Its share of the loss, psi.
    pub fn loss_psi(&self) -> f64 {
        self.unknown.value * self.factor
    }
}

impl Stretch {
    /// What the figures as they stand now say is lost, psi.
    pub fn predicted_loss_psi(&self) -> f64 {
        self.terms.iter().map(Term::loss_psi).sum()
    }

    /// As a reading of the figures that `place` gives a place; how far the others may be off makes the reading less sure.
    ///
    /// # Formula
    /// `p1 - p2 - rise - other losses = Σ c x`, deviation `√(2 x 1 psi² + (2 m p)² + Σ (s c x)²)/1.645` over the other losses' spreads s.
    /// # Units
    /// psi, gpm; 90 % half-widths.
    /// # Range
    /// Two gauges and a meter that are off by chance and independently.
    /// # Source
    /// `derived`.
    pub fn reading(&self, meter: MeterUncertainty, mut place: impl FnMut(&Term) -> Option<usize>) -> LossReading {
        let by_flow = 2.0 * meter.percent() / 100.0 * self.predicted_loss_psi();
        let mut deviation = libm::hypot(DROP_PSI, by_flow) / LEVEL_DEVIATIONS;
        let mut loss_psi = self.read_loss_psi;
        let mut factors = Vec::with_capacity(self.terms.len());
        for term in &self.terms {
            if let Some(i) = place(term) {
                factors.push((i, term.factor));
            } else {
                loss_psi -= term.loss_psi();
                deviation = libm::hypot(deviation, term.unknown.deviation() * term.factor);
            }
        }
        LossReading { loss_psi, deviation_psi: deviation, factors }
    }
}
