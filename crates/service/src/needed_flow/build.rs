//! From a building as it came to its needed flow, with every fault at once.

use std::num::NonZeroU8;

use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::needed_flow::{
    BuildingType, Construction, ConstructionClass, ExposureOrder, FireCode, FireCodeEdition, FlowDuration, Iowa,
    IsoEdition, IsoNeededFlow, MethodCaution, NationalFireAcademy, NeededFlow, Occupancy, OccupancyHazard,
    RuralEdition, RuralSupply, Sprinklers, Step, dwelling_needed_flow,
};
use longlay_hydraulics::quantity::{
    Area, BuildingVolume, ConstructionNumber, Dimension, ExposureFactor, Involvement, Separation,
};

use crate::faults::Faults;
use crate::needed_flow::request::{
    BuildingTypeName, ConstructionClassName, ConstructionTypeName, EditionName, ExposureOrderName, MethodName,
    NeededFlowAsk, OccupancyName, SprinklersName,
};

/// What a method says of a building, in the one form that all of them are answered in.
pub(super) struct Found {
    pub(super) gpm: f64,
    /// The water to have there, where the method asks for a supply.
    pub(super) supply_gal: Option<f64>,
    pub(super) duration: Option<FlowDuration>,
    pub(super) working: Vec<Step>,
    pub(super) cautions: Vec<MethodCaution>,
    pub(super) formula: &'static Formula,
}

