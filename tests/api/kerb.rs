use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, pitot_test, with};
use serde_json::{Value, json};

const KERB: &str = "/v1/hydrants/H-1/flow-tests?dry_run=true";

/// H-1 carries the gauge, and H-2 with two hose outlets flows.
async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let hose = json!({ "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9 });
    service.given("/v1/hydrants/H-2", &with(hydrant(), &json!({ "outlets": [hose, hose] }))).await;
    service
}

fn reading(residual_psi: f64, pitot_psi: f64) -> Value {
    let outlet = json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": pitot_psi });
    with(pitot_test(), &json!({ "residual_psi": residual_psi, "outlets": [outlet], "flow_hydrant_ids": ["H-2"] }))
}

#[tokio::test]
async fn a_dry_run_names_the_outlet_to_open_and_stores_nothing() {
    let service = town().await;
    let said = service.post(KERB, &reading(58.0, 20.0)).await.ok();
    assert_eq!((&said["hydrant_id"], &said["residual_psi"]), (&json!("H-1"), &json!(58.0)));
    let kerb = &said["kerb"];
    assert_eq!((&kerb["enough"], &kerb["good"], &kerb["stop_at_psi"]), (&json!(false), &json!(false), &json!(20.0)));
    assert_eq!(kerb["advice"]["code"], "open_next");
    let next = &kerb["open_next"];
    assert_eq!((&next["hydrant_id"], &next["outlet"]["diameter_in"]), (&json!("H-2"), &json!(2.5)));
    // The meeting of 1501 √(R/58) gpm and 60 - 2 (Q/750.6)^(1/0.54) psi.
    assert!((next["expected_residual_psi"].as_f64().unwrap() - 53.32).abs() < 0.01, "{next}");
    let width = |band: &Value| band["high"].as_f64().unwrap() - band["low"].as_f64().unwrap();
    assert!(width(&next["expected_rated_flow_band_gpm"]) < width(&kerb["rated_flow_band_gpm"]));
    assert!(kerb["advice"]["message"].as_str().unwrap().contains("2.5 in outlet of H-2"));
    let codes: Vec<_> = kerb["cautions"].as_array().unwrap().iter().map(|caution| &caution["code"]).collect();
    assert!(codes.contains(&&json!("main_floor")) && codes.contains(&&json!("open_slowly")));
    assert_eq!(service.all("/v1/hydrants/H-1/flow-tests").await, Vec::<Value>::new());
}

#[tokio::test]
async fn a_main_at_its_floor_says_stop() {
    let said = town().await.post(KERB, &reading(20.0, 16.0)).await.ok();
    assert_eq!((&said["kerb"]["advice"]["code"], &said["kerb"]["open_next"]), (&json!("stop"), &Value::Null));
}

#[tokio::test]
async fn a_dry_run_refuses_what_recording_refuses() {
    let service = town().await;
    let unknown = with(flow_test(), &json!({ "flow_hydrant_ids": ["H-2", "H-9"] }));
    assert_eq!(
        service.post(KERB, &unknown).await.problem(422, "unknown-reference").faults(),
        ["/flow_hydrant_ids/1 unknown_reference"]
    );
    service.post("/v1/hydrants/H-9/flow-tests?dry_run=true", &flow_test()).await.problem(404, "not-found");
    let bad = with(flow_test(), &json!({ "residual_psi": 70.0 }));
    assert_eq!(
        service.post(KERB, &bad).await.problem(422, "invalid-values").faults(),
        ["/residual_psi residual_above_static"]
    );
    service.post("/v1/hydrants/H-1/flow-tests?dry_run=maybe", &flow_test()).await.problem(400, "invalid-query");
}

#[tokio::test]
async fn without_a_dry_run_the_test_is_recorded() {
    let service = town().await;
    service.post("/v1/hydrants/H-1/flow-tests?dry_run=false", &flow_test()).await.created();
    assert_eq!(service.all("/v1/hydrants/H-1/flow-tests").await.len(), 1);
}

#[tokio::test]
async fn a_slipped_digit_is_asked_about_before_anything_is_advised() {
    let service = town().await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    let slip = with(flow_test(), &json!({ "static_psi": 600.0, "tested_on": "2026-05-14" }));
    let said = service.post(KERB, &slip).await.ok();
    let message = said["kerb"]["advice"]["message"].as_str().unwrap();
    assert!(message.starts_with("Check the reading: a static over 200 psi, typed as read?"), "{message}");
    assert!(message.contains("[600.00 psi, and 60.00 psi in the test of 2025-05-14]"), "{message}");
    let checks = ["pressure_implausible", "static_differs_from_other_tests"];
    let codes = |of: &Value| {
        let codes = of["findings"].as_array().unwrap().iter().map(|finding| finding["code"].clone());
        checks.map(|check| codes.clone().any(|code| code == check))
    };
    assert_eq!(codes(&said), [true, true]);
    let recorded = service.post("/v1/hydrants/H-1/flow-tests", &slip).await.created();
    let address = format!("/v1/hydrants/H-1/flow-tests/{}", recorded["id"].as_str().unwrap());
    assert_eq!((codes(&recorded), service.get(&address).await.ok()), ([true, true], recorded));
}
