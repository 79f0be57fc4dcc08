//! Imports: all of a batch or none of it, and nothing twice.

use longlay_records::equipment::HoseType;
use longlay_records::flow_test::{FlowTest, SecondPoint, Voided};
use longlay_records::hydrant::{Hydrant, Location, Status};
use longlay_store::{
    ArrivingTest, AuditEntry, Batch, HydrantQuery, Import, ImportRecorded, Imported, Looked, Notice, RecordKind,
    Refusal, Store, Terms,
};

use crate::support::{
    Fresh, appliance, change, flow_test, fresh, full_hydrant, hose_type, hydrant, id, lay_profile, now, pitot, psi,
    pumper, test_id, valve, voided,
};

const MEANT: Terms = Terms { return_to_service: true };

/// What it does, without what is told of it.
async fn import(store: &Store, batch: &Batch) -> Imported {
    let looked = store.try_import(batch, MEANT, &|_| {}).await.unwrap();
    let imported = import_looked(store, batch, Some(&looked)).await;
    assert_eq!(Imported { notices: Vec::new(), ..looked.imported }, imported, "what it would do is what it does");
    imported
}

async fn import_looked(store: &Store, batch: &Batch, looked: Option<&Looked>) -> Imported {
    let import = Import { batch, terms: MEANT, sha256: [0xab; 32], looked };
    let recorded = store.import(&import, &change(), &|_| Vec::new(), &|_| {}).await.unwrap();
    let ImportRecorded::Now(imported) = recorded else { panic!("{recorded:?}") };
    Imported { notices: Vec::new(), ..imported }
}

async fn audit(store: &Store) -> Vec<AuditEntry> {
    store.audit(0, 10_000).await.unwrap()
}

fn actions(entries: &[AuditEntry]) -> Vec<(&str, Option<&str>, Option<u64>)> {
    entries.iter().map(|entry| (entry.action.as_str(), entry.record_id.as_deref(), entry.record_version)).collect()
}

/// As many as there are, in a batch longer than one statement and than one part takes.
fn many() -> Vec<Hydrant> {
    (0..2345)
        .map(|n| if n % 2 == 0 { full_hydrant(&format!("H-{n:05}")) } else { hydrant(&format!("H-{n:05}")) })
        .collect()
}

