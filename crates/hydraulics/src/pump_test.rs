//! The curve of a pumper from a department's own test: intake and discharge at measured flows.

use alloc::vec::Vec;

use thiserror::Error;

use crate::finding::{Finding, FindingCode};
use crate::pumper::{PumpCurve, PumpCurveError, PumpPoint};
use crate::quantity::{IntakePressure, OutOfBounds, PositiveFlow, Pressure};

/// The most that a pumper's test may be of its rating, in flow and in water power. A judgement of ours: pumpers are built with a tenth or two to spare.
pub const MOST_OVER_RATING: f64 = 1.5;

/// Both gauges of a pumper at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpReading {
    /// The flow.
    pub flow: PositiveFlow,
    /// The gauge at its intake; less than nothing for a vacuum.
    pub intake: IntakePressure,
    /// The gauge at its discharge.
    pub discharge: Pressure,
}

/// Readings that are no pump curve.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoPumpCurve {
    /// There is none.
    #[error("a pump test needs at least one reading")]
    NoReadings,
    /// Discharge less intake is no pressure.
    #[error("reading {index}: discharge less intake: {fault}")]
    NoNet {
        /// Which, counted from 0.
        index: usize,
        /// What is wrong with it.
        fault: OutOfBounds,
    },
    /// Two readings are at one flow.
    #[error("reading {index} is at the flow of another: give one reading for each flow")]
    SameFlow {
        /// Which, counted from 0.
        index: usize,
    },
    /// Net pressure rises with flow.
    #[error(
        "reading {index} adds more pressure at more flow than another: no pumper does, unless the throttle was moved"
    )]
    NetRising {
        /// Which, counted from 0.
        index: usize,
    },
}

impl PumpCurve {
    /// The curve through a pump test, its readings in any order.
    ///
    /// # Formula
    /// `net = discharge - intake` at each flow.
    /// # Units
    /// gpm, psi.
    /// # Range
    /// Each reading the most the pumper adds at that flow. No height between the gauges is allowed for.
    /// # Errors
    /// No readings, a net pressure that is none, two readings at one flow, or net pressure rising with flow.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::pump_test::PumpReading;
    /// # use longlay_hydraulics::pumper::PumpCurve;
    /// # use longlay_hydraulics::quantity::{IntakePressure, PositiveFlow, Pressure};
    /// let flow = PositiveFlow::from_gpm(1000.0)?;
    /// let (intake, discharge) = (IntakePressure::from_psi(30.0)?, Pressure::from_psi(185.0)?);
    /// let curve = PumpCurve::from_test(&[PumpReading { flow, intake, discharge }])?;
    /// assert_eq!(curve.net_psi(1000.0), 155.0);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `pump-service-test`; the arithmetic `derived`.
    pub fn from_test(readings: &[PumpReading]) -> Result<Self, NoPumpCurve> {
        let point = |(index, reading): (usize, &PumpReading)| {
            let net = Pressure::from_psi(reading.discharge.psi() - reading.intake.psi());
            net.map(|net| (index, PumpPoint { flow: reading.flow, net }))
                .map_err(|fault| NoPumpCurve::NoNet { index, fault })
        };
        let mut points = readings.iter().enumerate().map(point).collect::<Result<Vec<_>, _>>()?;
        points.sort_by(|(_, a), (_, b)| a.flow.gpm().total_cmp(&b.flow.gpm()));
        let index = |sorted: usize| points.get(sorted).map_or(0, |(index, _)| *index);
        Self::from_points(points.iter().map(|(_, point)| *point).collect()).map_err(|error| match error {
            PumpCurveError::NoPoints => NoPumpCurve::NoReadings,
            PumpCurveError::FlowNotRising(sorted) => NoPumpCurve::SameFlow { index: index(sorted) },
            PumpCurveError::NetRising(sorted) => NoPumpCurve::NetRising { index: index(sorted) },
        })
    }

    /// Whether some point of it is more than a pumper of this rating can be: the water power there, as a share of that of the rating point. Such a
    /// test is a slip of the pen, or of another pumper, and is not planned on.
    pub fn beyond_rating(&self, rated_flow: PositiveFlow) -> Option<Finding> {
        let rating = Self::from_rating(rated_flow);
        let rated_power = rating.capacity_gpm() * rating.net_psi(rating.capacity_gpm());
        let powers = self.points().iter().map(|point| point.flow.gpm() * point.net.psi() / rated_power);
        let flows = self.capacity_gpm() / rating.capacity_gpm();
        let most = powers.fold(flows, f64::max);
        (most > MOST_OVER_RATING).then(|| Finding::new(FindingCode::PumpBeyondRating, 100.0 * most))
    }

    /// Where this pumper adds less than the rating points promise at a flow that it was tested at: by the largest share, in percent.
    pub fn below_rating(&self, rated_flow: PositiveFlow) -> Option<Finding> {
        let rating = Self::from_rating(rated_flow);
        let promised = self.points().iter().filter(|point| point.flow.gpm() <= rating.capacity_gpm());
        let missing = promised.map(|point| 100.0 * (1.0 - point.net.psi() / rating.net_psi(point.flow.gpm())));
        let most = missing.fold(0.0, f64::max);
        (most > 0.0).then(|| Finding::new(FindingCode::PumpBelowRating, most))
    }
}
