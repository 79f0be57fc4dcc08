//! Drafting: how high a pump can lift water, what a lift leaves of its rating, and what a pumper gives at draft.

use alloc::vec::Vec;

use crate::loss::{PSI_PER_FOOT, squared_psi};
use crate::pumper::{PumpCurve, PumpPoint};
use crate::quantity::{Altitude, ApplianceCoefficient, Flow, Lift, PositiveFlow, Pressure, Vacuum};

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
    share_at(lift.ft())
}

fn share_at(lift_ft: f64) -> Option<f64> {
    let [(low_ft, low), (high_ft, high)] = RATING_BY_LIFT;
    if lift_ft > high_ft {
        return None;
    }
    let past = (lift_ft - low_ft).max(0.0);
    Some(low + past / (high_ft - low_ft) * (high - low))
}

/// A pumper at draft: where it stands, and what its suction is known to cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Draft {
    /// Height of the pump above the water.
    pub lift: Lift,
    /// Height of the ground above sea level.
    pub altitude: Altitude,
    /// Loss of the suction hose and its strainer by the department's own test; none counted unless given, as the share of the rating by lift is all
    /// that is known without it.
    pub suction: Option<ApplianceCoefficient>,
}

/// Whether water comes up a lift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiftVerdict {
    /// Within what can be depended on.
    Dependable,
    /// Over that, and within what a pump in good order attains.
    Attainable,
    /// Over what a pump attains.
    NotAttainable,
}

impl LiftVerdict {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Dependable => "dependable",
            Self::Attainable => "attainable",
            Self::NotAttainable => "not_attainable",
        }
    }
}

/// What stops more water from being drafted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DraftLimit {
    /// The lift is over what a pump attains: nothing comes.
    Lift,
    /// Lift and suction loss together take what vacuum the pump holds.
    Suction,
    /// The share of its rating that a pump has at the lift.
    RatingShare,
}

impl DraftLimit {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Lift => "lift",
            Self::Suction => "suction",
            Self::RatingShare => "rating_share",
        }
    }
}

impl Draft {
    /// The lift that can be depended on here, ft.
    ///
    /// # Formula
    /// `14.7 - altitude/1000`.
    /// # Units
    /// ft.
    /// # Range
    /// As [`theoretical_lift_ft`]: what altitude takes of every lift it takes of this one.
    /// # Source
    /// `ifsta-pump-ops`, less the altitude by `nwcg-35`.
    pub fn dependable_lift_ft(&self) -> f64 {
        DEPENDABLE_LIFT_FT - LIFT_LOST_PER_FOOT * self.altitude.ft()
    }

    /// The lift that a pump attains here, ft: the lesser of two thirds of the theoretical and of what is lifted in practice.
    pub fn attainable_lift_ft(&self) -> f64 {
        attainable_lift_ft(self.altitude).min(PRACTICAL_LIFT_FT)
    }

    /// Whether water comes up the lift.
    pub fn verdict(&self) -> LiftVerdict {
        let lift = self.lift.ft();
        if lift > self.attainable_lift_ft() {
            LiftVerdict::NotAttainable
        } else if lift > self.dependable_lift_ft() {
            LiftVerdict::Attainable
        } else {
            LiftVerdict::Dependable
        }
    }

    /// The share of its rating that a pump delivers here; none where none is known.
    ///
    /// # Formula
    /// [`rating_share`] at `lift + altitude/1000`: the lift at sea level that asks the same of the pump.
    /// # Units
    /// ft; a share out.
    /// # Range
    /// To 20 ft so counted.
    /// # Source
    /// `ifsta-pump-ops`, `nwcg-35` for the altitude; their sum is `derived`.
    pub fn rating_share(&self) -> Option<f64> {
        share_at(self.lift.ft() + LIFT_LOST_PER_FOOT * self.altitude.ft())
    }

    /// The pumper as it is here: at draft it counts as one of that share of its flow at every pressure. None where no share is known, or nothing is left.
    pub fn curve(&self, pumper: &PumpCurve) -> Option<PumpCurve> {
        let share = self.rating_share()?;
        let scaled = |point: &PumpPoint| {
            Some(PumpPoint { flow: PositiveFlow::from_gpm(share * point.flow.gpm()).ok()?, net: point.net })
        };
        PumpCurve::from_points(pumper.points().iter().filter_map(scaled).collect::<Vec<_>>()).ok()
    }

    /// Pressure lost at the suction at a flow, psi: the lift, and what the suction is known to cost.
    pub fn suction_psi(&self, gpm: f64) -> f64 {
        PSI_PER_FOOT * self.lift.ft() + self.suction.map_or(0.0, |k| squared_psi(k.psi_per_100gpm2(), gpm))
    }

    /// What the pumper drafts here, gpm, and what stops more; none where no figure is known for the lift.
    ///
    /// # Formula
    /// `min(share x last flow of the pump's curve, 100 √(0.434 (attainable - lift)/k))`; nothing over the attainable lift.
    /// # Units
    /// ft, psi/(100 gpm)²; gpm.
    /// # Range
    /// The share as [`Self::rating_share`]; the second only where the suction's loss is given.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{drafting::{Draft, DraftLimit}, pumper::PumpCurve, quantity::{Altitude, Lift, PositiveFlow}};
    /// let draft = Draft { lift: Lift::from_ft(10.0)?, altitude: Altitude::from_ft(0.0)?, suction: None };
    /// let pumper = PumpCurve::from_rating(PositiveFlow::from_gpm(1500.0)?);
    /// assert_eq!(draft.capacity(&pumper), Some((1050.0, DraftLimit::RatingShare)));
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `ifsta-pump-ops` for the share, `nwcg-35` for the attainable lift; the second is `derived`.
    pub fn capacity(&self, pumper: &PumpCurve) -> Option<(f64, DraftLimit)> {
        if self.verdict() == LiftVerdict::NotAttainable {
            return Some((0.0, DraftLimit::Lift));
        }
        let by_share = self.rating_share()? * pumper.capacity_gpm();
        let spare_psi = PSI_PER_FOOT * (self.attainable_lift_ft() - self.lift.ft());
        let k = self.suction.map_or(0.0, ApplianceCoefficient::psi_per_100gpm2);
        let by_suction = if k > 0.0 { 100.0 * libm::sqrt(spare_psi / k) } else { Flow::BOUND.max };
        Some(if by_suction < by_share {
            (by_suction, DraftLimit::Suction)
        } else {
            (by_share, DraftLimit::RatingShare)
        })
    }

    /// The most the pumper's discharge gauge reads at a flow, psi: what it adds, less lift and suction loss. None where it does not carry the flow here.
    ///
    /// # Formula
    /// `net - 0.434 lift - k (Q/100)²`.
    /// # Units
    /// psi, ft, gpm; psi out.
    /// # Range
    /// To [`Self::capacity`].
    /// # Source
    /// `ifsta-pump-ops` (net pressure at draft).
    pub fn discharge_psi(&self, pumper: &PumpCurve, gpm: f64) -> Option<f64> {
        let (most, _) = self.capacity(pumper)?;
        let curve = self.curve(pumper)?;
        let left = curve.net_psi(gpm) - self.suction_psi(gpm);
        (gpm <= most && (0.0..=Pressure::BOUND.max).contains(&left)).then_some(left)
    }
}
