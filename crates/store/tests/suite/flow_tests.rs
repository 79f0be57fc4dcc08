use longlay_records::flow_test::{FlowTest, Voided};
use longlay_store::{RecordKind, StoreError, VoidOutcome};
use uuid::Uuid;

use crate::support::{Fresh, change, flow_test, fresh, hydrant, id, pitot, test_id, voided};

async fn with_hydrants() -> Fresh {
    let db = fresh().await;
    for number in ["H-1", "H-2", "H-3"] {
        db.store.put_hydrant(&hydrant(number), &change()).await.unwrap();
    }
    db
}

#[tokio::test]
async fn a_test_comes_back_as_it_was_recorded() {
    let db = with_hydrants().await;
    let by_pitot = FlowTest {
        flow: pitot(&[(2.5, 0.9, 18.25), (4.5, 0.8, 6.0), (2.5, 0.9, 17.0)]),
        flow_hydrant_ids: vec![id("H-3"), id("H-2")],
        notes: Some("windy".to_owned()),
        ..flow_test(1, "H-1")
    };
    let voided_at_once = FlowTest { voided: Some(voided()), ..flow_test(2, "H-1") };
    for test in [by_pitot, voided_at_once, flow_test(3, "H-1")] {
        db.store.add_flow_test(&test, &change()).await.unwrap();
        assert_eq!(db.store.flow_test(&id("H-1"), test.id).await, Ok(Some(test.clone())));
        assert_eq!(db.store.flow_test(&id("H-2"), test.id).await, Ok(None), "it belongs to its gauge hydrant");
    }
    assert_eq!(db.store.flow_test(&id("H-1"), test_id(9)).await, Ok(None));
}

#[tokio::test]
async fn the_union_of_the_pages_is_the_set_voided_ones_too() {
    let db = with_hydrants().await;
    let mut all: Vec<FlowTest> = (0..7).map(|n| flow_test(n, "H-1")).collect();
    // Recorded out of order: the order of the list is that of the ids.
    for test in all.iter().rev() {
        db.store.add_flow_test(test, &change()).await.unwrap();
    }
    db.store.add_flow_test(&flow_test(3_000, "H-2"), &change()).await.unwrap();
    db.store.void_flow_test(&id("H-1"), all[2].id, &voided(), &change()).await.unwrap();
    all[2].voided = Some(voided());

    let mut found: Vec<FlowTest> = Vec::new();
    loop {
        let after: Option<Uuid> = found.last().map(|last| last.id);
        let page = db.store.flow_tests(&id("H-1"), after, 3).await.unwrap();
        if page.is_empty() {
            break;
        }
        found.extend(page);
    }
    assert_eq!(found, all);
}

#[tokio::test]
async fn the_first_reason_for_voiding_stands() {
    let db = with_hydrants().await;
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();
    let again = Voided { reason: "another".to_owned(), ..voided() };
    assert_eq!(db.store.void_flow_test(&id("H-2"), test_id(1), &voided(), &change()).await, Ok(VoidOutcome::NotFound));
    assert_eq!(db.store.void_flow_test(&id("H-1"), test_id(2), &voided(), &change()).await, Ok(VoidOutcome::NotFound));
    assert_eq!(db.store.void_flow_test(&id("H-1"), test_id(1), &voided(), &change()).await, Ok(VoidOutcome::Voided));
    assert_eq!(
        db.store.void_flow_test(&id("H-1"), test_id(1), &again, &change()).await,
        Ok(VoidOutcome::AlreadyVoided)
    );
    let stored = db.store.flow_test(&id("H-1"), test_id(1)).await.unwrap().unwrap();
    assert_eq!(stored.voided, Some(voided()));
}

#[tokio::test]
async fn a_test_names_only_hydrants_that_stand() {
    let db = with_hydrants().await;
    db.store.retire_hydrant(&id("H-3"), &change()).await.unwrap();
    let unknown = |number: &str| StoreError::UnknownReferences(vec![(RecordKind::Hydrant, number.to_owned())]);
    for missing in ["H-3", "H-4"] {
        assert_eq!(db.store.add_flow_test(&flow_test(1, missing), &change()).await, Err(unknown(missing)));
        let flowed = FlowTest { flow_hydrant_ids: vec![id("H-2"), id(missing)], ..flow_test(1, "H-1") };
        assert_eq!(db.store.add_flow_test(&flowed, &change()).await, Err(unknown(missing)));
    }
    assert_eq!(db.store.flow_tests(&id("H-1"), None, 10).await, Ok(Vec::new()), "nothing of them was kept");
}

#[tokio::test]
async fn tests_outlive_the_retirement_of_their_hydrant() {
    let db = with_hydrants().await;
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();
    db.store.retire_hydrant(&id("H-1"), &change()).await.unwrap();
    assert_eq!(db.store.flow_tests(&id("H-1"), None, 10).await, Ok(vec![flow_test(1, "H-1")]));
}

#[tokio::test]
async fn a_test_is_not_recorded_twice() {
    let db = with_hydrants().await;
    let test = FlowTest { flow: pitot(&[(2.5, 0.9, 18.0)]), ..flow_test(1, "H-1") };
    db.store.add_flow_test(&test, &change()).await.unwrap();
    let other = FlowTest { flow: pitot(&[(2.5, 0.9, 40.0), (2.5, 0.9, 40.0)]), ..test.clone() };
    assert!(matches!(db.store.add_flow_test(&other, &change()).await, Err(StoreError::Other(_))));
    assert_eq!(db.store.flow_test(&id("H-1"), test.id).await, Ok(Some(test)));
}