#[tokio::test]
async fn hydrants_come_in_as_they_are_and_once() {
    let db = fresh().await;
    let batch = Batch::Hydrants(many());
    assert_eq!(import(&db.store, &batch).await, Imported { created: 2345, ..Imported::default() });
    assert_eq!(db.store.hydrants(&HydrantQuery::default(), None, 3000).await.unwrap(), many());
    assert_eq!(import(&db.store, &batch).await, Imported { unchanged: 2345, ..Imported::default() });
    let entries = audit(&db.store).await;
    assert_eq!(entries.len(), 2345 + 2, "one for each record changed, one for each import");
    let last = entries.last().unwrap();
    assert_eq!((last.action.as_str(), last.kind.as_str(), &last.record_id), ("import", "hydrant", &None));
    let said = format!(r#"{{"sha256":"{}","created":0,"replaced":0,"unchanged":2345,"skipped":0}}"#, "ab".repeat(32));
    assert_eq!(last.detail.as_deref(), Some(said.as_str()));
}

#[tokio::test]
async fn a_hydrant_is_made_replaced_brought_back_or_left_and_the_audit_says_which() {
    let db = fresh().await;
    for number in ["H-1", "H-2", "H-3"] {
        db.store.put_hydrant(&full_hydrant(number), &change()).await.unwrap();
    }
    db.store.retire_hydrant(&id("H-3"), &change()).await.unwrap();
    let before = audit(&db.store).await.len();
    let batch = vec![full_hydrant("H-1"), hydrant("H-2"), full_hydrant("H-3"), hydrant("H-4")];
    let imported = import(&db.store, &Batch::Hydrants(batch.clone())).await;
    assert_eq!(imported, Imported { created: 2, replaced: 1, unchanged: 1, ..Imported::default() });
    assert_eq!(db.store.hydrants(&HydrantQuery::default(), None, 10).await.unwrap(), batch);
    let entries = audit(&db.store).await;
    let expected = [
        ("create", Some("H-4"), Some(1)),
        ("restore", Some("H-3"), Some(3)),
        ("replace", Some("H-2"), Some(2)),
        ("import", None, None),
    ];
    assert_eq!(actions(&entries[before..]), expected);
}

fn tests() -> Vec<FlowTest> {
    let by_pitot = FlowTest {
        flow: pitot(&[(2.5, 0.9, 18.25), (4.5, 0.8, 6.0)]),
        second_point: Some(SecondPoint { residual_pressure: psi(40.0), flow: pitot(&[(2.5, 0.9, 30.0)]) }),
        flow_hydrant_ids: vec![id("H-2"), id("H-1")],
        notes: Some("windy".to_owned()),
        ..flow_test(1, "H-1")
    };
    vec![by_pitot, FlowTest { voided: Some(voided()), ..flow_test(2, "H-1") }, flow_test(3, "H-2")]
}

fn arriving(tests: Vec<FlowTest>, is_named: bool) -> Batch {
    Batch::FlowTests(tests.into_iter().map(|test| ArrivingTest { test, is_named }).collect())
}

async fn with_hydrants() -> Fresh {
    let db = fresh().await;
    import(&db.store, &Batch::Hydrants(vec![hydrant("H-1"), hydrant("H-2")])).await;
    db
}

#[tokio::test]
async fn tests_come_in_as_they_are_and_once_by_their_ids_or_by_their_readings() {
    let db = with_hydrants().await;
    let imported = import(&db.store, &arriving(tests(), true)).await;
    assert_eq!(imported, Imported { created: 3, ..Imported::default() });
    let mut found = db.store.flow_tests(&id("H-1"), None, 10).await.unwrap();
    found.extend(db.store.flow_tests(&id("H-2"), None, 10).await.unwrap());
    assert_eq!(found, tests());
    let passed_over = Imported { skipped: vec![0, 1, 2], ..Imported::default() };
    assert_eq!(import(&db.store, &arriving(tests(), true)).await, passed_over);
    let without_ids = tests().into_iter().zip(100..).map(|(test, n)| FlowTest { id: test_id(n), voided: None, ..test });
    assert_eq!(import(&db.store, &arriving(without_ids.collect(), false)).await, passed_over);
    let other_reading = FlowTest { id: test_id(9), residual_pressure: psi(50.0), ..flow_test(3, "H-2") };
    let imported = import(&db.store, &arriving(vec![other_reading], false)).await;
    assert_eq!(imported, Imported { created: 1, ..Imported::default() });
}

#[tokio::test]
async fn a_test_is_never_edited_and_never_brought_back_by_an_import() {
    let db = with_hydrants().await;
    import(&db.store, &arriving(tests(), true)).await;
    let not_voided = FlowTest { voided: None, ..tests()[1].clone() };
    assert_eq!(import(&db.store, &arriving(vec![not_voided], true)).await.skipped, [0], "it stays voided");
    let edited = FlowTest { notes: Some("calm".to_owned()), ..tests()[0].clone() };
    let voided_here = FlowTest { voided: Some(voided()), ..tests()[2].clone() };
    let other_reason =
        FlowTest { voided: Some(Voided { reason: "other".to_owned(), at: now() }), ..tests()[1].clone() };
    let imported = import(&db.store, &arriving(vec![edited, voided_here, other_reason], true)).await;
    let expected = [
        (0, Refusal::TestDiffers(test_id(1))),
        (1, Refusal::TestNotVoided(test_id(3))),
        (2, Refusal::TestDiffers(test_id(2))),
    ];
    assert_eq!(imported.refused, expected);
}

#[tokio::test]
async fn one_record_refused_and_nothing_is_kept() {
    let db = with_hydrants().await;
    let mut batch: Vec<_> = (0..2700).map(|n| FlowTest { notes: Some(n.to_string()), ..flow_test(n, "H-1") }).collect();
    batch[2650].gauge_hydrant_id = id("H-9");
    batch[2650].flow_hydrant_ids = vec![id("H-9"), id("H-8")];
    let before = audit(&db.store).await;
    let imported = import(&db.store, &arriving(batch, true)).await;
    let unknown = |number: &str| (2650, Refusal::UnknownReference(RecordKind::Hydrant, number.to_owned()));
    assert_eq!(imported.refused, [unknown("H-9"), unknown("H-8")]);
    assert_eq!(db.store.flow_tests(&id("H-1"), None, 10).await.unwrap(), []);
    assert_eq!(audit(&db.store).await, before);
}

#[tokio::test]
async fn equipment_comes_in_with_what_it_refers_to() {
    let db = fresh().await;
    let batches = [
        Batch::HoseTypes(vec![hose_type("ldh"), hose_type("three")]),
        Batch::Appliances(vec![appliance("wye")]),
        Batch::HydrantValves(vec![valve("v-1")]),
        Batch::Pumpers(vec![pumper("E-1")]),
        Batch::LayProfiles(vec![lay_profile("L-1")]),
    ];
    for batch in &batches {
        let first = import(&db.store, batch).await;
        assert_eq!((first.created > 0, first.refused.as_slice()), (true, &[][..]), "{batch:?}");
        let again = import(&db.store, batch).await;
        assert_eq!((again.unchanged, again.created), (first.created, 0), "{batch:?}");
    }
    let mut lost = pumper("E-2");
    lost.hose[1].hose_type_id = id("nowhere");
    let imported = import(&db.store, &Batch::Pumpers(vec![pumper("E-3"), lost])).await;
    assert_eq!(imported.refused, [(1, Refusal::UnknownReference(RecordKind::HoseType, "nowhere".to_owned()))]);
    assert_eq!(db.store.pumper(&id("E-3")).await.unwrap(), None);
    let shipped = HoseType { id: id("std-5in"), ..hose_type("x") };
    let imported = import(&db.store, &Batch::HoseTypes(vec![shipped])).await;
    assert_eq!(imported.refused, [(0, Refusal::ReadOnly(RecordKind::HoseType, "std-5in".to_owned()))]);
}

#[tokio::test]
async fn looking_at_an_import_changes_nothing() {
    let db = fresh().await;
    let seen = std::sync::Mutex::new(Vec::new());
    let looked = db
        .store
        .try_import(&Batch::Hydrants(many()), Terms::default(), &|done| seen.lock().unwrap().push(done))
        .await
        .unwrap();
    assert_eq!((looked.imported.created, seen.into_inner().unwrap()), (2345, vec![2000, 2345]));
    assert_eq!(db.store.hydrants(&HydrantQuery::default(), None, 10).await.unwrap(), []);
    assert_eq!(audit(&db.store).await, []);
}

#[tokio::test]
async fn what_was_written_since_the_look_is_judged_and_nothing_of_it_is_lost() {
    let db = fresh().await;
    let batch = Batch::Hydrants(vec![full_hydrant("H-1"), hydrant("H-2"), hydrant("H-3")]);
    let looked = db.store.try_import(&batch, Terms::default(), &|_| {}).await.unwrap();
    for hydrant in [full_hydrant("H-1"), full_hydrant("H-2")] {
        db.store.put_hydrant(&hydrant, &change()).await.unwrap();
    }
    let imported = import_looked(&db.store, &batch, Some(&looked)).await;
    assert_eq!(imported, Imported { created: 1, replaced: 1, unchanged: 1, ..Imported::default() });
    assert_eq!(import_looked(&db.store, &batch, None).await, Imported { unchanged: 3, ..Imported::default() });

    let tests = [1, 2].map(|n| ArrivingTest { test: flow_test(n, "H-1"), is_named: true });
    let batch = Batch::FlowTests(tests.to_vec());
    let looked = db.store.try_import(&batch, Terms::default(), &|_| {}).await.unwrap();
    db.store.add_flow_test(&flow_test(2, "H-1"), &change()).await.unwrap();
    let imported = import_looked(&db.store, &batch, Some(&looked)).await;
    assert_eq!(imported, Imported { created: 1, skipped: vec![1], ..Imported::default() });
    let looked = db.store.try_import(&batch, Terms::default(), &|_| {}).await.unwrap();
    db.store.retire_hydrant(&id("H-1"), &change()).await.unwrap();
    let imported = import_looked(&db.store, &batch, Some(&looked)).await;
    let gone = Refusal::UnknownReference(RecordKind::Hydrant, "H-1".to_owned());
    assert_eq!(imported.refused, [(0, gone.clone()), (1, gone)]);
}

fn out_of_service(number: &str, reason: Option<&str>) -> Hydrant {
    Hydrant { status: Status::OutOfService { reason: reason.map(str::to_owned) }, ..hydrant(number) }
}

async fn import_on(store: &Store, hydrants: Vec<Hydrant>, terms: Terms) -> Imported {
    let batch = Batch::Hydrants(hydrants);
    let looked = store.try_import(&batch, terms, &|_| {}).await.unwrap();
    let import = Import { batch: &batch, terms, sha256: [0; 32], looked: Some(&looked) };
    let recorded = store.import(&import, &change(), &|_| Vec::new(), &|_| {}).await.unwrap();
    assert_eq!(recorded, ImportRecorded::Now(looked.imported.clone()));
    looked.imported
}

#[tokio::test]
async fn a_hydrant_returns_to_service_only_where_that_is_said() {
    let db = fresh().await;
    let broken = || out_of_service("H-1", Some("stem broken"));
    for hydrant in [broken(), out_of_service("H-2", None)] {
        db.store.put_hydrant(&hydrant, &change()).await.unwrap();
    }
    db.store.retire_hydrant(&id("H-2"), &change()).await.unwrap();
    let file = vec![hydrant("H-3"), hydrant("H-1"), hydrant("H-2")];
    let imported = import_on(&db.store, file.clone(), Terms::default()).await;
    let refused = [
        (1, Refusal::ReturnsToService(id("H-1"), Some("stem broken".to_owned()))),
        (2, Refusal::ReturnsToService(id("H-2"), None)),
    ];
    assert_eq!(imported.refused, refused);
    assert_eq!(
        refused[0].1.to_string(),
        "the hydrant H-1 is out of service (stem broken) and would be put back in service"
    );
    assert_eq!(db.store.hydrants(&HydrantQuery::default(), None, 10).await.unwrap(), [broken()]);
    let imported = import_on(&db.store, file, Terms { return_to_service: true }).await;
    let notices = [
        (1, Notice::ReturnsToService(Some("stem broken".to_owned()))),
        (2, Notice::ReturnsFromRetirement),
        (2, Notice::ReturnsToService(None)),
    ];
    assert_eq!((imported.refused, imported.notices), (vec![], notices.to_vec()));
    assert_eq!(db.store.hydrant(&id("H-1")).await.unwrap(), Some(hydrant("H-1")));
}

#[tokio::test]
async fn what_broke_since_the_look_is_not_put_back_in_service() {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    let batch = Batch::Hydrants(vec![Hydrant { main_id: Some("M-9".to_owned()), ..hydrant("H-1") }]);
    let looked = db.store.try_import(&batch, Terms::default(), &|_| {}).await.unwrap();
    assert_eq!(looked.imported.refused, []);
    db.store.put_hydrant(&out_of_service("H-1", None), &change()).await.unwrap();
    let import = Import { batch: &batch, terms: Terms::default(), sha256: [0; 32], looked: Some(&looked) };
    let recorded = db.store.import(&import, &change(), &|_| Vec::new(), &|_| {}).await.unwrap();
    let ImportRecorded::Now(imported) = recorded else { panic!("{recorded:?}") };
    assert_eq!(imported.refused, [(0, Refusal::ReturnsToService(id("H-1"), None))]);
    assert_eq!(db.store.hydrant(&id("H-1")).await.unwrap(), Some(out_of_service("H-1", None)));
}

#[tokio::test]
async fn what_becomes_empty_or_leaves_service_is_told_and_what_stays_is_not() {
    let db = fresh().await;
    let full = Hydrant { status: Status::InService, seasonal: true, ..full_hydrant("H-1") };
    let ailing = out_of_service("H-2", Some("stem broken"));
    for hydrant in [&full, &ailing] {
        db.store.put_hydrant(hydrant, &change()).await.unwrap();
    }
    let same = import_on(&db.store, vec![full.clone(), ailing], Terms::default()).await;
    assert_eq!((same.unchanged, same.notices), (2, vec![]));
    let bare = Hydrant { location: full.location, ..out_of_service("H-1", Some("hit by a truck")) };
    let imported = import_on(&db.store, vec![out_of_service("H-2", None), bare], Terms::default()).await;
    let emptied = ["elevation_ft", "outlets", "body_loss_coefficient", "main_id", "main_diameter_in", "pressure_zone"];
    let expected = [
        (0, Notice::Empties(vec!["out_of_service_reason"])),
        (1, Notice::LeavesService),
        (1, Notice::NoLongerSeasonal),
        (1, Notice::Empties([&emptied[..], &["description"]].concat())),
    ];
    assert_eq!(imported.notices, expected);
}

fn at(number: &str, lon: f64, lat: f64) -> Hydrant {
    Hydrant { location: Location::new(lon, lat).unwrap(), ..hydrant(number) }
}

fn far(imported: &Imported) -> Vec<(usize, bool)> {
    let exchanged = |notice: &Notice| match notice {
        Notice::FarFromOthers(misplaced) => Some(misplaced.looks_exchanged),
        _ => None,
    };
    imported.notices.iter().filter_map(|(index, notice)| Some((*index, exchanged(notice)?))).collect()
}

#[tokio::test]
async fn a_hydrant_far_from_the_others_is_told_by_those_of_the_file_and_then_by_those_kept() {
    let db = fresh().await;
    let town = |n: u32| at(&format!("H-{n}"), -30.0 - f64::from(n) / 1000.0, 40.0);
    let few = vec![town(1), at("H-9", 40.0, -30.0), town(2)];
    assert_eq!(far(&import_on(&db.store, few, Terms::default()).await), [], "two others settle nothing");
    db.store.retire_hydrant(&id("H-9"), &change()).await.unwrap();
    let file = vec![town(3), at("H-8", 40.0, -30.0), at("H-7", -30.0, 41.0), town(4), town(5)];
    let looked = db.store.try_import(&Batch::Hydrants(file), Terms::default(), &|_| {}).await.unwrap();
    assert_eq!(far(&looked.imported), [(1, true), (2, false)]);
    import_on(&db.store, vec![town(3), town(4)], Terms::default()).await;
    let whole_file_exchanged: Vec<_> = (1..=40).map(|n| at(&format!("H-{n}"), 40.0, -30.0)).collect();
    let looked = db.store.try_import(&Batch::Hydrants(whole_file_exchanged), Terms::default(), &|_| {}).await.unwrap();
    assert_eq!(far(&looked.imported), (0..40).map(|n| (n, true)).collect::<Vec<_>>());
}
