//! How far each reading and coefficient may be off, as data: the spans of which 90 % of the true values lie inside.
//!
//! A number that is missing never makes an answer surer: what is not known takes the wider span.

use crate::flow_test::MeasuredFlow;
use crate::quantity::{OutOfBounds, PitotPressure};

/// The share of the true values inside every span, and inside every band.
pub const LEVEL: f64 = 0.90;

/// How far a test gauge may be off, psi. Source: `nfpa-25-supplement` (1 % of a 100 psi gauge).
pub const GAUGE_PSI: f64 = 1.0;
/// How far a difference of two readings may be off, psi: the two are off independently.
pub const DROP_PSI: f64 = GAUGE_PSI * core::f64::consts::SQRT_2;
/// How far a pitot reading may be off, psi. Common practice.
pub const PITOT_PSI: f64 = 0.5;
/// How far an outlet's coefficient may be off, as a share. Common practice.
pub const OUTLET_COEFFICIENT_SHARE: f64 = 0.02;
/// How far a flow may be off of which the readings are not given, as a share. A judgement of ours: as a pitot of 5 psi with its outlet, and a little more,
/// so that leaving the readings out makes nothing surer.
pub const FLOW_ONLY_SHARE: f64 = 0.06;
/// How far a system's pressure swings from day to day, psi. Source: `memory` (demand, tank levels, pumps on and off).
pub const SWING_PSI: f64 = 5.0;
/// What is added to the swing where the test was gauged at another hydrant, psi. A judgement of ours.
pub const BORROWED_PSI: f64 = 5.0;
/// How far the drop of a borrowed test may be off besides, as a share: the main between the two is not in it. A judgement of ours.
pub const BORROWED_DROP_SHARE: f64 = 0.25;
/// What is added to the swing where a borrowed test cannot be corrected for the ground, psi: about 23 ft. A judgement of ours.
pub const GROUND_UNKNOWN_PSI: f64 = 10.0;

/// How far a figure may be off below and above itself, as shares of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    below: f64,
    above: f64,
}

impl Spread {
    /// A handbook's hose coefficient. Source: `shapiro-relay` and `fire-apparatus-2018` (measured hose is mostly better than the table).
    pub const HANDBOOK_HOSE: Self = Self { below: 0.35, above: 0.10 };
    /// A loss that was not tested: an appliance, a leg of a hydrant valve, a hydrant's body. Source: `memory` (sources disagree by multiples).
    pub const ASSUMED_LOSS: Self = Self { below: 0.60, above: 0.30 };
    /// A figure that is not off at all.
    pub const NONE: Self = Self { below: 0.0, above: 0.0 };

    /// The same share below and above; more than all of a figure counts as all of it, and what is no number as all too.
    pub fn even(share: f64) -> Self {
        let share = if share.is_nan() { 1.0 } else { share.clamp(0.0, 1.0) };
        Self { below: share, above: share }
    }

    /// From the ends of a span around a value, each no nearer than the value itself; of a value of nothing, none.
    pub fn of_ends(value: f64, low: f64, high: f64) -> Self {
        if value <= 0.0 {
            return Self::NONE;
        }
        let above = (high / value - 1.0).max(0.0);
        Self { below: (1.0 - low / value).clamp(0.0, 1.0), above: if above.is_finite() { above } else { 0.0 } }
    }

    /// Share below.
    pub const fn below(self) -> f64 {
        self.below
    }

    /// Share above.
    pub const fn above(self) -> f64 {
        self.above
    }

    /// The wider of the two on each side.
    #[must_use]
    pub fn or_wider(self, other: Self) -> Self {
        Self { below: self.below.max(other.below), above: self.above.max(other.above) }
    }

    /// The figure's low or high end.
    pub fn end(self, value: f64, end: End) -> f64 {
        match end {
            End::Low => value * (1.0 - self.below),
            End::High => value * (1.0 + self.above),
        }
    }
}

/// An end of a span: the 5th or the 95th point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The 5th.
    Low,
    /// The 95th.
    High,
}

impl End {
    /// A value so much to this side of another.
    pub(crate) fn of(self, value: f64, half: f64) -> f64 {
        match self {
            Self::Low => value - half,
            Self::High => value + half,
        }
    }
}

/// How far the readings behind a supply curve may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SourceSpread {
    /// The whole curve higher or lower by the gauge, psi.
    pub static_psi: f64,
    /// The drop from static to residual, psi.
    pub drop_psi: f64,
    /// The whole curve higher or lower by the day, psi.
    pub swing_psi: f64,
    /// The flow by its pitot readings.
    pub pitot: Spread,
    /// The flow by the outlets' coefficients.
    pub outlet: Spread,
    /// The flow where its readings are not known.
    pub flow_only: Spread,
}

impl SourceSpread {
    /// For a static, a residual and a flow of which no more is known.
    pub fn of_numbers() -> Self {
        Self {
            static_psi: GAUGE_PSI,
            drop_psi: DROP_PSI,
            swing_psi: SWING_PSI,
            pitot: Spread::NONE,
            outlet: Spread::NONE,
            flow_only: Spread::even(FLOW_ONLY_SHARE),
        }
    }

