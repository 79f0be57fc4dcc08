//! What crews measured with a hydrant alone and with a pumper at the hydrant, against the model: in direction where inputs are unknown, in size
//! where they are known. Source: `shapiro-relay` and `shapiro-myths`. Each test says what it had to assume.

use longlay_hydraulics::lay::{LayProblem, Limit, Part};
use longlay_hydraulics::loss::{HydrantValve, ValveSpread};
use longlay_hydraulics::supply::{DROP_EXPONENT, SupplyCurve};

use crate::published_checks::{answer, held, hose, k, lay, main, pumper};
use longlay_tests::cases::Row;

/// What sources print for the through leg of a four-way valve, psi/(100 gpm)².
const THROUGH: (f64, f64) = (0.04, 0.23);
/// Marked operating pressure of large supply hose, psi.
const SUPPLY_HOSE_PSI: f64 = 185.0;

/// What a pumper at its hose's marking sends through a hose to a scene floor, gpm. Assumed: level ground, a main and a pumper that do not
/// bind.
fn hose_limited(c: f64, feet: f64, scene_floor: f64) -> f64 {
    let parts = vec![Part::Pumper(pumper(6000.0, 20.0, SUPPLY_HOSE_PSI)), Part::Hose(hose(c, feet, 1))];
    let found = answer(lay(held(80.0), parts, scene_floor, 20.0));
    assert_eq!(found.limited_by().limit, Limit::HoseRating);
    found.answer().deliverable_gpm
}

/// The main that gives `alone` through squared losses `k` to 20 psi, and is itself at 20 psi at `at_floor`: two measured flows fix it.
fn main_between(alone: f64, k: f64, at_floor: f64) -> SupplyCurve {
    let lost = k * (alone / 100.0).powi(2);
    let head = lost / (1.0 - (alone / at_floor).powf(DROP_EXPONENT));
    main(20.0 + head, 20.0, at_floor)
}

/// Alone and boosted, with a pumper and hose that do not bind.
fn alone_and_boosted(main: SupplyCurve, parts: Vec<Part>) -> (f64, f64) {
    let found = answer(LayProblem { boost: Some(pumper(6000.0, 20.0, 400.0)), ..lay(main, parts, 20.0, 20.0) });
    (found.unboosted.deliverable_gpm, found.boosted.unwrap().deliverable_gpm)
}

fn valve_and_hose(through: f64, to_pump: f64, c: f64, feet: f64) -> Vec<Part> {
    let valve = HydrantValve {
        through: k(through),
        to_pump: k(to_pump),
        from_pump: k(0.0),
        to_pump_hose: None,
        from_pump_hose: None,
        assumed: true,
        spread: ValveSpread::ASSUMED,
    };
    vec![Part::HydrantValve(valve), Part::Hose(hose(c, feet, 1))]
}

/// 500 ft of 4-inch by the highest coefficient that lets the measured flow through; the report says the main was used up when boosted.
fn four_inch_test(to_pump: f64, through: f64) -> (f64, f64) {
    alone_and_boosted(main_between(797.0, 0.1784 * 5.0, 1440.0), valve_and_hose(through, to_pump, 0.1784, 500.0))
}

/// The measured rows of the published cases; the number of comparisons made.
pub(crate) fn measured(row: &Row) -> usize {
    let (alone, boosted) = (row.number("/hydrant_only_gpm"), row.number("/relay_gpm"));
    let feet = row.input("/length_ft");
    match row.id.as_str() {
        // The largest coefficient at which 185 psi put the measured flow through, down to nothing at the scene.
        "MS03" => {
            let most = hose_limited(row.number("/implied_C_upper"), feet, 0.0);
            assert!((most - boosted).abs() < 1.0, "{}: {most}", row.say("/implied_C_upper"));
            // By the handbook's 0.2 less is promised than was measured.
            assert!(hose_limited(0.2, feet, 0.0) < boosted);
            2
        }
        // Alone inside what the sources' range of the through leg predicts; boosted within 10 % of the top of that range on the suction leg.
        "MS04" | "MS05" => {
            let (most, least) = (four_inch_test(0.0, THROUGH.0).0, four_inch_test(0.0, THROUGH.1).0);
            assert!((least..=most).contains(&alone), "{}: {least} to {most}", row.say("/hydrant_only_gpm"));
            let predicted = four_inch_test(THROUGH.1, 0.0).1;
            assert!((predicted - boosted).abs() <= 0.1 * boosted, "{}: {predicted}", row.say("/relay_gpm"));
            2
        }
        // Between a scene floor of 20 psi and none, by the handbook's coefficient.
        "MS08" => {
            let (least, most) = (hose_limited(0.08, feet, 20.0), hose_limited(0.08, feet, 0.0));
            assert!((least..=most).contains(&boosted), "{}: {least} to {most}", row.say("/relay_gpm"));
            assert!(alone < least);
            2
        }
        other => panic!("{other} is measured, and compared with nothing"),
    }
}

