//! What to do on the kerb: facts worked out by hand, and what holds of every test.

use chrono::DateTime;
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PositiveFlow};
use longlay_hydraulics::spread::DROP_PSI;
use proptest::prelude::*;
use uuid::Uuid;

use super::*;
use crate::flow_test::SecondPoint;
use crate::hydrant::{Location, OutletKind, Owner, Status};

fn outlet(inches: f64) -> HydrantOutlet {
    let kind = if inches > 3.0 { OutletKind::Pumper } else { OutletKind::Hose };
    let coefficient = OutletCoefficient::from_number(0.9).unwrap();
    HydrantOutlet { kind, diameter: Diameter::from_in(inches).unwrap(), coefficient }
}

fn hydrant(id: &str, outlets: &[f64]) -> Hydrant {
    Hydrant {
        id: AssetId::new(id).unwrap(),
        location: Location::new(-30.0, 40.0).unwrap(),
        elevation: None,
        outlets: outlets.iter().map(|inches| outlet(*inches)).collect(),
        body_loss: None,
        main_id: None,
        main_diameter: None,
        pressure_zone: None,
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: Status::InService,
        description: None,
    }
}

fn pitots(read: &[(f64, f64)]) -> MeasuredFlow {
    let reading = |(inches, psi): &(f64, f64)| PitotReading {
        diameter: Diameter::from_in(*inches).unwrap(),
        coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        pitot: PitotPressure::from_psi(*psi).unwrap(),
    };
    MeasuredFlow::Pitot(read.iter().map(reading).collect())
}

/// Gauged at H-1 while H-2 flowed.
fn test(static_psi: f64, residual_psi: f64, flow: MeasuredFlow) -> FlowTest {
    FlowTest {
        id: Uuid::from_u128(1),
        gauge_hydrant_id: AssetId::new("H-1").unwrap(),
        tested_on: "2026-11-25".parse().unwrap(),
        static_pressure: Pressure::from_psi(static_psi).unwrap(),
        residual_pressure: Pressure::from_psi(residual_psi).unwrap(),
        flow,
        second_point: None,
        flow_hydrant_ids: vec![AssetId::new("H-2").unwrap()],
        notes: None,
        recorded_at: DateTime::UNIX_EPOCH,
        voided: None,
    }
}

fn asked(static_psi: f64, residual_psi: f64, read: &[(f64, f64)], outlets: &[f64]) -> Kerb {
    kerb(&test(static_psi, residual_psi, pitots(read)), &[hydrant("H-2", outlets)], &[]).unwrap()
}

#[test]
fn a_second_outlet_like_the_first_drops_the_gauge_as_the_two_laws_meet() {
    let said = asked(60.0, 58.0, &[(2.5, 20.0)], &[2.5, 2.5]);
    assert_eq!((said.advice, said.enough, said.good), (Advice::OpenNext, false, false));
    assert!((said.drop_percent - 100.0 * 2.0 / 60.0).abs() < 1e-9);
    // One flows 29.84 x 0.9 x 2.5² √20 = 750.6 gpm. Two flow 1501.3 √(R/58) at R = 60 - 2 (Q/750.6)^(1/0.54): R = 53.32.
    let next = said.open_next.unwrap();
    assert!((next.residual_psi.unwrap() - 53.32).abs() < 0.01, "{next:?}");
    assert!((next.flow_gpm - 1501.3 * (53.32_f64 / 58.0).sqrt()).abs() < 0.5, "{next:?}");
    // A quarter of 60 is 45: 750.6 (15/2)^0.54 = 2228 gpm.
    assert!((said.wanted_gpm.unwrap() - 2228.3).abs() < 0.5 && (said.more_gpm.unwrap() - 1477.7).abs() < 0.5);
    assert!(next.band.unwrap().high.unwrap() < said.band.high.unwrap());
}

