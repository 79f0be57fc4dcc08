//! The source: what the main holds at a flow, through one flow test.

use thiserror::Error;

use crate::quantity::{Flow, PositiveFlow, Pressure};

/// The exponent of flow on pressure drop in the Hazen-Williams based projection.
///
/// One pair in the whole crate: this and its exact inverse [`DROP_EXPONENT`] (about 1.852), so that a round trip along the curve
/// changes nothing. Older texts print 1.85, which is not the inverse of 0.54; the two differ by under 0.2 % in the normal range.
pub const FLOW_EXPONENT: f64 = 0.54;
/// The exponent of pressure drop on flow: the exact inverse of [`FLOW_EXPONENT`].
pub const DROP_EXPONENT: f64 = 1.0 / FLOW_EXPONENT;

/// Residual pressure at which hydrants are rated, psi. Source: `nfpa-291` 4.2.1.
pub const RATING_PRESSURE_PSI: f64 = 20.0;
/// Static pressure under which a hydrant is rated at half its static, psi.
///
/// Source: `lamm-flow-test` for the half; the 40 psi threshold is from memory of `nfpa-291`.
pub const LOW_STATIC_PSI: f64 = 40.0;

/// A flow test that proves no curve.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoCurve {
    /// The residual is above the static.
    #[error(
        "a residual of {residual_psi} psi is above the static of {static_psi} psi: a main cannot gain pressure by flowing"
    )]
    ResidualAboveStatic {
        /// Static pressure given, psi.
        static_psi: f64,
        /// Residual pressure given, psi.
        residual_psi: f64,
    },
    /// There is no static pressure.
    #[error("a static of 0 psi is no supply")]
    NoStatic,
}

/// Exponents of drop on flow that a fit through two points may have. A judgement of ours: pipe friction gives 1.85 to 2, and pumps and tanks that
/// answer the flow bend it either way; past these ends it is the readings that are off.
pub const FITTED_EXPONENTS: (f64, f64) = (1.0, 3.0);

/// Drop at the nearer of two points under which no form of curve is read off them, psi: some three times what two readings may be off. A judgement of ours.
pub const LEAST_NEAR_DROP_PSI: f64 = 5.0;

/// A second point that fits no curve with the first.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NoFit {
    /// The two flows are the same, or one of the drops is none.
    #[error("two points fit a curve only where both show a drop, at different flows")]
    NothingToFit,
    /// The drop at the nearer point is so little that the gauge hardly shows it.
    #[error(
        "the drop at the lesser flow is {drop_psi:.1} psi: under {LEAST_NEAR_DROP_PSI} psi it says nothing of the curve's form; flow more"
    )]
    NearDropTooSmall {
        /// The drop, psi.
        drop_psi: f64,
    },
    /// The drop does not grow with the flow as any main's does.
    #[error("the drop grows with the flow to the power {exponent:.2}; a main's lies between {least} and {most}: a reading is off", least = FITTED_EXPONENTS.0, most = FITTED_EXPONENTS.1)]
    Exponent {
        /// The exponent found.
        exponent: f64,
    },
}

/// One point of a flow test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestPoint {
    /// What flowed.
    pub flow: PositiveFlow,
    /// What the main held then.
    pub residual: Pressure,
}

/// Main pressure against flow, through one test.
///
/// # Formula
/// `P(Q) = S - (S - R) (Q / Qt)^(1/0.54)` and its exact inverse.
/// # Units
/// psi, gpm.
/// # Range
/// Best between no flow and the tested flow; beyond it an extrapolation, whose ratio is worth showing. Assumes the same source head and the
/// same losses in the main in every state.
/// # Source
/// `kolb-fpt102` slides 1 and 16, `walski-origin`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyCurve {
    static_psi: f64,
    residual_psi: f64,
    tested_gpm: f64,
    law: Law,
}

/// How drop and flow go together.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    flow_exponent: f64,
    drop_exponent: f64,
    /// The nearer point of a fit: its flow, gpm, and drop, psi.
    near: Option<(f64, f64)>,
}

impl Law {
    const HAZEN_WILLIAMS: Self = Self { flow_exponent: FLOW_EXPONENT, drop_exponent: DROP_EXPONENT, near: None };

    /// Through the nearer point and the farther.
    fn fitted(near: (f64, f64), far: (f64, f64)) -> Self {
        let drop_exponent = libm::log(far.1 / near.1) / libm::log(far.0 / near.0);
        Self { flow_exponent: 1.0 / drop_exponent, drop_exponent, near: Some(near) }
    }
}

