//! The checks of openings, rules of thumb, pipes, pumps and the fire code.

use longlay_hydraulics::darcy::{Pipe, Wall};
use longlay_hydraulics::hand_rule::{HandRuleHose, hand_rule_pressure};
use longlay_hydraulics::loss::elevation_psi;
use longlay_hydraulics::needed_flow::{BuildingType, FireCode, FireCodeEdition, Sprinklers};
use longlay_hydraulics::orifice::{flow_at, pressure_for};
use longlay_hydraulics::pipe_system::PipeSystem;
use longlay_hydraulics::pump_affinity::PumpPointAtSpeed;
use longlay_hydraulics::quantity::{
    AbsolutePressure, Area, Density, Diameter, FittingLoss, Flow, FrictionFactor, Head, Length, Power, PumpSpeed, Rise,
    Viscosity, WallRoughness,
};
use longlay_hydraulics::suction_head::Suction;
use longlay_tests::cases::Row;

use crate::published_checks::{gpm, psi};

const L_PER_GAL: f64 = 3.785_411_784;
const FT_PER_M: f64 = 1.0 / 0.3048;
/// Roughness of commercial steel pipe, in, as the source takes it.
const STEEL_IN: f64 = 0.0018;

pub(crate) fn fixed_orifice_scaling(row: &Row) -> usize {
    let (flow, pressure) = (gpm(row.input("/q1_gpm")), psi(row.input("/p1_psi")));
    if row.text("/law").starts_with("Q2") {
        return row.agrees("/gpm", flow_at(flow, pressure, psi(row.input("/p2_psi"))).unwrap().gpm());
    }
    let other = Flow::from_gpm(row.input("/q2_gpm")).unwrap();
    row.agrees("/psi", pressure_for(flow, pressure, other).unwrap().psi())
}

pub(crate) fn department_hand_rule_pdp(row: &Row) -> usize {
    let (hose, number) = match row.input("/hose_in") {
        2.0 => (HandRuleHose::TwoInch, "N=2"),
        _ => (HandRuleHose::OneAndThreeQuarterInch, "N=3"),
    };
    assert!(row.text("/rule").ends_with(number), "{}", row.say("/rule"));
    let (flow, length) = (gpm(row.input("/gpm")), Length::from_ft(row.input("/length_ft")).unwrap());
    if hose == HandRuleHose::TwoInch {
        // The cards show no nozzle pressure.
        return row.agrees("/pdp_psi", hand_rule_pressure(hose, flow, length, psi(0.0)).pump_psi);
    }
    let found = hand_rule_pressure(hose, flow, length, psi(row.input("/nozzle_psi")));
    row.agrees("/pdp_psi", found.pump_psi) + row.agrees("/pdp_CQ2_155", found.by_coefficient_pump_psi)
}

fn pipe(bore_in: f64, length_ft: f64, wall: Wall, fittings: f64) -> Pipe {
    let (bore, length) = (Diameter::from_in(bore_in).unwrap(), Length::from_ft(length_ft).unwrap());
    Pipe::new(bore, length, wall, FittingLoss::from_number(fittings).unwrap()).unwrap()
}

fn steel() -> Wall {
    Wall::Rough(WallRoughness::from_in(STEEL_IN).unwrap())
}

fn cst(cst: f64) -> Viscosity {
    Viscosity::from_cst(cst).unwrap()
}

pub(crate) fn darcy_pipe(row: &Row) -> usize {
    assert_eq!((row.text("/eps").as_str(), row.input("/T_C")), ("smooth", 30.0));
    let smooth = Wall::Rough(WallRoughness::from_in(0.0).unwrap());
    let smooth = pipe(row.input("/D_m") / 0.0254, 20.0 * FT_PER_M, smooth, 0.0);
    // Water of 30 °C by the source's tables: 0.8 mPa s and 995.6 kg/m³.
    let found = smooth.loss(gpm(row.input("/Q_L_min") / L_PER_GAL), cst(0.8 / 0.9956));
    row.agrees("/Re", found.reynolds) + row.agrees("/fd", found.friction_factor)
}

