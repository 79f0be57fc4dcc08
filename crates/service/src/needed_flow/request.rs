//! What is asked of a building, as it comes over HTTP.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::lay::LayCalculation;

/// A building, the method to reckon by, and perhaps the lay that is to bring the water. The methods answer different questions and differ by
/// multiples: none is the default. The `method` says which members go with it, and needs all of them but those marked `?`:
///
/// * `iowa`, of the largest single open space: `length_ft`, `width_ft`, `height_ft`
/// * `national_fire_academy`: `length_ft`, `width_ft`, `floors`, `involvement`, `exposures`, `exposure_order`
/// * `iso`: `edition` (`before_2012` or `from_2012`), `construction_class`, `effective_area_sq_ft`, `one_storey`, `occupancy`,
///   `exposure_and_communication`, `wood_shingle_roof`
/// * `iso_dwelling`: `edition` (`before_2012` or `from_2012`), `separation_ft`
/// * `nfpa_1142`: `edition` (`dwellings_at_most_one` or `dwellings_by_construction`), `volume_cu_ft`, `occupancy_hazard`, `dwelling`, `exposure`, and
///   `construction_type` or `construction_number`
/// * `ifc_b105`, of the fire code's appendix B: `edition` (`before_2015` or `from_2015`), `building_type`, `area_sq_ft`, `dwelling`, `sprinklers`
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct NeededFlowAsk {
    /// The method.
    pub(super) method: MethodName,
    /// The edition in use; there is no default.
    pub(super) edition: Option<EditionName>,
    /// Length of the building, or of its largest open space.
    #[schema(minimum = 1, maximum = 10_000)]
    pub(super) length_ft: Option<f64>,
    /// Its width.
    #[schema(minimum = 1, maximum = 10_000)]
    pub(super) width_ft: Option<f64>,
    /// Its height.
    #[schema(minimum = 1, maximum = 10_000)]
    pub(super) height_ft: Option<f64>,
    /// Floors counted.
    #[schema(minimum = 1, maximum = 255)]
    pub(super) floors: Option<u8>,
    /// The share of them that burns.
    #[schema(minimum = 0.01, maximum = 1)]
    pub(super) involvement: Option<f64>,
    /// Exposures: sides that could catch. None is 0, and must be said.
    #[schema(minimum = 0, maximum = 255)]
    pub(super) exposures: Option<u8>,
    /// When exposures are added. Sources differ; there is no default.
    pub(super) exposure_order: Option<ExposureOrderName>,
    /// Its construction by ISO.
    pub(super) construction_class: Option<ConstructionClassName>,
    /// The largest floor and half of the others, or by the schedule's own rule.
    #[schema(minimum = 1, maximum = 10_000_000)]
    pub(super) effective_area_sq_ft: Option<f64>,
    /// Whether it has one storey only, which lowers the cap.
    pub(super) one_storey: Option<bool>,
    /// What it holds, by ISO.
    pub(super) occupancy: Option<OccupancyName>,
    /// X + P over its sides, from the schedule's tables. None is 0, and must be said.
    #[schema(minimum = 0, maximum = 2)]
    pub(super) exposure_and_communication: Option<f64>,
    /// Whether a wood-shingle roof here or beside it could spread the fire.
    pub(super) wood_shingle_roof: Option<bool>,
    /// Clear distance to the nearest dwelling.
    #[schema(minimum = 0, maximum = 10_000)]
    pub(super) separation_ft: Option<f64>,
    /// Length by width by the floors' heights and half the attic's rise.
    #[schema(minimum = 1, maximum = 1_000_000_000)]
    pub(super) volume_cu_ft: Option<f64>,
    /// Occupancy hazard classification: 3, the worst, to 7.
    #[schema(minimum = 3, maximum = 7)]
    pub(super) occupancy_hazard: Option<u8>,
    /// How it is built. Exactly one of this and `construction_number`.
    pub(super) construction_type: Option<ConstructionTypeName>,
    /// Its construction classification number from the edition in use; type IV only so. Exactly one of this and `construction_type`.
    #[schema(minimum = 0.5, maximum = 1.5)]
    pub(super) construction_number: Option<f64>,
    /// Whether it is a dwelling.
    pub(super) dwelling: Option<bool>,
    /// Whether a building of 100 ft² or more stands within 50 ft, or one of any size where either's hazard is 3 or 4.
    pub(super) exposure: Option<bool>,
    /// Its type of construction by the fire code.
    pub(super) building_type: Option<BuildingTypeName>,
    /// Area of all floors that count.
    #[schema(minimum = 1, maximum = 10_000_000)]
    pub(super) area_sq_ft: Option<f64>,
    /// Sprinklers throughout. None is `none`, and must be said.
    pub(super) sprinklers: Option<SprinklersName>,
    /// The lay that is to bring it, as of `POST /v1/lay-calculations`, without a flow wanted: that is the needed flow.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    pub(super) lay: Option<LayCalculation>,
}

/// A method.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum MethodName {
    /// Iowa rate of flow.
    Iowa,
    /// National Fire Academy.
    NationalFireAcademy,
    /// ISO needed fire flow.
    Iso,
    /// ISO table for one- and two-family dwellings.
    IsoDwelling,
    /// NFPA 1142.
    #[serde(rename = "nfpa_1142")]
    Nfpa1142,
    /// The fire code's appendix B.
    IfcB105,
}