impl SupplyCurve {
    /// The curve through a test.
    ///
    /// # Errors
    /// Residual above static, or no static.
    pub fn new(
        static_pressure: Pressure,
        residual_pressure: Pressure,
        tested_flow: PositiveFlow,
    ) -> Result<Self, NoCurve> {
        let (static_psi, residual_psi) = (static_pressure.psi(), residual_pressure.psi());
        if residual_psi > static_psi {
            return Err(NoCurve::ResidualAboveStatic { static_psi, residual_psi });
        }
        if static_psi == 0.0 {
            return Err(NoCurve::NoStatic);
        }
        Ok(Self { static_psi, residual_psi, tested_gpm: tested_flow.gpm(), law: Law::HAZEN_WILLIAMS })
    }

    /// The curve through a static and two points, whose exponent is the main's own and not the pipe law's.
    ///
    /// # Formula
    /// `P(Q) = S - (S - R2) (Q/Q2)^n`, `n = ln((S - R2)/(S - R1)) / ln(Q2/Q1)`, point 2 the one that flowed more.
    /// # Units
    /// psi, gpm.
    /// # Range
    /// As [`SupplyCurve`]; it is best known between the two points.
    /// # Errors
    /// The same flows, no drop at one of them, a near drop under [`LEAST_NEAR_DROP_PSI`], or an exponent outside [`FITTED_EXPONENTS`]. A residual above the static shows no drop.
    /// # Source
    /// `lingireddy-wood`; the closed form through three readings `derived`.
    pub fn fitted(static_pressure: Pressure, a: TestPoint, b: TestPoint) -> Result<Self, NoFit> {
        let (near, far) = if a.flow < b.flow { (a, b) } else { (b, a) };
        let drop = |point: TestPoint| static_pressure.psi() - point.residual.psi();
        if near.flow == far.flow || drop(near) <= 0.0 || drop(far) <= 0.0 {
            return Err(NoFit::NothingToFit);
        }
        if drop(near) < LEAST_NEAR_DROP_PSI {
            return Err(NoFit::NearDropTooSmall { drop_psi: drop(near) });
        }
        let law = Law::fitted((near.flow.gpm(), drop(near)), (far.flow.gpm(), drop(far)));
        let (least, most) = FITTED_EXPONENTS;
        if law.drop_exponent >= least && law.drop_exponent <= most {
            let (static_psi, residual_psi) = (static_pressure.psi(), far.residual.psi());
            return Ok(Self { static_psi, residual_psi, tested_gpm: far.flow.gpm(), law });
        }
        Err(NoFit::Exponent { exponent: law.drop_exponent })
    }

    /// One pressure whatever flows, up to the most that any main gives.
    pub(crate) const fn level(psi: f64) -> Self {
        Self { static_psi: psi, residual_psi: psi, tested_gpm: Flow::BOUND.max, law: Law::HAZEN_WILLIAMS }
    }

    /// The exponent of a fit through two points; none for a curve through one.
    pub fn fitted_exponent(&self) -> Option<f64> {
        self.law.near.map(|_| self.law.drop_exponent)
    }

    /// Static pressure, psi.
    pub const fn static_psi(&self) -> f64 {
        self.static_psi
    }

    /// Residual pressure at the tested flow, psi.
    pub const fn residual_psi(&self) -> f64 {
        self.residual_psi
    }

    /// The tested flow, gpm.
    pub const fn tested_gpm(&self) -> f64 {
        self.tested_gpm
    }

    /// What the tested flow took of the static, psi.
    pub fn drop_psi(&self) -> f64 {
        self.static_psi - self.residual_psi
    }

    /// The same, percent of the static.
    pub fn drop_percent(&self) -> f64 {
        100.0 * self.drop_psi() / self.static_psi
    }

    /// Whether the test showed no drop at all: it proves only that the tested flow was there.
    pub fn no_drop(&self) -> bool {
        self.residual_psi == self.static_psi
    }

    /// Pressure in the main at a flow, psi. Below nothing past what the main holds; level for a test with no drop. What is no number, or more
    /// than any main gives, counts as [`Flow::BOUND`]'s most.
    pub fn pressure_psi(&self, gpm: f64) -> f64 {
        self.pressure_and_slope(gpm.min(Flow::BOUND.max)).0
    }

    /// [`Self::pressure_psi`] with its slope, psi per gpm, for one `pow`.
    pub(crate) fn pressure_and_slope(&self, gpm: f64) -> (f64, f64) {
        if gpm.is_nan() || gpm <= 0.0 || self.no_drop() {
            return (self.static_psi, 0.0);
        }
        let drop = (self.static_psi - self.residual_psi) * libm::pow(gpm / self.tested_gpm, self.law.drop_exponent);
        (self.static_psi - drop, -self.law.drop_exponent * drop / gpm)
    }