pub(crate) fn darcy_system(row: &Row) -> usize {
    match row.id.as_str() {
        "DW02" => {
            // 3 in and 2 in of schedule 40, 3.068 and 2.067 in. By the source: entrance 0.5, a miter bend of 60 fT and an open gate valve of 8 fT,
            // fT 0.0172 in 3 in; contraction 0.5 (1 - β²) and exit 1 in 2 in. Water of 60 °F: 1.1 mPa s and 62.364 lb/ft³.
            let beta = 2.067_f64 / 3.068;
            let pipes = [
                pipe(3.068, 10.0, steel(), 0.5 + 68.0 * 0.0172),
                pipe(2.067, 20.0, steel(), 0.5 * (1.0 - beta * beta) + 1.0),
            ];
            let system = PipeSystem::new(&pipes, cst(1.1 / 0.998_98)).unwrap();
            row.agrees("/gpm", system.flow_under(Head::from_ft(11.5).unwrap()).gpm())
        }
        "DW04" => {
            // 4 in and 5 in of schedule 40, 102.26 and 128.20 mm, an elbow of 14 fT in each, fT 0.017 and 0.016. Water of 15 °C: 1.14 cSt.
            let pipes = [
                pipe(102.26 / 25.4, 34.0 * FT_PER_M, steel(), 14.0 * 0.017),
                pipe(128.2 / 25.4, 67.0 * FT_PER_M, steel(), 14.0 * 0.016),
            ];
            let lost = PipeSystem::new(&pipes, cst(1.14)).unwrap().loss(gpm(1500.0 / L_PER_GAL));
            let risen = elevation_psi(Rise::from_ft(22.0 * FT_PER_M).unwrap());
            row.agrees("/dP_bar", (lost.loss_psi + risen) * 0.068_947_6)
        }
        "DW05" => {
            // 80 mm schedule 40, 77.92 mm, f stated as 0.017: entrance 0.5, six threaded elbows of 30 f, exit 1, and a ball valve of 0.574 by the
            // source's formula for a 60 mm seat and its mean cone of 23 degrees.
            let stated = Wall::Stated(FrictionFactor::from_number(0.017).unwrap());
            let pipes = [pipe(77.92 / 25.4, 60.0 * FT_PER_M, stated, 0.5 + 6.0 * 30.0 * 0.017 + 0.574 + 1.0)];
            let system = PipeSystem::new(&pipes, cst(1.14)).unwrap();
            let flow = system.flow_under(Head::from_ft(7.0 * FT_PER_M).unwrap());
            row.agrees("/L_min", flow.gpm() * L_PER_GAL)
        }
        other => panic!("{other} is a system, and computed with nothing"),
    }
}

pub(crate) fn pump_affinity(row: &Row) -> usize {
    let point = PumpPointAtSpeed {
        speed: PumpSpeed::from_rpm(row.input("/rpm1")).unwrap(),
        flow: Flow::from_gpm(row.input("/q1_gpm")).unwrap(),
        head: Head::from_ft(row.input("/h1_ft")).unwrap(),
        power: Power::from_hp(row.input("/bhp1")).unwrap(),
    };
    let other = point.at_speed(PumpSpeed::from_rpm(row.input("/rpm2")).unwrap());
    row.agrees("/gpm", other.flow_gpm) + row.agrees("/ft", other.head_ft) + row.agrees("/bhp", other.power_hp)
}

pub(crate) fn npsh_available(row: &Row) -> usize {
    let suction = Suction {
        // The tank's gauge reads over an atmosphere of 14.7 psi.
        surface: AbsolutePressure::from_psia(row.input("/tank_psig") + 14.7).unwrap(),
        vapour: AbsolutePressure::from_psia(row.input("/psat_psia")).unwrap(),
        density: Density::from_lb_per_cubic_ft(row.input("/rho_lb_ft3")).unwrap(),
        lift: Rise::from_ft(row.input("/lift_ft")).unwrap(),
        losses: Head::from_ft(row.input("/loss_ft")).unwrap(),
    };
    row.agrees("/npsha_ft", suction.head_available_ft())
}

pub(crate) fn ifc_b105(row: &Row) -> usize {
    let area = Area::from_sq_ft(row.input("/area_sf")).unwrap();
    let ask = |building_type, dwelling, sprinklers| {
        let edition = FireCodeEdition::Before2015;
        FireCode { edition, building_type, area, dwelling, sprinklers }.needed_flow().unwrap().gpm
    };
    if row.id == "FF17" {
        // The row names no type: a small dwelling's flow is the same in each.
        let types = [BuildingType::TypeIIIA, BuildingType::TypeVA, BuildingType::TypeVB];
        return types.map(|one| row.agrees("/gpm", ask(one, true, Sprinklers::Residential))).iter().sum();
    }
    let building_type = match row.text("/type").as_str() {
        "I-A" => BuildingType::TypeIA,
        "V-A" => BuildingType::TypeVA,
        "V-B" => BuildingType::TypeVB,
        other => panic!("{other} is in no row"),
    };
    row.agrees("/gpm", ask(building_type, false, Sprinklers::None))
}
