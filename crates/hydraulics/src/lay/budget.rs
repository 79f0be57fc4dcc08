//! Where the pressure goes: a loss for every part, and a reading for every gauge.

use alloc::vec::Vec;
use core::fmt;

use crate::lay::limits::Working;
use crate::lay::plan::PumperReading;

/// A kind of part in a pressure budget.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartKind {
    /// The hydrant's own body and outlet.
    HydrantBody,
    /// Hose.
    Hose,
    /// Lines side by side.
    Parallel,
    /// An appliance.
    Appliance,
    /// A hydrant valve, unboosted.
    ValveThrough,
    /// A hydrant valve's leg to the pumper.
    ValveToPump,
    /// A hydrant valve's leg from the pumper.
    ValveFromPump,
    /// Hose between hydrant valve and pumper.
    ConnectingHose,
    /// Ground that rises or falls.
    Rise,
    /// A pumper: a loss below nothing.
    Pumper,
}

impl PartKind {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::HydrantBody => "hydrant_body",
            Self::Hose => "hose",
            Self::Parallel => "parallel",
            Self::Appliance => "appliance",
            Self::ValveThrough => "valve_through",
            Self::ValveToPump => "valve_to_pump",
            Self::ValveFromPump => "valve_from_pump",
            Self::ConnectingHose => "connecting_hose",
            Self::Rise => "rise",
            Self::Pumper => "pumper",
        }
    }
}

/// A part, by kind and by its place in the lay as it was given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PartRef {
    /// Its kind.
    pub kind: PartKind,
    /// Its index in [`super::LayProblem::parts`]; none for what is not written there.
    pub index: Option<usize>,
}

/// One line of a pressure budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BudgetLine {
    /// What takes the pressure.
    pub part: PartRef,
    /// How much of it, psi; less than nothing for a fall or a pumper.
    pub loss_psi: f64,
}

/// Where a gauge stands. Pumpers are counted from 1 at the hydrant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Station {
    /// The main at the hydrant.
    Main,
    /// The hydrant's outlet.
    Hydrant,
    /// A pumper's intake.
    PumperIntake(usize),
    /// A pumper's discharge.
    PumperDischarge(usize),
    /// The scene pumper's intake.
    Scene,
}

impl fmt::Display for Station {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Main => f.write_str("main"),
            Self::Hydrant => f.write_str("hydrant"),
            Self::PumperIntake(n) => write!(f, "pumper_{n}_intake"),
            Self::PumperDischarge(n) => write!(f, "pumper_{n}_discharge"),
            Self::Scene => f.write_str("scene"),
        }
    }
}

/// One gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// Where.
    pub station: Station,
    /// Hose laid from the hydrant to there, ft.
    pub distance_ft: f64,
    /// Height above the hydrant's ground, ft.
    pub elevation_ft: f64,
    /// What it reads, psi.
    pub pressure_psi: f64,
}

impl Working<'_> {
    /// The budget from the main to the scene intake. The residual in the main less the sum of the losses is the scene's reading.
    pub(super) fn budget(&self, gpm: f64, readings: &[PumperReading]) -> Vec<BudgetLine> {
        let mut lines = Vec::new();
        for (i, section) in self.line.sections.iter().enumerate() {
            if i > 0 {
                let part = PartRef { kind: PartKind::Pumper, index: self.line.pumper_parts[i - 1] };
                lines.push(BudgetLine { part, loss_psi: -readings[i - 1].net_psi });
            }
            lines.extend(section.elements.iter().map(|e| BudgetLine { part: e.part, loss_psi: e.loss.psi(gpm) }));
        }
        lines
    }

    /// Every gauge at a flow.
    pub(super) fn gauges(&self, gpm: f64, readings: &[PumperReading]) -> Vec<Gauge> {
        let mut psi = self.curve.pressure_psi(gpm);
        let (mut distance_ft, mut elevation_ft) = (0.0, 0.0);
        let mut gauges = Vec::with_capacity(3 + 2 * readings.len());
        gauges.push(Gauge { station: Station::Main, distance_ft, elevation_ft, pressure_psi: psi });
        for (i, section) in self.line.sections.iter().enumerate() {
            if i == 0 {
                let body = section.elements.first().filter(|e| e.part.kind == PartKind::HydrantBody);
                let pressure_psi = psi - body.map_or(0.0, |e| e.loss.psi(gpm));
                gauges.push(Gauge { station: Station::Hydrant, distance_ft, elevation_ft, pressure_psi });
            } else {
                psi = readings[i - 1].discharge_psi;
                let station = Station::PumperDischarge(i);
                gauges.push(Gauge { station, distance_ft, elevation_ft, pressure_psi: psi });
            }
            for element in &section.elements {
                distance_ft += element.length_ft;
                elevation_ft += element.loss.rise_ft();
            }
            psi -= section.loss_psi(gpm);
            let last = i + 1 == self.line.sections.len();
            let station = if last { Station::Scene } else { Station::PumperIntake(i + 1) };
            gauges.push(Gauge { station, distance_ft, elevation_ft, pressure_psi: psi });
        }
        gauges
    }
}
