//! Readings that no flow test can have: slips of the pen, found before a test is recorded.

use longlay_hydraulics::flow_test::{MeasuredFlow, NoFlow};
use longlay_hydraulics::supply::{NoCurve, SupplyCurve};

use crate::flow_test::FlowTest;

/// One slip. `point` counts the test's flows from 0.
#[derive(Debug, Clone, PartialEq)]
pub enum Slip {
    /// What was read is no flow.
    NoFlow {
        /// Which flow.
        point: usize,
        /// Why.
        error: NoFlow,
    },
    /// No curve goes through the readings.
    NoCurve {
        /// Which flow.
        point: usize,
        /// Why.
        error: NoCurve,
    },
    /// No stream leaves an open outlet with more velocity pressure than the main holds at rest.
    PitotAboveStatic {
        /// Which flow.
        point: usize,
        /// Which outlet of it, from 0.
        outlet: usize,
        /// The pitot pressure, psi.
        pitot_psi: f64,
        /// The static pressure, psi.
        static_psi: f64,
    },
}

impl std::fmt::Display for Slip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoFlow { error, .. } => error.fmt(f),
            Self::NoCurve { error, .. } => error.fmt(f),
            Self::PitotAboveStatic { pitot_psi, static_psi, .. } => {
                write!(f, "a pitot of {pitot_psi} psi is above the static of {static_psi} psi")
            }
        }
    }
}

impl FlowTest {
    /// Every slip in the readings; none in a test that may be recorded.
    pub fn slips(&self) -> Vec<Slip> {
        let residuals =
            [Some(self.residual_pressure), self.second_point.as_ref().map(|second| second.residual_pressure)];
        let mut slips = Vec::new();
        for (point, (flow, residual)) in self.flows().zip(residuals.into_iter().flatten()).enumerate() {
            slips.extend(self.pitots_above_static(point, flow));
            match flow.total() {
                Err(error) => slips.push(Slip::NoFlow { point, error }),
                Ok(total) => {
                    // A static of nothing is one slip, however many flows were taken under it.
                    match SupplyCurve::new(self.static_pressure, residual, total) {
                        Err(NoCurve::NoStatic) if point > 0 => {}
                        Err(error) => slips.push(Slip::NoCurve { point, error }),
                        Ok(_) => {}
                    }
                }
            }
        }
        slips
    }

    fn pitots_above_static(&self, point: usize, flow: &MeasuredFlow) -> Vec<Slip> {
        let MeasuredFlow::Pitot(readings) = flow else { return Vec::new() };
        let static_psi = self.static_pressure.psi();
        let pitots = readings.iter().map(|reading| reading.pitot.psi()).enumerate();
        pitots
            .filter(|(_, pitot_psi)| *pitot_psi > static_psi)
            .map(|(outlet, pitot_psi)| Slip::PitotAboveStatic { point, outlet, pitot_psi, static_psi })
            .collect()
    }
}
