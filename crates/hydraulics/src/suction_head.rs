//! What is left to push water into a pump's eye before it boils there.

use crate::quantity::{AbsolutePressure, Density, Head, Rise};

/// Square inches in a square foot.
const SQ_IN_PER_SQ_FT: f64 = 144.0;

/// A pump's suction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suction {
    /// Pressure on the water it draws from: the air's on open water.
    pub surface: AbsolutePressure,
    /// Pressure at which the water boils at its temperature.
    pub vapour: AbsolutePressure,
    /// Weight of the water.
    pub density: Density,
    /// How much higher the pump is than the water; a fall where the water stands above it.
    pub lift: Rise,
    /// Head lost in strainer, suction hose and intake at the flow.
    pub losses: Head,
}

impl Suction {
    /// The net positive suction head available, ft. Under nothing, the water does not reach the pump at this flow.
    ///
    /// # Formula
    /// `NPSHa = 144 (Ps - Pv)/w - lift - losses`.
    /// # Units
    /// psia, lb/ft³, ft; ft out.
    /// # Range
    /// Steady flow. A pump asks for a margin over the head its maker requires.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{suction_head::Suction, quantity::{AbsolutePressure, Density, Head, OutOfBounds, Rise}};
    /// let suction = Suction {
    ///     surface: AbsolutePressure::from_psia(14.7)?,
    ///     vapour: AbsolutePressure::from_psia(0.3)?,
    ///     density: Density::from_lb_per_cubic_ft(62.4)?,
    ///     lift: Rise::from_ft(10.0)?,
    ///     losses: Head::from_ft(3.0)?,
    /// };
    /// // 144 x 14.4 / 62.4 = 33.23.
    /// assert!((suction.head_available_ft() - 20.23).abs() < 0.01);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `tp-410` problem 7.32.
    pub fn head_available_ft(&self) -> f64 {
        let pressed = SQ_IN_PER_SQ_FT * (self.surface.psia() - self.vapour.psia()) / self.density.lb_per_cubic_ft();
        pressed - self.lift.ft() - self.losses.ft()
    }
}
