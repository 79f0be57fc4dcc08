//! The town in memory: after any writes it is what a process finds that reads the file anew.

use std::time::Duration;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use longlay_records::drill::{Drill, UsedKind};
use longlay_records::equipment_test::{EquipmentTest, Leg, Measured};
use longlay_records::flow_test::{FlowTest, Voided};
use longlay_records::hydrant::{Hydrant, Location, Status};
use longlay_records::supply::supply;
use longlay_store::{ArrivingTest, Batch, Change, Condition, HydrantQuery, Import, Store, StoreError, Terms, Town};
use proptest::prelude::*;

use crate::drills::{drill, used};
use crate::equipment_tests::{gauges, hose, leg, test};
use crate::support::{
    Fresh, appliance, change, day, flow_test, fresh, full_hydrant, hose_type, hydrant, id, lay_profile, load, now, psi,
    pumper, test_id, valve,
};

/// A write. What it refers to may not be there, or be retired, or the condition may not hold: then it fails.
#[derive(Debug, Clone)]
enum Write {
    Hydrant { number: u8, main: u8, out: bool, shift: u8 },
    RetireHydrant(u8),
    FlowTest { gauge: u8, flowed: Vec<u8>, residual: u8, year: u8 },
    VoidFlowTest { gauge: u8, nth: u8 },
    HoseType { number: u8, version: u64 },
    RetireHoseType(u8),
    Valve(u8),
    RetireValve(u8),
    Appliance(u8),
    RetireAppliance(u8),
    Pumper(u8),
    RetirePumper(u8),
    LayProfile(u8),
    RetireLayProfile(u8),
    EquipmentTest { number: u8, of: u8 },
    VoidEquipmentTest(u8),
    Drill(Vec<(u8, u8)>),
    VoidDrill(u8),
    ImportHydrants(Vec<(u8, u8)>),
    ImportFlowTests(Vec<(u8, u8)>),
    ImportHoseTypes(Vec<u8>),
}

fn writes() -> impl Strategy<Value = Vec<(Write, i64)>> {
    let (n, some) = (|| 0..6_u8, |most| prop::collection::vec((0..6_u8, 0..4_u8), 0..most));
    let write = prop_oneof![
        8 => (n(), 0..3_u8, any::<bool>(), 0..3_u8)
            .prop_map(|(number, main, out, shift)| Write::Hydrant { number, main, out, shift }),
        2 => n().prop_map(Write::RetireHydrant),
        8 => (n(), prop::collection::vec(n(), 0..3), 20..60_u8, 0..9_u8)
            .prop_map(|(gauge, flowed, residual, year)| Write::FlowTest { gauge, flowed, residual, year }),
        3 => (n(), 0..20_u8).prop_map(|(gauge, nth)| Write::VoidFlowTest { gauge, nth }),
        2 => (n(), 0..4_u64).prop_map(|(number, version)| Write::HoseType { number, version }),
        1 => n().prop_map(Write::RetireHoseType),
        1 => n().prop_map(Write::Valve),
        1 => n().prop_map(Write::RetireValve),
        1 => n().prop_map(Write::Appliance),
        1 => n().prop_map(Write::RetireAppliance),
        1 => n().prop_map(Write::Pumper),
        1 => n().prop_map(Write::RetirePumper),
        1 => n().prop_map(Write::LayProfile),
        1 => n().prop_map(Write::RetireLayProfile),
        3 => (n(), 0..6_u8).prop_map(|(number, of)| Write::EquipmentTest { number, of }),
        2 => (0..20_u8).prop_map(Write::VoidEquipmentTest),
        3 => some(4).prop_map(Write::Drill),
        2 => (0..20_u8).prop_map(Write::VoidDrill),
        1 => some(6).prop_map(Write::ImportHydrants),
        1 => some(6).prop_map(Write::ImportFlowTests),
        1 => prop::collection::vec(n(), 0..4).prop_map(Write::ImportHoseTypes),
    ];
    prop::collection::vec((write, -5..5_i64), 1..60)
}

fn named(kind: &str, number: u8) -> String {
    format!("{kind}-{number}")
}

/// On one of two mains or on none.
fn on_main(number: u8, main: u8) -> Hydrant {
    Hydrant { main_id: (main < 2).then(|| format!("M-{main}")), ..hydrant(&named("H", number)) }
}

fn flow(n: u64, gauge: u8) -> FlowTest {
    flow_test(n, &named("H", gauge))
}

/// Records are numbered as they come, whatever becomes of them.
struct Writer<'a> {
    store: &'a Store,
    flow_tests: u64,
    equipment_tests: u64,
    drills: u64,
}

