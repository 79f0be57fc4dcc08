use std::time::Duration;

use longlay_store::{HydrantQuery, StoreError};

use crate::support::{change, flow_test, fresh, hydrant, id};

#[tokio::test]
async fn a_snapshot_stays_as_it_was_whatever_is_written_meanwhile() {
    let db = fresh().await;
    for number in ["A", "B", "C"] {
        db.store.put_hydrant(&hydrant(number), &change()).await.unwrap();
    }
    let mut snapshot = db.store.snapshot().await.unwrap();
    db.store.add_flow_test(&flow_test(1, "B"), &change()).await.unwrap();
    db.store.retire_hydrant(&id("C"), &change()).await.unwrap();
    db.store.put_hydrant(&hydrant("D"), &change()).await.unwrap();

    let query = HydrantQuery::default();
    let first = snapshot.evidence_page(&query, None, 1).await.unwrap();
    let rest = snapshot.evidence_page(&query, Some(&id("A")), 10).await.unwrap();
    let seen: Vec<_> = first.iter().chain(&rest).map(|of| (of.hydrant.id.as_str(), of.tests.len())).collect();
    assert_eq!(seen, [("A", 0), ("B", 0), ("C", 0)]);

    let now = db.store.evidence_page(&query, None, 10).await.unwrap();
    let seen: Vec<_> = now.iter().map(|of| (of.hydrant.id.as_str(), of.tests.len())).collect();
    assert_eq!(seen, [("A", 0), ("B", 1), ("D", 0)]);
}

#[tokio::test]
async fn snapshots_are_few_and_leave_the_readers_alone() {
    let db = fresh().await;
    let mut held = Vec::new();
    let busy = loop {
        match db.store.snapshot().await {
            Ok(snapshot) if held.len() < 20 => held.push(snapshot),
            other => break other.map(|_| ()),
        }
    };
    assert_eq!((busy, held.len()), (Err(StoreError::Busy), 4));
    db.store.ping().await.unwrap();
    held.pop();
    db.store.snapshot().await.unwrap();
}

#[tokio::test]
async fn closing_asks_for_snapshots_and_waits_for_them() {
    let db = fresh().await;
    let snapshot = db.store.snapshot().await.unwrap();
    let closing = db.store.closing();
    let holder = tokio::spawn(async move {
        closing.await;
        drop(snapshot);
    });
    tokio::time::timeout(Duration::from_secs(5), db.store.close()).await.unwrap();
    holder.await.unwrap();
}