#[test]
fn a_tenth_is_enough_and_a_quarter_is_good() {
    let drop = |residual| {
        let said = asked(60.0, residual, &[(2.5, 20.0)], &[2.5, 2.5]);
        (said.enough, said.good, said.advice)
    };
    assert_eq!(drop(54.1), (false, false, Advice::OpenNext));
    assert_eq!(drop(54.0), (true, false, Advice::OpenNext));
    assert_eq!(drop(45.1), (true, false, Advice::OpenNext));
    assert_eq!(drop(45.0), (true, true, Advice::Record));
}

#[test]
fn an_outlet_that_may_take_the_main_under_its_floor_is_left_shut() {
    // A second outlet meets the main at 35 - 8 (2 √(R/27))^(1/0.54) = R: 16 psi.
    let said = asked(35.0, 27.0, &[(2.5, 10.0)], &[2.5, 2.5]);
    assert_eq!((said.enough, said.advice, said.open_next), (true, Advice::WouldReachFloor, None));
}

#[test]
fn at_the_floor_the_word_is_stop_however_good_the_test() {
    let advice = |still, residual| asked(still, residual, &[(2.5, 8.0)], &[2.5, 2.5]).advice;
    assert_eq!(advice(60.0, 20.0), Advice::Stop);
    assert_eq!(advice(60.0, 12.0), Advice::Stop);
    assert_eq!(advice(18.0, 17.0), Advice::Stop, "the static itself is under the floor");
    assert_eq!(advice(28.0, 24.0), Advice::NearFloor);
    assert_eq!(advice(60.0, 24.0), Advice::Record);
}

#[test]
fn the_least_outlet_that_brings_a_quarter_is_opened_and_else_the_largest() {
    let next = |residual, outlets: &[f64]| {
        let said = asked(80.0, residual, &[(2.5, 20.0)], outlets);
        said.open_next.map(|next| next.outlet.diameter.inches())
    };
    // 80 to 70 by one: two bring it to about 53, under 60.
    assert_eq!(next(70.0, &[2.5, 4.5, 2.5]), Some(2.5));
    assert_eq!(next(79.0, &[2.5, 2.5, 4.5]), Some(4.5));
}

#[test]
fn nothing_is_named_where_nothing_is_known_to_be_left() {
    assert_eq!(asked(60.0, 58.0, &[(2.5, 20.0)], &[2.5]).advice, Advice::FlowMore);
    assert_eq!(asked(60.0, 58.0, &[(2.5, 20.0), (2.44, 20.0)], &[2.5, 2.5]).advice, Advice::FlowMore);
    assert_eq!(asked(60.0, 58.0, &[(2.5, 20.0)], &[]).advice, Advice::FlowMore);
    let metered = MeasuredFlow::Metered(PositiveFlow::from_gpm(500.0).unwrap());
    let said = kerb(&test(60.0, 58.0, metered), &[hydrant("H-2", &[2.5, 2.5])], &[]).unwrap();
    assert_eq!((said.advice, said.open_next), (Advice::FlowMore, None));
}

#[test]
fn on_the_gauge_hydrant_one_outlet_carries_the_gauge() {
    let mut alone = test(60.0, 58.0, pitots(&[(2.5, 20.0)]));
    alone.flow_hydrant_ids = vec![alone.gauge_hydrant_id.clone()];
    let said = |outlets: &[f64]| kerb(&alone, &[hydrant("H-1", outlets)], &[]).unwrap();
    assert_eq!(said(&[2.5, 2.5]).advice, Advice::FlowMore);
    assert_eq!(said(&[4.5, 2.5, 2.5]).open_next.unwrap().outlet.diameter.inches(), 4.5);
}

#[test]
fn a_gauge_that_has_not_moved_promises_nothing_but_what_it_will_not_fall_under() {
    let said = asked(60.0, 60.0, &[(2.5, 20.0)], &[2.5, 2.5]);
    assert_eq!((said.enough, said.advice, said.wanted_gpm), (false, Advice::OpenNext, None));
    let next = said.open_next.unwrap();
    assert_eq!((next.residual_psi, next.band), (None, None));
    assert!(next.residual_low_psi > 50.0 && next.residual_low_psi < 60.0 - DROP_PSI, "{}", next.residual_low_psi);
}

