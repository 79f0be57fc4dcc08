//! The coefficient of a hose from a department's own test: a gauge at each end and a measured flow.

use alloc::vec::Vec;

use thiserror::Error;

use crate::loss::PSI_PER_FOOT;
use crate::quantity::{HoseCoefficient, Length, MeterUncertainty, OutOfBounds, PositiveFlow, Pressure, Rise};

/// How far each gauge may be off, psi.
///
/// Source: `common-practice`.
pub const GAUGE_UNCERTAINTY_PSI: f64 = 1.0;
/// Least loss that counts as one, psi: no gauge shows less.
pub const LEAST_LOSS_PSI: f64 = 0.01;
/// The uncertainty of a coefficient, as a share of it, over which the test says little. A judgement of ours: it is what one psi on each gauge makes of
/// a loss of 10 psi.
pub const WEAK_SHARE: f64 = 0.15;
/// The uncertainty over which a test's coefficient is no better than a handbook's, as a share of it, and does not stand in its place. Source:
/// [`crate::spread::Spread::HANDBOOK_HOSE`].
pub const USELESS_SHARE: f64 = 0.35;

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
    #[error("a two-gauge test needs at least one reading")]
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
    NoHose(OutOfBounds),
    /// The coefficient is none that an appliance or a valve has.
    #[error("the readings fit no appliance: {0}")]
    NoAppliance(OutOfBounds),
}

/// A tested coefficient and how sure it is.
#[derive(Debug, Clone, PartialEq)]
pub struct TestedCoefficient<C = HoseCoefficient> {
    /// The coefficient that fits all readings best.
    pub coefficient: C,
    /// It may be this much more or less, in its unit.
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
        let fit = Fit::through_zero(self.length.ft() / 100.0, self.rise, self.meter, self.readings)?;
        let coefficient = HoseCoefficient::from_psi_per_100gpm2_100ft(fit.coefficient);
        Ok(fit.tested(coefficient.map_err(NoCoefficient::NoHose)?))
    }
}

/// The line through zero that fits two-gauge readings best.
pub(crate) struct Fit {
    pub(crate) coefficient: f64,
    uncertainty: f64,
    each: Vec<f64>,
}

impl Fit {
    /// Loss against `per (Q/100)²`, by least squares.
    pub(crate) fn through_zero(
        per: f64,
        rise: Rise,
        meter: MeterUncertainty,
        readings: &[TwoGaugeReading],
    ) -> Result<Self, NoCoefficient> {
        let (mut sum_x, mut sum_xx, mut sum_xy) = (0.0, 0.0, 0.0);
        let mut each = Vec::with_capacity(readings.len());
        for (index, reading) in readings.iter().enumerate() {
            let x = crate::loss::squared_psi(per, reading.flow.gpm());
            let loss_psi = reading.upstream.psi() - reading.downstream.psi() - PSI_PER_FOOT * rise.ft();
            if loss_psi < LEAST_LOSS_PSI {
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
        let coefficient = sum_xy / sum_xx;
        let by_gauges = core::f64::consts::SQRT_2 * GAUGE_UNCERTAINTY_PSI * sum_x / sum_xx;
        let by_meter = 2.0 * meter.percent() / 100.0 * coefficient;
        Ok(Self { coefficient, uncertainty: libm::hypot(by_gauges, by_meter), each })
    }

    /// The same with the coefficient inside its bounds.
    pub(crate) fn tested<C>(self, coefficient: C) -> TestedCoefficient<C> {
        let relative_uncertainty = self.uncertainty / self.coefficient;
        TestedCoefficient {
            coefficient,
            uncertainty: self.uncertainty,
            relative_uncertainty,
            readings_too_small: relative_uncertainty > WEAK_SHARE,
            each: self.each,
        }
    }
}
