//! What a demand point asks for, as the API tells it.

use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, IsoEdition, Sprinklers};
use longlay_hydraulics::quantity::{Area, PositiveFlow, Separation};
use longlay_records::demand::Need;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::faults::{Faults, MAX_NOTE_CHARS};
use crate::needed_flow::{BuildingTypeName, EditionName, SprinklersName};

/// How a need is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum NeedMethod {
    /// ISO's table for one- and two-family dwellings.
    IsoDwelling,
    /// The fire code's appendix B.
    IfcB105,
}

/// What a place asks for: as it was said (`needed_flow_gpm`, perhaps `source`), or by a method with what it goes by. The `method` says which members
/// go with it, and needs all of them:
///
/// * `iso_dwelling`: `edition` (`before_2012` or `from_2012`), `separation_ft`
/// * `ifc_b105`: `edition` (`before_2015` or `from_2015`), `building_type`, `area_sq_ft`, `dwelling`, `sprinklers`
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NeedBody {
    /// The flow. Beside a method it is what the method says, and may be left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 50_000)]
    needed_flow_gpm: Option<f64>,
    /// Where a number that was only said comes from.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 2000)]
    source: Option<String>,
    /// How it is worked out, where it was not said.
    #[serde(skip_serializing_if = "Option::is_none")]
    method: Option<NeedMethod>,
    /// The method's edition; there is no default.
    #[serde(skip_serializing_if = "Option::is_none")]
    edition: Option<EditionName>,
    /// Clear distance to the nearest dwelling.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 0, maximum = 10_000)]
    separation_ft: Option<f64>,
    /// Type of construction by the fire code.
    #[serde(skip_serializing_if = "Option::is_none")]
    building_type: Option<BuildingTypeName>,
    /// Area of all floors that count.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(minimum = 1, maximum = 10_000_000)]
    area_sq_ft: Option<f64>,
    /// Whether it is a one- or two-family dwelling.
    #[serde(skip_serializing_if = "Option::is_none")]
    dwelling: Option<bool>,
    /// Sprinklers throughout.
    #[serde(skip_serializing_if = "Option::is_none")]
    sprinklers: Option<SprinklersName>,
}

impl NeedBody {
    /// The need, or none with its faults noted.
    pub(super) fn need(&self, faults: &mut Faults) -> Option<Need> {
        for member in self.out_of_place() {
            let detail = "does not go with this method; source goes with a number that was only said";
            faults.note(&format!("/need/{member}"), "not_with_method", detail);
        }
        let need = match self.method {
            None => self.given(faults),
            Some(NeedMethod::IsoDwelling) => self.dwelling(faults),
            Some(NeedMethod::IfcB105) => self.fire_code(faults),
        }?;
        match (need.gpm(), self.needed_flow_gpm) {
            (Err(error), _) => faults.add("/need/building_type", "no_known_row", error.to_string()),
            (Ok(gpm), Some(said)) if said != gpm => {
                let detail = format!("the method says {gpm}: leave one of the two out");
                faults.add("/need/needed_flow_gpm", "differs_from_method", detail)
            }
            _ => Some(need),
        }
    }