impl MethodName {
    /// The members that go with it.
    const fn members(self) -> &'static [&'static str] {
        match self {
            Self::Iowa => &["length_ft", "width_ft", "height_ft"],
            Self::NationalFireAcademy => {
                &["length_ft", "width_ft", "floors", "involvement", "exposures", "exposure_order"]
            }
            Self::Iso => &[
                "edition",
                "construction_class",
                "effective_area_sq_ft",
                "one_storey",
                "occupancy",
                "exposure_and_communication",
                "wood_shingle_roof",
            ],
            Self::IsoDwelling => &["edition", "separation_ft"],
            Self::Nfpa1142 => &[
                "edition",
                "volume_cu_ft",
                "occupancy_hazard",
                "construction_type",
                "construction_number",
                "dwelling",
                "exposure",
            ],
            Self::IfcB105 => &["edition", "building_type", "area_sq_ft", "dwelling", "sprinklers"],
        }
    }
}

impl NeededFlowAsk {
    /// The members given that do not go with the method.
    pub(super) fn out_of_place(&self) -> impl Iterator<Item = &'static str> {
        let given = [
            ("edition", self.edition.is_some()),
            ("length_ft", self.length_ft.is_some()),
            ("width_ft", self.width_ft.is_some()),
            ("height_ft", self.height_ft.is_some()),
            ("floors", self.floors.is_some()),
            ("involvement", self.involvement.is_some()),
            ("exposures", self.exposures.is_some()),
            ("exposure_order", self.exposure_order.is_some()),
            ("construction_class", self.construction_class.is_some()),
            ("effective_area_sq_ft", self.effective_area_sq_ft.is_some()),
            ("one_storey", self.one_storey.is_some()),
            ("occupancy", self.occupancy.is_some()),
            ("exposure_and_communication", self.exposure_and_communication.is_some()),
            ("wood_shingle_roof", self.wood_shingle_roof.is_some()),
            ("separation_ft", self.separation_ft.is_some()),
            ("volume_cu_ft", self.volume_cu_ft.is_some()),
            ("occupancy_hazard", self.occupancy_hazard.is_some()),
            ("construction_type", self.construction_type.is_some()),
            ("construction_number", self.construction_number.is_some()),
            ("dwelling", self.dwelling.is_some()),
            ("exposure", self.exposure.is_some()),
            ("building_type", self.building_type.is_some()),
            ("area_sq_ft", self.area_sq_ft.is_some()),
            ("sprinklers", self.sprinklers.is_some()),
        ];
        let members = self.method.members();
        given.into_iter().filter_map(move |(name, given)| (given && !members.contains(&name)).then_some(name))
    }
}

/// An edition of one of the methods.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
pub(crate) enum EditionName {
    /// ISO's schedules before 2012.
    #[serde(rename = "before_2012")]
    Before2012,
    /// ISO's schedule of 2012 and after.
    #[serde(rename = "from_2012")]
    From2012,
    /// Older editions of NFPA 1142, which hold a dwelling's construction number at 1.0.
    #[serde(rename = "dwellings_at_most_one")]
    DwellingsAtMostOne,
    /// Editions of NFPA 1142 that give a dwelling its own number.
    #[serde(rename = "dwellings_by_construction")]
    DwellingsByConstruction,
    /// The fire code before 2015.
    #[serde(rename = "before_2015")]
    Before2015,
    /// The fire code of 2015 and after.
    #[serde(rename = "from_2015")]
    From2015,
}

/// A type of construction by the fire code.
#[derive(Debug, Clone, Copy, Deserialize, Serialize, ToSchema)]
pub(crate) enum BuildingTypeName {
    /// I-A.
    #[serde(rename = "I-A")]
    TypeIA,
    /// I-B.
    #[serde(rename = "I-B")]
    TypeIB,
    /// II-A.
    #[serde(rename = "II-A")]
    TypeIIA,
    /// II-B.
    #[serde(rename = "II-B")]
    TypeIIB,
    /// III-A.
    #[serde(rename = "III-A")]
    TypeIIIA,
    /// III-B.
    #[serde(rename = "III-B")]
    TypeIIIB,
    /// IV.
    #[serde(rename = "IV")]
    TypeIV,
    /// V-A.
    #[serde(rename = "V-A")]
    TypeVA,
    /// V-B.
    #[serde(rename = "V-B")]
    TypeVB,
}

/// Sprinklers throughout a building.
#[derive(Debug, Clone, Copy, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum SprinklersName {
    /// None, or not throughout.
    None,
    /// Of the standard for whole buildings.
    Full,
    /// Of a standard for dwellings and small residential buildings.
    Residential,
}

/// When exposures are added.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ExposureOrderName {
    /// Before the involvement is taken.
    BeforeInvolvement,
    /// After the involvement is taken, which asks for more.
    AfterInvolvement,
}

/// A construction class of ISO.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ConstructionClassName {
    /// Class 1.
    Frame,
    /// Class 2.
    JoistedMasonry,
    /// Class 3.
    NonCombustible,
    /// Class 4.
    MasonryNonCombustible,
    /// Class 5.
    ModifiedFireResistive,
    /// Class 6.
    FireResistive,
}

/// Combustibility of what a building holds, by ISO.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum OccupancyName {
    /// C-1.
    NonCombustible,
    /// C-2.
    LimitedCombustible,
    /// C-3.
    Combustible,
    /// C-4.
    FreeBurning,
    /// C-5.
    RapidBurning,
}

/// How a building is built, by NFPA 1142.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ConstructionTypeName {
    /// Type I.
    TypeI,
    /// Type II.
    #[serde(rename = "type_ii")]
    TypeII,
    /// Type III.
    #[serde(rename = "type_iii")]
    TypeIII,
    /// Type V.
    TypeV,
}
