//! One check for each topic of the published cases, by the topic's name: what the library gives for a row, against the row.

use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::flow_test::{PitotReading, pumper_outlet_factor};
use longlay_hydraulics::lay::{Branch, BranchPart, Lay, LayAnswer, LayProblem, Limit, Part, PartKind, Source};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose, HydrantValve, PSI_PER_FOOT, ValveSpread};
use longlay_hydraulics::pumper::{PumpCurve, Pumper};
use longlay_hydraulics::quantity::{
    ApplianceCoefficient, Diameter, Flow, HoseCoefficient, Length, OutletCoefficient, PitotPressure, PositiveFlow,
    Pressure, Rise,
};
use longlay_hydraulics::rating::CapacityClass;
use longlay_hydraulics::spread::{SourceSpread, Spread};
use longlay_hydraulics::supply::SupplyCurve;
use serde_json::Value;

pub(crate) use crate::published_handbook::*;
pub(crate) use crate::published_pipes::*;
use longlay_tests::cases::Row;

pub(crate) fn psi(psi: f64) -> Pressure {
    Pressure::from_psi(psi).unwrap()
}

pub(crate) fn gpm(gpm: f64) -> PositiveFlow {
    PositiveFlow::from_gpm(gpm).unwrap()
}

pub(crate) fn k(k: f64) -> ApplianceCoefficient {
    ApplianceCoefficient::from_psi_per_100gpm2(k).unwrap()
}

pub(crate) fn hose(c: f64, feet: f64, lines: u8) -> Hose {
    let c = HoseCoefficient::from_psi_per_100gpm2_100ft(c).unwrap();
    Hose::new(c, Length::from_ft(feet).unwrap(), lines).unwrap()
}

pub(crate) fn pumper(rated: f64, intake_floor: f64, max_discharge: f64) -> Pumper {
    let curve = PumpCurve::from_rating(gpm(rated));
    Pumper { curve, intake_floor: psi(intake_floor), max_discharge: Some(psi(max_discharge)) }
}

pub(crate) fn main(static_psi: f64, residual: f64, flow: f64) -> SupplyCurve {
    SupplyCurve::new(psi(static_psi), psi(residual), gpm(flow)).unwrap()
}

pub(crate) fn lay(curve: SupplyCurve, parts: Vec<Part>, scene_floor: f64, main_floor: f64) -> LayProblem {
    LayProblem {
        source: Source { curve, body_loss: None, body_loss_assumed: false, spread: SourceSpread::of_numbers() },
        parts,
        rise: None,
        boost: None,
        main_floor: psi(main_floor),
        scene_floor: psi(scene_floor),
        target: None,
        fill_flow: None,
        tank: None,
    }
}

/// A source that holds its pressure whatever flows, as texts on hose alone have it.
pub(crate) fn held(pressure: f64) -> SupplyCurve {
    main(pressure, pressure, 50_000.0)
}

pub(crate) fn answer(problem: LayProblem) -> LayAnswer {
    Lay::new(problem).unwrap().answer()
}

fn flow(gpm: f64) -> Flow {
    Flow::from_gpm(gpm).unwrap()
}

fn test_of(row: &Row) -> SupplyCurve {
    main(row.input("/static_psi"), row.input("/residual_psi"), row.input("/qf_gpm"))
}

/// What a lay's parts lose at a flow, as its own gauges tell.
fn lost(parts: Vec<Part>, flow: f64) -> f64 {
    let gauges =
        answer(LayProblem { target: Some(gpm(flow)), ..lay(held(1000.0), parts, 0.0, 0.0) }).at_target.unwrap().gauges;
    gauges[0].pressure_psi - gauges[gauges.len() - 1].pressure_psi
}

fn outlet(row: &Row, c: f64, pitot: &str) -> PitotReading {
    PitotReading {
        diameter: Diameter::from_in(row.input("/d_in")).unwrap(),
        coefficient: OutletCoefficient::from_number(c).unwrap(),
        pitot: PitotPressure::from_psi(row.input(pitot)).unwrap(),
    }
}

fn step(fixed: f64, from: f64) -> Appliance {
    let loss = ApplianceLoss::Step { fixed: psi(fixed), at_or_above: flow(from) };
    Appliance { loss, max_operating: None, assumed: true, spread: Spread::ASSUMED_LOSS }
}

