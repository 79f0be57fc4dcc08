//! Drafting: how high a pump can lift water, and what a lift leaves of its rating.

use crate::quantity::{Altitude, Lift, Vacuum};

/// Theoretical lift at sea level, ft: an atmosphere of 14.7 psi.
///
/// Source: `nwcg-35`.
pub const SEA_LEVEL_LIFT_FT: f64 = 33.9;
/// The share of the theoretical lift that a pump attains.
///
/// Source: `nwcg-35`.
pub const ATTAINABLE_SHARE: f64 = 2.0 / 3.0;
/// Lift lost for each foot of altitude, ft: 1 ft (about 0.5 psi) for each 1000.
///
/// Source: `nwcg-35`.
pub const LIFT_LOST_PER_FOOT: f64 = 1.0 / 1000.0;
/// The most that is lifted in practice, ft. Source: `ifsta-pump-ops`.
pub const PRACTICAL_LIFT_FT: f64 = 25.0;
/// The lift that can be depended on, ft. Source: `ifsta-pump-ops`.
pub const DEPENDABLE_LIFT_FT: f64 = 14.7;
/// The share of its rating that a pump delivers at a lift, ft.
///
/// Source: `ifsta-pump-ops`.
pub const RATING_BY_LIFT: [(f64, f64); 2] = [(15.0, 0.7), (20.0, 0.6)];

/// The lift a perfect vacuum would give, ft.
///
/// # Formula
/// `33.9 - altitude/1000`.
/// # Units
/// ft.
/// # Range
/// Ordinary weather and cool water; a low barometer and warm water take some of it.
/// # Source
/// `nwcg-35`.
pub fn theoretical_lift_ft(altitude: Altitude) -> f64 {
    SEA_LEVEL_LIFT_FT - LIFT_LOST_PER_FOOT * altitude.ft()
}

/// The lift a pump in good order attains, ft.
///
/// # Formula
/// `2/3 (33.9 - altitude/1000)`.
/// # Units
/// ft.
/// # Range
/// A tight pump and suction; [`DEPENDABLE_LIFT_FT`] is what to plan on.
/// # Examples
/// ```
/// # use longlay_hydraulics::{drafting::attainable_lift_ft, quantity::{Altitude, OutOfBounds}};
/// assert!((attainable_lift_ft(Altitude::from_ft(0.0)?) - 22.6).abs() < 1e-9);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `nwcg-35`.
pub fn attainable_lift_ft(altitude: Altitude) -> f64 {
    ATTAINABLE_SHARE * theoretical_lift_ft(altitude)
}

/// The lift that a vacuum holds up, ft.
///
/// # Formula
/// `1.13 x inHg`.
/// # Units
/// inHg; ft out.
/// # Range
/// Water standing in the suction; while it flows, the gauge shows the suction's losses too.
/// # Source
/// `nwcg-35`.
pub fn lift_of_vacuum_ft(vacuum: Vacuum) -> f64 {
    1.13 * vacuum.in_hg()
}

/// The share of its rating that a pump delivers at a lift; none past 20 ft, where nothing was read.
///
/// # Formula
/// 0.7 to 15 ft, 0.6 at 20 ft, linear between.
/// # Units
/// ft; a share out.
/// # Range
/// To 20 ft. A pump does better under 15 ft, but sources disagree on the lift it is rated at (3 ft or 10), so that no more than the first
/// point is told there.
/// # Examples
/// ```
/// # use longlay_hydraulics::{drafting::rating_share, quantity::{Lift, OutOfBounds}};
/// assert_eq!(rating_share(Lift::from_ft(15.0)?), Some(0.7));
/// assert_eq!(rating_share(Lift::from_ft(21.0)?), None);
/// # Ok::<(), OutOfBounds>(())
/// ```
/// # Source
/// `ifsta-pump-ops`; the lift at rating `nwcg-35` against `ifsta-pump-ops`.
pub fn rating_share(lift: Lift) -> Option<f64> {
    let [(low_ft, low), (high_ft, high)] = RATING_BY_LIFT;
    if lift.ft() > high_ft {
        return None;
    }
    let past = (lift.ft() - low_ft).max(0.0);
    Some(low + past / (high_ft - low_ft) * (high - low))
}