#[test]
fn of_two_points_the_one_that_flows_now_counts() {
    let mut two = test(60.0, 52.0, pitots(&[(2.5, 15.0)]));
    let second = pitots(&[(2.5, 14.0), (2.5, 14.0)]);
    two.second_point = Some(SecondPoint { residual_pressure: Pressure::from_psi(38.0).unwrap(), flow: second });
    let said = kerb(&two, &[hydrant("H-2", &[2.5, 2.5])], &[]).unwrap();
    assert_eq!((said.drop_psi, said.advice), (22.0, Advice::Record));
}

#[test]
fn a_slipped_digit_is_asked_about_before_the_advice() {
    let checks = |static_psi, others: &[FlowTest]| {
        let said = kerb(&test(static_psi, 40.0, pitots(&[(2.5, 20.0)])), &[], others).unwrap();
        said.checks.iter().map(|finding| finding.code).collect::<Vec<_>>()
    };
    let other = FlowTest { id: Uuid::from_u128(2), ..test(62.0, 40.0, pitots(&[(2.5, 20.0)])) };
    assert_eq!((checks(62.0, &[]), checks(62.0, std::slice::from_ref(&other))), (vec![], vec![]));
    assert_eq!(checks(620.0, &[])[..], [FindingCode::PressureImplausible]);
    assert!(checks(620.0, std::slice::from_ref(&other)).contains(&FindingCode::StaticDiffers));
    assert_eq!(checks(82.0, &[other])[..], [FindingCode::StaticDiffers]);
}

#[test]
fn the_low_end_is_told_for_an_outlet_that_reads_as_the_largest() {
    // A 4 in outlet that reads 70 % of 28.8 psi brings the gauge to 19.3 by the curve, and one that reads 70 % of 29.75 to 18.0.
    let little = asked(45.0, 36.0, &[(2.5, 2.0), (2.5, 2.0), (2.5, 28.8)], &[2.5, 2.5, 2.5, 4.0]);
    assert_eq!((little.advice, little.open_next), (Advice::WouldReachFloor, None));
    let read = [(2.5, 1.0), (2.5, 1.0), (2.5, 1.0), (2.5, 29.75)];
    let less = asked(45.0, 35.0, &read, &[2.5, 2.5, 2.5, 2.5, 4.0]);
    assert_eq!((less.advice, less.open_next), (Advice::WouldReachFloor, None));
    // The outlets flow 335.7 and 750.6 gpm; a third at the mean of 12 psi would flow 581.4, and at the most 750.6.
    let next = asked(90.0, 85.0, &[(2.5, 4.0), (2.5, 20.0)], &[2.5; 3]).open_next.unwrap();
    assert!((next.flow_gpm - (1086.3 + 581.4) * (next.residual_psi.unwrap() / 85.0).sqrt()).abs() < 0.5, "{next:?}");
    let low_gpm = (335.7 + 2.0 * 750.6) * (next.residual_low_psi / 85.0).sqrt();
    let low_psi = 90.0 - (5.0 + DROP_PSI) * (low_gpm / 1086.3_f64).powf(1.0 / 0.54);
    assert!((low_psi - next.residual_low_psi).abs() < 0.05, "{low_psi} {next:?}");
}

