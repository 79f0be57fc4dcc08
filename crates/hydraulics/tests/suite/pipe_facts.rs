//! Facts about pipes, openings, pumps and the fire code. Figures are worked in comments, or by the library `fluids` 1.3.1 where it is named.

use longlay_hydraulics::ceiling::{MarkedPoint, pressure_ceiling_psi};
use longlay_hydraulics::darcy::{Pipe, PipeLoss, Wall};
use longlay_hydraulics::hand_rule::{HandRuleHose, hand_rule_pressure};
use longlay_hydraulics::needed_flow::{
    BuildingType, FireCode, FireCodeEdition, MethodCaution, NeededFlow, NoKnownRow, Sprinklers,
};
use longlay_hydraulics::orifice::{NoScaling, flow_at, pressure_for};
use longlay_hydraulics::parallel_lines::{NoLines, side_by_side};
use longlay_hydraulics::pipe_system::{NoPipes, PipeSystem};
use longlay_hydraulics::quantity::{
    Area, Diameter, FittingLoss, Flow, FrictionFactor, Head, Length, PositiveFlow, Rise, Viscosity, WallRoughness,
};

use crate::common::{close, gpm, psi};

fn rough(inches: f64) -> Wall {
    Wall::Rough(WallRoughness::from_in(inches).unwrap())
}

fn pipe(bore: f64, wall: Wall) -> Pipe {
    let (bore, length) = (Diameter::from_in(bore).unwrap(), Length::from_ft(100.0).unwrap());
    Pipe::new(bore, length, wall, FittingLoss::NONE).unwrap()
}

fn cst(cst: f64) -> Viscosity {
    Viscosity::from_cst(cst).unwrap()
}

/// The loss at a Reynolds number, in a pipe of 10 in.
fn at_reynolds(reynolds: f64, roughness: f64) -> PipeLoss {
    let (pipe, viscosity) = (pipe(10.0, rough(roughness)), cst(1.0));
    let per_gpm = pipe.loss(gpm(1000.0), viscosity).reynolds / 1000.0;
    pipe.loss(PositiveFlow::from_gpm(reynolds / per_gpm).unwrap(), viscosity)
}

#[test]
fn the_turbulent_factor_is_colebrooks() {
    // fluids 1.3.1, friction_factor(Re, eD, Method='Colebrook').
    for (reynolds, relative, factor) in [
        (1e5, 0.0, 0.017_989_773_084_273_84),
        (1e5, 0.0009, 0.021_832_219_771_526_253),
        (1e6, 0.01, 0.037_964_741_876_160_06),
        (4000.0, 0.05, 0.076_986_834_889_225_02),
        (1e7, 0.0, 0.008_102_669_430_874_912),
    ] {
        close(at_reynolds(reynolds, 10.0 * relative).friction_factor / factor, 1.0, 1e-9);
    }
}

#[test]
fn layered_flow_loses_by_64_over_reynolds_whatever_the_wall() {
    close(at_reynolds(1600.0, 0.0).friction_factor, 0.04, 1e-12);
    close(at_reynolds(1600.0, 0.5).friction_factor, 0.04, 1e-12);
    // Past it the higher, turbulent factor is taken.
    assert!(at_reynolds(2001.0, 0.0).friction_factor > 64.0 / 2001.0);
}

#[test]
fn a_wall_too_rough_for_its_bore_has_no_factor() {
    let length = Length::from_ft(10.0).unwrap();
    let made = Pipe::new(Diameter::from_in(2.0).unwrap(), length, rough(0.11), FittingLoss::NONE);
    assert_eq!(made.unwrap_err().roughness_in, 0.11);
    assert!(Pipe::new(Diameter::from_in(2.0).unwrap(), length, rough(0.1), FittingLoss::NONE).is_ok());
}

#[test]
fn what_flows_under_a_head_loses_that_head() {
    let pipes = [pipe(4.0, rough(0.0018)), pipe(2.5, rough(0.0)), pipe(6.0, rough(0.3))];
    for viscosity in [0.3, 1.13, 100.0] {
        let system = PipeSystem::new(&pipes, cst(viscosity)).unwrap();
        for head in [0.5, 7.0, 80.0, 3000.0] {
            let flow = system.flow_under(Head::from_ft(head).unwrap());
            let flow = PositiveFlow::from_gpm(flow.gpm()).unwrap();
            close(system.loss(flow).loss_ft / head, 1.0, 1e-9);
        }
    }
}

#[test]
fn under_no_head_nothing_flows_and_without_a_pipe_nothing_is_told() {
    let pipes = [pipe(4.0, rough(0.0018))];
    let system = PipeSystem::new(&pipes, cst(1.13)).unwrap();
    assert_eq!(system.flow_under(Head::from_ft(0.0).unwrap()).gpm(), 0.0);
    assert_eq!(PipeSystem::new(&[], cst(1.13)), Err(NoPipes));
}

#[test]
fn a_wide_short_pipe_flows_no_more_than_any_flow_accepted() {
    let stated = Wall::Stated(FrictionFactor::from_number(0.001).unwrap());
    let pipes = [pipe(24.0, stated)];
    let flow = PipeSystem::new(&pipes, cst(0.1)).unwrap().flow_under(Head::from_ft(10_000.0).unwrap());
    assert_eq!(flow.gpm(), 50_000.0);
}

