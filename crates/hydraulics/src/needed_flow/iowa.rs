//! The Iowa rate of flow.

use alloc::vec;

use super::{Method, MethodCaution, NeededFlow, Step};
use crate::quantity::Dimension;

/// The largest single open space of a building.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Iowa {
    /// Its length.
    pub length: Dimension,
    /// Its width.
    pub width: Dimension,
    /// Its height.
    pub height: Dimension,
}

impl Iowa {
    /// The rate of flow that controls it.
    ///
    /// # Formula
    /// `Q = V/100`, `V = L W H`.
    /// # Units
    /// ft; gpm out.
    /// # Range
    /// The largest single open space of the building.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{needed_flow::Iowa, quantity::{Dimension, OutOfBounds}};
    /// let room = Iowa {
    ///     length: Dimension::from_ft(50.0)?,
    ///     width: Dimension::from_ft(75.0)?,
    ///     height: Dimension::from_ft(12.0)?,
    /// };
    /// assert_eq!(room.needed_flow().gpm, 450.0);
    /// # Ok::<(), OutOfBounds>(())
    /// ```
    /// # Source
    /// `carolina-fire-flow`.
    pub fn needed_flow(&self) -> NeededFlow {
        let volume = self.length.ft() * self.width.ft() * self.height.ft();
        let gpm = volume / 100.0;
        NeededFlow {
            method: Method::Iowa,
            gpm,
            working: vec![Step::new("volume", volume, "ft³"), Step::new("rate_of_flow", gpm, "gpm")],
            cautions: vec![MethodCaution::LargestOpenSpace],
        }
    }
}
