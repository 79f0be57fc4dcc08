//! How much water a building asks for, a formula a method. No method, edition or order has a default.

use std::num::NonZeroU8;

use longlay_hydraulics::formula;
use longlay_hydraulics::needed_flow::{
    BuildingType, Construction, ConstructionClass, ExposureOrder, FireCode, FireCodeEdition, Iowa, IsoEdition,
    IsoNeededFlow, NationalFireAcademy, NeededFlow, Occupancy, OccupancyHazard, RuralEdition, RuralSupply, Sprinklers,
    dwelling_needed_flow, hydrant_credit_gpm,
};
use longlay_hydraulics::quantity::{
    Area, BuildingVolume, ConstructionNumber, Dimension, ExposureFactor, Involvement, Length, Separation,
};

use super::catalogue::Entry;
use super::found::{Found, Output, output};
use super::input::{Choice, Flag, Number, Whole, choice};
use super::reader::Reader;

const fn dimension(name: &'static str, about: &'static str) -> Number<Dimension> {
    Number::new(name, Dimension::BOUND, Dimension::from_ft, about)
}
const BUILDING_LENGTH: Number<Dimension> = dimension("length_ft", "Its length");
const WIDTH: Number<Dimension> = dimension("width_ft", "Its width");
const HEIGHT: Number<Dimension> = dimension("height_ft", "Its height");
const FLOORS: Whole = Whole::new("floors", 1, 200, "Floors counted");
const INVOLVED: Number<Involvement> =
    Number::new("involvement", Involvement::BOUND, Involvement::from_number, "The share of it that burns");
const EXPOSURES: Whole = Whole::new("exposures", 0, 20, "Sides that could catch");
const ORDER: Choice<ExposureOrder> = choice!(
    "exposure_order", "When exposures are added; sources differ",
    "before_involvement" => ExposureOrder::BeforeInvolvement,
    "after_involvement" => ExposureOrder::AfterInvolvement,
);
const ISO_EDITION: Choice<IsoEdition> = choice!(
    "edition", "The schedule in use",
    "before_2012" => IsoEdition::Before2012,
    "from_2012" => IsoEdition::From2012,
);
const CLASS: Choice<ConstructionClass> = choice!(
    "construction_class", "Class 1 to 6",
    "frame" => ConstructionClass::Frame,
    "joisted_masonry" => ConstructionClass::JoistedMasonry,
    "non_combustible" => ConstructionClass::NonCombustible,
    "masonry_non_combustible" => ConstructionClass::MasonryNonCombustible,
    "modified_fire_resistive" => ConstructionClass::ModifiedFireResistive,
    "fire_resistive" => ConstructionClass::FireResistive,
);
const EFFECTIVE_AREA: Number<Area> =
    Number::new("effective_area_sq_ft", Area::BOUND, Area::from_sq_ft, "The largest floor and half of the others");
const ONE_STOREY: Flag = Flag::new("one_storey", "Whether it has one storey only");
const OCCUPANCY: Choice<Occupancy> = choice!(
    "occupancy", "Combustibility of what it holds, C-1 to C-5",
    "non_combustible" => Occupancy::NonCombustible,
    "limited_combustible" => Occupancy::LimitedCombustible,
    "combustible" => Occupancy::Combustible,
    "free_burning" => Occupancy::FreeBurning,
    "rapid_burning" => Occupancy::RapidBurning,
);
const X_PLUS_P: Number<ExposureFactor> = Number::new(
    "exposure_and_communication",
    ExposureFactor::BOUND,
    ExposureFactor::from_number,
    "X + P over its sides, from the schedule's tables",
);
const SHINGLES: Flag =
    Flag::new("wood_shingle_roof", "Whether a wood-shingle roof here or beside it could spread the fire");
const SEPARATION: Number<Separation> =
    Number::new("separation_ft", Separation::BOUND, Separation::from_ft, "Clear distance to the nearest dwelling");
const HOSE_LAY: Number<Length> =
    Number::new("hose_lay_ft", Length::BOUND, Length::from_ft, "Hose to the hydrant as apparatus lays it");
