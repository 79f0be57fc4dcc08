//! The coefficient of an appliance or of one leg of a hydrant valve from a department's own test: a gauge on either side and a measured flow.

use crate::friction_test::{Fit, NoCoefficient, TestedCoefficient, TwoGaugeReading};
use crate::quantity::{ApplianceCoefficient, MeterUncertainty, Rise};

/// A two-gauge test of an appliance or of one leg of a valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossTest<'a> {
    /// How much higher the far gauge is.
    pub rise: Rise,
    /// The readings.
    pub readings: &'a [TwoGaugeReading],
    /// How far the flow meter may be off.
    pub meter: MeterUncertainty,
}

impl LossTest<'_> {
    /// The coefficient, by least squares through zero.
    ///
    /// # Formula
    /// `k = Σ x y / Σ x²`, `x = (Q/100)²`, `y = p1 - p2 - 0.434 rise`. Uncertainty `√((√2 x 1 psi x Σ x / Σ x²)² + (2 m k)²)`, m the meter's share, as
    /// [`crate::friction_test::FrictionTest::coefficient`].
    /// # Units
    /// gpm, psi, ft, %; psi/(100 gpm)² out.
    /// # Range
    /// Both gauges at the appliance: what hose lies between them counts as its own. Flow high enough to lose well over 10 psi.
    /// # Errors
    /// No readings, one that shows no loss, or a coefficient that no appliance has.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::friction_test::TwoGaugeReading;
    /// # use longlay_hydraulics::loss_test::LossTest;
    /// # use longlay_hydraulics::quantity::{MeterUncertainty, PositiveFlow, Pressure, Rise};
    /// // 20 psi at 1000 gpm: 20 / 10² = 0.2.
    /// let flow = PositiveFlow::from_gpm(1000.0)?;
    /// let (upstream, downstream) = (Pressure::from_psi(80.0)?, Pressure::from_psi(60.0)?);
    /// let tested = LossTest {
    ///     rise: Rise::from_ft(0.0)?,
    ///     readings: &[TwoGaugeReading { flow, upstream, downstream }],
    ///     meter: MeterUncertainty::from_percent(2.0)?,
    /// }
    /// .coefficient()?;
    /// assert_eq!(tested.coefficient.psi_per_100gpm2(), 0.2);
    /// assert!(!tested.readings_too_small);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `four-way-maker-test` for two gauges on a valve; the procedure from `memory`, the fit and its uncertainty `derived`.
    pub fn coefficient(&self) -> Result<TestedCoefficient<ApplianceCoefficient>, NoCoefficient> {
        let fit = Fit::through_zero(1.0, self.rise, self.meter, self.readings)?;
        let coefficient = ApplianceCoefficient::from_psi_per_100gpm2(fit.coefficient);
        Ok(fit.tested(coefficient.map_err(NoCoefficient::NoAppliance)?))
    }
}
