use std::collections::BTreeSet;

use chrono::{DateTime, TimeDelta, Utc};
use longlay_hydraulics::lay::Station;
use longlay_hydraulics::quantity::{MeterUncertainty, PositiveFlow};
use longlay_records::drill::{Drill, DrillGauge, DrillUse, UsedKind};
use longlay_records::equipment::LayProfile;
use longlay_records::flow_test::Voided;
use longlay_store::{Change, LayRefs, RecordKind, StoreError, VoidOutcome};
use sqlx::SqliteConnection;
use uuid::Uuid;

use crate::support::{
    Fresh, appliance, change, day, fresh, hose_type, hydrant, id, lay_profile, now, psi, pumper, test_id, valve, voided,
};

pub(crate) fn used(kind: UsedKind, name: &str) -> DrillUse {
    DrillUse { kind, id: id(name) }
}

fn gauge(station: Station, predicted_psi: f64, read: Option<f64>) -> DrillGauge {
    DrillGauge { station, elevation_ft: 0.1 + 0.2, predicted_psi, read: read.map(psi) }
}

/// The n-th drill recorded: 5 psi under what was predicted at the scene, where 20 psi were to be lost.
pub(crate) fn drill(n: u64, uses: Vec<DrillUse>) -> Drill {
    Drill {
        id: test_id(n),
        drilled_on: day("2026-05-01"),
        lay: r#"{"source":{"hydrant_id":"H-1"}}"#.to_owned(),
        uses,
        flow: PositiveFlow::from_gpm(1010.5).unwrap(),
        flow_uncertainty: MeterUncertainty::from_percent(3.0).unwrap(),
        pumped: false,
        gauges: vec![
            gauge(Station::Main, 60.0, None),
            gauge(Station::Hydrant, 58.0, Some(57.0)),
            gauge(Station::Scene, 40.0, Some(35.0)),
        ],
        notes: None,
        recorded_at: now(),
        voided: None,
    }
}

fn hose_drill(n: u64) -> Drill {
    drill(n, vec![used(UsedKind::Hydrant, "H-1"), used(UsedKind::HoseType, "std-5in")])
}

async fn town() -> Fresh {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    db.store.put_hose_type(&hose_type("own-5in"), &change()).await.unwrap();
    db.store.put_appliance(&appliance("own-manifold"), &change()).await.unwrap();
    db.store.put_hydrant_valve(&valve("own-valve"), &change()).await.unwrap();
    db.store.put_pumper(&pumper("E-1"), &change()).await.unwrap();
    db
}

#[tokio::test]
async fn a_drill_comes_back_as_it_was_recorded() {
    let db = town().await;
    let pumped = Drill {
        pumped: true,
        uses: vec![
            used(UsedKind::Appliance, "std-wye"),
            used(UsedKind::HoseType, "own-5in"),
            used(UsedKind::HoseType, "std-5in"),
            used(UsedKind::Hydrant, "H-1"),
            used(UsedKind::HydrantValve, "std-four-way"),
            used(UsedKind::Pumper, "E-1"),
        ],
        gauges: vec![
            gauge(Station::Main, 60.0, None),
            gauge(Station::PumperIntake(1), -12.0, Some(0.0)),
            gauge(Station::PumperDischarge(1), 150.0, Some(150.0)),
            gauge(Station::Scene, 40.0, None),
        ],
        notes: Some("windy".to_owned()),
        ..drill(1, Vec::new())
    };
    let nothing_stored = Drill { voided: Some(voided()), ..drill(2, Vec::new()) };
    for one in [pumped, nothing_stored] {
        db.store.add_drill(&one, &change()).await.unwrap();
        assert_eq!(db.store.drill(one.id).await, Ok(Some(one)));
    }
    assert_eq!(db.store.drill(test_id(9)).await, Ok(None));
}

#[tokio::test]
async fn what_a_drill_used_must_be_there() {
    let db = town().await;
    let uses = vec![used(UsedKind::Hydrant, "H-9"), used(UsedKind::HoseType, "std-5in"), used(UsedKind::Pumper, "E-9")];
    let missing = vec![(RecordKind::Hydrant, "H-9".to_owned()), (RecordKind::Pumper, "E-9".to_owned())];
    assert_eq!(db.store.add_drill(&drill(1, uses), &change()).await, Err(StoreError::UnknownReferences(missing)));
    assert_eq!(db.store.drill(test_id(1)).await, Ok(None));
}

