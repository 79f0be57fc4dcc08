use std::time::Duration;

use longlay_records::equipment::{HoseType, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use longlay_store::{Listed, Snapshot, StoreError};

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

    assert_eq!((listed::<Hydrant>(&mut snapshot).await, listed::<FlowTest>(&mut snapshot).await), (3, 0));
    let mut now = db.store.snapshot().await.unwrap();
    assert_eq!((listed::<Hydrant>(&mut now).await, listed::<FlowTest>(&mut now).await), (3, 1));
    let first = Hydrant::page(&mut snapshot, None, 1).await.unwrap();
    let rest = Hydrant::page(&mut snapshot, Some(&first[0].0), 10).await.unwrap();
    let seen: Vec<_> = first.iter().chain(&rest).map(|(hydrant, _)| hydrant.id.as_str()).collect();
    assert_eq!(seen, ["A", "B", "C"]);
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

/// How many are listed, which must be how many are counted.
async fn listed<T: Listed>(snapshot: &mut Snapshot) -> usize {
    let records = T::page(snapshot, None, 1000).await.unwrap().len();
    assert_eq!(T::count(snapshot).await, Ok(records as u64));
    records
}

#[tokio::test]
async fn as_many_are_counted_as_are_listed() {
    let db = fresh().await;
    for number in ["A", "B", "C"] {
        db.store.put_hydrant(&hydrant(number), &change()).await.unwrap();
    }
    db.store.add_flow_test(&flow_test(1, "A"), &change()).await.unwrap();
    db.store.add_flow_test(&flow_test(2, "B"), &change()).await.unwrap();
    db.store
        .add_flow_test(&FlowTest { flow_hydrant_ids: vec![id("B")], ..flow_test(3, "A") }, &change())
        .await
        .unwrap();
    db.store.retire_hydrant(&id("B"), &change()).await.unwrap();
    let mut snapshot = db.store.snapshot().await.unwrap();
    assert_eq!((listed::<Hydrant>(&mut snapshot).await, listed::<FlowTest>(&mut snapshot).await), (2, 1));
    // The shipped library's are not the department's.
    assert_eq!((listed::<HoseType>(&mut snapshot).await, listed::<Pumper>(&mut snapshot).await), (0, 0));
}