impl Writer<'_> {
    /// Something for the others to meet.
    async fn begin(&mut self) -> Result<(), StoreError> {
        for n in 0..3 {
            let hydrant = |number| Write::Hydrant { number, main: n % 2, out: false, shift: n };
            for write in [hydrant(n), hydrant(n + 3), Write::HoseType { number: n, version: 0 }, Write::Valve(n)] {
                self.write(&write, 0).await?;
            }
        }
        Ok(())
    }

    async fn write(&mut self, write: &Write, seconds: i64) -> Result<(), StoreError> {
        let at: DateTime<Utc> = now() + TimeDelta::seconds(seconds);
        let (store, change) = (self.store, Change { at, ..change() });
        let voided = Voided { reason: "gauge read high".to_owned(), at };
        let retired = |done: Result<bool, StoreError>| done.map(drop);
        match write.clone() {
            Write::Hydrant { number, main, out, shift } => {
                let status = if out { Status::OutOfService { reason: None } } else { Status::InService };
                let location = Location::new(-90.0, 40.0 + 0.001 * f64::from(shift)).unwrap();
                let hydrant = Hydrant { status, location, ..on_main(number, main) };
                store.put_hydrant(&hydrant, &change).await.map(drop)
            }
            Write::RetireHydrant(n) => retired(store.retire_hydrant(&id(&named("H", n)), &change).await),
            Write::FlowTest { gauge, flowed, residual, year } => {
                self.flow_tests += 1;
                let test = FlowTest {
                    flow_hydrant_ids: flowed.iter().map(|n| id(&named("H", *n))).collect(),
                    residual_pressure: psi(f64::from(residual)),
                    tested_on: day(&format!("{}-05-01", 2018 + u32::from(year))),
                    ..flow(self.flow_tests, gauge)
                };
                store.add_flow_test(&test, &change).await.map(drop)
            }
            Write::VoidFlowTest { gauge, nth } => {
                let gauge = id(&named("H", gauge));
                store.void_flow_test(&gauge, test_id(nth.into()), &voided, &change).await.map(drop)
            }
            Write::EquipmentTest { number, of } => {
                self.equipment_tests += 1;
                let test = EquipmentTest { recorded_at: at, ..self.equipment_test(number, of) };
                store.add_equipment_test(&test, &change).await.map(drop)
            }
            Write::VoidEquipmentTest(n) => {
                store.void_equipment_test(test_id(n.into()), &voided, &change).await.map(drop)
            }
            Write::Drill(uses) => {
                self.drills += 1;
                let mut uses: Vec<_> = uses
                    .iter()
                    .map(|(n, kind)| used(USED[usize::from(*kind)].1, &named(USED[usize::from(*kind)].0, *n)))
                    .collect();
                uses.push(used(UsedKind::HoseType, "std-5in"));
                uses.sort();
                uses.dedup();
                let drill = Drill { recorded_at: at, ..drill(self.drills, uses) };
                store.add_drill(&drill, &change).await.map(drop)
            }
            Write::VoidDrill(n) => store.void_drill(test_id(n.into()), &voided, &change).await.map(drop),
            other => self.equipment(&other, &change).await,
        }
    }

    fn equipment_test(&self, number: u8, of: u8) -> EquipmentTest {
        let n = self.equipment_tests;
        match of {
            0 => hose(n, &named("hose", number)),
            1 => hose(n, "std-5in"),
            2 => leg(n, Leg::ToPump),
            3 => test(n, Measured::Appliance { appliance_id: id(&named("manifold", number)), gauges: gauges() }),
            4 => {
                let hydrant_valve_id = id(&named("valve", number));
                test(n, Measured::ValveLeg { hydrant_valve_id, leg: Leg::Through, gauges: gauges() })
            }
            _ => test(n, Measured::Pumper { pumper_id: id(&named("E", number)), readings: Vec::new() }),
        }
    }

    async fn equipment(&mut self, write: &Write, change: &Change) -> Result<(), StoreError> {
        let store = self.store;
        let own = |kind, n: u8| id(&named(kind, n));
        let retired = |done: Result<bool, StoreError>| done.map(drop);
        match write.clone() {
            Write::HoseType { number, version } => {
                let condition = if version == 0 { Condition::Any } else { Condition::Version(version) };
                store.put_hose_type(&hose_type(&named("hose", number)), &change.clone().on(condition)).await.map(drop)
            }
            Write::RetireHoseType(n) => retired(store.retire_hose_type(&own("hose", n), change).await),
            Write::Valve(n) => {
                let kind = longlay_records::equipment::HydrantValveType {
                    to_pump_hose: Some(load(&named("hose", n), 25.0)),
                    ..valve(&named("valve", n))
                };
                store.put_hydrant_valve(&kind, change).await.map(drop)
            }
            Write::RetireValve(n) => retired(store.retire_hydrant_valve(&own("valve", n), change).await),
            Write::Appliance(n) => store.put_appliance(&appliance(&named("manifold", n)), change).await.map(drop),
            Write::RetireAppliance(n) => retired(store.retire_appliance(&own("manifold", n), change).await),
            Write::Pumper(n) => store.put_pumper(&pumper(&named("E", n)), change).await.map(drop),
            Write::RetirePumper(n) => retired(store.retire_pumper(&own("E", n), change).await),
            Write::LayProfile(n) => store.put_lay_profile(&lay_profile(&named("lay", n)), change).await.map(drop),
            Write::RetireLayProfile(n) => retired(store.retire_lay_profile(&own("lay", n), change).await),
            Write::ImportHydrants(some) => {
                let mut hydrants: Vec<_> = some.iter().map(|(n, main)| on_main(*n, *main)).collect();
                hydrants.sort_by(|one, other| one.id.cmp(&other.id));
                hydrants.dedup_by(|one, other| one.id == other.id);
                import(store, Batch::Hydrants(hydrants), change).await
            }
            Write::ImportFlowTests(some) => {
                let mut tests = Vec::new();
                for (gauge, flowed) in some {
                    self.flow_tests += 1;
                    let flow_hydrant_ids = vec![id(&named("H", flowed))];
                    let test = FlowTest { flow_hydrant_ids, ..flow(self.flow_tests, gauge) };
                    tests.push(ArrivingTest { test, is_named: true });
                }
                import(store, Batch::FlowTests(tests), change).await
            }
            Write::ImportHoseTypes(mut some) => {
                some.sort_unstable();
                some.dedup();
                let kinds = some.iter().map(|n| hose_type(&named("hose", *n))).collect();
                import(store, Batch::HoseTypes(kinds), change).await
            }
            other => panic!("{other:?}"),
        }
    }
}

