use std::collections::BTreeSet;

use longlay_hydraulics::friction_test::TwoGaugeReading;
use longlay_hydraulics::pump_test::PumpReading;
use longlay_hydraulics::quantity::{IntakePressure, Length, MeterUncertainty, PositiveFlow, Rise};
use longlay_records::equipment_test::{EquipmentTest, Leg, Measured, Subject, TwoGauges};
use longlay_records::flow_test::Voided;
use longlay_store::{EquipmentTestQuery, LayRefs, RecordKind, StoreError, VoidOutcome};
use uuid::Uuid;

use crate::support::{Fresh, change, day, fresh, hose_type, id, now, psi, pumper, test_id, voided};

pub(crate) fn gauges() -> TwoGauges {
    let reading = |gpm, upstream, downstream| TwoGaugeReading {
        flow: PositiveFlow::from_gpm(gpm).unwrap(),
        upstream: psi(upstream),
        downstream: psi(downstream),
    };
    TwoGauges {
        rise: Rise::from_ft(-3.25).unwrap(),
        meter: MeterUncertainty::from_percent(2.5).unwrap(),
        readings: vec![reading(1000.5, 80.0, 60.25), reading(500.0, 65.0, 60.0)],
    }
}

pub(crate) fn test(n: u64, measured: Measured) -> EquipmentTest {
    EquipmentTest {
        id: test_id(n),
        measured,
        tested_on: day("2026-05-01"),
        method: "two gauges, \"level\" street".to_owned(),
        notes: None,
        recorded_at: now(),
        voided: None,
    }
}

pub(crate) fn hose(n: u64, hose: &str) -> EquipmentTest {
    test(n, Measured::Hose { hose_type_id: id(hose), length: Length::from_ft(300.5).unwrap(), gauges: gauges() })
}

pub(crate) fn leg(n: u64, leg: Leg) -> EquipmentTest {
    test(n, Measured::ValveLeg { hydrant_valve_id: id("std-four-way"), leg, gauges: gauges() })
}

/// One of each kind.
fn each() -> Vec<EquipmentTest> {
    let pump = PumpReading {
        flow: PositiveFlow::from_gpm(1500.0).unwrap(),
        intake: IntakePressure::from_psi(-4.5).unwrap(),
        discharge: psi(150.0),
    };
    vec![
        hose(1, "std-5in"),
        test(2, Measured::Appliance { appliance_id: id("std-wye"), gauges: gauges() }),
        leg(3, Leg::Through),
        leg(4, Leg::ToPump),
        leg(5, Leg::FromPump),
        test(6, Measured::Pumper { pumper_id: id("E-1"), readings: vec![pump] }),
    ]
}

async fn with_each() -> Fresh {
    let db = fresh().await;
    db.store.put_pumper(&pumper("E-1"), &change()).await.unwrap();
    for test in each() {
        db.store.add_equipment_test(&test, &change()).await.unwrap();
    }
    db
}

#[tokio::test]
async fn a_test_of_each_kind_comes_back_as_it_was_recorded() {
    let db = with_each().await;
    for test in each() {
        assert_eq!(db.store.equipment_test(test.id).await, Ok(Some(test)));
    }
    let noted = EquipmentTest { notes: Some("windy".to_owned()), voided: Some(voided()), ..hose(7, "std-6in") };
    db.store.add_equipment_test(&noted, &change()).await.unwrap();
    assert_eq!(db.store.equipment_test(noted.id).await, Ok(Some(noted)));
    assert_eq!(db.store.equipment_test(test_id(9)).await, Ok(None));
}

#[tokio::test]
async fn tests_are_found_by_what_they_are_of_a_page_at_a_time() {
    let db = with_each().await;
    let valve = EquipmentTestQuery::OfValve(id("std-four-way"));
    let of = EquipmentTestQuery::Of;
    let all = each();
    for (query, expected) in [
        (EquipmentTestQuery::All, &all[..]),
        (of(Subject::Hose(id("std-5in"))), &all[..1]),
        (of(Subject::Hose(id("std-6in"))), &[]),
        (of(Subject::Appliance(id("std-wye"))), &all[1..2]),
        (of(Subject::ValveLeg(id("std-four-way"), Leg::ToPump)), &all[3..4]),
        (valve, &all[2..5]),
        (of(Subject::Pumper(id("E-1"))), &all[5..]),
    ] {
        let mut found: Vec<EquipmentTest> = Vec::new();
        loop {
            let after: Option<Uuid> = found.last().map(|last| last.id);
            let page = db.store.equipment_tests(&query, after, 2).await.unwrap();
            if page.is_empty() {
                break;
            }
            found.extend(page);
        }
        assert_eq!(found, expected, "{query:?}");
    }
}

#[tokio::test]
async fn a_lay_loads_the_tests_of_all_that_it_loads_and_of_nothing_else() {
    let db = with_each().await;
    db.store.add_equipment_test(&hose(7, "std-5in"), &change()).await.unwrap();
    db.store.add_equipment_test(&hose(8, "std-6in"), &change()).await.unwrap();
    db.store.void_equipment_test(test_id(1), &voided(), &change()).await.unwrap();
    let refs = LayRefs {
        hose_type_ids: BTreeSet::from([id("std-5in")]),
        hydrant_valve_ids: BTreeSet::from([id("std-four-way")]),
        pumper_ids: BTreeSet::from([id("E-1")]),
        ..LayRefs::default()
    };
    let tests = db.store.lay_inputs(&refs, day("2026-11-25")).await.unwrap().equipment_tests;
    let found: Vec<_> = tests.values().map(|tests| tests.iter().map(|test| test.id).collect::<Vec<_>>()).collect();
    let of = |n: &[u64]| n.iter().map(|n| test_id(*n)).collect::<Vec<_>>();
    assert_eq!(found, [of(&[1, 7]), of(&[3]), of(&[4]), of(&[5]), of(&[6])], "voided ones too");
}