    /// The flow at which the main has fallen to a pressure, gpm: nothing at or above static, and never more than [`Flow::BOUND`]'s most, which a
    /// drop of next to nothing would promise. For a test with no drop, the tested flow, which is all it proved.
    pub fn flow_gpm(&self, psi: f64) -> f64 {
        if self.no_drop() {
            return if psi <= self.static_psi { self.tested_gpm } else { 0.0 };
        }
        if psi.is_nan() || psi >= self.static_psi {
            return 0.0;
        }
        let share = (self.static_psi - psi) / (self.static_psi - self.residual_psi);
        (self.tested_gpm * libm::pow(share, self.law.flow_exponent)).min(Flow::BOUND.max)
    }

    /// The pressure a hydrant on this main is rated at, psi: 20, or half the static where the static is under 40.
    ///
    /// # Source
    /// `nfpa-291` 4.2.1, `lamm-flow-test` part 4.
    pub fn rating_pressure_psi(&self) -> f64 {
        if self.static_psi < LOW_STATIC_PSI { self.static_psi / 2.0 } else { RATING_PRESSURE_PSI }
    }

    /// The flow at the rating pressure, gpm; none where the test showed no drop (at least the tested flow, and no more is known).
    pub fn rated_flow_gpm(&self) -> Option<f64> {
        (!self.no_drop()).then(|| self.flow_gpm(self.rating_pressure_psi()))
    }

    /// The same main seen from ground higher by `rise_ft`: both pressures fall by the head, the drop stays. None where nothing would
    /// be left of the static, or the residual would be a vacuum.
    pub fn at_elevation(&self, rise_ft: f64) -> Option<Self> {
        let head = crate::loss::PSI_PER_FOOT * rise_ft;
        let (static_psi, residual_psi) = (self.static_psi - head, self.residual_psi - head);
        let sound = static_psi > 0.0 && residual_psi >= 0.0 && static_psi <= Pressure::BOUND.max;
        // A level test must stay level: rounding may not invent a drop.
        let residual_psi = if self.no_drop() { static_psi } else { residual_psi };
        sound.then_some(Self { static_psi, residual_psi, ..*self })
    }

    /// The same pressures at flows so many times larger: as if the main were laid larger. None for what is no number or not over nothing, and where the
    /// tested flow would be more than any main gives.
    ///
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
    /// # use longlay_hydraulics::supply::SupplyCurve;
    /// let (s, r) = (Pressure::from_psi(60.0)?, Pressure::from_psi(40.0)?);
    /// let main = SupplyCurve::new(s, r, PositiveFlow::from_gpm(600.0)?)?;
    /// assert_eq!(main.enlarged(2.0).map(|larger| larger.pressure_psi(1200.0)), Some(40.0));
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    pub fn enlarged(&self, times: f64) -> Option<Self> {
        let larger = self.scaled(times);
        (times > 0.0 && PositiveFlow::from_gpm(larger.tested_gpm).is_ok()).then_some(larger)
    }

    /// The whole curve so much higher.
    pub(crate) fn shifted(self, psi: f64) -> Self {
        let residual_psi = self.residual_psi + psi;
        Self { static_psi: if self.no_drop() { residual_psi } else { self.static_psi + psi }, residual_psi, ..self }
    }

    /// The same with every tested flow so many times larger.
    pub(crate) fn scaled(self, times: f64) -> Self {
        let near = self.law.near.map(|(gpm, drop)| (gpm * times, drop));
        Self { tested_gpm: self.tested_gpm * times, law: Law { near, ..self.law }, ..self }
    }

    /// The same with the drop at the tested flow so much larger, as far as a main's can be: of a fit the exponent follows.
    pub(crate) fn with_drop(self, more_psi: f64) -> Self {
        let drop = (self.static_psi - self.residual_psi + more_psi).max(LEAST_DROP_PSI);
        Self { residual_psi: self.static_psi - drop, ..self }.refitted()
    }

    /// The same with the drop at the nearer point of a fit so much larger; a curve through one point has none.
    pub(crate) fn with_near_drop(self, more_psi: f64) -> Self {
        let near = self.law.near.map(|(gpm, drop)| (gpm, (drop + more_psi).max(LEAST_DROP_PSI)));
        Self { law: Law { near, ..self.law }, ..self }.refitted()
    }

    fn refitted(self) -> Self {
        let Some(near) = self.law.near else { return self };
        let law = Law::fitted(near, (self.tested_gpm, self.static_psi - self.residual_psi));
        let (least, most) = FITTED_EXPONENTS;
        let drop_exponent = if law.drop_exponent.is_nan() { most } else { law.drop_exponent.clamp(least, most) };
        Self { law: Law { flow_exponent: 1.0 / drop_exponent, drop_exponent, near: law.near }, ..self }
    }
}

/// A drop that readings allow to be nothing is taken as this little, psi: enough to make a curve of it, and no limit to what is delivered.
pub(crate) const LEAST_DROP_PSI: f64 = 0.01;