fn beside(hoses: impl Iterator<Item = Hose>) -> Part {
    Part::Parallel(hoses.map(|line| Branch { parts: vec![BranchPart::Hose(line)] }).collect())
}

/// The most a rated pumper passes with this net pressure left.
fn most_at_net(rated: f64, net: f64) -> f64 {
    let curve = PumpCurve::from_rating(gpm(rated));
    let (mut low, mut high) = (0.0, curve.capacity_gpm());
    if curve.net_psi(high) >= net {
        return high;
    }
    for _ in 0..60 {
        let mid = f64::midpoint(low, high);
        if curve.net_psi(mid) >= net {
            low = mid;
        } else {
            high = mid;
        }
    }
    low
}

pub(crate) fn flow_test(row: &Row) -> usize {
    row.agrees("/gpm", outlet(row, row.input("/c"), "/pitot_psi").discharge_gpm())
}

pub(crate) fn flow_test_pumper_outlet(row: &Row) -> usize {
    assert_eq!(pumper_outlet_factor(row.input("/pitot_psi")), row.input("/pumper_factor"));
    flow_test(row)
}

pub(crate) fn theoretical_discharge(row: &Row) -> usize {
    // A nozzle that runs full: without the factor for large hydrant outlets, which do not.
    let full = if row.input("/d_in") < 3.5 { 1.0 } else { pumper_outlet_factor(row.input("/p_psi")) };
    row.agrees("/gpm", outlet(row, row.input("/C"), "/p_psi").discharge_gpm() / full)
}

pub(crate) fn projection_20psi(row: &Row) -> usize {
    row.agrees("/gpm", test_of(row).flow_gpm(row.input("/target_psi")))
}

pub(crate) fn supply_curve(row: &Row) -> usize {
    row.agrees("/psi", test_of(row).pressure_psi(row.input("/at_gpm")))
}

pub(crate) fn supply_curve_check(row: &Row) -> usize {
    let curve = main(row.input("/static_psi"), row.input("/p1_psi"), row.input("/q1_gpm"));
    row.agrees("/psi", curve.pressure_psi(row.input("/q2_gpm")))
}

pub(crate) fn test_validity(row: &Row) -> usize {
    let curve = test_of(row);
    let found = curve.findings();
    let drop = found.iter().find(|finding| finding.code == FindingCode::DropUnder10Percent);
    let at_25 = drop.is_none() && !found.iter().any(|finding| finding.code == FindingCode::DropUnder25Percent);
    row.agrees("/projected_20psi_gpm", curve.rated_flow_gpm().unwrap())
        + row.agrees("/drop_fraction", drop.unwrap().value.unwrap() / 100.0)
        + row.is("/valid_10", drop.is_none())
        + row.is("/valid_25", at_25)
}

pub(crate) fn low_static_rule(row: &Row) -> usize {
    let low = main(row.input("/static_psi"), 10.0, 500.0);
    row.agrees("/rating_residual_psi", low.rating_pressure_psi())
}

pub(crate) fn capacity_class(row: &Row) -> usize {
    let class = CapacityClass::of_rated_flow(row.input("/gpm_at_20psi"));
    row.is("/class_", class.code()) + row.is("/colour", class.marking())
}

pub(crate) fn friction_loss(row: &Row) -> usize {
    let line = hose(row.input("/C"), row.input("/length_ft"), 1);
    row.agrees("/psi", line.loss_psi(flow(row.input("/gpm"))))
}

pub(crate) fn wye_lay_total(row: &Row) -> usize {
    let supply = hose(row.input("/supply/C"), row.input("/supply/length_ft"), 1);
    // Two attack lines of the branch's flow each.
    let attack = hose(row.input("/branch/C"), row.input("/branch/length_ft"), 2);
    assert_eq!(2.0 * row.input("/branch/gpm"), row.input("/supply/gpm"));
    row.agrees("/psi", lost(vec![Part::Hose(supply), Part::Hose(attack)], row.input("/supply/gpm")))
}

