//! The National Fire Academy's quick calculation.

use alloc::vec;
use core::num::NonZeroU8;

use super::{Method, MethodCaution, NeededFlow, Step};
use crate::quantity::{Dimension, Involvement};

/// What each exposure adds, as a share of one floor's flow. Source: `memory`.
const EXPOSURE_SHARE: f64 = 0.25;
/// Involvement up to which the method is meant. Source: `ffn-fire-flow`.
const MOST_INVOLVEMENT: f64 = 0.5;
/// Flow up to which the method is meant, gpm. Source: `memory`.
const MOST_GPM: f64 = 1000.0;

/// When exposures are added. Sources differ, so a caller has to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExposureOrder {
    /// Before the involvement is taken: a quarter of it counts with a quarter of the building burning.
    BeforeInvolvement,
    /// After the involvement is taken: each counts whole, which asks for more.
    AfterInvolvement,
}

/// A building on fire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NationalFireAcademy {
    /// Its length.
    pub length: Dimension,
    /// Its width.
    pub width: Dimension,
    /// Floors counted.
    pub floors: NonZeroU8,
    /// The share of them that burns.
    pub involvement: Involvement,
    /// Exposures: sides that could catch.
    pub exposures: u8,
    /// When they are added.
    pub exposure_order: ExposureOrder,
}

impl NationalFireAcademy {
    /// The needed flow.
    ///
    /// # Formula
    /// One floor `q = L W/3`. Exposures after the involvement: `q floors involvement + 0.25 q exposures`; before it:
    /// `(q floors + 0.25 q exposures) involvement`.
    /// # Units
    /// ft; gpm out.
    /// # Range
    /// Interior attack, at most half involved, at most 1000 gpm: past that the answer stands, with a caution.
    /// # Examples
    /// ```
    /// # use core::num::NonZeroU8;
    /// # use longlay_hydraulics::{needed_flow::{ExposureOrder, NationalFireAcademy}, quantity::{Dimension, Involvement, OutOfBounds}};
    /// let house = NationalFireAcademy {
    ///     length: Dimension::from_ft(30.0)?,
    ///     width: Dimension::from_ft(50.0)?,
    ///     floors: NonZeroU8::MIN,
    ///     involvement: Involvement::from_number(0.25)?,
    ///     exposures: 0,
    ///     exposure_order: ExposureOrder::AfterInvolvement,
    /// };
    /// assert_eq!(house.needed_flow().gpm, 125.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `ffn-fire-flow`, `firehouse-2005`; what an exposure adds, its order and the 1000 gpm from `memory`.
    pub fn needed_flow(&self) -> NeededFlow {
        let involvement = self.involvement.number();
        let one_floor = self.length.ft() * self.width.ft() / 3.0;
        let all_floors = one_floor * f64::from(self.floors.get());
        let exposures = EXPOSURE_SHARE * one_floor * f64::from(self.exposures);
        let gpm = match self.exposure_order {
            ExposureOrder::BeforeInvolvement => (all_floors + exposures) * involvement,
            ExposureOrder::AfterInvolvement => all_floors * involvement + exposures,
        };
        let mut cautions = vec![MethodCaution::InteriorAttack];
        if involvement > MOST_INVOLVEMENT {
            cautions.push(MethodCaution::OverHalfInvolved);
        }
        if gpm > MOST_GPM {
            cautions.push(MethodCaution::Over1000Gpm);
        }
        if self.exposures > 0 {
            cautions.extend([MethodCaution::ExposureOrderDisputed, MethodCaution::FromMemory]);
        }
        NeededFlow {
            method: Method::NationalFireAcademy,
            gpm,
            working: vec![
                Step::new("one_floor", one_floor, "gpm"),
                Step::new("all_floors", all_floors, "gpm"),
                Step::new("involvement", involvement, "1"),
                Step::new("exposures", exposures, "gpm"),
                Step::new("needed_flow", gpm, "gpm"),
            ],
            cautions,
        }
    }
}
