//! What a pumper adds: net pressure against flow, from its rating or from its own test points.

use alloc::vec::Vec;

use thiserror::Error;

use crate::quantity::{PositiveFlow, Pressure};

/// Intake pressure a pumper is kept above where the department states none, psi.
///
/// Source: `lewis-13` (do not throttle up once the intake is under 20 psi).
pub const DEFAULT_INTAKE_FLOOR_PSI: f64 = 20.0;

/// The rating points as shares of the rated flow, with their net pump pressure in psi.
///
/// Source: `pump-service-test` (70 % at 200 psi and 50 % at 250 psi; 100 % at 150 psi).
pub const RATING_POINTS: [(f64, f64); 3] = [(0.5, 250.0), (0.7, 200.0), (1.0, 150.0)];

/// One point of a pumper's test: at this flow it adds this much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPoint {
    /// The flow.
    pub flow: PositiveFlow,
    /// Net pump pressure: discharge less intake.
    pub net: Pressure,
}

/// Points that are no pump curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PumpCurveError {
    /// There is none.
    #[error("a pump curve needs at least one point")]
    NoPoints,
    /// Flow must rise from each point to the next.
    #[error("point {0} does not flow more than the point before it")]
    FlowNotRising(usize),
    /// Net pressure must not rise with flow.
    #[error("point {0} adds more pressure at more flow than the point before it")]
    NetRising(usize),
}

/// Net pressure available against flow.
#[derive(Debug, Clone, PartialEq)]
pub struct PumpCurve {
    points: Vec<PumpPoint>,
}

impl PumpCurve {
    /// The rating points of a pumper of this rated flow.
    ///
    /// # Formula
    /// 100 % of the rating at 150 psi net, 70 % at 200, 50 % at 250.
    /// # Units
    /// gpm, psi.
    /// # Range
    /// Rated at draft; a strong hydrant can push more through, which is a note and not a plan.
    /// # Source
    /// `pump-service-test`.
    pub fn from_rating(rated_flow: PositiveFlow) -> Self {
        let points = RATING_POINTS
            .iter()
            .filter_map(|&(share, net)| {
                // A share of the least rating falls under one gpm; its point is then left out, never the rating itself.
                let flow = PositiveFlow::from_gpm(rated_flow.gpm() * share).ok()?;
                Some(PumpPoint { flow, net: Pressure::from_psi(net).ok()? })
            })
            .collect();
        Self { points }
    }

    /// A pumper's own test points, in order of flow.
    ///
    /// # Errors
    /// No points, flow not rising, or net pressure rising with flow.
    pub fn from_points(points: Vec<PumpPoint>) -> Result<Self, PumpCurveError> {
        if points.is_empty() {
            return Err(PumpCurveError::NoPoints);
        }
        for (i, pair) in points.windows(2).enumerate() {
            if pair[1].flow <= pair[0].flow {
                return Err(PumpCurveError::FlowNotRising(i + 1));
            }
            if pair[1].net > pair[0].net {
                return Err(PumpCurveError::NetRising(i + 1));
            }
        }
        Ok(Self { points })
    }

    /// The points, flow rising.
    pub fn points(&self) -> &[PumpPoint] {
        &self.points
    }

    /// The flow past which the pumper is out of capacity, gpm.
    pub fn capacity_gpm(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.flow.gpm())
    }

    /// Net pressure available at a flow, psi: level below the first point, linear between points, and held at the last
    /// point's beyond it (where the pumper is out of capacity: compare with [`Self::capacity_gpm`]).
    ///
    /// # Formula
    /// Linear interpolation between the points.
    /// # Units
    /// gpm in, psi out.
    /// # Range
    /// Flow from nothing to [`Self::capacity_gpm`].
    /// # Source
    /// `pump-service-test` for the points; linear between them is common practice.
    pub fn net_psi(&self, gpm: f64) -> f64 {
        self.net_and_slope(gpm).0
    }

    /// [`Self::net_psi`] with its slope, psi per gpm.
    pub(crate) fn net_and_slope(&self, gpm: f64) -> (f64, f64) {
        let mut previous: Option<&PumpPoint> = None;
        for point in &self.points {
            if gpm <= point.flow.gpm() {
                return previous.map_or((point.net.psi(), 0.0), |low| {
                    let slope = (point.net.psi() - low.net.psi()) / (point.flow.gpm() - low.flow.gpm());
                    (low.net.psi() + slope * (gpm - low.flow.gpm()), slope)
                });
            }
            previous = Some(point);
        }
        (previous.map_or(0.0, |last| last.net.psi()), 0.0)
    }
}

/// A pumper in the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Pumper {
    /// What it can add.
    pub curve: PumpCurve,
    /// Its intake is kept at or above this.
    pub intake_floor: Pressure,
    /// The department's own ceiling on its discharge.
    pub max_discharge: Option<Pressure>,
}