const USED: [(&str, UsedKind); 4] = [
    ("hose", UsedKind::HoseType),
    ("manifold", UsedKind::Appliance),
    ("valve", UsedKind::HydrantValve),
    ("E", UsedKind::Pumper),
];

async fn import(store: &Store, batch: Batch, change: &Change) -> Result<(), StoreError> {
    let terms = Terms { return_to_service: true };
    let import = Import { batch: &batch, terms, sha256: [0; 32], looked: None };
    store.import(&import, change, &|_| Vec::new(), &|_| {}).await.map(drop)
}

/// The town out of the file alone.
async fn anew(db: &Fresh) -> Town {
    // Whoever cannot know of writes reads it anew each time.
    let town = Store::open_reading(&db.path).await.unwrap().town().await.unwrap();
    Town::clone(&town)
}

fn today() -> NaiveDate {
    day("2026-11-25")
}

/// That what was worked out for it before still follows from what bears on it now.
fn supplies_follow_from(town: &Town, fresh: &Town) {
    let every = HydrantQuery::default();
    let found: Vec<_> = town.supplies(&every, None, today()).collect::<Result<_, _>>().unwrap();
    let expected: Vec<_> = fresh.evidences(&every, None).collect::<Result<_, _>>().unwrap();
    assert_eq!(found.len(), expected.len());
    for (found, evidence) in found.iter().zip(&expected) {
        assert_eq!(*found.hydrant, evidence.hydrant);
        assert_eq!(found.supply.as_deref(), supply(evidence, today()).as_ref(), "{}", evidence.hydrant.id);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 200, ..ProptestConfig::default() })]

    #[test]
    fn after_any_writes_the_town_is_what_is_in_the_file(writes in writes()) {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
        runtime.block_on(async {
            let db = fresh().await;
            let reading = Store::open_reading(&db.path).await.unwrap();
            let mut writer = Writer { store: &db.store, flow_tests: 0, equipment_tests: 0, drills: 0 };
            db.store.town().await.unwrap();
            writer.begin().await.unwrap();
            let mut version = db.store.town().await.unwrap().version();
            for (write, seconds) in &writes {
                let before = db.store.town().await.unwrap();
                let copy = Town::clone(&before);
                let done = writer.write(write, *seconds).await;
                let after = db.store.town().await.unwrap();
                if done.is_err() {
                    assert_eq!((&*after, after.version()), (&*before, version), "{write:?} failed and changed something");
                }
                assert!(after.version() >= version);
                version = after.version();
                assert_eq!(*before, copy, "a state that was read is never changed");
                let fresh = reading.town().await.unwrap();
                assert_eq!(*after, *fresh, "{write:?}");
                // Works every supply out, so that the next write finds them kept.
                supplies_follow_from(&after, &fresh);
            }
        });
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn whoever_reads_after_a_write_was_acknowledged_sees_it() {
    let db = fresh().await;
    let mut version = db.store.town().await.unwrap().version();
    let write = |store: Store, prefix: u64| async move {
        for n in 0..25 {
            let number = format!("H-{prefix}-{n}");
            store.put_hydrant(&full_hydrant(&number), &change()).await.unwrap();
            let town = store.town().await.unwrap();
            assert_eq!(town.evidence(&id(&number)).unwrap().unwrap().hydrant, full_hydrant(&number));
            store.add_flow_test(&flow_test(100 * prefix + n, &number), &change()).await.unwrap();
            let later = store.town().await.unwrap();
            let evidence = later.evidence(&id(&number)).unwrap().unwrap();
            assert!(evidence.tests.iter().any(|tested| tested.test.id == test_id(100 * prefix + n)));
            assert!(later.version() > town.version());
        }
    };
    let writers: Vec<_> = (1..5).map(|prefix| tokio::spawn(write(db.store.clone(), prefix))).collect();
    while writers.iter().any(|writer| !writer.is_finished()) {
        let town = db.store.town().await.unwrap();
        assert!(town.version() >= version, "a later reader sees no earlier state");
        version = town.version();
        tokio::task::yield_now().await;
    }
    for writer in writers {
        writer.await.unwrap();
    }
    assert_eq!(*db.store.town().await.unwrap(), anew(&db).await);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_write_whose_caller_went_away_is_in_the_file_and_in_memory_or_in_neither() {
    let db = fresh().await;
    db.store.town().await.unwrap();
    let mut left = 0;
    for n in 0..200_u64 {
        let (hydrant, change) = (hydrant(&format!("H-{n}")), change());
        let write = db.store.put_hydrant(&hydrant, &change);
        left += u32::from(tokio::time::timeout(Duration::from_micros(20 * n), write).await.is_err());
    }
    assert!(left > 0, "none was called off");
    // What was begun is ended before another write: this one comes behind all of them.
    db.store.put_hydrant(&hydrant("H-last"), &change()).await.unwrap();
    assert_eq!(*db.store.town().await.unwrap(), anew(&db).await);
}

#[tokio::test]
async fn a_town_asked_for_late_is_the_same() {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();
    assert_eq!(*db.store.town().await.unwrap(), anew(&db).await);
}

#[tokio::test]
async fn a_damaged_row_harms_what_it_bears_on_and_nothing_else() {
    let db = fresh().await;
    let hydrants = [on_main(1, 0), on_main(2, 0), on_main(3, 1), on_main(4, 2)];
    for hydrant in &hydrants {
        db.store.put_hydrant(hydrant, &change()).await.unwrap();
    }
    db.store.add_flow_test(&flow(1, 1), &change()).await.unwrap();
    let flowed = FlowTest { flow_hydrant_ids: vec![id("H-4")], ..flow(2, 3) };
    db.store.add_flow_test(&flowed, &change()).await.unwrap();
    let mut conn = db.raw().await;
    sqlx::raw_sql("PRAGMA ignore_check_constraints = ON; UPDATE hydrants SET lat_deg = 91 WHERE id = 'H-1'")
        .execute(&mut conn)
        .await
        .unwrap();

    let town = db.store.town().await.unwrap();
    let supplied = |number: &str| town.supplied(&id(number), today());
    assert!(matches!(supplied("H-1"), Err(StoreError::Corrupt(what)) if what.starts_with("hydrants H-1: ")));
    assert!(matches!(supplied("H-2"), Err(StoreError::Corrupt(_))), "its only test was gauged at H-1");
    assert!(supplied("H-3").unwrap().unwrap().supply.is_ok());
    assert!(supplied("H-4").unwrap().unwrap().supply.is_ok());
    // And a write mends it.
    db.store.put_hydrant(&hydrants[0], &change()).await.unwrap();
    let town = db.store.town().await.unwrap();
    assert!(town.supplied(&id("H-2"), today()).unwrap().unwrap().supply.is_ok());
    assert_eq!(*town, anew(&db).await);
}
