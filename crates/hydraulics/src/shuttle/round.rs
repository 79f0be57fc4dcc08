//! One tanker: its round, and the rate it keeps up.

use crate::quantity::{Miles, Minutes, Volume};

/// The share of its tank that a tanker delivers: a tenth is spilled, left or never filled.
///
/// Source: `shuttle-outline`.
pub const USABLE_SHARE: f64 = 0.9;
/// Travel time of no distance, minutes: setting off and stopping.
///
/// Source: `shuttle-outline`.
pub const TRAVEL_START_MIN: f64 = 0.65;
/// Minutes for each mile, at an average of about 35 mph.
///
/// Source: `shuttle-outline`.
pub const TRAVEL_MIN_PER_MILE: f64 = 1.7;

/// A distance, and what it is the distance of. Sources write the travel formula for both, so a caller has to say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Haul {
    /// From the fill site to the dump site and back.
    RoundTrip(Miles),
    /// From the fill site to the dump site alone.
    OneWay(Miles),
}

/// Time on the road for a whole round, minutes.
///
/// # Formula
/// `0.65 + 1.7 x miles there and back`.
/// # Units
/// mi; min out.
/// # Range
/// Ordinary roads. Sources disagree whether the miles are there and back or one way; here every mile driven takes its 1.7 minutes, the reading
/// that promises less water.
/// # Examples
/// ```
/// # use longlay_hydraulics::{shuttle::{Haul, travel_min}, quantity::{Miles, OutOfBounds}};
/// assert!((travel_min(Haul::RoundTrip(Miles::from_mi(3.0)?)) - 5.75).abs() < 1e-9);
/// assert!((travel_min(Haul::OneWay(Miles::from_mi(3.0)?)) - 10.85).abs() < 1e-9);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `shuttle-outline` p. 12-13.
pub fn travel_min(haul: Haul) -> f64 {
    let driven = match haul {
        Haul::RoundTrip(miles) => miles.miles(),
        Haul::OneWay(miles) => 2.0 * miles.miles(),
    };
    TRAVEL_START_MIN + TRAVEL_MIN_PER_MILE * driven
}

/// The rate one tanker keeps up, gpm, for a cycle timed as a whole.
///
/// # Formula
/// `0.9 tank / cycle`.
/// # Units
/// gal, min; gpm out.
/// # Range
/// A tanker that never waits; what fill and dump sites can handle is a limit beside it.
/// # Examples
/// ```
/// # use longlay_hydraulics::{shuttle::tanker_rate_gpm, quantity::{Minutes, OutOfBounds, Volume}};
/// assert_eq!(tanker_rate_gpm(Volume::from_gal(3000.0)?, Minutes::from_min(12.0)?), 225.0);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `shuttle-outline` p. 12-13, `shuttle-sheet`.
pub fn tanker_rate_gpm(tank: Volume, cycle: Minutes) -> f64 {
    USABLE_SHARE * tank.gal() / cycle.minutes()
}

/// A tanker's round, to be timed from its parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TankerRound {
    /// What its tank holds.
    pub tank: Volume,
    /// Time at the fill site: positioning, coupling, filling, breaking off.
    pub fill: Minutes,
    /// Time at the dump site, likewise.
    pub dump: Minutes,
    /// The road between.
    pub haul: Haul,
}

/// A tanker's rate with what makes it up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TankerRate {
    /// What it delivers each round, gal.
    pub usable_gal: f64,
    /// Time at both sites, min.
    pub handling_min: f64,
    /// Time on the road, min.
    pub travel_min: f64,
    /// The rate it keeps up, gpm.
    pub gpm: f64,
}

impl TankerRound {
    /// The rate it keeps up.
    ///
    /// # Formula
    /// `0.9 tank / (fill + dump + travel)`, travel by [`travel_min`].
    /// # Units
    /// gal, min, mi; gpm out.
    /// # Range
    /// As [`tanker_rate_gpm`].
    /// # Source
    /// `shuttle-outline` p. 12-13.
    pub fn rate(&self) -> TankerRate {
        let usable_gal = USABLE_SHARE * self.tank.gal();
        let handling_min = self.fill.minutes() + self.dump.minutes();
        let travel_min = travel_min(self.haul);
        TankerRate { usable_gal, handling_min, travel_min, gpm: usable_gal / (handling_min + travel_min) }
    }
}

impl TankerRound {
    /// Time until it begins to dump, from when it stands empty at the fill site, min.
    ///
    /// # Formula
    /// `fill + 0.65 + 1.7 x miles one way`.
    /// # Units
    /// min, mi; min out.
    /// # Range
    /// Setting off counts whole for the one way.
    /// # Source
    /// `shuttle-outline` p. 12-13 for the travel; `derived`.
    pub fn first_water_min(&self) -> f64 {
        let one_way = match self.haul {
            Haul::RoundTrip(miles) => miles.miles() / 2.0,
            Haul::OneWay(miles) => miles.miles(),
        };
        self.fill.minutes() + TRAVEL_START_MIN + TRAVEL_MIN_PER_MILE * one_way
    }
}
