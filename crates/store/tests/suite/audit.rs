//! What is put down in the audit, and that it stays.

use longlay_records::author::Author;
use longlay_store::{AuditEntry, Change, Condition, Replay, StoreError};
use uuid::Uuid;

use crate::support::{change, flow_test, fresh, hydrant, id, lay_profile, now, test_id, voided};

fn key_holder() -> Author {
    Author { name: "station 2 tablet".to_owned(), key_id: Some(Uuid::from_u128(7)) }
}

#[tokio::test]
async fn a_change_is_put_down_whole() {
    let db = fresh().await;
    let by_key = Change { request_id: Some("call-7".to_owned()), ..Change::by(key_holder(), now()) };
    db.store.put_hydrant(&hydrant("H-1"), &by_key).await.unwrap();
    db.store.add_flow_test(&flow_test(1, "H-1"), &change()).await.unwrap();
    let hydrant_made = AuditEntry {
        seq: 1,
        at: now(),
        author: key_holder(),
        request_id: Some("call-7".to_owned()),
        action: "create".to_owned(),
        kind: "hydrant".to_owned(),
        record_id: Some("H-1".to_owned()),
        record_version: Some(1),
        detail: None,
    };
    let test_recorded = AuditEntry {
        seq: 2,
        at: now(),
        author: Author::command_line(),
        request_id: None,
        action: "record".to_owned(),
        kind: "flow_test".to_owned(),
        record_id: Some(test_id(1).to_string()),
        record_version: None,
        detail: None,
    };
    assert_eq!(db.store.audit(0, 10).await, Ok(vec![hydrant_made.clone(), test_recorded.clone()]));
    assert_eq!(db.store.audit(0, 1).await, Ok(vec![hydrant_made]));
    assert_eq!(db.store.audit(1, 10).await, Ok(vec![test_recorded]));
    assert_eq!(db.store.audit(u64::MAX, 10).await, Ok(Vec::new()));
}

#[tokio::test]
async fn what_was_refused_is_not_put_down() {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    let before = db.store.audit(0, 100).await.unwrap();
    let stale = change().on(Condition::Version(9));
    db.store.put_hydrant(&hydrant("H-1"), &stale).await.unwrap_err();
    db.store.put_hydrant(&hydrant("H-1"), &change().on(Condition::Unsaid)).await.unwrap_err();
    db.store.retire_hydrant(&id("H-1"), &stale).await.unwrap_err();
    assert_eq!(db.store.retire_hydrant(&id("H-9"), &change()).await, Ok(false));
    let lay = longlay_records::equipment::LayProfile { hose_type_id: id("none"), ..lay_profile("l") };
    db.store.put_lay_profile(&lay, &change()).await.unwrap_err();
    db.store.add_flow_test(&flow_test(1, "H-9"), &change()).await.unwrap_err();
    db.store.void_flow_test(&id("H-1"), test_id(1), &voided(), &change()).await.unwrap();
    assert_eq!(db.store.audit(0, 100).await, Ok(before));
}

#[tokio::test]
async fn the_audit_is_never_edited() {
    let db = fresh().await;
    db.store.put_hydrant(&hydrant("H-1"), &change()).await.unwrap();
    let before = db.store.audit(0, 100).await.unwrap();
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE audit SET author = 'somebody else'",
        "UPDATE audit SET detail = '{}'",
        "DELETE FROM audit",
        "INSERT OR REPLACE INTO audit (seq, at, author, action, kind) VALUES (1, 'x', 'somebody else', 'create', 'hydrant')",
    ] {
        let said = sqlx::raw_sql(sql).execute(&mut conn).await.expect_err(sql).to_string();
        assert!(said.contains("the audit is never edited"), "{sql}: {said}");
    }
    assert_eq!(db.store.audit(0, 100).await, Ok(before));
}

#[tokio::test]
async fn an_answer_is_not_kept_with_what_was_refused() {
    let db = fresh().await;
    let answer = longlay_store::Answer { status: 201, location: None, body: b"{}".to_vec() };
    let replay = Replay { key: "k".to_owned(), request: [1; 32], answer };
    let refused = db.store.add_flow_test(&flow_test(1, "H-9"), &change().answered(Some(replay))).await;
    assert!(matches!(refused, Err(StoreError::UnknownReferences(_))), "{refused:?}");
    assert_eq!(db.store.kept_answer(&Author::command_line(), "k", &[1; 32]).await, Ok(None));
}