#[tokio::test]
async fn the_union_of_the_pages_is_the_set_and_a_list_holds_what_used_all_that_is_asked() {
    let db = town().await;
    for n in (0..5).rev() {
        db.store.add_drill(&hose_drill(n), &change()).await.unwrap();
    }
    let mut other = hose_drill(7);
    other.uses.push(used(UsedKind::Appliance, "std-wye"));
    db.store.add_drill(&other, &change()).await.unwrap();
    db.store.void_drill(test_id(2), &voided(), &change()).await.unwrap();

    let ids = |drills: Vec<Drill>| drills.into_iter().map(|drill| drill.id).collect::<Vec<Uuid>>();
    let mut found: Vec<Uuid> = Vec::new();
    loop {
        let page = ids(db.store.drills(&[], found.last().copied(), 2).await.unwrap());
        if page.is_empty() {
            break;
        }
        found.extend(page);
    }
    assert_eq!(found, [0, 1, 2, 3, 4, 7].map(test_id));
    let wye = used(UsedKind::Appliance, "std-wye");
    assert_eq!(ids(db.store.drills(std::slice::from_ref(&wye), None, 9).await.unwrap()), [test_id(7)]);
    let both = [wye.clone(), used(UsedKind::HoseType, "std-5in")];
    assert_eq!(ids(db.store.drills(&both, None, 9).await.unwrap()), [test_id(7)]);
    // A hose of that name is not the appliance of that name.
    assert_eq!(db.store.drills(&[used(UsedKind::HoseType, "std-wye")], None, 9).await, Ok(Vec::new()));
}

#[tokio::test]
async fn the_first_reason_for_voiding_stands() {
    let db = town().await;
    db.store.add_drill(&hose_drill(1), &change()).await.unwrap();
    let again = Voided { reason: "another".to_owned(), ..voided() };
    assert_eq!(db.store.void_drill(test_id(2), &voided(), &change()).await, Ok(VoidOutcome::NotFound));
    assert_eq!(db.store.void_drill(test_id(1), &voided(), &change()).await, Ok(VoidOutcome::Voided));
    assert_eq!(db.store.void_drill(test_id(1), &again, &change()).await, Ok(VoidOutcome::AlreadyVoided));
    assert_eq!(db.store.drill(test_id(1)).await.unwrap().unwrap().voided, Some(voided()));
}

async fn refusal(conn: &mut SqliteConnection, sql: &'static str) -> String {
    sqlx::raw_sql(sql).execute(conn).await.expect_err(sql).to_string()
}

#[tokio::test]
async fn a_drill_is_append_only() {
    let db = town().await;
    db.store.add_drill(&hose_drill(1), &change()).await.unwrap();
    let before = db.store.drill(test_id(1)).await.unwrap().unwrap();
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE drills SET drilled_on = '2027-01-01'",
        "UPDATE drills SET lay = '[]'",
        "UPDATE drills SET flow_gpm = 500",
        "UPDATE drills SET flow_uncertainty_percent = 1",
        "UPDATE drills SET pumped = 1",
        "UPDATE drills SET miss_psi = 0",
        "UPDATE drills SET notes = 'better'",
        "UPDATE drills SET readings = 9, voided_at = 'x', void_reason = 'y'",
        "DELETE FROM drills",
        "INSERT OR REPLACE INTO drills SELECT id, drilled_on, lay, 99, flow_uncertainty_percent, pumped, readings, NULL, NULL, NULL,
           recorded_at, NULL, NULL FROM drills",
        "UPDATE drill_gauges SET read_psi = 60",
        "DELETE FROM drill_gauges",
        "INSERT OR REPLACE INTO drill_gauges SELECT drill_id, position, station, 0, predicted_psi, 60 FROM drill_gauges",
        "INSERT INTO drill_gauges SELECT id, 7, 'pumper_1_intake', 0, 9, 60 FROM drills",
        "UPDATE drill_uses SET asset_id = 'H-2'",
        "DELETE FROM drill_uses",
        "INSERT INTO drill_uses SELECT id, 'pumper', 'E-1' FROM drills",
    ] {
        let said = refusal(&mut conn, sql).await;
        assert!(said.contains("a drill is never"), "{sql}: {said}");
    }
    assert_eq!(db.store.drill(test_id(1)).await, Ok(Some(before)));
    db.store.void_drill(test_id(1), &voided(), &change()).await.unwrap();
    for sql in ["UPDATE drills SET voided_at = NULL, void_reason = NULL", "UPDATE drills SET void_reason = 'another'"] {
        assert!(refusal(&mut conn, sql).await.contains("only voided once"), "{sql}");
    }
}

