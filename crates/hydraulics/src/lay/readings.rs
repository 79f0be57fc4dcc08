//! A lay that was really laid: what its gauges should have read, and what each stretch between two of them says of the coefficients.

use alloc::vec::Vec;
use core::str::FromStr;

use thiserror::Error;

use crate::calibrate::{LEVEL_DEVIATIONS, LossReading};
use crate::lay::budget::{Gauge, PartKind, Station};
use crate::lay::compile::{Element, Lay, Line};
use crate::lay::terms::Term;
use crate::quantity::{MeterUncertainty, PositiveFlow, Pressure};
use crate::spread::DROP_PSI;

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

    /// What the gauges read say of the losses between them: a stretch for every two gauges that follow one another with no pumper between. A gauge that
    /// reads nothing stands on its peg and does not tell how much more was lost: it counts as not read.
    pub fn stretches(&self, flow: PositiveFlow, readings: &[(Station, Pressure)]) -> Vec<Stretch> {
        let on_scale = readings.iter().filter(|(_, pressure)| pressure.psi() > 0.0);
        let read = |station| on_scale.clone().find(|(at, _)| *at == station).map(|(_, pressure)| pressure.psi());
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
