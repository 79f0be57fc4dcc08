//! The order of what is to be tested, and its reasons.

use chrono::DateTime;
use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{Diameter, OutletCoefficient, PitotPressure};
use proptest::prelude::*;
use uuid::Uuid;

use super::*;
use crate::flow_test::{FlowTest, Voided};
use crate::hydrant::{Hydrant, Location, Owner};
use crate::supply::GaugedTest;

const TODAY: &str = "2026-11-25";

fn hydrant(id: &str) -> Hydrant {
    Hydrant {
        id: AssetId::new(id).unwrap(),
        location: Location::new(-30.0, 40.0).unwrap(),
        elevation: None,
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

/// A pitot test that flowed 29.84 x 0.9 x 2.5² √16 = 671 gpm an outlet.
fn tested(n: u128, gauge: &str, on: &str, psi: (f64, f64), outlets: usize) -> GaugedTest {
    let reading = PitotReading {
        diameter: Diameter::from_in(2.5).unwrap(),
        coefficient: OutletCoefficient::from_number(0.9).unwrap(),
        pitot: PitotPressure::from_psi(16.0).unwrap(),
    };
    let test = FlowTest {
        id: Uuid::from_u128(n),
        gauge_hydrant_id: AssetId::new(gauge).unwrap(),
        tested_on: on.parse().unwrap(),
        static_pressure: Pressure::from_psi(psi.0).unwrap(),
        residual_pressure: Pressure::from_psi(psi.1).unwrap(),
        flow: MeasuredFlow::Pitot(vec![reading; outlets]),
        second_point: None,
        flow_hydrant_ids: vec![AssetId::new("H-9").unwrap()],
        notes: None,
        recorded_at: DateTime::UNIX_EPOCH,
        voided: None,
    };
    GaugedTest { test: test.into(), gauge: hydrant(gauge).into() }
}

fn asked(hydrant: Hydrant, tests: Vec<GaugedTest>) -> Retest {
    retest(&Evidence { hydrant, tests }, TODAY.parse().unwrap())
}

/// H-1 by one test of its own.
fn of(on: &str, psi: (f64, f64)) -> Retest {
    asked(hydrant("H-1"), vec![tested(1, "H-1", on, psi, 1)])
}

fn width(retest: &Retest) -> f64 {
    match retest.settles {
        Settles::Width { gpm } => gpm,
        other => panic!("{other:?}"),
    }
}

fn has(retest: &Retest, code: FindingCode) -> bool {
    retest.reasons.iter().any(|reason| matches!(reason, Reason::Finding(finding) if finding.code == code))
}

#[test]
fn the_untested_stand_first_and_those_out_of_service_last() {
    let out = |hydrant: Hydrant| Hydrant { status: Status::OutOfService { reason: None }, ..hydrant };
    let list = [
        asked(hydrant("H-1"), vec![]),
        of("2026-05-01", (60.0, 60.0)),
        of("2026-05-01", (60.0, 57.0)),
        of("2026-05-01", (60.0, 30.0)),
        asked(out(hydrant("H-1")), vec![]),
        asked(out(hydrant("H-1")), vec![tested(1, "H-1", "2026-05-01", (60.0, 57.0), 1)]),
    ];
    let places: Vec<_> = list.iter().map(Retest::place).collect();
    assert!(places.is_sorted_by(|a, b| a < b), "{places:?}");
    assert_eq!(list[4].reasons[0], Reason::OutOfService);
    assert_eq!(list[0].reasons, [Reason::NoSupply(NoSupply::NoTest)]);
}

#[test]
fn what_was_voided_is_untested_and_says_why() {
    let mut test = tested(1, "H-1", "2026-05-01", (60.0, 40.0), 1);
    std::sync::Arc::make_mut(&mut test.test).voided =
        Some(Voided { reason: "gauge was broken".into(), at: DateTime::UNIX_EPOCH });
    let found = asked(hydrant("H-1"), vec![test]);
    assert_eq!((found.settles, found.reasons), (Settles::Everything, vec![Reason::NoSupply(NoSupply::AllVoided)]));
}

#[test]
fn a_good_test_of_this_year_leaves_nothing_to_settle() {
    let found = of("2026-05-01", (60.0, 40.0));
    assert!(width(&found) < 5.0, "{found:?}");
    // 671 (15/20)^0.54 = 574.7 gpm.
    assert!((found.target_gpm.unwrap() - 574.9).abs() < 0.5, "{:?}", found.target_gpm);
}

#[test]
fn a_small_drop_settles_the_more_the_smaller_it_was() {
    let settled = |residual| width(&of("2026-05-01", (60.0, residual)));
    assert!(settled(50.0) < settled(54.0) && settled(54.0) < settled(57.0));
    assert!(has(&of("2026-05-01", (60.0, 57.0)), FindingCode::DropUnder10Percent));
    // A gauge that may not have moved at all bounds nothing.
    assert!(matches!(of("2026-05-01", (60.0, 59.0)).settles, Settles::HighEnd { .. }));
}

#[test]
fn no_drop_proves_its_flow_and_the_least_proved_stands_first() {
    let proved = |outlets| asked(hydrant("H-1"), vec![tested(1, "H-1", "2026-05-01", (60.0, 60.0), outlets)]);
    assert!(proved(1).place() < proved(2).place());
    assert_eq!((proved(1).target_gpm, proved(1).band_then), (None, None));
    assert!(has(&proved(1), FindingCode::NoDrop));
}

#[test]
fn each_year_past_five_settles_two_percent_more() {
    let (young, old) = (of("2021-11-26", (60.0, 40.0)), of("2016-11-25", (60.0, 40.0)));
    // 671 (40/20)^0.54 = 976 gpm; five years at 2 %.
    assert!((width(&old) - width(&young) - 97.6).abs() < 0.5, "{} {}", width(&old), width(&young));
    assert!(has(&old, FindingCode::OldTest) && !has(&young, FindingCode::OldTest));
}

#[test]
fn a_borrowed_test_settles_more_than_ones_own() {
    let own = of("2026-05-01", (60.0, 40.0));
    let lent = asked(hydrant("H-1"), vec![tested(1, "H-2", "2026-05-01", (60.0, 40.0), 1)]);
    assert!(width(&lent) > width(&own) + 50.0);
    assert!(has(&lent, FindingCode::Borrowed) && has(&lent, FindingCode::ElevationUnknown));
}

#[test]
fn a_fallen_capacity_settles_what_it_lost() {
    let before = tested(1, "H-1", "2024-05-01", (60.0, 50.0), 2);
    let after = tested(2, "H-1", "2026-05-01", (60.0, 30.0), 1);
    let found = asked(hydrant("H-1"), vec![before, after.clone()]);
    let alone = asked(hydrant("H-1"), vec![after]);
    assert!(has(&found, FindingCode::CapacityFell));
    // 1343 (40/10)^0.54 = 2838 gpm before, 671 (40/30)^0.54 = 784 now.
    assert!((width(&found) - width(&alone) - (2838.0 - 784.0)).abs() < 5.0, "{} {}", width(&found), width(&alone));
}

proptest! {
    #[test]
    fn a_new_test_never_unsettles_and_its_band_lies_round_the_same_figure(
        still in 25.0..120.0_f64, left in 0.2..0.97_f64, outlets in 1..4_usize, years in 0..20_i32,
    ) {
        let on = format!("{}-11-25", 2026 - years);
        let found = asked(hydrant("H-1"), vec![tested(1, "H-1", &on, (still, still * left), outlets)]);
        let figure = found.supply.as_ref().unwrap().curve.rated_flow_gpm().unwrap();
        if let (Some(then), Settles::Width { gpm }) = (&found.band_then, found.settles) {
            prop_assert!(gpm >= 0.0 && gpm.is_finite());
            prop_assert!(then.low <= figure * (1.0 + 1e-9) && then.high.unwrap() >= figure * (1.0 - 1e-9));
        }
        let place = found.place();
        prop_assert!(place.within.is_finite() && place == found.place());
    }
}