#[tokio::test]
async fn a_test_is_voided_once() {
    let db = with_each().await;
    let again = Voided { reason: "another".to_owned(), ..voided() };
    assert_eq!(db.store.void_equipment_test(test_id(9), &voided(), &change()).await, Ok(VoidOutcome::NotFound));
    assert_eq!(db.store.void_equipment_test(test_id(1), &voided(), &change()).await, Ok(VoidOutcome::Voided));
    assert_eq!(db.store.void_equipment_test(test_id(1), &again, &change()).await, Ok(VoidOutcome::AlreadyVoided));
    assert_eq!(db.store.equipment_test(test_id(1)).await.unwrap().unwrap().voided, Some(voided()));
}

#[tokio::test]
async fn a_test_is_of_something_that_stands() {
    let db = fresh().await;
    db.store.put_hose_type(&hose_type("own"), &change()).await.unwrap();
    db.store.add_equipment_test(&hose(1, "own"), &change()).await.unwrap();
    db.store.retire_hose_type(&id("own"), &change()).await.unwrap();
    for name in ["own", "none"] {
        let unknown = StoreError::UnknownReferences(vec![(RecordKind::HoseType, name.to_owned())]);
        assert_eq!(db.store.add_equipment_test(&hose(2, name), &change()).await, Err(unknown.clone()));
        let query = EquipmentTestQuery::Of(Subject::Hose(id(name)));
        assert_eq!(db.store.equipment_tests(&query, None, 10).await, Err(unknown));
    }
    assert_eq!(db.store.equipment_test(test_id(1)).await, Ok(Some(hose(1, "own"))), "it outlives what it is of");
}

#[tokio::test]
async fn an_equipment_test_is_append_only_whoever_writes() {
    let db = with_each().await;
    assert!(matches!(db.store.add_equipment_test(&hose(1, "std-6in"), &change()).await, Err(StoreError::Other(_))));
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE equipment_tests SET hose_type_id = 'std-6in' WHERE hose_type_id = 'std-5in'",
        "UPDATE equipment_tests SET leg = 'through'",
        "UPDATE equipment_tests SET tested_on = '2027-01-01'",
        "UPDATE equipment_tests SET method = 'better'",
        "UPDATE equipment_tests SET length_ft = 1 WHERE hose_type_id IS NOT NULL",
        "UPDATE equipment_tests SET meter_uncertainty_percent = 1 WHERE hose_type_id IS NOT NULL",
        "UPDATE equipment_tests SET notes = 'better', voided_at = 'x', void_reason = 'y'",
        "DELETE FROM equipment_tests",
        "INSERT OR REPLACE INTO equipment_tests SELECT * FROM equipment_tests",
        "UPDATE equipment_test_readings SET flow_gpm = 60",
        "DELETE FROM equipment_test_readings",
        "INSERT OR REPLACE INTO equipment_test_readings SELECT * FROM equipment_test_readings",
        "INSERT INTO equipment_test_readings SELECT id, 7, 100, 60, 50 FROM equipment_tests",
    ] {
        let said = sqlx::raw_sql(sql).execute(&mut conn).await.expect_err(sql).to_string();
        assert!(said.contains("an equipment test is never"), "{sql}: {said}");
    }
    let found = db.store.equipment_tests(&EquipmentTestQuery::All, None, 10).await.unwrap();
    assert_eq!(found, each());
}

#[tokio::test]
async fn a_damaged_test_is_corrupt_and_named() {
    for (sql, table) in [
        ("UPDATE equipment_tests SET pumper_id = 'E-1'", "equipment_tests"),
        ("UPDATE equipment_tests SET length_ft = NULL", "equipment_tests"),
        ("UPDATE equipment_tests SET meter_uncertainty_percent = 99", "equipment_tests"),
        (
            "UPDATE equipment_tests SET hose_type_id = NULL, hydrant_valve_id = 'std-four-way', leg = 'x'",
            "equipment_tests",
        ),
        ("UPDATE equipment_tests SET tested_on = '2026-02-30'", "equipment_tests"),
        ("UPDATE equipment_tests SET voided_at = recorded_at", "equipment_tests"),
        ("UPDATE equipment_test_readings SET upstream_psi = 9e9", "equipment_test_readings"),
    ] {
        let db = fresh().await;
        db.store.add_equipment_test(&hose(1, "std-5in"), &change()).await.unwrap();
        let mut conn = db.raw().await;
        let unguarded = "PRAGMA ignore_check_constraints = ON; PRAGMA foreign_keys = OFF;
            DROP TRIGGER equipment_tests_only_voided; DROP TRIGGER equipment_test_readings_never_edited";
        sqlx::raw_sql(unguarded).execute(&mut conn).await.unwrap();
        sqlx::raw_sql(sql).execute(&mut conn).await.unwrap();
        match db.store.equipment_test(test_id(1)).await {
            Err(StoreError::Corrupt(what)) => assert!(what.starts_with(&format!("{table} {}", test_id(1))), "{what}"),
            other => panic!("{sql}: {other:?}"),
        }
    }
}