#[test]
fn an_outlet_that_no_reading_bounds_may_read_all_the_gauge_shows() {
    let low = |flowed: &[Hydrant], read: &[(f64, f64)]| {
        let mut test = test(90.0, 85.0, pitots(read));
        test.flow_hydrant_ids = flowed.iter().map(|hydrant| hydrant.id.clone()).collect();
        kerb(&test, flowed, &[]).unwrap().open_next.unwrap().residual_low_psi
    };
    let pair = |outlets: &[f64]| [hydrant("H-2", outlets), hydrant("H-3", outlets)];
    let both = low(&pair(&[2.5, 2.5]), &[(2.5, 20.0), (2.5, 20.0)]);
    // 90 - 6.41 (Q/750.6)^(1/0.54) meets (750.6 + 167.85 √85) √(R/85).
    let alone = low(&pair(&[2.5, 2.5]), &[(2.5, 20.0)]);
    let gpm = (750.6 + 167.85 * 85.0_f64.sqrt()) * (alone / 85.0).sqrt();
    assert!((90.0 - (5.0 + DROP_PSI) * (gpm / 750.6).powf(1.0 / 0.54) - alone).abs() < 0.05, "{alone}");
    assert!(alone < both);
    // A hose outlet beside a large one reads more than that does.
    let smaller = low(&[hydrant("H-2", &[4.5, 2.5])], &[(4.5, 2.0)]);
    let larger = low(&[hydrant("H-2", &[4.5, 4.5])], &[(4.5, 2.0)]);
    assert!(smaller < larger, "{smaller} {larger}");
}

#[test]
fn a_main_that_was_low_at_either_point_is_low() {
    let advice = |second_psi, pitot_psi| {
        let mut two = test(60.0, 50.0, pitots(&[(2.5, 28.1)]));
        let second = pitots(&[(2.5, pitot_psi)]);
        two.second_point =
            Some(SecondPoint { residual_pressure: Pressure::from_psi(second_psi).unwrap(), flow: second });
        kerb(&two, &[hydrant("H-2", &[2.5])], &[]).unwrap().advice
    };
    assert_eq!(advice(12.0, 3.2), Advice::Stop);
    assert_eq!(advice(20.0, 3.2), Advice::Stop);
    assert_eq!(advice(24.0, 3.2), Advice::NearFloor);
}

#[test]
fn nobody_is_sent_to_another_hydrant_that_may_take_the_main_under_its_floor() {
    let metered = |still, residual| {
        let flow = MeasuredFlow::Metered(PositiveFlow::from_gpm(500.0).unwrap());
        kerb(&test(still, residual, flow), &[], &[]).unwrap()
    };
    // Twice the flow is 33 - 7.9 x 2^(1/0.54) = 4.5 psi.
    let said = metered(33.0, 25.1);
    assert!((said.more_gpm.unwrap() - 11.8).abs() < 0.1);
    assert_eq!((said.advice, said.open_next), (Advice::WouldReachFloor, None));
    assert_eq!(asked(33.0, 25.1, &[(2.5, 9.0)], &[2.5]).advice, Advice::WouldReachFloor);
    // 60 - 11.6 x 3.61 = 18.1 and 60 - 10.9 x 3.61 = 20.6, with the gauge off by its span of 1.41 psi.
    assert_eq!(metered(60.0, 49.8).advice, Advice::WouldReachFloor);
    assert_eq!(metered(60.0, 50.5).advice, Advice::FlowMore);
    assert_eq!(metered(26.0, 25.9).advice, Advice::WouldReachFloor, "a quarter of 26 is under the floor");
}

prop_compose! {
    fn any_kerb()(
        static_psi in 21.0..150.0_f64,
        left in 0.05..=1.0_f64,
        pitots in prop::collection::vec(0.5..60.0_f64, 1..4),
        outlets in prop::collection::vec(prop::sample::select(vec![2.5, 4.0, 4.5]), 0..6),
    ) -> (FlowTest, Kerb) {
        let residual_psi = static_psi * left;
        let read: Vec<_> = pitots.iter().map(|psi| (2.5, *psi)).collect();
        let test = test(static_psi, residual_psi, self::pitots(&read));
        let kerb = kerb(&test, &[hydrant("H-2", &outlets)], &[]).unwrap();
        (test, kerb)
    }
}