const RURAL_EDITION: Choice<RuralEdition> = choice!(
    "edition", "The edition, told by what it says of dwellings",
    "dwellings_at_most_one" => RuralEdition::DwellingsAtMostOne,
    "dwellings_by_construction" => RuralEdition::DwellingsByConstruction,
);
const VOLUME: Number<BuildingVolume> = Number::new(
    "volume_cu_ft",
    BuildingVolume::BOUND,
    BuildingVolume::from_cubic_ft,
    "Length by width by the floors' heights and half the attic's rise",
);
const HAZARD: Choice<OccupancyHazard> = choice!(
    "occupancy_hazard", "Occupancy hazard classification, 3 the worst",
    "3" => OccupancyHazard::Three,
    "4" => OccupancyHazard::Four,
    "5" => OccupancyHazard::Five,
    "6" => OccupancyHazard::Six,
    "7" => OccupancyHazard::Seven,
);
const CONSTRUCTION: Choice<Construction> = choice!(
    "construction_type", "Its type; or give the number",
    "type_i" => Construction::TypeI,
    "type_ii" => Construction::TypeII,
    "type_iii" => Construction::TypeIII,
    "type_v" => Construction::TypeV,
);
const CONSTRUCTION_NUMBER: Number<ConstructionNumber> = Number::new(
    "construction_number",
    ConstructionNumber::BOUND,
    ConstructionNumber::from_number,
    "Construction classification number from the edition in use",
);
const DWELLING: Flag = Flag::new("dwelling", "Whether it is a one- or two-family dwelling");
const EXPOSURE: Flag = Flag::new(
    "exposure",
    "Whether a building of 100 ft² or more stands within 50 ft, or one of any size where either's hazard is 3 or 4",
);
const CODE_EDITION: Choice<FireCodeEdition> = choice!(
    "edition", "The edition in use",
    "before_2015" => FireCodeEdition::Before2015,
    "from_2015" => FireCodeEdition::From2015,
);
const TYPE: Choice<BuildingType> = choice!(
    "building_type", "Its type of construction",
    "I-A" => BuildingType::TypeIA,
    "I-B" => BuildingType::TypeIB,
    "II-A" => BuildingType::TypeIIA,
    "II-B" => BuildingType::TypeIIB,
    "III-A" => BuildingType::TypeIIIA,
    "III-B" => BuildingType::TypeIIIB,
    "IV" => BuildingType::TypeIV,
    "V-A" => BuildingType::TypeVA,
    "V-B" => BuildingType::TypeVB,
);
const AREA: Number<Area> = Number::new("area_sq_ft", Area::BOUND, Area::from_sq_ft, "Area of all floors that count");
const SPRINKLERS: Choice<Sprinklers> = choice!(
    "sprinklers", "Sprinklers throughout",
    "none" => Sprinklers::None,
    "full" => Sprinklers::Full,
    "residential" => Sprinklers::Residential,
);

const NEEDED: Output = output("needed_flow_gpm", "gpm");
const CREDIT: Output = output("credit_gpm", "gpm");
const SUPPLY: Output = output("supply_gal", "gal");
const DELIVERY: Output = output("delivery_gpm", "gpm");

pub(crate) const ENTRIES: &[Entry] = &[
    Entry {
        formula: &formula::IOWA,
        inputs: &[BUILDING_LENGTH.input, WIDTH.input, HEIGHT.input],
        outputs: &[NEEDED],
        evaluate: iowa,
    },
    Entry {
        formula: &formula::NATIONAL_FIRE_ACADEMY,
        inputs: &[BUILDING_LENGTH.input, WIDTH.input, FLOORS.input, INVOLVED.input, EXPOSURES.input, ORDER.input],
        outputs: &[NEEDED],
        evaluate: national_fire_academy,
    },
    Entry {
        formula: &formula::ISO_NEEDED_FLOW,
        inputs: &[
            ISO_EDITION.input,
            CLASS.input,
            EFFECTIVE_AREA.input,
            ONE_STOREY.input,
            OCCUPANCY.input,
            X_PLUS_P.input,
            SHINGLES.input,
        ],
        outputs: &[NEEDED],
        evaluate: iso_needed_flow,
    },
    Entry {
        formula: &formula::ISO_DWELLING,
        inputs: &[ISO_EDITION.input, SEPARATION.input],
        outputs: &[NEEDED],
        evaluate: |r| {
            let (edition, separation) = (r.required(&ISO_EDITION), r.required(&SEPARATION));
            Some(needed(&dwelling_needed_flow(edition?, separation?)))
        },
    },
    Entry {
        formula: &formula::ISO_HYDRANT_CREDIT,
        inputs: &[HOSE_LAY.input],
        outputs: &[CREDIT],
        evaluate: |r| Some(Found::default().number(CREDIT, hydrant_credit_gpm(r.required(&HOSE_LAY)?))),
    },
    Entry {
        formula: &formula::NFPA_1142,
        inputs: &[
            RURAL_EDITION.input,
            VOLUME.input,
            HAZARD.input,
            CONSTRUCTION.input.optional(),
            CONSTRUCTION_NUMBER.input.optional(),
            DWELLING.input,
            EXPOSURE.input,
        ],
        outputs: &[SUPPLY, DELIVERY],
        evaluate: rural_supply,
    },
    Entry {
        formula: &formula::IFC_B105,
        inputs: &[CODE_EDITION.input, TYPE.input, AREA.input, DWELLING.input, SPRINKLERS.input],
        outputs: &[NEEDED],
        evaluate: fire_code,
    },
];