    /// For a test, by how its flow was measured. All pitot readings of a test are taken as off alike, and all coefficients: one gauge, one eye.
    pub fn of_test(flow: &MeasuredFlow) -> Self {
        match flow {
            MeasuredFlow::Metered(_) => Self::of_numbers(),
            MeasuredFlow::Pitot(_) => Self {
                pitot: pitot_spread(flow).unwrap_or_else(|_| Spread::even(1.0)),
                outlet: Spread::even(OUTLET_COEFFICIENT_SHARE),
                flow_only: Spread::NONE,
                ..Self::of_numbers()
            },
        }
    }

    /// The wider of two on each side: of a test of two points.
    #[must_use]
    pub fn or_wider(self, other: Self) -> Self {
        Self {
            static_psi: self.static_psi.max(other.static_psi),
            drop_psi: self.drop_psi.max(other.drop_psi),
            swing_psi: self.swing_psi.max(other.swing_psi),
            pitot: self.pitot.or_wider(other.pitot),
            outlet: self.outlet.or_wider(other.outlet),
            flow_only: self.flow_only.or_wider(other.flow_only),
        }
    }

    /// The same for a test gauged at another hydrant whose drop was `drop_psi`.
    #[must_use]
    pub fn borrowed(self, drop_psi: f64) -> Self {
        Self {
            swing_psi: libm::hypot(self.swing_psi, BORROWED_PSI),
            drop_psi: libm::hypot(self.drop_psi, BORROWED_DROP_SHARE * drop_psi),
            ..self
        }
    }

    /// The same where the difference of ground is not known.
    #[must_use]
    pub fn ground_unknown(self) -> Self {
        Self { swing_psi: libm::hypot(self.swing_psi, GROUND_UNKNOWN_PSI), ..self }
    }
}

/// The flow's span when every pitot reading is half a psi lower or higher.
fn pitot_spread(flow: &MeasuredFlow) -> Result<Spread, OutOfBounds> {
    let MeasuredFlow::Pitot(readings) = flow else { return Ok(Spread::NONE) };
    let (mut low, mut read, mut high) = (0.0, 0.0, 0.0);
    for reading in readings {
        let at = |psi: f64| {
            let pitot = PitotPressure::from_psi(psi.clamp(PitotPressure::BOUND.min, PitotPressure::BOUND.max))?;
            Ok::<f64, OutOfBounds>(crate::flow_test::PitotReading { pitot, ..*reading }.discharge_gpm())
        };
        low += at(reading.pitot.psi() - PITOT_PSI)?;
        read += reading.discharge_gpm();
        high += at(reading.pitot.psi() + PITOT_PSI)?;
    }
    Ok(Spread::of_ends(read, low, high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow_test::PitotReading;
    use crate::quantity::{Diameter, OutletCoefficient};
    use alloc::vec;

    #[test]
    fn half_a_psi_of_ten_is_two_and_a_half_percent_of_the_flow() {
        let reading = PitotReading {
            diameter: Diameter::from_in(2.5).unwrap(),
            coefficient: OutletCoefficient::from_number(0.9).unwrap(),
            pitot: PitotPressure::from_psi(10.0).unwrap(),
        };
        let spread = SourceSpread::of_test(&MeasuredFlow::Pitot(vec![reading, reading])).pitot;
        // dQ/Q = dp/p/2 to first order: the roots of 0.95 and 1.05.
        assert!((spread.below() - (1.0 - libm::sqrt(0.95))).abs() < 1e-12);
        assert!((spread.above() - (libm::sqrt(1.05) - 1.0)).abs() < 1e-12);
    }

    #[test]
    fn leaving_the_readings_out_makes_a_flow_no_surer() {
        let of = |psi: f64| {
            let spread = SourceSpread::of_test(&MeasuredFlow::Pitot(vec![PitotReading {
                diameter: Diameter::from_in(2.5).unwrap(),
                coefficient: OutletCoefficient::from_number(0.9).unwrap(),
                pitot: PitotPressure::from_psi(psi).unwrap(),
            }]));
            libm::hypot(spread.pitot.below(), spread.outlet.below())
        };
        assert!(of(5.0) < FLOW_ONLY_SHARE && of(30.0) < of(5.0));
    }

    #[test]
    fn the_ends_of_a_span_stand_on_their_own_sides() {
        let valve = Spread::of_ends(0.22, 0.04, 0.23);
        assert!((valve.end(0.22, End::Low) - 0.04).abs() < 1e-15 && (valve.end(0.22, End::High) - 0.23).abs() < 1e-15);
        assert_eq!(Spread::of_ends(0.1, 0.2, 0.05), Spread::NONE);
        assert_eq!(Spread::of_ends(0.0, 0.0, 1.0), Spread::NONE);
        assert_eq!(Spread::even(f64::NAN), Spread::even(1.0));
    }
}
