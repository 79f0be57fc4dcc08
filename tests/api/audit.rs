use longlay_tests::records::{
    appliance, flow_test, hose_type, hydrant, hydrant_valve, lay_profile, pumper, with, without,
};
use longlay_tests::{NOW, Service};
use reqwest::Method;
use serde_json::{Value, json};

async fn audit(service: &Service, query: &str) -> Vec<Value> {
    let answer = service.get(&format!("/v1/audit{query}")).await;
    assert_eq!((answer.status, answer.header("content-type")), (200, "application/x-ndjson"), "{}", answer.text);
    answer.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// Sends a request under an id, and checks that it left this one entry.
async fn leaves(
    service: &Service,
    method: Method,
    path: &str,
    body: Option<&Value>,
    entry: (&str, &str, Value),
) -> Value {
    let before = audit(service, "").await.len();
    let id = format!("call-{before}");
    let request = service.request(method, path).header("x-request-id", &id).header("if-match", "*");
    let request = if let Some(body) = body { request.json(body) } else { request };
    let answer = service.send(request).await;
    assert!((200..300).contains(&answer.status), "{path}: {}", answer.text);
    let left = audit(service, &format!("?after_seq={before}")).await;
    let (action, kind, version) = entry;
    assert_eq!(left.len(), 1, "{path}: {left:?}");
    assert_eq!(
        (&left[0]["action"], &left[0]["kind"], &left[0]["record_version"]),
        (&json!(action), &json!(kind), &version),
        "{path}"
    );
    assert_eq!((&left[0]["request_id"], &left[0]["at"]), (&json!(id), &json!(NOW)));
    assert_eq!(left[0]["author"], "no key asked for");
    let record = serde_json::from_str(&answer.text).unwrap_or(Value::Null);
    let own = record.get("hydrant_id").filter(|_| kind == "hydrant").or(record.get("id"));
    let named = own.and_then(Value::as_str).unwrap_or_else(|| path.rsplit('/').next().unwrap());
    assert_eq!(left[0]["record_id"], named, "{path}");
    record
}

#[tokio::test]
async fn every_write_leaves_one_entry() {
    let service = Service::start().await;
    let made = [
        ("hydrant", "/v1/hydrants/H-1", hydrant()),
        ("hose_type", "/v1/hose-types/own", hose_type()),
        ("appliance", "/v1/appliances/own", appliance()),
        ("hydrant_valve", "/v1/hydrant-valves/own", hydrant_valve()),
        ("pumper", "/v1/pumpers/E-1", pumper()),
        ("lay_profile", "/v1/lay-profiles/l-1", lay_profile()),
    ];
    for (seq, (kind, path, body)) in made.iter().enumerate() {
        service.put_with(path, body, &[("x-request-id", "made")]).await.created();
        let line = audit(&service, &format!("?after_seq={seq}")).await;
        assert_eq!(line.len(), 1, "{path}");
        assert_eq!(
            (&line[0]["action"], &line[0]["kind"], &line[0]["record_version"]),
            (&json!("create"), &json!(kind), &json!(1))
        );
    }
    for (kind, path, body) in &made {
        leaves(&service, Method::PUT, path, Some(body), ("replace", kind, json!(2))).await;
    }
    let reading = json!({ "flow_gpm": 500.0, "upstream_psi": 72.5, "downstream_psi": 60.0 });
    let test = json!({
        "tested_on": "2026-05-14", "method": "two gauges", "hose_type_id": "own", "length_ft": 1000.0,
        "meter_uncertainty_percent": 2.0, "readings": [reading]
    });
    let hose = json!({ "kind": "hose", "hose_type_id": "own", "length_ft": 1000.0 });
    let drill = json!({
        "drilled_on": "2026-10-01", "lay": { "source": { "hydrant_id": "H-1" }, "parts": [hose] }, "flow_gpm": 500.0,
        "flow_uncertainty_percent": 3.0,
        "readings": [{ "station": "hydrant", "pressure_psi": 50.0 }, { "station": "scene", "pressure_psi": 28.0 }]
    });
    let mut recorded = Vec::new();
    for (kind, path, body) in [
        ("flow_test", "/v1/hydrants/H-1/flow-tests", flow_test()),
        ("equipment_test", "/v1/equipment-tests", test),
        ("drill", "/v1/drills", drill),
    ] {
        let record = leaves(&service, Method::POST, path, Some(&body), ("record", kind, Value::Null)).await;
        recorded.push((kind, format!("{path}/{}/void", record["id"].as_str().unwrap()), record));
    }
    for (kind, path, record) in recorded {
        let reason = json!({ "reason": "misread" });
        let voided = leaves(&service, Method::POST, &path, Some(&reason), ("void", kind, Value::Null)).await;
        assert_eq!(voided["id"], record["id"]);
    }
    for (kind, path, body) in made.iter().rev() {
        leaves(&service, Method::DELETE, path, None, ("retire", kind, json!(3))).await;
        service.put_with(path, body, &[]).await.created();
        let line = audit(&service, "").await.pop().unwrap();
        assert_eq!(
            (&line["action"], &line["kind"], &line["record_version"]),
            (&json!("restore"), &json!(kind), &json!(4))
        );
    }
    let all = audit(&service, "").await;
    let seqs: Vec<_> = all.iter().map(|line| line["seq"].as_u64().unwrap()).collect();
    assert_eq!(seqs, (1..=30).collect::<Vec<_>>());
}

#[tokio::test]
async fn a_refused_write_leaves_none() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let stale = [("if-match", "\"9\"")];
    service.put_with("/v1/hydrants/H-1", &hydrant(), &stale).await.problem(412, "precondition-failed");
    service.put_with("/v1/hydrants/H-1", &hydrant(), &[]).await.problem(428, "precondition-required");
    service.delete_with("/v1/hydrants/H-1", &stale).await.problem(412, "precondition-failed");
    service.delete_with("/v1/hydrants/H-1", &[]).await.problem(428, "precondition-required");
    service.delete("/v1/hydrants/H-9").await.problem(404, "not-found");
    service.delete("/v1/hose-types/std-5in").await.problem(409, "read-only-record");
    service.put("/v1/hydrants/H-1", &without(hydrant(), "owner")).await.problem(422, "invalid-body-shape");
    let unknown = with(lay_profile(), &json!({ "hose_type_id": "none" }));
    service.put("/v1/lay-profiles/l", &unknown).await.problem(422, "unknown-reference");
    service.post("/v1/hydrants/H-9/flow-tests", &flow_test()).await.problem(404, "not-found");
    assert_eq!(audit(&service, "").await.len(), 1);
}

#[tokio::test]
async fn a_long_audit_comes_whole() {
    let service = Service::demo().await;
    let all = audit(&service, "").await;
    assert!(all.len() > 250, "more than are read at once: {}", all.len());
    assert!(all.iter().zip(1..).all(|(line, seq)| line["seq"] == seq));
    assert!(all.iter().all(|line| line["author"] == "demo town"));
    assert_eq!(audit(&service, &format!("?after_seq={}", all.len())).await.len(), 0);
    for seq in ["-1", "9223372036854775808", "1.5"] {
        service.get(&format!("/v1/audit?after_seq={seq}")).await.problem(400, "invalid-query");
    }
}