fn needed(found: &NeededFlow) -> Found {
    Found::default().number(NEEDED, found.gpm).worked(&found.working).cautions(&found.cautions)
}

fn iowa(r: &mut Reader<'_>) -> Option<Found> {
    let (length, width, height) = (r.required(&BUILDING_LENGTH), r.required(&WIDTH), r.required(&HEIGHT));
    Some(needed(&Iowa { length: length?, width: width?, height: height? }.needed_flow()))
}

fn national_fire_academy(r: &mut Reader<'_>) -> Option<Found> {
    let (length, width, floors) = (r.required(&BUILDING_LENGTH), r.required(&WIDTH), r.required(&FLOORS));
    let (involvement, exposures) = (r.required(&INVOLVED), r.required(&EXPOSURES));
    let exposure_order = r.required(&ORDER);
    let building = NationalFireAcademy {
        length: length?,
        width: width?,
        floors: NonZeroU8::new(floors?)?,
        involvement: involvement?,
        exposures: exposures?,
        exposure_order: exposure_order?,
    };
    Some(needed(&building.needed_flow()))
}

fn iso_needed_flow(r: &mut Reader<'_>) -> Option<Found> {
    let (edition, construction, area) = (r.required(&ISO_EDITION), r.required(&CLASS), r.required(&EFFECTIVE_AREA));
    let (one_storey, occupancy) = (r.required(&ONE_STOREY), r.required(&OCCUPANCY));
    let (exposure, shingles) = (r.required(&X_PLUS_P), r.required(&SHINGLES));
    let building = IsoNeededFlow {
        edition: edition?,
        construction: construction?,
        effective_area: area?,
        one_storey: one_storey?,
        occupancy: occupancy?,
        exposure_and_communication: exposure?,
        wood_shingle_roof: shingles?,
    };
    Some(needed(&building.needed_flow()))
}

fn rural_supply(r: &mut Reader<'_>) -> Option<Found> {
    let (edition, volume, hazard) = (r.required(&RURAL_EDITION), r.required(&VOLUME), r.required(&HAZARD));
    let (construction, number) = (r.optional(&CONSTRUCTION), r.optional(&CONSTRUCTION_NUMBER));
    let (dwelling, exposure) = (r.required(&DWELLING), r.required(&EXPOSURE));
    let construction = match (construction?, number?) {
        (Some(construction), None) => construction,
        (None, Some(number)) => Construction::Stated(number),
        _ => return r.exactly_one_of(&["construction_type", "construction_number"]),
    };
    let building = RuralSupply {
        edition: edition?,
        volume: volume?,
        hazard: hazard?,
        construction,
        dwelling: dwelling?,
        exposure: exposure?,
    };
    let supply = building.minimum_supply();
    let found = Found::default().number(SUPPLY, supply.gal).number(DELIVERY, supply.delivery_gpm);
    Some(found.worked(&supply.working).cautions(&supply.cautions))
}

fn fire_code(r: &mut Reader<'_>) -> Option<Found> {
    let (edition, building_type, area) = (r.required(&CODE_EDITION), r.required(&TYPE), r.required(&AREA));
    let (dwelling, sprinklers) = (r.required(&DWELLING), r.required(&SPRINKLERS));
    let building = FireCode {
        edition: edition?,
        building_type: building_type?,
        area: area?,
        dwelling: dwelling?,
        sprinklers: sprinklers?,
    };
    let flow = r.good("building_type", "no_known_row", building.needed_flow())?;
    Some(needed(&flow))
}
