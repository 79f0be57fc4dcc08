//! Water and time to fill a dry line.

use core::num::NonZeroU8;

use crate::quantity::{Diameter, Length, PositiveFlow};

const GALLONS_PER_CUBIC_FOOT: f64 = 1728.0 / 231.0;

/// Dry hose: one or more equal lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryLine {
    /// Its inside diameter.
    pub diameter: Diameter,
    /// Length of each line.
    pub length: Length,
    /// Equal lines side by side.
    pub lines: NonZeroU8,
}

impl DryLine {
    /// Water that fills it, gallons.
    ///
    /// # Formula
    /// `V = n L π/4 (d/12)² 7.4805`.
    /// # Units
    /// in, ft; gallons out.
    /// # Range
    /// Nominal diameter: charged lined hose swells and holds more.
    /// # Source
    /// `derived`: geometry, and 7.4805 gallons in a cubic foot.
    pub fn volume_gal(&self) -> f64 {
        let d = self.diameter.inches() / 12.0;
        let area = core::f64::consts::PI / 4.0 * d * d;
        f64::from(self.lines.get()) * self.length.ft() * area * GALLONS_PER_CUBIC_FOOT
    }

    /// Time to fill it at a flow, seconds.
    ///
    /// # Formula
    /// `t = 60 V/Q`.
    /// # Units
    /// gal, gpm; seconds out.
    /// # Range
    /// As [`Self::volume_gal`]; air that cannot get out makes it longer.
    /// # Examples
    /// ```
    /// # use core::num::NonZeroU8;
    /// # use longlay_hydraulics::{line_fill::DryLine, quantity::{Diameter, Length, OutOfBounds, PositiveFlow}};
    /// let line = DryLine { diameter: Diameter::from_in(5.0)?, length: Length::from_ft(1000.0)?, lines: NonZeroU8::MIN };
    /// // 0.13635 ft² x 1000 ft x 7.4805 = 1020 gal.
    /// assert_eq!(line.fill_seconds(PositiveFlow::from_gpm(600.0)?).round(), 102.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `derived`.
    pub fn fill_seconds(&self, flow: PositiveFlow) -> f64 {
        60.0 * self.volume_gal() / flow.gpm()
    }
}