proptest! {
    /// What is opened may read anything up to the largest read: by the curve as read the gauge ends no lower than told, and not under the floor.
    #[test]
    fn nothing_opened_takes_the_gauge_under_what_was_told(
        (test, kerb) in any_kerb(),
        share in 0.01..=1.0_f64,
        large in prop::bool::ANY,
    ) {
        let MeasuredFlow::Pitot(readings) = &test.flow else { return Err(TestCaseError::fail("no pitots")) };
        let largest_psi = readings.iter().map(|reading| reading.pitot.psi()).fold(0.0, f64::max);
        let (inches, low_psi) = match (&kerb.open_next, kerb.advice) {
            (Some(next), _) => (next.outlet.diameter.inches(), next.residual_low_psi),
            (None, Advice::FlowMore) => (2.5, FLOOR_PSI),
            _ => return Ok(()),
        };
        let gpm = |inches: f64, psi: f64| PitotReading {
            diameter: Diameter::from_in(inches).unwrap(),
            coefficient: OutletCoefficient::from_number(0.9).unwrap(),
            pitot: PitotPressure::from_psi(psi.max(0.1)).unwrap(),
        }.discharge_gpm();
        let pitot_psi = if large { largest_psi } else { share * largest_psi };
        let all_gpm = test.flow.total().unwrap().gpm() + gpm(inches, pitot_psi);
        // At the low end told the main still gives more than what is open takes, so that it settles above.
        let at_low_gpm = all_gpm * (low_psi / test.residual_pressure.psi()).sqrt();
        let curve = test.curve().unwrap().curve;
        prop_assert!(curve.pressure_psi(at_low_gpm) >= low_psi - 0.001);
        prop_assert!(low_psi >= FLOOR_PSI - longlay_hydraulics::spread::GAUGE_PSI);
    }

    /// Nobody is sent under the floor, not even with the gauge off by its span.
    #[test]
    fn nothing_is_opened_that_may_take_the_main_under_its_floor((test, kerb) in any_kerb()) {
        if let Some(next) = &kerb.open_next {
            prop_assert!(next.residual_low_psi >= FLOOR_PSI);
            prop_assert!(next.residual_psi.is_none_or(|psi| psi >= next.residual_low_psi));
            prop_assert!(test.residual_pressure.psi() >= FLOOR_PSI + NEAR_FLOOR_PSI && !kerb.good);
        }
        prop_assert_eq!(kerb.open_next.is_some(), kerb.advice == Advice::OpenNext);
        prop_assert_eq!(kerb.advice == Advice::Stop, test.residual_pressure.psi() <= FLOOR_PSI);
    }

    /// More open is more flow and less pressure, and both lie on the main's curve.
    #[test]
    fn what_is_expected_lies_on_the_curve_of_the_test((test, kerb) in any_kerb()) {
        let now = test.flow.total().unwrap().gpm();
        if let Some(next) = &kerb.open_next {
            prop_assert!(next.flow_gpm > now);
            if let Some(psi) = next.residual_psi {
                prop_assert!(psi <= test.residual_pressure.psi());
                let curve = test.curve().unwrap().curve;
                prop_assert!((curve.pressure_psi(next.flow_gpm) - psi).abs() < 0.01);
            }
        }
    }

    /// The flow wanted is the flow of a quarter's drop, or of the floor; a good test wants no more.
    #[test]
    fn a_good_test_wants_no_more_flow((test, kerb) in any_kerb()) {
        if let Some(wanted) = kerb.wanted_gpm {
            let curve = test.curve().unwrap().curve;
            let psi = (0.75 * test.static_pressure.psi()).max(FLOOR_PSI);
            prop_assert!((curve.pressure_psi(wanted) - psi).abs() < 1e-6 || wanted >= 50_000.0);
            let fell = test.residual_pressure.psi() <= psi;
            prop_assert_eq!(fell, kerb.more_gpm.is_some_and(|more| more < 1e-6));
        }
        prop_assert!(!kerb.good || kerb.enough);
    }
}
