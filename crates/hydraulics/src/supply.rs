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
        Ok(Self { static_psi, residual_psi, tested_gpm: tested_flow.gpm() })
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
        let drop = (self.static_psi - self.residual_psi) * libm::pow(gpm / self.tested_gpm, DROP_EXPONENT);
        (self.static_psi - drop, -DROP_EXPONENT * drop / gpm)
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
        (self.tested_gpm * libm::pow(share, FLOW_EXPONENT)).min(Flow::BOUND.max)
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
        sound.then_some(Self { static_psi, residual_psi, tested_gpm: self.tested_gpm })
    }
}
