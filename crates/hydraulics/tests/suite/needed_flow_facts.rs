//! Facts about needed flows: edges of tables, orders, caps and cautions.

use core::num::NonZeroU8;

use longlay_hydraulics::needed_flow::{
    Construction, ConstructionClass, ExposureOrder, IsoEdition, IsoNeededFlow, Method, MethodCaution, MinimumSupply,
    NationalFireAcademy, NeededFlow, Occupancy, OccupancyHazard, RuralEdition, RuralSupply, dwelling_needed_flow,
    hydrant_credit_gpm,
};
use longlay_hydraulics::quantity::{
    Area, BuildingVolume, ConstructionNumber, Dimension, ExposureFactor, Involvement, Length, Separation,
};

use crate::common::close;

fn academy(floors: u8, involvement: f64, exposures: u8, exposure_order: ExposureOrder) -> NeededFlow {
    NationalFireAcademy {
        length: Dimension::from_ft(60.0).unwrap(),
        width: Dimension::from_ft(40.0).unwrap(),
        floors: NonZeroU8::new(floors).unwrap(),
        involvement: Involvement::from_number(involvement).unwrap(),
        exposures,
        exposure_order,
    }
    .needed_flow()
}

#[test]
fn an_exposure_added_after_the_involvement_asks_for_the_whole_quarter() {
    // One floor 800. Two floors at 50 %: 800, and two exposures of 200 whole, or halved.
    let after = academy(2, 0.5, 2, ExposureOrder::AfterInvolvement);
    let before = academy(2, 0.5, 2, ExposureOrder::BeforeInvolvement);
    close(after.gpm, 1200.0, 1e-9);
    close(before.gpm, 1000.0, 1e-9);
    assert!(after.cautions.contains(&MethodCaution::ExposureOrderDisputed));
    assert!(after.cautions.contains(&MethodCaution::Over1000Gpm));
    assert!(!before.cautions.contains(&MethodCaution::Over1000Gpm));
}

#[test]
fn the_academy_method_is_for_interior_attack_to_half_involved() {
    let half = academy(1, 0.5, 0, ExposureOrder::AfterInvolvement);
    assert_eq!(half.cautions, [MethodCaution::InteriorAttack]);
    let more = academy(1, 0.51, 0, ExposureOrder::AfterInvolvement);
    assert_eq!(more.cautions, [MethodCaution::InteriorAttack, MethodCaution::OverHalfInvolved]);
}

fn iso(construction: ConstructionClass, area: f64, occupancy: Occupancy, exposure: f64) -> IsoNeededFlow {
    IsoNeededFlow {
        edition: IsoEdition::Before2012,
        construction,
        effective_area: Area::from_sq_ft(area).unwrap(),
        one_storey: false,
        occupancy,
        exposure_and_communication: ExposureFactor::from_number(exposure).unwrap(),
        wood_shingle_roof: false,
    }
}

#[test]
fn iso_is_held_at_its_caps_and_says_so() {
    // 18 x 1.5 x √250,000 = 13,500, held at 8000; 8000 x 1.25 x 1.6 = 16,000, held at 12,000.
    let large = iso(ConstructionClass::Frame, 250_000.0, Occupancy::RapidBurning, 0.9);
    let found = large.needed_flow();
    close(found.gpm, 12_000.0, 0.0);
    let said = [
        MethodCaution::FromMemory,
        MethodCaution::ConstructionFlowCapped,
        MethodCaution::ExposureCapped,
        MethodCaution::HeldAtMaximum,
    ];
    assert_eq!(found.cautions, said);
    assert_eq!(found.method, Method::Iso(IsoEdition::Before2012));
    // One storey: 6000 x 1.25 x 1.6 = 12,000, which is the most and not over it.
    let low = IsoNeededFlow { one_storey: true, ..large }.needed_flow();
    close(low.gpm, 12_000.0, 0.0);
    assert!(!low.cautions.contains(&MethodCaution::HeldAtMaximum));
}

#[test]
fn iso_never_asks_under_500_gpm() {
    // 18 x 0.6 x √400 = 216, to 250; x 0.75 = 187.5, to 250; raised.
    let found = iso(ConstructionClass::FireResistive, 400.0, Occupancy::NonCombustible, 0.0).needed_flow();
    close(found.gpm, 500.0, 0.0);
    assert!(found.cautions.contains(&MethodCaution::RaisedToMinimum));
}

