//! Friction in one pipe by Darcy and Weisbach, with the wall's part by Colebrook and White. No lay uses it: hose has its own squared law.

use thiserror::Error;

use crate::loss::PSI_PER_FOOT;
use crate::quantity::{Diameter, FittingLoss, FrictionFactor, Length, PositiveFlow, Viscosity, WallRoughness};

/// Standard gravity, ft/s².
const GRAVITY: f64 = 9.806_65 / 0.3048;
/// A gallon a minute in cubic feet a second.
const CUBIC_FT_PER_S: f64 = 231.0 / 1728.0 / 60.0;
/// A centistoke in square feet a second.
const SQ_FT_PER_S: f64 = 1e-6 / (0.3048 * 0.3048);
/// Reynolds number up to which flow is smooth and layered; above it the turbulent factor is taken, which is the higher.
///
/// Source: `tp-410`; the threshold from `memory`.
pub const LAMINAR_TO: f64 = 2000.0;
/// Most wall roughness as a share of the bore: the end of Moody's chart.
///
/// Source: `memory`.
pub const MOST_RELATIVE_ROUGHNESS: f64 = 0.05;

/// What a wall does to the water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wall {
    /// By its roughness; nothing for a smooth one.
    Rough(WallRoughness),
    /// By a friction factor stated for it, whatever flows.
    Stated(FrictionFactor),
}

/// A wall that stands too far into the pipe.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error(
    "a wall roughness of {roughness_in} in is over a twentieth of the bore of {bore_in} in: no friction factor is known for it"
)]
pub struct TooRough {
    /// Roughness, in.
    pub roughness_in: f64,
    /// Bore, in.
    pub bore_in: f64,
}

/// One pipe of one bore, with the fittings in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipe {
    bore: Diameter,
    length: Length,
    wall: Wall,
    fittings: FittingLoss,
}

/// What a pipe takes at a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PipeLoss {
    /// Velocity, ft/s.
    pub velocity_ft_per_s: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Darcy friction factor.
    pub friction_factor: f64,
    /// Loss in pipe and fittings, ft of water.
    pub loss_ft: f64,
    /// The same, psi.
    pub loss_psi: f64,
}

impl Pipe {
    /// A pipe; `fittings` is the sum of K of all in it, entrance and exit among them.
    ///
    /// # Errors
    /// A roughness over [`MOST_RELATIVE_ROUGHNESS`] of the bore.
    pub fn new(bore: Diameter, length: Length, wall: Wall, fittings: FittingLoss) -> Result<Self, TooRough> {
        match wall {
            Wall::Rough(roughness) if roughness.inches() > MOST_RELATIVE_ROUGHNESS * bore.inches() => {
                Err(TooRough { roughness_in: roughness.inches(), bore_in: bore.inches() })
            }
            _ => Ok(Self { bore, length, wall, fittings }),
        }
    }

    /// What it takes at a flow.
    ///
    /// # Formula
    /// `h = (f L/D + K) V²/2g`, `Re = V D/ν`; `f = 64/Re` to 2000, above it `1/√f = -2 log(ε/(3.7 D) + 2.51/(Re √f))`, solved to the last digits.
    /// # Units
    /// gpm, in, ft, cSt; ft/s, ft, psi out.
    /// # Range
    /// A full pipe of one bore in steady flow. Between Reynolds numbers of 2000 and 4000 flow is neither; the higher factor is taken. Water of 60 °F has
    /// about 1.13 cSt.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::darcy::{Pipe, Wall};
    /// # use longlay_hydraulics::quantity::{Diameter, FittingLoss, FrictionFactor, Length, PositiveFlow, Viscosity};
    /// let stated = Wall::Stated(FrictionFactor::from_number(0.02)?);
    /// let pipe = Pipe::new(Diameter::from_in(6.0)?, Length::from_ft(100.0)?, stated, FittingLoss::from_number(1.0)?)?;
    /// // 448.83 gpm are a cubic foot a second: 5.093 ft/s, 0.4031 ft of velocity head, and five of them.
    /// let loss = pipe.loss(PositiveFlow::from_gpm(448.83)?, Viscosity::from_cst(1.13)?);
    /// assert!((loss.loss_ft - 2.0155).abs() < 0.001);
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `tp-410`; Colebrook's form from `memory`.
    pub fn loss(&self, flow: PositiveFlow, viscosity: Viscosity) -> PipeLoss {
        self.loss_at(flow.gpm(), viscosity)
    }

    /// [`Self::loss`], at a flow that is more than nothing.
    pub(crate) fn loss_at(&self, gpm: f64, viscosity: Viscosity) -> PipeLoss {
        let bore_ft = self.bore.inches() / 12.0;
        let velocity_ft_per_s = CUBIC_FT_PER_S * gpm / (core::f64::consts::PI / 4.0 * bore_ft * bore_ft);
        let reynolds = velocity_ft_per_s * bore_ft / (SQ_FT_PER_S * viscosity.cst());
        let friction_factor = match self.wall {
            Wall::Stated(factor) => factor.number(),
            Wall::Rough(_) if reynolds <= LAMINAR_TO => 64.0 / reynolds,
            Wall::Rough(roughness) => turbulent_factor(reynolds, roughness.inches() / self.bore.inches()),
        };
        let heads = friction_factor * self.length.ft() / bore_ft + self.fittings.number();
        let loss_ft = heads * velocity_ft_per_s * velocity_ft_per_s / (2.0 * GRAVITY);
        PipeLoss { velocity_ft_per_s, reynolds, friction_factor, loss_ft, loss_psi: PSI_PER_FOOT * loss_ft }
    }
}

/// Colebrook's factor, solved for `x = 1/√f`. The curve `x + 2 log(a + b x)` rises and bends down, so that Newton's steps from below climb to its root and
/// never pass it; from 1, an f higher than any pipe's, they start below.
fn turbulent_factor(reynolds: f64, relative_roughness: f64) -> f64 {
    const MOST_STEPS: usize = 30;
    let (a, b) = (relative_roughness / 3.7, 2.51 / reynolds);
    let mut x = 1.0;
    for _ in 0..MOST_STEPS {
        let off = x + 2.0 * libm::log10(a + b * x);
        let slope = 1.0 + 2.0 * core::f64::consts::LOG10_E * b / (a + b * x);
        let next = x - off / slope;
        if next <= x {
            break;
        }
        x = next;
    }
    1.0 / (x * x)
}