pub(crate) fn max_length_at_pressure(row: &Row) -> usize {
    let longest = |end: f64| {
        let line = Part::Hose(hose(row.input("/C"), 100.0, 1));
        let asked = LayProblem {
            target: Some(gpm(row.input("/gpm"))),
            ..lay(held(row.input("/pdp_psi")), vec![line], end, 0.0)
        };
        answer(asked).longest_lay_ft.unwrap()
    };
    row.agrees("/length_ft", longest(row.input("/end_psi"))) + row.agrees("/length_ft_20psi_intake", longest(20.0))
}

pub(crate) fn parallel_equal_length_coefficient(row: &Row) -> usize {
    let lines = row.inputs("/C").iter().map(|c| hose(c.as_f64().unwrap(), 100.0, 1));
    row.agrees("/C_eq", lost(vec![beside(lines)], 100.0))
}

pub(crate) fn parallel_unequal_split(row: &Row) -> usize {
    let number = |line: &Value, name: &str| line[name].as_f64().unwrap();
    let lines: Vec<Hose> =
        row.inputs("/lines").iter().map(|line| hose(number(line, "C"), number(line, "length_ft"), 1)).collect();
    let common = lost(vec![beside(lines.iter().copied())], row.input("/total_gpm"));
    let split = lines.iter().enumerate().map(|(i, line)| {
        // The flow at which this line by itself loses what all lose together.
        row.agrees(&format!("/flows_gpm/{i}"), 100.0 * (common / line.squared_coefficient()).sqrt())
    });
    row.agrees("/loss_psi", common) + split.sum::<usize>()
}

pub(crate) fn appliance_loss_measured(row: &Row) -> usize {
    // The valve by its coefficient, the short hose by its own measured loss: the printed intake has to come out.
    let at = row.input("/gpm");
    let of = |loss: f64| {
        Part::Appliance(Appliance {
            loss: ApplianceLoss::Squared(k(loss)),
            max_operating: None,
            assumed: false,
            spread: Spread::ASSUMED_LOSS,
        })
    };
    let valve = row.number("/k_psi_per_100gpm2");
    let parts = vec![of(valve), of(row.input("/hose_psi") / (at / 100.0).powi(2))];
    let asked = LayProblem { target: Some(gpm(at)), ..lay(held(row.input("/hydrant_residual_psi")), parts, 0.0, 0.0) };
    let intake = answer(asked).at_target.unwrap().gauges.last().unwrap().pressure_psi;
    assert_eq!(intake.round(), row.input("/pump_inlet_psi"), "{}", row.say("/pump_inlet_psi"));
    row.agrees("/valve_psi", lost(vec![of(valve)], at))
}

pub(crate) fn appliance_flow_squared_check(row: &Row) -> usize {
    row.agrees("/psi", ApplianceLoss::Squared(k(row.input("/k"))).loss_psi(flow(row.input("/gpm"))))
}

pub(crate) fn hose_loss_measured(row: &Row) -> usize {
    let line = hose(row.input("/C_book"), row.input("/length_ft"), 1);
    row.agrees("/psi", line.loss_psi(flow(row.input("/gpm"))))
}

pub(crate) fn appliance_rule(row: &Row) -> usize {
    // The rules as the records give them: 10 psi from 350 gpm for a wye, 25 at any flow for a master stream.
    if row.id == "AP08" {
        return row.agrees("/psi", lost(vec![Part::Appliance(step(25.0, 0.0))], 1.0));
    }
    let at = row.input("/gpm");
    let wye = || vec![Part::Appliance(step(10.0, 350.0))];
    assert_eq!(lost(wye(), at.next_down()), 0.0);
    row.agrees("/psi", lost(wye(), at))
}

pub(crate) fn appliance_rule_wildland(row: &Row) -> usize {
    let several = (0..5).map(|_| Part::Appliance(step(5.0, 0.0))).collect::<Vec<_>>();
    assert_eq!(row.input("/appliances"), 5.0);
    row.agrees("/psi", lost(several, 100.0))
}

pub(crate) fn elevation(row: &Row) -> usize {
    if row.id == "EL02" {
        return row.agrees("/ft", row.input("/psi") / PSI_PER_FOOT);
    }
    let rise = Part::Rise(Rise::from_ft(row.input("/height_ft")).unwrap());
    row.agrees("/psi", lost(vec![rise], 100.0))
}

pub(crate) fn atmospheric_lift(row: &Row) -> usize {
    row.agrees("/ft", row.input("/psi") / PSI_PER_FOOT)
}

