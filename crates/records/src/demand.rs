//! Demand points: the buildings and places that water has to be brought to, and how much each asks for.

use longlay_hydraulics::needed_flow::{FireCode, IsoEdition, NeededFlow, NoKnownRow, dwelling_needed_flow};
use longlay_hydraulics::quantity::{PositiveFlow, Separation};

use crate::hydrant::{Elevation, Location};
use crate::id::AssetId;

/// How much water a place asks for: as it was said, or by a method together with what it went by, so that the number can be explained.
#[derive(Debug, Clone, PartialEq)]
pub enum Need {
    /// As it was said.
    Given {
        /// The flow.
        flow: PositiveFlow,
        /// Where the number comes from, in words.
        source: Option<String>,
    },
    /// By ISO's table for one- and two-family dwellings.
    IsoDwelling {
        /// The edition of the schedule.
        edition: IsoEdition,
        /// Clear distance to the nearest dwelling.
        separation: Separation,
    },
    /// By the fire code's appendix B.
    FireCode(FireCode),
}

impl Need {
    /// The flow, gpm; finite.
    ///
    /// # Errors
    /// No row of the fire code's table is known for such a building.
    pub fn gpm(&self) -> Result<f64, NoKnownRow> {
        Ok(match self {
            Self::Given { flow, .. } => flow.gpm(),
            Self::IsoDwelling { .. } | Self::FireCode(_) => self.worked_out()?.map_or(0.0, |needed| needed.gpm),
        })
    }

    /// The flow with its working and its cautions; none where it was only said.
    ///
    /// # Errors
    /// As [`Self::gpm`].
    pub fn worked_out(&self) -> Result<Option<NeededFlow>, NoKnownRow> {
        match self {
            Self::Given { .. } => Ok(None),
            Self::IsoDwelling { edition, separation } => Ok(Some(dwelling_needed_flow(*edition, *separation))),
            Self::FireCode(building) => building.needed_flow().map(Some),
        }
    }
}

/// A place that water has to be brought to.
#[derive(Debug, Clone, PartialEq)]
pub struct DemandPoint {
    /// The department's id for it.
    pub id: AssetId,
    /// Where it is.
    pub location: Location,
    /// Height of the ground there. Where it is not known it is not taken for level: whoever reckons says so.
    pub ground: Option<Elevation>,
    /// What it is called.
    pub name: Option<String>,
    /// Its address.
    pub address: Option<String>,
    /// What it asks for. Where it is not known it is not taken for nothing.
    pub need: Option<Need>,
}

#[cfg(test)]
mod tests {
    use longlay_hydraulics::needed_flow::{BuildingType, FireCodeEdition, Sprinklers};
    use longlay_hydraulics::quantity::Area;

    use super::*;

    #[test]
    fn a_need_by_a_method_is_the_methods_own() {
        let separation = Separation::from_ft(25.0).unwrap();
        let need = Need::IsoDwelling { edition: IsoEdition::From2012, separation };
        assert_eq!(need.gpm(), Ok(dwelling_needed_flow(IsoEdition::From2012, separation).gpm));
        let given = Need::Given { flow: PositiveFlow::from_gpm(1250.0).unwrap(), source: None };
        assert_eq!((given.gpm(), given.worked_out()), (Ok(1250.0), Ok(None)));
    }

    #[test]
    fn a_building_without_a_known_row_has_no_number() {
        let building = FireCode {
            edition: FireCodeEdition::From2015,
            building_type: BuildingType::TypeIIA,
            area: Area::from_sq_ft(12_000.0).unwrap(),
            dwelling: false,
            sprinklers: Sprinklers::None,
        };
        assert!(Need::FireCode(building).gpm().is_err());
    }
}
