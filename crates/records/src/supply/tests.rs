//! Which test stands for a hydrant, and what is said about it.

use chrono::{DateTime, NaiveDate};
use longlay_hydraulics::finding::FindingCode;
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use uuid::Uuid;

use super::*;
use crate::flow_test::Voided;
use crate::hydrant::{Elevation, Location, Owner, Status};

/// One degree of latitude is 364,812 ft on the sphere used: 0.001 degree is 364.8 ft.
fn hydrant(id: &str, lat_thousandths: f64, elevation: Option<f64>) -> Hydrant {
    Hydrant {
        id: AssetId::new(id).unwrap(),
        location: Location::new(-30.0, 40.0 + lat_thousandths / 1000.0).unwrap(),
        elevation: elevation.map(|ft| Elevation::from_ft(ft).unwrap()),
        outlets: vec![],
        body_loss: None,
        main_id: Some("M-1".into()),
        main_diameter: None,
        pressure_zone: None,
        owner: Owner::Public,
        potable: true,
        seasonal: false,
        status: Status::InService,
        description: None,
    }
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn test(n: u128, gauge: &Hydrant, on: &str, psi: (f64, f64), flowed: &[&str]) -> GaugedTest {
    let test = FlowTest {
        id: Uuid::from_u128(n),
        gauge_hydrant_id: gauge.id.clone(),
        tested_on: day(on),
        static_pressure: Pressure::from_psi(psi.0).unwrap(),
        residual_pressure: Pressure::from_psi(psi.1).unwrap(),
        flow: MeasuredFlow::Metered(PositiveFlow::from_gpm(800.0).unwrap()),
        second_point: None,
        flow_hydrant_ids: flowed.iter().map(|id| AssetId::new(*id).unwrap()).collect(),
        notes: None,
        recorded_at: DateTime::UNIX_EPOCH,
        voided: None,
    };
    GaugedTest { test: Arc::new(test), gauge: Arc::new(gauge.clone()) }
}

fn voided(mut tested: GaugedTest) -> GaugedTest {
    Arc::make_mut(&mut tested.test).voided =
        Some(Voided { reason: "gauge was broken".into(), at: DateTime::UNIX_EPOCH });
    tested
}

fn asked(hydrant: &Hydrant, tests: Vec<GaugedTest>) -> Result<Supply, NoSupply> {
    supply(&Evidence { hydrant: hydrant.clone(), tests }, day("2026-11-25"))
}

fn codes(supply: &Supply) -> Vec<FindingCode> {
    supply.findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn the_newest_own_test_stands_first() {
    let (here, near) = (hydrant("H-1", 0.0, None), hydrant("H-2", 0.1, None));
    let tests = vec![
        test(1, &here, "2023-05-01", (60.0, 40.0), &["H-2"]),
        test(2, &here, "2024-05-01", (58.0, 38.0), &["H-2"]),
        test(3, &near, "2026-05-01", (90.0, 60.0), &["H-1"]),
    ];
    let found = asked(&here, tests).unwrap();
    assert_eq!((found.test_id, found.borrowed_from.clone()), (Uuid::from_u128(2), None));
    assert_eq!((found.body_loss_assumed, codes(&found)), (true, vec![]));
}

#[test]
fn a_hydrant_that_flowed_borrows_before_one_that_only_stands_near() {
    let (here, far, near) = (hydrant("H-1", 0.0, None), hydrant("H-2", 9.0, None), hydrant("H-3", 0.1, None));
    let tests =
        vec![test(1, &near, "2026-05-01", (60.0, 40.0), &["H-9"]), test(2, &far, "2022-05-01", (70.0, 40.0), &["H-1"])];
    let found = asked(&here, tests).unwrap();
    assert_eq!(found.borrowed_from, Some(far.id));
    assert!(codes(&found).contains(&FindingCode::Borrowed));
    assert!(codes(&found).contains(&FindingCode::ElevationUnknown));
}

#[test]
fn neighbours_lend_within_1000_ft_on_one_main_and_one_zone() {
    let here = hydrant("H-1", 0.0, None);
    let near = hydrant("H-2", 2.7, None);
    let lend = |gauge: &Hydrant| asked(&here, vec![test(1, gauge, "2024-05-01", (60.0, 40.0), &[])]);
    assert_eq!(lend(&near).unwrap().borrowed_from, Some(near.id.clone()));
    // 0.0028 degrees are 1021 ft.
    assert_eq!(lend(&hydrant("H-2", 2.8, None)), Err(NoSupply::NoTest));
    assert_eq!(lend(&Hydrant { main_id: Some("M-2".into()), ..near.clone() }), Err(NoSupply::NoTest));
    let (mut low, mut high) = (here.clone(), near.clone());
    (low.pressure_zone, high.pressure_zone) = (Some("low".into()), Some("high".into()));
    assert_eq!(asked(&low, vec![test(1, &high, "2024-05-01", (60.0, 40.0), &[])]), Err(NoSupply::NoTest));
    let nameless = Hydrant { main_id: None, ..here.clone() };
    let gauge = Hydrant { main_id: None, ..near };
    assert_eq!(asked(&nameless, vec![test(1, &gauge, "2024-05-01", (60.0, 40.0), &[])]), Err(NoSupply::NoTest));
}

#[test]
fn a_borrowed_curve_is_corrected_for_the_ground() {
    let (here, low) = (hydrant("H-1", 0.0, Some(150.0)), hydrant("H-2", 0.5, Some(100.0)));
    let found = asked(&here, vec![test(1, &low, "2024-05-01", (60.0, 40.0), &["H-1"])]).unwrap();
    // 50 ft up takes 21.7 psi from both.
    assert!((found.curve.static_psi() - 38.3).abs() < 1e-9 && (found.curve.residual_psi() - 18.3).abs() < 1e-9);
    assert!(codes(&found).contains(&FindingCode::LowStatic));
    // 100 ft up would leave the residual under nothing.
    let top = hydrant("H-1", 0.0, Some(200.0));
    assert_eq!(asked(&top, vec![test(1, &low, "2024-05-01", (60.0, 40.0), &["H-1"])]), Err(NoSupply::NoneUsable));
}

#[test]
fn a_borrowed_curve_is_judged_where_it_is_used_and_its_test_where_it_was_gauged() {
    // 100 ft down adds 43.4 psi: 103.4 and 88.4, a drop of 14.5 %, rated at 800 (83.4/15)^0.54 = 2.53 x what was tested.
    let (here, high) = (hydrant("H-1", 0.0, Some(0.0)), hydrant("H-2", 0.5, Some(100.0)));
    let down = asked(&here, vec![test(1, &high, "2024-05-01", (60.0, 45.0), &["H-1"])]).unwrap();
    assert!(
        codes(&down).contains(&FindingCode::LongExtrapolation)
            && codes(&down).contains(&FindingCode::DropUnder25Percent)
    );
    // A static of 35 at the gauge is 78.4 here, and is rated at 20.
    let low = asked(&here, vec![test(1, &high, "2024-05-01", (35.0, 15.0), &["H-1"])]).unwrap();
    assert!(!codes(&low).contains(&FindingCode::LowStatic));
    // 5 of 60 psi is under 10 % at the gauge, whatever share of the static it is here.
    let top = hydrant("H-1", 0.0, Some(140.0));
    let up = asked(&top, vec![test(1, &high, "2024-05-01", (60.0, 55.0), &["H-1"])]).unwrap();
    assert!(codes(&up).contains(&FindingCode::DropUnder10Percent));
}

#[test]
fn a_single_hydrant_test_holds_the_body_loss_already() {
    let here = hydrant("H-1", 0.0, None);
    let found = asked(&here, vec![test(1, &here, "2024-05-01", (60.0, 40.0), &["H-1"])]).unwrap();
    assert_eq!((found.body_loss, codes(&found)), (None, vec![FindingCode::SingleHydrantTest]));
    let unwritten = asked(&here, vec![test(1, &here, "2024-05-01", (60.0, 40.0), &[])]).unwrap();
    assert_eq!(unwritten.body_loss.unwrap().psi_per_100gpm2(), DEFAULT_BODY_LOSS);
}

#[test]
fn voided_tests_do_not_count_and_are_told_from_none() {
    let here = hydrant("H-1", 0.0, None);
    let newest = voided(test(2, &here, "2026-05-01", (90.0, 80.0), &[]));
    let found = asked(&here, vec![test(1, &here, "2023-05-01", (60.0, 40.0), &[]), newest.clone()]).unwrap();
    assert_eq!(found.test_id, Uuid::from_u128(1));
    assert_eq!(asked(&here, vec![newest]), Err(NoSupply::AllVoided));
    assert_eq!(asked(&here, vec![]), Err(NoSupply::NoTest));
}

#[test]
fn a_test_grows_old_the_day_after_five_years() {
    let here = hydrant("H-1", 0.0, None);
    let old = |on: &str| {
        let found = asked(&here, vec![test(1, &here, on, (60.0, 40.0), &["H-2"])]).unwrap();
        codes(&found).contains(&FindingCode::OldTest)
    };
    assert!(!old("2021-11-25"));
    assert!(old("2021-11-24"));
}

#[test]
fn no_drop_is_rated_at_nothing_but_proves_its_flow() {
    let here = hydrant("H-1", 0.0, None);
    let found = asked(&here, vec![test(1, &here, "2024-05-01", (60.0, 60.0), &["H-2"])]).unwrap();
    let rating = found.capability(None);
    assert_eq!((rating.rated_flow_gpm, rating.at_least_gpm, rating.class), (None, Some(800.0), None));
    assert!(codes(&found).contains(&FindingCode::NoDrop));
}

#[test]
fn a_capability_is_rated_at_20_or_half_a_low_static_or_as_asked() {
    let here = hydrant("H-1", 0.0, None);
    let rated = |psi, floor: Option<f64>| {
        let found = asked(&here, vec![test(1, &here, "2024-05-01", psi, &["H-2"])]).unwrap();
        found.capability(floor.map(|floor| Pressure::from_psi(floor).unwrap()))
    };
    // 800 (40/20)^0.54 = 800 x 1.4540 = 1163 gpm: class A.
    let ordinary = rated((60.0, 40.0), None);
    assert!((ordinary.rated_flow_gpm.unwrap() - 1163.2).abs() < 0.1, "{ordinary:?}");
    assert_eq!(ordinary.class, Some(CapacityClass::A));
    assert_eq!(ordinary.curve.first(), Some(&(0.0, 60.0)));
    assert!((ordinary.curve.last().unwrap().1 - 20.0).abs() < 1e-9);
    assert_eq!(rated((36.0, 30.0), None).rated_at_psi, 18.0);
    assert_eq!(rated((60.0, 40.0), Some(40.0)).rated_flow_gpm, Some(800.0));
    assert_eq!(rated((60.0, 40.0), Some(70.0)).rated_flow_gpm, Some(0.0));
}

#[test]
fn an_answer_that_rests_on_a_slipped_digit_says_so_where_it_is_borrowed_too() {
    let (here, next) = (hydrant("H-1", 0.0, None), hydrant("H-3", 0.5, None));
    let good = test(1, &here, "2024-05-01", (62.0, 40.0), &["H-2"]);
    let slip = test(2, &here, "2026-05-01", (620.0, 40.0), &["H-2"]);
    for asked_at in [&here, &next] {
        let found = asked(asked_at, vec![good.clone(), slip.clone()]).unwrap();
        assert!(
            codes(&found).contains(&FindingCode::PressureImplausible)
                && codes(&found).contains(&FindingCode::StaticDiffers)
        );
        let found = asked(asked_at, vec![good.clone(), voided(slip.clone())]).unwrap();
        assert!(!codes(&found).contains(&FindingCode::StaticDiffers));
    }
}

#[test]
fn a_newer_test_whose_gauge_hardly_fell_does_not_displace_a_good_one() {
    let here = hydrant("H-1", 0.0, None);
    let good = test(1, &here, "2024-05-01", (60.0, 40.0), &["H-2"]);
    let weak = test(2, &here, "2026-05-01", (60.0, 57.0), &["H-2"]);
    let found = asked(&here, vec![good.clone(), weak.clone()]).unwrap();
    assert_eq!(found.test_id, Uuid::from_u128(1));
    let aside = found.findings.iter().find(|finding| finding.code == FindingCode::NewerTestSetAside).unwrap();
    assert!((aside.value.unwrap() - 5.0).abs() < 1e-9, "3 of 60 psi: {aside:?}");
    assert_eq!(asked(&here, vec![voided(good.clone()), weak]).unwrap().test_id, Uuid::from_u128(2));
    // A newer one without any drop proves its flow and no more: it stands.
    let level = test(3, &here, "2026-05-01", (60.0, 60.0), &["H-2"]);
    assert_eq!(asked(&here, vec![good, level]).unwrap().test_id, Uuid::from_u128(3));
}