pub(crate) fn pump_rating_point(row: &Row) -> usize {
    row.agrees("/gpm", most_at_net(row.input("/rated_gpm"), row.input("/net_psi")))
}

pub(crate) fn relay_min_pump(row: &Row) -> usize {
    let most = most_at_net(row.input("/rated_gpm"), row.input("/pdp_psi"));
    let capacity = row.number("/capacity_gpm");
    assert!((most - capacity).abs() < 1e-6, "{}: {most}", row.say("/capacity_gpm"));
    row.is("/ok", most >= row.input("/flow_gpm")) + relay_size(row)
}

pub(crate) fn relay_max_distance(row: &Row) -> usize {
    let line = Part::Hose(hose(row.input("/C"), 100.0, 1));
    let first = Part::Pumper(pumper(3000.0, 20.0, row.input("/pdp_psi")));
    let asked = LayProblem {
        target: Some(gpm(row.input("/gpm"))),
        ..lay(held(50.0), vec![first, line], row.input("/residual_psi"), 20.0)
    };
    let longest = answer(asked).longest_lay_ft.unwrap();
    assert!(row.number("/length_ft") <= longest + 1e-6, "{}: the table rounds down", row.say("/length_ft"));
    row.agrees("/length_ft", longest) + relay_distance(row)
}

pub(crate) fn measured_hydrant_vs_relay(row: &Row) -> usize {
    crate::field_comparisons::measured(row)
}

fn supply_hose(row: &Row) -> Hose {
    hose(row.input("/lines/0/C"), row.input("/lines/0/length_ft"), 1)
}

fn rise(row: &Row) -> Part {
    Part::Rise(Rise::from_ft(row.input("/rise_ft")).unwrap())
}

fn legs(through: f64, to_pump: f64, from_pump: f64) -> Part {
    Part::HydrantValve(HydrantValve {
        through: k(through),
        to_pump: k(to_pump),
        from_pump: k(from_pump),
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: false,
        spread: ValveSpread::ASSUMED,
    })
}

fn limit(found: &LayAnswer, limit: Limit) -> f64 {
    found.answer().limits.iter().find(|one| one.limit == limit).and_then(|one| one.flow_gpm).unwrap()
}

pub(crate) fn lay_hydrant_pressure_only(row: &Row) -> usize {
    let parts = vec![legs(row.input("/valve_k"), 0.0, 0.0), Part::Hose(supply_hose(row)), rise(row)];
    let found = answer(lay(test_of(row), parts, row.input("/scene_intake_psi"), row.input("/main_min_psi")));
    assert_eq!(*row.expected("/binding"), "hose/elevation");
    assert_eq!(found.limited_by().limit, Limit::SceneIntake);
    assert!(found.answer().budget.iter().any(|line| line.part.kind == PartKind::ValveThrough));
    row.agrees("/gpm", found.answer().deliverable_gpm)
        + row.agrees("/hose_limit_gpm", limit(&found, Limit::SceneIntake))
        + row.agrees("/main20_gpm", found.main_limit_gpm)
}

pub(crate) fn lay_boosted(row: &Row) -> usize {
    let mut line = supply_hose(row);
    line.max_operating = Some(psi(row.input("/hose_max_psi")));
    let parts = vec![legs(0.0, row.input("/k_suction"), row.input("/k_return")), Part::Hose(line), rise(row)];
    let curve = PumpCurve::from_rating(gpm(row.input("/rated_gpm")));
    let boost = Pumper { curve, intake_floor: psi(row.input("/pump_intake_min_psi")), max_discharge: None };
    let problem = lay(test_of(row), parts, row.input("/scene_intake_psi"), row.input("/main_min_psi"));
    let found = answer(LayProblem { boost: Some(boost), ..problem });
    let names = [
        ("main_residual_20", Limit::MainFloor),
        ("pump_intake", Limit::PumperIntake),
        ("hose_pressure", Limit::HoseRating),
        ("pump_rating", Limit::PumperCapacity),
    ];
    let binding = names.iter().find(|(_, limit)| *limit == found.limited_by().limit).unwrap().0;
    let each = names.iter().map(|(name, one)| row.agrees(&format!("/limits/{name}"), limit(&found, *one)));
    row.is("/binding", binding) + row.agrees("/gpm", found.answer().deliverable_gpm) + each.sum::<usize>()
}