#[test]
fn a_boost_about_doubles_a_strong_main_through_500_feet_of_5_inch() {
    // Measured 1050 and 2225 with 185 psi hose. By the handbook's 0.08 the hose passes 2150 to an empty intake: 3 % under what was measured, and
    // 9 % under with 20 psi at the scene. The default is on the low side, as it should be.
    let promised = hose_limited(0.08, 500.0, 0.0);
    assert!(promised < 2225.0 && promised > 0.9 * 2225.0, "{promised}");
    assert!(hose_limited(0.08, 500.0, 20.0) > 0.9 * 2225.0);
    assert!(promised > 2.0 * 1050.0);
}

#[test]
fn a_boost_gains_much_from_a_strong_main_and_little_from_a_weak_one() {
    // Weak: static 50, 300 ft of 5-inch, 485 alone, 670 boosted. Strong: 1050 alone through 500 ft, 2225 boosted. Assumed: 20 psi at the scene, and
    // that the strong main is itself at 20 psi at its 2225.
    let weak = main(50.0, 50.0 - (30.0 - 0.24 * 4.85_f64.powi(2)), 485.0);
    let (alone, boosted) = alone_and_boosted(weak, valve_and_hose(0.0, 0.0, 0.08, 300.0));
    assert!((alone - 485.0).abs() < 0.5, "{alone}");
    let weak_gain = boosted / alone;
    let strong = main_between(1050.0, 0.08 * 5.0, 2225.0);
    let (alone, boosted) = alone_and_boosted(strong, valve_and_hose(0.0, 0.0, 0.08, 500.0));
    assert!((alone - 1050.0).abs() < 0.5 && (boosted - 2225.0).abs() < 0.5, "{alone} {boosted}");
    let strong_gain = boosted / alone;
    // Measured 1.38 and 2.12. The weak main was drawn under 20 psi to give its 670: held at 20 the model gives it less.
    assert!(weak_gain < 1.2, "{weak_gain}");
    assert!(strong_gain > 1.5 * weak_gain, "{strong_gain} against {weak_gain}");
}

#[test]
fn the_weak_main_gave_its_670_at_about_5_psi() {
    // The same weak main with every floor at 5 psi. Assumed: the curve holds that far beyond the flow it was fitted at.
    let weak = main(50.0, 50.0 - (30.0 - 0.24 * 4.85_f64.powi(2)), 485.0);
    let parts = valve_and_hose(0.0, 0.0, 0.08, 300.0);
    let found = answer(LayProblem { boost: Some(pumper(6000.0, 5.0, 400.0)), ..lay(weak, parts, 5.0, 5.0) });
    let boosted = found.boosted.unwrap().deliverable_gpm;
    assert!((boosted - 670.0).abs() < 0.02 * 670.0, "{boosted}");
}

#[test]
fn a_valve_costs_little_unboosted_and_a_lot_boosted_through_its_suction_leg() {
    // 500 ft of 4-inch: measured -4 and -3 % unboosted, -24 and -22 % boosted. Assumed: the main that the flows without a valve imply, and the
    // same coefficient, the highest printed, on either leg.
    let (bare_alone, bare_boosted) = four_inch_test(0.0, 0.0);
    assert!((bare_alone - 797.0).abs() < 0.5 && (bare_boosted - 1440.0).abs() < 0.5, "{bare_alone} {bare_boosted}");
    let (alone, boosted) = four_inch_test(THROUGH.1, THROUGH.1);
    let (unboosted_cost, boosted_cost) = (1.0 - alone / bare_alone, 1.0 - boosted / bare_boosted);
    assert!(unboosted_cost < 0.08, "{unboosted_cost}");
    assert!(boosted_cost > 0.18 && boosted_cost > 2.0 * unboosted_cost, "{boosted_cost}");
}

#[test]
fn a_main_of_100_static_and_80_at_1029_holds_about_70_at_1305() {
    // Every input is known: measured 70 on a gauge that reads to about 2 psi.
    let residual = main(100.0, 80.0, 1029.0).pressure_psi(1305.0);
    assert!((residual - 70.0).abs() <= 2.0, "{residual}");
}
