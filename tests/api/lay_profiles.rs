use longlay_tests::Service;
use longlay_tests::records::{lay_profile, with};
use serde_json::{Value, json};

async fn unknown(members: Value) -> Vec<String> {
    let service = Service::start().await;
    let body = with(lay_profile(), &members);
    service.put("/v1/lay-profiles/own", &body).await.problem(422, "unknown-reference").faults()
}

#[tokio::test]
async fn a_lay_needs_no_more_than_hose() {
    let service = Service::start().await;
    let least = json!({ "name": "Plain", "hose_type_id": "std-5in", "lines": 2, "carried_ft": 600.0 });
    let expected = with(least.clone(), &json!({ "id": "own", "scene_appliance_ids": [] }));
    assert_eq!(service.put("/v1/lay-profiles/own", &least).await.created(), expected);
    assert_eq!(service.get("/v1/lay-profiles/own").await.ok(), expected);
}

#[tokio::test]
async fn appliances_keep_their_order() {
    let service = Service::start().await;
    let order = json!({ "scene_appliance_ids": ["std-wye", "std-intake-valve", "std-wye"] });
    service.given("/v1/lay-profiles/own", &with(lay_profile(), &order)).await;
    assert_eq!(service.get("/v1/lay-profiles/own").await.ok()["scene_appliance_ids"], order["scene_appliance_ids"]);
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let service = Service::start().await;
    let body = with(
        lay_profile(),
        &json!({ "hydrant_valve_id": "", "hose_type_id": "5 in", "lines": 9, "carried_ft": 0.5,
            "scene_appliance_ids": ["std-wye", "w/ye"], "scene_floor_psi": -1.0, "main_floor_psi": 1001.0 }),
    );
    let expected = [
        "/hydrant_valve_id invalid_id",
        "/hose_type_id invalid_id",
        "/lines out_of_bounds",
        "/carried_ft out_of_bounds",
        "/scene_appliance_ids/1 invalid_id",
        "/scene_floor_psi out_of_bounds",
        "/main_floor_psi out_of_bounds",
    ];
    let problem = service.put("/v1/lay-profiles/own", &body).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), expected);
}

#[tokio::test]
async fn half_a_line_has_the_wrong_shape() {
    let service = Service::start().await;
    for lines in [json!(1.5), json!(-1), json!(300), json!("two")] {
        let answer = service.put("/v1/lay-profiles/own", &with(lay_profile(), &json!({ "lines": lines }))).await;
        assert_eq!(answer.problem(422, "invalid-body-shape").faults(), ["/lines invalid_shape"]);
    }
}

#[tokio::test]
async fn an_unknown_reference_is_pointed_at() {
    assert_eq!(unknown(json!({ "hose_type_id": "none" })).await, ["/hose_type_id unknown_reference"]);
    assert_eq!(unknown(json!({ "hydrant_valve_id": "none" })).await, ["/hydrant_valve_id unknown_reference"]);
    let appliances = json!({ "scene_appliance_ids": ["std-wye", "none"] });
    assert_eq!(unknown(appliances).await, ["/scene_appliance_ids/1 unknown_reference"]);
}

#[tokio::test]
async fn an_id_of_another_kind_is_no_reference() {
    assert_eq!(unknown(json!({ "hose_type_id": "std-wye" })).await, ["/hose_type_id unknown_reference"]);
}

#[tokio::test]
async fn every_reference_to_nothing_is_named_at_once() {
    let service = Service::start().await;
    let unknown =
        json!({ "hydrant_valve_id": "v-9", "hose_type_id": "h-9", "scene_appliance_ids": ["std-wye", "a-9", "a-8"] });
    let problem =
        service.put("/v1/lay-profiles/own", &with(lay_profile(), &unknown)).await.problem(422, "unknown-reference");
    let mut faults = problem.faults();
    faults.sort();
    let expected = ["/hose_type_id", "/hydrant_valve_id", "/scene_appliance_ids/1", "/scene_appliance_ids/2"];
    assert_eq!(faults, expected.map(|at| format!("{at} unknown_reference")));
}
