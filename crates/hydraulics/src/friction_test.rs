//! The coefficient of a hose from a department's own test: a gauge at each end and a measured flow.

use alloc::vec::Vec;

use thiserror::Error;

use crate::loss::PSI_PER_FOOT;
use crate::quantity::{HoseCoefficient, Length, MeterUncertainty, OutOfBounds, PositiveFlow, Pressure, Rise};

/// How far each gauge may be off, psi.
///
/// Source: `common-practice`.
pub const GAUGE_UNCERTAINTY_PSI: f64 = 1.0;
/// The uncertainty of a coefficient, as a share of it, over which the test says little. A judgement of ours: it is what one psi on each gauge makes of
/// a loss of 10 psi.
pub const WEAK_SHARE: f64 = 0.15;

/// Both gauges at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoGaugeReading {
    /// The flow.
    pub flow: PositiveFlow,
    /// The gauge at the pumper's end.
    pub upstream: Pressure,
    /// The gauge at the far end.
    pub downstream: Pressure,
}

/// A two-gauge test of one line of hose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrictionTest<'a> {
    /// Hose between the gauges.
    pub length: Length,
    /// How much higher the far gauge is.
    pub rise: Rise,
    /// The readings.
    pub readings: &'a [TwoGaugeReading],
    /// How far the flow meter may be off.
    pub meter: MeterUncertainty,
}

/// Readings that give no coefficient.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoCoefficient {
    /// There is none.
    #[error("a friction test needs at least one reading")]
    NoReadings,
    /// A reading shows no loss once the rise is taken off.
    #[error("reading {index}: {loss_psi} psi lost between the gauges, less the rise, is no loss: check the gauges")]
    NoLoss {
        /// Which, counted from 0.
        index: usize,
        /// What it shows, psi.
        loss_psi: f64,
    },
    /// The coefficient is none that hose has.
    #[error("the readings fit no hose: {0}")]
    NoHose(#[from] OutOfBounds),
}

/// A tested coefficient and how sure it is.
#[derive(Debug, Clone, PartialEq)]
pub struct TestedCoefficient {
    /// The coefficient that fits all readings best.
    pub coefficient: HoseCoefficient,
    /// It may be this much more or less, psi/(100 gpm)²/100 ft.
    pub uncertainty: f64,
    /// The same as a share of it.
    pub relative_uncertainty: f64,
    /// Whether the losses read were too small to mean much: the share is over [`WEAK_SHARE`].
    pub readings_too_small: bool,
    /// What each reading would give by itself, in their order.
    pub each: Vec<f64>,
}

impl FrictionTest<'_> {
    /// The coefficient, by least squares through zero.
    ///
    /// # Formula
    /// `C = Σ x y / Σ x²`, `x = (Q/100)² L/100`, `y = p1 - p2 - 0.434 rise`. Uncertainty
    /// `√((√2 x 1 psi x Σ x / Σ x²)² + (2 m C)²)`, m the meter's share: a gauge or a meter that is off is off in every reading, so
    /// that more readings do not narrow it, and the flow counts twice because it is squared.
    /// # Units
    /// gpm, psi, ft, %; psi/(100 gpm)²/100 ft out.
    /// # Range
    /// One line; gauges in the line at both ends, hose long enough or flow high enough to lose well over 10 psi.
    /// # Errors
    /// No readings, one that shows no loss, or a coefficient that no hose has.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::friction_test::{FrictionTest, TwoGaugeReading};
    /// # use longlay_hydraulics::quantity::{Length, MeterUncertainty, PositiveFlow, Pressure, Rise};
    /// let flow = PositiveFlow::from_gpm(161.0)?;
    /// let (upstream, downstream) = (Pressure::from_psi(149.0)?, Pressure::from_psi(100.0)?);
    /// let tested = FrictionTest {
    ///     length: Length::from_ft(200.0)?,
    ///     rise: Rise::from_ft(0.0)?,
    ///     readings: &[TwoGaugeReading { flow, upstream, downstream }],
    ///     meter: MeterUncertainty::from_percent(2.0)?,
    /// }
    /// .coefficient()?;
    /// assert!((tested.coefficient.psi_per_100gpm2_100ft() - 9.45).abs() < 0.01);
    /// assert!(!tested.readings_too_small);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `fire-apparatus-2018` for the test and its arithmetic, `ifsta-pump-ops` for two gauges; the procedure from `memory`, the
    /// uncertainty `derived`.
    pub fn coefficient(&self) -> Result<TestedCoefficient, NoCoefficient> {
        let (mut sum_x, mut sum_xx, mut sum_xy) = (0.0, 0.0, 0.0);
        let mut each = Vec::with_capacity(self.readings.len());
        for (index, reading) in self.readings.iter().enumerate() {
            let x = crate::loss::squared_psi(self.length.ft() / 100.0, reading.flow.gpm());
            let loss_psi = reading.upstream.psi() - reading.downstream.psi() - PSI_PER_FOOT * self.rise.ft();
            if loss_psi <= 0.0 {
                return Err(NoCoefficient::NoLoss { index, loss_psi });
            }
            sum_x += x;
            sum_xx += x * x;
            sum_xy += x * loss_psi;
            each.push(loss_psi / x);
        }
        if each.is_empty() {
            return Err(NoCoefficient::NoReadings);
        }
        let c = sum_xy / sum_xx;
        let by_gauges = core::f64::consts::SQRT_2 * GAUGE_UNCERTAINTY_PSI * sum_x / sum_xx;
        let by_meter = 2.0 * self.meter.percent() / 100.0 * c;
        let uncertainty = libm::hypot(by_gauges, by_meter);
        let relative_uncertainty = uncertainty / c;
        Ok(TestedCoefficient {
            coefficient: HoseCoefficient::from_psi_per_100gpm2_100ft(c)?,
            uncertainty,
            relative_uncertainty,
            readings_too_small: relative_uncertainty > WEAK_SHARE,
            each,
        })
    }
}