#[test]
fn a_wood_shingle_roof_adds_500_gpm() {
    // 18 x √10,000 = 1800, to 1750; with the roof 2250.
    let plain = iso(ConstructionClass::JoistedMasonry, 10_000.0, Occupancy::Combustible, 0.0);
    close(plain.needed_flow().gpm, 1750.0, 0.0);
    close(IsoNeededFlow { wood_shingle_roof: true, ..plain }.needed_flow().gpm, 2250.0, 0.0);
}

#[test]
fn dwellings_between_two_whole_feet_count_as_the_nearer_by_either_table() {
    let at = |edition, feet: f64| dwelling_needed_flow(edition, Separation::from_ft(feet).unwrap()).gpm;
    let older = [0.0, 10.5, 11.0, 30.5, 31.0, 100.5, 101.0].map(|feet| at(IsoEdition::Before2012, feet));
    assert_eq!(older, [1500.0, 1500.0, 1000.0, 1000.0, 750.0, 750.0, 500.0]);
    let newer = [10.5, 11.0, 20.5, 21.0, 30.5, 31.0].map(|feet| at(IsoEdition::From2012, feet));
    assert_eq!(newer, [1500.0, 1000.0, 1000.0, 750.0, 750.0, 500.0]);
}

#[test]
fn a_hydrant_past_1000_feet_of_hose_has_no_credit() {
    let at = |feet: f64| hydrant_credit_gpm(Length::from_ft(feet).unwrap());
    assert_eq!([300.5, 600.5, 1000.0, 1000.5].map(at), [670.0, 250.0, 250.0, 0.0]);
}

fn rural(volume: f64, construction: Construction, edition: RuralEdition) -> MinimumSupply {
    RuralSupply {
        edition,
        volume: BuildingVolume::from_cubic_ft(volume).unwrap(),
        hazard: OccupancyHazard::Four,
        construction,
        dwelling: true,
        exposure: false,
    }
    .minimum_supply()
}

#[test]
fn a_frame_dwelling_asks_half_as_much_again_where_the_edition_lets_it() {
    // 20,000/4 = 5000, x 1.5 = 7500.
    let newer = rural(20_000.0, Construction::TypeV, RuralEdition::DwellingsByConstruction);
    close(newer.gal, 7500.0, 1e-9);
    let older = rural(20_000.0, Construction::TypeV, RuralEdition::DwellingsAtMostOne);
    close(older.gal, 5000.0, 1e-9);
    assert_eq!(older.cautions, [MethodCaution::FromMemory, MethodCaution::DwellingCapped]);
}

#[test]
fn more_water_is_delivered_faster() {
    let rate = |gal: f64| {
        let one = Construction::Stated(ConstructionNumber::from_number(1.0).unwrap());
        let found = rural(4.0 * gal, one, RuralEdition::DwellingsByConstruction);
        close(found.gal, gal, 1e-9);
        found.delivery_gpm
    };
    let supplies = [2000.0, 2499.0, 2500.0, 9999.0, 10_000.0, 19_999.0, 20_000.0];
    assert_eq!(supplies.map(rate), [250.0, 250.0, 500.0, 500.0, 750.0, 750.0, 1000.0]);
}

#[test]
fn iso_flows_run_two_three_or_four_hours() {
    let minutes = |method, gpm: f64| {
        let needed = NeededFlow { method, gpm, working: Vec::new(), cautions: Vec::new() };
        needed.duration().map(|duration| {
            close(duration.volume_gal, gpm * duration.minutes, 1e-9);
            duration.minutes
        })
    };
    let iso = Method::Iso(IsoEdition::From2012);
    for (gpm, hours) in [(500.0, 2.0), (2500.0, 2.0), (3000.0, 3.0), (3500.0, 3.0), (4000.0, 4.0), (12_000.0, 4.0)] {
        assert_eq!(minutes(iso, gpm), Some(60.0 * hours), "{gpm}");
    }
    // Between two of ISO's steps the longer counts.
    assert_eq!([2501.0, 3501.0].map(|gpm| minutes(iso, gpm)), [Some(180.0), Some(240.0)]);
    assert_eq!(minutes(Method::IsoDwelling(IsoEdition::Before2012), 1500.0), Some(120.0));
    assert_eq!([Method::Iowa, Method::NationalFireAcademy].map(|method| minutes(method, 1000.0)), [None, None]);
}

#[test]
fn a_rural_supply_lasts_as_long_as_its_rate_lets_it() {
    // 5000 gal at 500 gpm.
    let supply = rural(20_000.0, Construction::TypeV, RuralEdition::DwellingsAtMostOne);
    let duration = supply.duration();
    assert_eq!((duration.minutes, duration.volume_gal, duration.caution), (10.0, 5000.0, None));
}
