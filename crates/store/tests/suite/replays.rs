//! Requests sent again.

use chrono::TimeDelta;
use longlay_records::author::Author;
use longlay_store::{Answer, Change, Recorded, Replay, StoreError, VoidOutcome};
use uuid::Uuid;

use crate::support::{Fresh, change, flow_test, fresh, hydrant, id, now, test_id, voided};

fn answer(body: &str) -> Answer {
    Answer { status: 201, location: Some("http://h/1".to_owned()), body: body.as_bytes().to_vec() }
}

/// A change by this request, with this answer.
fn asked(key: &str, request: u8, body: &str) -> Change {
    change().answered(Some(Replay { key: key.to_owned(), request: [request; 32], answer: answer(body) }))
}

async fn with_hydrant() -> Fresh {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    db
}

async fn tests(db: &Fresh) -> usize {
    db.store.flow_tests(&id("H-1"), None, 1000).await.unwrap().len()
}

#[tokio::test]
async fn the_same_request_gets_its_first_answer_and_is_recorded_once() {
    let db = with_hydrant().await;
    assert_eq!(db.store.add_flow_test(&flow_test(1, "H-1"), &asked("k", 1, "one")).await, Ok(Recorded::Now));
    let again = db.store.add_flow_test(&flow_test(2, "H-1"), &asked("k", 1, "two")).await;
    assert_eq!(again, Ok(Recorded::Before(answer("one"))));
    assert_eq!((tests(&db).await, db.store.audit(0, 100).await.unwrap().len()), (1, 2));

    let void = asked("v", 2, "void");
    let first = db.store.void_flow_test(&id("H-1"), test_id(1), &voided(), &void).await;
    assert_eq!(first, Ok(VoidOutcome::Voided));
    let again = db.store.void_flow_test(&id("H-1"), test_id(1), &voided(), &void).await;
    assert_eq!(again, Ok(VoidOutcome::Before(answer("void"))));
    assert_eq!(db.store.audit(0, 100).await.unwrap().len(), 3);
}

#[tokio::test]
async fn a_key_stands_for_one_request_of_one_author() {
    let db = with_hydrant().await;
    db.store.add_flow_test(&flow_test(1, "H-1"), &asked("k", 1, "one")).await.unwrap();
    let other = db.store.add_flow_test(&flow_test(2, "H-1"), &asked("k", 2, "two")).await;
    assert_eq!(other, Err(StoreError::KeyReused("k".to_owned())));
    let author = Author { name: "tablet".to_owned(), key_id: Some(Uuid::from_u128(3)) };
    let theirs = Change { author, ..asked("k", 2, "theirs") };
    assert_eq!(db.store.add_flow_test(&flow_test(3, "H-1"), &theirs).await, Ok(Recorded::Now));
    assert_eq!(tests(&db).await, 2);
}

#[tokio::test]
async fn of_the_same_request_at_once_one_is_recorded() {
    let db = with_hydrant().await;
    let mut tasks = Vec::new();
    for n in 1..=20 {
        let store = db.store.clone();
        tasks.push(tokio::spawn(async move {
            store.add_flow_test(&flow_test(n, "H-1"), &asked("k", 1, &n.to_string())).await.unwrap()
        }));
    }
    let mut first_answers = Vec::new();
    let mut recorded = 0;
    for task in tasks {
        match task.await.unwrap() {
            Recorded::Now => recorded += 1,
            Recorded::Before(answer) => first_answers.push(answer.body),
        }
    }
    assert_eq!((recorded, tests(&db).await), (1, 1));
    assert!(first_answers.iter().all(|body| *body == first_answers[0]), "{first_answers:?}");
}

#[tokio::test]
async fn an_answer_is_kept_for_a_day_and_cleared_by_a_later_one() {
    let db = with_hydrant().await;
    let kept = async |key: &str| db.store.kept_answer(&Author::command_line(), key, &[1; 32]).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "H-1"), &asked("first", 1, "one")).await.unwrap();
    let later = |hours, key: &str| Change { at: now() + TimeDelta::hours(hours), ..asked(key, 1, "later") };
    db.store.add_flow_test(&flow_test(2, "H-1"), &later(24, "day")).await.unwrap();
    assert_eq!(kept("first").await, Some(answer("one")));
    db.store.add_flow_test(&flow_test(3, "H-1"), &later(25, "next")).await.unwrap();
    assert_eq!((kept("first").await, kept("day").await), (None, Some(answer("later"))));
}