#[test]
fn an_opening_read_at_no_pressure_tells_nothing() {
    assert_eq!(flow_at(gpm(100.0), psi(0.0), psi(50.0)), Err(NoScaling::NoPressure));
    let other = Flow::from_gpm(200.0).unwrap();
    assert_eq!(pressure_for(gpm(100.0), psi(0.0), other), Err(NoScaling::NoPressure));
    // Ten times the flow takes a hundred times the pressure: 5,000 psi.
    let other = Flow::from_gpm(1000.0).unwrap();
    assert!(matches!(pressure_for(gpm(100.0), psi(50.0), other), Err(NoScaling::OutOfBounds(_))));
}

#[test]
fn the_rule_of_thumb_asks_for_less_than_the_coefficient_at_high_flows_and_never_for_less_than_nothing() {
    let at = |flow| {
        let length = Length::from_ft(200.0).unwrap();
        hand_rule_pressure(HandRuleHose::OneAndThreeQuarterInch, gpm(flow), length, psi(50.0))
    };
    // 3 x 25 - 10 = 65; 15.5 x 6.25 = 96.875.
    assert_eq!((at(250.0).friction_psi_per_100ft, at(250.0).by_coefficient_psi_per_100ft), (65.0, 96.875));
    assert!(at(250.0).under_promises);
    // 3 x 2 - 10 is under nothing; the hose still loses.
    assert_eq!((at(20.0).friction_psi_per_100ft, at(20.0).pump_psi), (0.0, 50.0));
    assert!(at(20.0).under_promises && !at(150.0).under_promises);
}

#[test]
fn no_line_is_no_answer() {
    assert_eq!(side_by_side(&[], gpm(100.0)), Err(NoLines));
}

#[test]
fn the_ceiling_is_that_of_the_point_that_bears_least_and_none_where_nothing_is_marked() {
    let point = |marked: Option<f64>, tested: Option<f64>, rise| MarkedPoint {
        max_operating: marked.map(psi),
        service_test: tested.map(psi),
        rise: Rise::from_ft(rise).unwrap(),
    };
    let points = [point(Some(185.0), Some(200.0), 0.0), point(Some(200.0), None, -100.0), point(None, None, -500.0)];
    // 0.9 x 200 = 180; 200 - 43.4 = 156.6.
    close(pressure_ceiling_psi(&points).unwrap(), 156.6, 1e-9);
    assert_eq!(pressure_ceiling_psi(&points[2..]), None);
}

fn code(
    edition: FireCodeEdition,
    building_type: BuildingType,
    area: f64,
    dwelling: bool,
    sprinklers: Sprinklers,
) -> Result<NeededFlow, NoKnownRow> {
    let area = Area::from_sq_ft(area).unwrap();
    FireCode { edition, building_type, area, dwelling, sprinklers }.needed_flow()
}

fn plain(building_type: BuildingType, area: f64) -> Option<f64> {
    let found = code(FireCodeEdition::Before2015, building_type, area, false, Sprinklers::None);
    found.ok().map(|found| found.gpm)
}

#[test]
fn type_v_b_climbs_by_250_gpm_a_row_to_8000() {
    let v_b = |area| plain(BuildingType::TypeVB, area).unwrap();
    assert_eq!([v_b(3600.0), v_b(3600.5), v_b(4800.0), v_b(4801.0)], [1500.0, 1750.0, 1750.0, 2000.0]);
    assert_eq!([v_b(85_100.0), v_b(85_101.0), v_b(1e7)], [7750.0, 8000.0, 8000.0]);
}

#[test]
fn a_row_that_was_not_read_is_not_made_up() {
    assert_eq!(plain(BuildingType::TypeIA, 22_700.0), Some(1500.0));
    assert_eq!(plain(BuildingType::TypeIA, 22_700.5), Some(1750.0));
    assert_eq!(plain(BuildingType::TypeIA, 30_201.0), None);
    assert_eq!((plain(BuildingType::TypeVA, 9000.0), plain(BuildingType::TypeVA, 8999.0)), (Some(1750.0), None));
    assert_eq!(plain(BuildingType::TypeIIB, 1000.0), None);
}

#[test]
fn sprinklers_leave_what_the_edition_says_and_no_less() {
    use BuildingType::TypeVB;
    use FireCodeEdition::{Before2015, From2015};
    let gpm = |edition, area, dwelling, sprinklers| code(edition, TypeVB, area, dwelling, sprinklers).unwrap().gpm;
    // A quarter of 4,000 is 1,000, of 8,000 is 2,000.
    assert_eq!(gpm(Before2015, 23_000.0, false, Sprinklers::Full), 1500.0);
    assert_eq!(gpm(From2015, 23_000.0, false, Sprinklers::Full), 1000.0);
    assert_eq!(gpm(From2015, 23_000.0, false, Sprinklers::Residential), 1500.0);
    assert_eq!(gpm(Before2015, 90_000.0, false, Sprinklers::Full), 2000.0);
    // Half of 1,750.
    assert_eq!(gpm(From2015, 4000.0, true, Sprinklers::Residential), 875.0);
    let found = code(Before2015, TypeVB, 3600.0, true, Sprinklers::Residential).unwrap();
    assert_eq!((found.gpm, found.cautions), (500.0, vec![MethodCaution::SprinklerReductionByApproval]));
}
