use longlay_tests::Service;
use longlay_tests::records::{pumper, with, without};
use serde_json::{Value, json};

async fn faults(body: Value) -> Vec<String> {
    let service = Service::start().await;
    service.put("/v1/pumpers/own", &body).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn a_pumper_without_points_of_its_own_has_none() {
    let service = Service::start().await;
    let row = service.put("/v1/pumpers/own", &without(pumper(), "points")).await.created();
    assert_eq!(row["points"], json!([]));
}

#[tokio::test]
async fn flow_must_rise_from_point_to_point() {
    let points = json!([{ "flow_gpm": 750.0, "net_psi": 250.0 }, { "flow_gpm": 750.0, "net_psi": 200.0 }]);
    assert_eq!(faults(with(pumper(), &json!({ "points": points }))).await, ["/points/1/flow_gpm not_rising"]);
}

#[tokio::test]
async fn net_pressure_must_not_rise_with_flow() {
    let points = json!([{ "flow_gpm": 750.0, "net_psi": 150.0 }, { "flow_gpm": 1500.0, "net_psi": 200.0 }]);
    assert_eq!(faults(with(pumper(), &json!({ "points": points }))).await, ["/points/1/net_psi rising"]);
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let body = with(
        pumper(),
        &json!({ "rated_flow_gpm": 0.0, "intake_floor_psi": -1.0, "max_discharge_psi": 1001.0,
            "points": [{ "flow_gpm": 0.0, "net_psi": 2000.0 }], "tank_gal": -1.0,
            "hose": [{ "hose_type_id": "5 in", "length_ft": 0.0 }] }),
    );
    let expected = [
        "/rated_flow_gpm out_of_bounds",
        "/intake_floor_psi out_of_bounds",
        "/max_discharge_psi out_of_bounds",
        "/points/0/flow_gpm out_of_bounds",
        "/points/0/net_psi out_of_bounds",
        "/tank_gal out_of_bounds",
        "/hose/0/hose_type_id invalid_id",
        "/hose/0/length_ft out_of_bounds",
    ];
    assert_eq!(faults(body).await, expected);
}

#[tokio::test]
async fn lists_have_their_limits() {
    let points: Vec<_> = (1..=21).map(|i| json!({ "flow_gpm": i, "net_psi": 150.0 })).collect();
    let hose = vec![json!({ "hose_type_id": "std-5in", "length_ft": 100.0 }); 21];
    let body = with(pumper(), &json!({ "points": points, "hose": hose }));
    assert_eq!(faults(body).await, ["/points out_of_bounds", "/hose out_of_bounds"]);
}

#[tokio::test]
async fn unknown_hose_is_pointed_at() {
    let service = Service::start().await;
    let hose = |id: &str| json!({ "hose_type_id": id, "length_ft": 100.0 });
    let body = with(pumper(), &json!({ "hose": [hose("std-5in"), hose("none"), hose("none")] }));
    let problem = service.put("/v1/pumpers/own", &body).await.problem(422, "unknown-reference");
    let expected = ["/hose/1/hose_type_id unknown_reference", "/hose/2/hose_type_id unknown_reference"];
    assert_eq!(problem.faults(), expected);
}