    /// The members given that do not go with the method.
    fn out_of_place(&self) -> impl Iterator<Item = &'static str> {
        let (of_dwelling, of_code) =
            (self.method == Some(NeedMethod::IsoDwelling), self.method == Some(NeedMethod::IfcB105));
        let given = [
            ("source", self.source.is_some(), self.method.is_none()),
            ("edition", self.edition.is_some(), self.method.is_some()),
            ("separation_ft", self.separation_ft.is_some(), of_dwelling),
            ("building_type", self.building_type.is_some(), of_code),
            ("area_sq_ft", self.area_sq_ft.is_some(), of_code),
            ("dwelling", self.dwelling.is_some(), of_code),
            ("sprinklers", self.sprinklers.is_some(), of_code),
        ];
        given.into_iter().filter(|(_, given, goes)| *given && !goes).map(|(member, ..)| member)
    }

    fn given(&self, faults: &mut Faults) -> Option<Need> {
        let flow = faults.required("/need/needed_flow_gpm", self.needed_flow_gpm, PositiveFlow::from_gpm);
        let source = faults.optional_text("/need/source", self.source.as_deref(), MAX_NOTE_CHARS);
        Some(Need::Given { flow: flow?, source: source? })
    }

    fn dwelling(&self, faults: &mut Faults) -> Option<Need> {
        let edition = faults.given("/need/edition", self.edition).and_then(|edition| match edition {
            EditionName::Before2012 => Some(IsoEdition::Before2012),
            EditionName::From2012 => Some(IsoEdition::From2012),
            _ => not_of_method(faults),
        });
        let separation = faults.required("/need/separation_ft", self.separation_ft, Separation::from_ft);
        Some(Need::IsoDwelling { edition: edition?, separation: separation? })
    }

    fn fire_code(&self, faults: &mut Faults) -> Option<Need> {
        let edition = faults.given("/need/edition", self.edition).and_then(|edition| match edition {
            EditionName::Before2015 => Some(FireCodeEdition::Before2015),
            EditionName::From2015 => Some(FireCodeEdition::From2015),
            _ => not_of_method(faults),
        });
        let building_type = faults.given("/need/building_type", self.building_type).map(BuildingType::from);
        let area = faults.required("/need/area_sq_ft", self.area_sq_ft, Area::from_sq_ft);
        let dwelling = faults.given("/need/dwelling", self.dwelling);
        let sprinklers = faults.given("/need/sprinklers", self.sprinklers).map(Sprinklers::from);
        Some(Need::FireCode(FireCode {
            edition: edition?,
            building_type: building_type?,
            area: area?,
            dwelling: dwelling?,
            sprinklers: sprinklers?,
        }))
    }
}

fn not_of_method<T>(faults: &mut Faults) -> Option<T> {
    faults.add("/need/edition", "not_with_method", "this edition is not one of this method")
}

impl From<&Need> for NeedBody {
    fn from(need: &Need) -> Self {
        let told = Self { needed_flow_gpm: need.gpm().ok(), ..Self::default() };
        match need {
            Need::Given { source, .. } => Self { source: source.clone(), ..told },
            Need::IsoDwelling { edition, separation } => Self {
                method: Some(NeedMethod::IsoDwelling),
                edition: Some(match edition {
                    IsoEdition::Before2012 => EditionName::Before2012,
                    IsoEdition::From2012 => EditionName::From2012,
                }),
                separation_ft: Some(separation.ft()),
                ..told
            },
            Need::FireCode(building) => Self {
                method: Some(NeedMethod::IfcB105),
                edition: Some(match building.edition {
                    FireCodeEdition::Before2015 => EditionName::Before2015,
                    FireCodeEdition::From2015 => EditionName::From2015,
                }),
                building_type: Some(building.building_type.into()),
                area_sq_ft: Some(building.area.sq_ft()),
                dwelling: Some(building.dwelling),
                sprinklers: Some(building.sprinklers.into()),
                ..told
            },
        }
    }
}

impl From<BuildingType> for BuildingTypeName {
    fn from(building_type: BuildingType) -> Self {
        match building_type {
            BuildingType::TypeIA => Self::TypeIA,
            BuildingType::TypeIB => Self::TypeIB,
            BuildingType::TypeIIA => Self::TypeIIA,
            BuildingType::TypeIIB => Self::TypeIIB,
            BuildingType::TypeIIIA => Self::TypeIIIA,
            BuildingType::TypeIIIB => Self::TypeIIIB,
            BuildingType::TypeIV => Self::TypeIV,
            BuildingType::TypeVA => Self::TypeVA,
            BuildingType::TypeVB => Self::TypeVB,
        }
    }
}

impl From<Sprinklers> for SprinklersName {
    fn from(sprinklers: Sprinklers) -> Self {
        match sprinklers {
            Sprinklers::None => Self::None,
            Sprinklers::Full => Self::Full,
            Sprinklers::Residential => Self::Residential,
        }
    }
}
