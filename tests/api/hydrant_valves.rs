use longlay_tests::Service;
use longlay_tests::records::{hydrant_valve, with, without};
use serde_json::json;

#[tokio::test]
async fn the_shipped_valve_shows_the_span_that_sources_give() {
    let service = Service::start().await;
    let row = service.get("/v1/hydrant-valves/std-four-way").await.ok();
    assert_eq!(row["through_coefficient_range"], json!({ "low": 0.04, "high": 0.23 }));
}

#[tokio::test]
async fn a_valve_keeps_its_connecting_hoses() {
    let service = Service::start().await;
    let body = with(
        hydrant_valve(),
        &json!({ "to_pump_hose": { "hose_type_id": "std-5in", "length_ft": 25.0 },
            "from_pump_hose": { "hose_type_id": "std-3in", "length_ft": 50.0 } }),
    );
    let expected = with(body.clone(), &json!({ "id": "own", "origin": "department" }));
    service.given("/v1/hydrant-valves/own", &body).await;
    assert_eq!(without(service.get("/v1/hydrant-valves/own").await.ok(), "in_use"), expected);
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let service = Service::start().await;
    let body = with(
        hydrant_valve(),
        &json!({ "through_coefficient": -0.1, "to_pump_coefficient": 1001.0, "from_pump_coefficient": -1.0,
            "to_pump_hose": { "hose_type_id": "5 in", "length_ft": 0.0 } }),
    );
    let expected = [
        "/through_coefficient out_of_bounds",
        "/to_pump_coefficient out_of_bounds",
        "/from_pump_coefficient out_of_bounds",
        "/to_pump_hose/hose_type_id invalid_id",
        "/to_pump_hose/length_ft out_of_bounds",
    ];
    let problem = service.put("/v1/hydrant-valves/own", &body).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), expected);
}

#[tokio::test]
async fn unknown_hose_is_pointed_at() {
    let service = Service::start().await;
    let hose = json!({ "hose_type_id": "none", "length_ft": 25.0 });
    let body = with(hydrant_valve(), &json!({ "to_pump_hose": hose, "from_pump_hose": hose }));
    let problem = service.put("/v1/hydrant-valves/own", &body).await.problem(422, "unknown-reference");
    let expected = ["/to_pump_hose/hose_type_id unknown_reference", "/from_pump_hose/hose_type_id unknown_reference"];
    assert_eq!(problem.faults(), expected);
}