/// By the method asked for.
pub(super) fn found(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<Found> {
    for member in ask.out_of_place() {
        faults.note(&format!("/{member}"), "not_with_method", "does not go with this method");
    }
    match ask.method {
        MethodName::Iowa => iowa(ask, faults).map(|space| of_flow(space.needed_flow(), &formula::IOWA)),
        MethodName::NationalFireAcademy => {
            academy(ask, faults).map(|building| of_flow(building.needed_flow(), &formula::NATIONAL_FIRE_ACADEMY))
        }
        MethodName::Iso => iso(ask, faults).map(|building| of_flow(building.needed_flow(), &formula::ISO_NEEDED_FLOW)),
        MethodName::IsoDwelling => dwelling(ask, faults).map(|needed| of_flow(needed, &formula::ISO_DWELLING)),
        MethodName::Nfpa1142 => rural(ask, faults).map(|building| of_supply(&building)),
        MethodName::IfcB105 => fire_code(ask, faults).map(|needed| of_flow(needed, &formula::IFC_B105)),
    }
}

fn of_flow(needed: NeededFlow, formula: &'static Formula) -> Found {
    let duration = needed.duration();
    let NeededFlow { gpm, working, mut cautions, .. } = needed;
    cautions.extend(duration.and_then(|duration| duration.caution));
    Found { gpm, supply_gal: None, duration, working, cautions, formula }
}

fn of_supply(building: &RuralSupply) -> Found {
    let supply = building.minimum_supply();
    Found {
        gpm: supply.delivery_gpm,
        supply_gal: Some(supply.gal),
        duration: Some(supply.duration()),
        working: supply.working,
        cautions: supply.cautions,
        formula: &formula::NFPA_1142,
    }
}

fn iowa(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<Iowa> {
    let length = faults.required("/length_ft", ask.length_ft, Dimension::from_ft);
    let width = faults.required("/width_ft", ask.width_ft, Dimension::from_ft);
    let height = faults.required("/height_ft", ask.height_ft, Dimension::from_ft);
    Some(Iowa { length: length?, width: width?, height: height? })
}

fn academy(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<NationalFireAcademy> {
    let length = faults.required("/length_ft", ask.length_ft, Dimension::from_ft);
    let width = faults.required("/width_ft", ask.width_ft, Dimension::from_ft);
    let floors = faults.given("/floors", ask.floors);
    let floors = floors.and_then(|floors| {
        NonZeroU8::new(floors).or_else(|| faults.add("/floors", "out_of_bounds", "floors must be from 1 to 255, not 0"))
    });
    let involvement = faults.required("/involvement", ask.involvement, Involvement::from_number);
    let exposures = faults.given("/exposures", ask.exposures);
    let exposure_order = faults.given("/exposure_order", ask.exposure_order).map(ExposureOrder::from);
    Some(NationalFireAcademy {
        length: length?,
        width: width?,
        floors: floors?,
        involvement: involvement?,
        exposures: exposures?,
        exposure_order: exposure_order?,
    })
}

fn iso(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<IsoNeededFlow> {
    let edition = iso_edition(ask, faults);
    let construction = faults.given("/construction_class", ask.construction_class).map(ConstructionClass::from);
    let effective_area = faults.required("/effective_area_sq_ft", ask.effective_area_sq_ft, Area::from_sq_ft);
    let one_storey = faults.given("/one_storey", ask.one_storey);
    let occupancy = faults.given("/occupancy", ask.occupancy).map(Occupancy::from);
    let exposure = "/exposure_and_communication";
    let exposure = faults.required(exposure, ask.exposure_and_communication, ExposureFactor::from_number);
    let wood_shingle_roof = faults.given("/wood_shingle_roof", ask.wood_shingle_roof);
    Some(IsoNeededFlow {
        edition: edition?,
        construction: construction?,
        effective_area: effective_area?,
        one_storey: one_storey?,
        occupancy: occupancy?,
        exposure_and_communication: exposure?,
        wood_shingle_roof: wood_shingle_roof?,
    })
}

fn dwelling(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<NeededFlow> {
    let edition = iso_edition(ask, faults);
    let separation = faults.required("/separation_ft", ask.separation_ft, Separation::from_ft);
    Some(dwelling_needed_flow(edition?, separation?))
}

fn iso_edition(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<IsoEdition> {
    match faults.given("/edition", ask.edition)? {
        EditionName::Before2012 => Some(IsoEdition::Before2012),
        EditionName::From2012 => Some(IsoEdition::From2012),
        _ => not_of_method(faults),
    }
}

fn rural(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<RuralSupply> {
    let edition = faults.given("/edition", ask.edition).and_then(|edition| match edition {
        EditionName::DwellingsAtMostOne => Some(RuralEdition::DwellingsAtMostOne),
        EditionName::DwellingsByConstruction => Some(RuralEdition::DwellingsByConstruction),
        _ => not_of_method(faults),
    });
    let volume = faults.required("/volume_cu_ft", ask.volume_cu_ft, BuildingVolume::from_cubic_ft);
    let hazard = faults.given("/occupancy_hazard", ask.occupancy_hazard).and_then(|class| hazard(class, faults));
    let construction = construction(ask, faults);
    let dwelling = faults.given("/dwelling", ask.dwelling);
    let exposure = faults.given("/exposure", ask.exposure);
    Some(RuralSupply {
        edition: edition?,
        volume: volume?,
        hazard: hazard?,
        construction: construction?,
        dwelling: dwelling?,
        exposure: exposure?,
    })
}

fn fire_code(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<NeededFlow> {
    let edition = faults.given("/edition", ask.edition).and_then(|edition| match edition {
        EditionName::Before2015 => Some(FireCodeEdition::Before2015),
        EditionName::From2015 => Some(FireCodeEdition::From2015),
        _ => not_of_method(faults),
    });
    let building_type = faults.given("/building_type", ask.building_type).map(BuildingType::from);
    let area = faults.required("/area_sq_ft", ask.area_sq_ft, Area::from_sq_ft);
    let dwelling = faults.given("/dwelling", ask.dwelling);
    let sprinklers = faults.given("/sprinklers", ask.sprinklers).map(Sprinklers::from);
    let building = FireCode {
        edition: edition?,
        building_type: building_type?,
        area: area?,
        dwelling: dwelling?,
        sprinklers: sprinklers?,
    };
    building.needed_flow().map_err(|error| faults.note("/building_type", "no_known_row", error.to_string())).ok()
}

fn not_of_method<T>(faults: &mut Faults) -> Option<T> {
    faults.add("/edition", "not_with_method", "this edition is not one of this method")
}

fn hazard(class: u8, faults: &mut Faults) -> Option<OccupancyHazard> {
    match class {
        3 => Some(OccupancyHazard::Three),
        4 => Some(OccupancyHazard::Four),
        5 => Some(OccupancyHazard::Five),
        6 => Some(OccupancyHazard::Six),
        7 => Some(OccupancyHazard::Seven),
        _ => {
            let detail = format!("occupancy hazard must be from 3 to 7, not {class}");
            faults.add("/occupancy_hazard", "out_of_bounds", detail)
        }
    }
}

fn construction(ask: &NeededFlowAsk, faults: &mut Faults) -> Option<Construction> {
    match (ask.construction_type, ask.construction_number) {
        (Some(ConstructionTypeName::TypeI), None) => Some(Construction::TypeI),
        (Some(ConstructionTypeName::TypeII), None) => Some(Construction::TypeII),
        (Some(ConstructionTypeName::TypeIII), None) => Some(Construction::TypeIII),
        (Some(ConstructionTypeName::TypeV), None) => Some(Construction::TypeV),
        (None, Some(number)) => {
            let number = ConstructionNumber::from_number(number);
            faults.good("/construction_number", number).map(Construction::Stated)
        }
        _ => faults.exactly_one_of("", &["construction_type", "construction_number"]),
    }
}

impl From<BuildingTypeName> for BuildingType {
    fn from(name: BuildingTypeName) -> Self {
        match name {
            BuildingTypeName::TypeIA => Self::TypeIA,
            BuildingTypeName::TypeIB => Self::TypeIB,
            BuildingTypeName::TypeIIA => Self::TypeIIA,
            BuildingTypeName::TypeIIB => Self::TypeIIB,
            BuildingTypeName::TypeIIIA => Self::TypeIIIA,
            BuildingTypeName::TypeIIIB => Self::TypeIIIB,
            BuildingTypeName::TypeIV => Self::TypeIV,
            BuildingTypeName::TypeVA => Self::TypeVA,
            BuildingTypeName::TypeVB => Self::TypeVB,
        }
    }
}

impl From<SprinklersName> for Sprinklers {
    fn from(name: SprinklersName) -> Self {
        match name {
            SprinklersName::None => Self::None,
            SprinklersName::Full => Self::Full,
            SprinklersName::Residential => Self::Residential,
        }
    }
}

impl From<ExposureOrderName> for ExposureOrder {
    fn from(name: ExposureOrderName) -> Self {
        match name {
            ExposureOrderName::BeforeInvolvement => Self::BeforeInvolvement,
            ExposureOrderName::AfterInvolvement => Self::AfterInvolvement,
        }
    }
}

impl From<ConstructionClassName> for ConstructionClass {
    fn from(name: ConstructionClassName) -> Self {
        match name {
            ConstructionClassName::Frame => Self::Frame,
            ConstructionClassName::JoistedMasonry => Self::JoistedMasonry,
            ConstructionClassName::NonCombustible => Self::NonCombustible,
            ConstructionClassName::MasonryNonCombustible => Self::MasonryNonCombustible,
            ConstructionClassName::ModifiedFireResistive => Self::ModifiedFireResistive,
            ConstructionClassName::FireResistive => Self::FireResistive,
        }
    }
}

impl From<OccupancyName> for Occupancy {
    fn from(name: OccupancyName) -> Self {
        match name {
            OccupancyName::NonCombustible => Self::NonCombustible,
            OccupancyName::LimitedCombustible => Self::LimitedCombustible,
            OccupancyName::Combustible => Self::Combustible,
            OccupancyName::FreeBurning => Self::FreeBurning,
            OccupancyName::RapidBurning => Self::RapidBurning,
        }
    }
}