fn hose_refs(name: &str) -> LayRefs {
    LayRefs { hose_type_ids: BTreeSet::from([id(name)]), ..LayRefs::default() }
}

async fn misses(db: &Fresh, refs: &LayRefs) -> Vec<f64> {
    db.store.lay_inputs(refs, day("2026-11-25")).await.unwrap().drill_misses.iter().map(|miss| miss.miss_psi).collect()
}

#[tokio::test]
async fn a_lay_meets_the_drills_that_share_its_equipment() {
    let db = town().await;
    db.store.add_drill(&hose_drill(1), &change()).await.unwrap();
    let others = [
        used(UsedKind::Appliance, "std-wye"),
        used(UsedKind::HydrantValve, "own-valve"),
        used(UsedKind::Pumper, "E-1"),
    ];
    for (n, other) in (2..).zip(others) {
        db.store.add_drill(&drill(n, vec![used(UsedKind::Hydrant, "H-1"), other]), &change()).await.unwrap();
    }
    let inputs = db.store.lay_inputs(&hose_refs("std-5in"), day("2026-11-25")).await.unwrap();
    let miss = inputs.drill_misses[0];
    assert_eq!((inputs.drill_misses.len(), miss.drilled_on, miss.readings), (1, day("2026-05-01"), 2));
    assert_eq!((miss.miss_psi, miss.predicted_loss_psi), (-5.0, 20.0));
    assert_eq!(misses(&db, &hose_refs("own-5in")).await, Vec::<f64>::new());
    let hydrant_only = LayRefs { hydrant_id: Some(id("H-1")), ..LayRefs::default() };
    assert_eq!(misses(&db, &hydrant_only).await, Vec::<f64>::new());
    let all = LayRefs {
        appliance_ids: BTreeSet::from([id("std-wye")]),
        hydrant_valve_ids: BTreeSet::from([id("own-valve")]),
        pumper_ids: BTreeSet::from([id("E-1")]),
        ..hose_refs("std-5in")
    };
    assert_eq!(misses(&db, &all).await.len(), 4);
    // What the profile names is named.
    let plain = LayProfile { scene_appliance_ids: Vec::new(), hydrant_valve_id: None, ..lay_profile("L-1") };
    db.store.put_lay_profile(&plain, &change()).await.unwrap();
    let by_profile = LayRefs { lay_profile_id: Some(id("L-1")), ..LayRefs::default() };
    assert_eq!(misses(&db, &by_profile).await, [-5.0]);
}

#[tokio::test]
async fn a_voided_drill_and_one_of_other_figures_bear_on_nothing() {
    let db = town().await;
    db.store.add_drill(&hose_drill(1), &change()).await.unwrap();
    let own = |n| drill(n, vec![used(UsedKind::HoseType, "own-5in"), used(UsedKind::HoseType, "std-5in")]);
    db.store.add_drill(&own(2), &change()).await.unwrap();
    assert_eq!(misses(&db, &hose_refs("std-5in")).await.len(), 2);
    let later: DateTime<Utc> = now() + TimeDelta::nanoseconds(1);
    db.store.put_hose_type(&hose_type("own-5in"), &Change { at: later, ..change() }).await.unwrap();
    assert_eq!(misses(&db, &hose_refs("own-5in")).await, Vec::<f64>::new(), "it was predicted from the figures before");
    assert_eq!(misses(&db, &hose_refs("std-5in")).await.len(), 1);
    db.store.add_drill(&Drill { recorded_at: later, ..own(3) }, &change()).await.unwrap();
    assert_eq!(misses(&db, &hose_refs("own-5in")).await.len(), 1);
    db.store.void_drill(test_id(3), &voided(), &change()).await.unwrap();
    assert_eq!(misses(&db, &hose_refs("own-5in")).await, Vec::<f64>::new());
}

#[tokio::test]
async fn the_drills_that_count_come_with_what_their_lays_refer_to_now() {
    let db = town().await;
    for n in 1..=3 {
        db.store.add_drill(&hose_drill(n), &change()).await.unwrap();
    }
    db.store.void_drill(test_id(2), &voided(), &change()).await.unwrap();
    let found = db.store.drilled_lays(|_| hose_refs("own-5in"), day("2026-11-25")).await.unwrap();
    assert_eq!(found.iter().map(|(drill, _)| drill.id).collect::<Vec<_>>(), [test_id(1), test_id(3)]);
    assert!(found.iter().all(|(_, inputs)| inputs.hose_types.contains_key(&id("own-5in"))));
}
