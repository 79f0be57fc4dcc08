//! What a pump does at another speed.

use crate::quantity::{Flow, Head, Power, PumpSpeed};

/// Where a pump runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PumpPointAtSpeed {
    /// Its speed.
    pub speed: PumpSpeed,
    /// What it flows.
    pub flow: Flow,
    /// What it lifts.
    pub head: Head,
    /// What its shaft takes.
    pub power: Power,
}

/// The same point of the pump at another speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtOtherSpeed {
    /// Flow, gpm.
    pub flow_gpm: f64,
    /// Head, ft.
    pub head_ft: f64,
    /// Power, hp.
    pub power_hp: f64,
}

impl PumpPointAtSpeed {
    /// The point that this one becomes at another speed.
    ///
    /// # Formula
    /// `Q2 = Q1 n`, `H2 = H1 n²`, `P2 = P1 n³`, `n = N2/N1`.
    /// # Units
    /// rpm, gpm, ft, hp; gpm, ft, hp out.
    /// # Range
    /// One centrifugal pump and impeller, its efficiency taken to stay: near the same speed. The pump then runs there only if the line asks it to.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{pump_affinity::PumpPointAtSpeed, quantity::{Flow, Head, OutOfBounds, Power, PumpSpeed}};
    /// let point = PumpPointAtSpeed {
    ///     speed: PumpSpeed::from_rpm(3500.0)?,
    ///     flow: Flow::from_gpm(400.0)?,
    ///     head: Head::from_ft(126.0)?,
    ///     power: Power::from_hp(17.5)?,
    /// };
    /// let slower = point.at_speed(PumpSpeed::from_rpm(1750.0)?);
    /// assert_eq!((slower.flow_gpm, slower.head_ft, slower.power_hp), (200.0, 31.5, 2.1875));
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `tp-410` problem 7.33.
    pub fn at_speed(&self, other: PumpSpeed) -> AtOtherSpeed {
        let n = other.rpm() / self.speed.rpm();
        AtOtherSpeed {
            flow_gpm: n * self.flow.gpm(),
            head_ft: n * n * self.head.ft(),
            power_hp: n * n * n * self.power.hp(),
        }
    }
}
