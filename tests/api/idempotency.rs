use std::sync::Arc;

use longlay_tests::records::{flow_test, hydrant, with};
use longlay_tests::{Answer, Service};
use serde_json::{Value, json};

const TESTS: &str = "/v1/hydrants/H-1/flow-tests";

async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service
}

async fn keyed(service: &Service, path: &str, body: &Value, key: &str) -> Answer {
    service.post_with(path, body, &[("idempotency-key", key)]).await
}

/// All of an answer that must be the same when it is given again.
fn sent(answer: &Answer) -> (u16, &str, &str, &str) {
    (answer.status, answer.header("content-type"), answer.header("location"), &answer.text)
}

async fn count(service: &Service, path: &str) -> usize {
    service.all(path).await.len()
}

/// Sends it twice with a key, and checks that it was done once and answered the same.
async fn twice(service: &Service, path: &str, body: &Value) -> Answer {
    let first = keyed(service, path, body, path).await;
    assert!((200..300).contains(&first.status), "{path}: {}", first.text);
    assert_eq!(first.header("idempotency-replayed"), "");
    let audited = service.get("/v1/audit").await.text;
    let again = keyed(service, path, body, path).await;
    assert_eq!(sent(&again), sent(&first), "{path}");
    assert_eq!(again.header("idempotency-replayed"), "true", "{path}");
    assert_ne!(again.header("x-request-id"), first.header("x-request-id"));
    assert_eq!(service.get("/v1/audit").await.text, audited, "{path}");
    first
}

#[tokio::test]
async fn what_is_sent_again_is_recorded_once_and_answered_byte_for_byte() {
    let service = town().await;
    let reading = json!({ "flow_gpm": 500.0, "upstream_psi": 72.5, "downstream_psi": 60.0 });
    let test = json!({
        "tested_on": "2026-05-14", "method": "two gauges", "hose_type_id": "std-5in", "length_ft": 1000.0,
        "meter_uncertainty_percent": 2.0, "readings": [reading]
    });
    let hose = json!({ "kind": "hose", "hose_type_id": "std-5in", "length_ft": 1000.0 });
    let drill = json!({
        "drilled_on": "2026-10-01", "lay": { "source": { "hydrant_id": "H-1" }, "parts": [hose] }, "flow_gpm": 500.0,
        "flow_uncertainty_percent": 3.0,
        "readings": [{ "station": "hydrant", "pressure_psi": 50.0 }, { "station": "scene", "pressure_psi": 28.0 }]
    });
    let mut recorded = Vec::new();
    for (path, body) in [(TESTS, flow_test()), ("/v1/equipment-tests", test), ("/v1/drills", drill)] {
        let record = twice(&service, path, &body).await.created();
        assert_eq!(count(&service, path).await, 1, "{path}");
        let of_record = format!("{path}/{}", record["id"].as_str().unwrap());
        assert_eq!(service.get(&of_record).await.ok(), record, "told before it was recorded, and true");
        recorded.push(of_record);
    }
    for path in recorded {
        let voided = twice(&service, &format!("{path}/void"), &json!({ "reason": "misread" })).await.ok();
        assert_eq!(service.get(&path).await.ok(), voided);
    }
}

#[tokio::test]
async fn without_a_key_what_is_sent_twice_is_recorded_twice() {
    let service = town().await;
    service.post(TESTS, &flow_test()).await.created();
    service.post(TESTS, &flow_test()).await.created();
    assert_eq!(count(&service, TESTS).await, 2);
}

#[tokio::test]
async fn of_the_same_request_at_once_one_is_recorded_and_all_hear_of_it() {
    let service = Arc::new(town().await);
    let senders = (0..20).map(|_| {
        let service = Arc::clone(&service);
        tokio::spawn(async move { keyed(&service, TESTS, &flow_test(), "one").await })
    });
    let mut answers = Vec::new();
    for sender in senders.collect::<Vec<_>>() {
        answers.push(sender.await.unwrap());
    }
    assert!(answers.iter().all(|answer| sent(answer) == sent(&answers[0]) && answer.status == 201));
    let first = answers.iter().filter(|answer| answer.header("idempotency-replayed").is_empty()).count();
    assert_eq!((first, count(&service, TESTS).await), (1, 1));
}

#[tokio::test]
async fn a_key_does_not_stand_for_two_requests() {
    let service = town().await;
    let test = keyed(&service, TESTS, &flow_test(), "k").await.created();
    let other = with(flow_test(), &json!({ "residual_psi": 41.0 }));
    let problem = keyed(&service, TESTS, &other, "k").await.problem(422, "idempotency-key-reused");
    assert!(problem.detail().contains('k'), "{}", problem.detail());
    let void = format!("{TESTS}/{}/void", test["id"].as_str().unwrap());
    keyed(&service, &void, &json!({ "reason": "misread" }), "k").await.problem(422, "idempotency-key-reused");
    assert_eq!(service.all(TESTS).await, [test]);
    keyed(&service, TESTS, &other, "l").await.created();
}

#[tokio::test]
async fn a_refusal_is_not_kept() {
    let service = town().await;
    let wrong = with(flow_test(), &json!({ "residual_psi": 70.0 }));
    keyed(&service, TESTS, &wrong, "k").await.problem(422, "invalid-values");
    keyed(&service, TESTS, &wrong, "k").await.problem(422, "invalid-values");
    let right = keyed(&service, TESTS, &flow_test(), "k").await;
    assert_eq!((right.status, right.header("idempotency-replayed")), (201, ""));
}

#[tokio::test]
async fn the_first_answer_is_given_again_whatever_has_changed() {
    let service = town().await;
    let first = keyed(&service, TESTS, &flow_test(), "k").await;
    service.delete("/v1/hydrants/H-1").await.no_content();
    let again = keyed(&service, TESTS, &flow_test(), "k").await;
    assert_eq!(sent(&again), sent(&first));
    keyed(&service, TESTS, &flow_test(), "another").await.problem(404, "not-found");
}

#[tokio::test]
async fn a_key_that_cannot_be_one_is_refused() {
    let service = town().await;
    let longest = "k".repeat(255);
    for bad in ["", "two words", &format!("{longest}k")] {
        keyed(&service, TESTS, &flow_test(), bad).await.problem(400, "invalid-header");
    }
    keyed(&service, TESTS, &flow_test(), &longest).await.created();
    assert_eq!(count(&service, TESTS).await, 1);
}
