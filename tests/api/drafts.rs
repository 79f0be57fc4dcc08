use longlay_tests::Service;
use longlay_tests::records::{pumper, with};
use serde_json::{Value, json};

const PATH: &str = "/v1/drafts";

fn draft(lift_ft: f64) -> Value {
    json!({ "pumper": { "rated_flow_gpm": 1000 }, "lift_ft": lift_ft })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

#[track_caller]
fn close(actual: &Value, expected: f64, tolerance: f64) {
    let actual = actual.as_f64().unwrap_or(f64::NAN);
    assert!((actual - expected).abs() <= tolerance, "{actual} is not within {tolerance} of {expected}");
}

fn codes(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn at_15_feet_a_pumper_has_70_percent_of_its_rating() {
    let found = answer(&with(draft(15.0), &json!({ "altitude_ft": 0, "target_flow_gpm": 500 }))).await;
    close(&found["capacity_gpm"], 700.0, 1e-9);
    assert_eq!((&found["planning_flow_gpm"], &found["limited_by"]), (&json!(700.0), &json!("rating_share")));
    // 150 psi, less 0.434 x 15.
    close(&found["at_capacity"]["discharge_psi"], 143.49, 1e-9);
    let target = &found["at_target"];
    assert_eq!((&target["met"], &target["shortfall_gpm"]), (&json!(true), &json!(0.0)));
    // 500 of 700: between 490 at 200 psi and 700 at 150.
    close(&target["reading"]["net_psi"], 200.0 - 50.0 * 10.0 / 210.0, 1e-9);
    close(&target["reading"]["suction_psi"], 6.51, 1e-9);
    let lift = &found["lift"];
    close(&lift["theoretical_ft"], 33.9, 1e-9);
    close(&lift["attainable_ft"], 22.6, 1e-9);
    close(&lift["practical_ft"], 25.0, 0.0);
    assert_eq!(lift["verdict"], "attainable");
    close(&lift["dependable_ft"], 14.7, 1e-9);
    assert_eq!(codes(&found["findings"]), ["lift_not_dependable", "suction_not_given"]);
    for caution in ["non_potable", "supply_lost", "bleed_air", "planning_answer"] {
        assert!(codes(&found["cautions"]).contains(&caution), "{caution}");
    }
    assert_eq!(found["basis"][2]["id"], "draft_capacity");
}

#[tokio::test]
async fn a_tested_suction_can_hold_the_flow_and_costs_pressure() {
    let tested = json!({ "altitude_ft": 0, "suction_loss_coefficient": 0.1, "target_flow_gpm": 600 });
    let found = answer(&with(draft(15.0), &tested)).await;
    // 7.6 ft of vacuum are left: 3.2984 psi, at 100 sqrt(32.984).
    close(&found["capacity_gpm"], 574.317_0, 1e-3);
    assert_eq!(found["limited_by"], "suction");
    assert_eq!(found["at_target"]["met"], false);
    close(&found["at_target"]["shortfall_gpm"], 600.0 - 574.317_0, 1e-3);
    assert!(found["at_target"].get("reading").is_none());
}

#[tokio::test]
async fn where_no_figure_is_known_none_is_promised() {
    let found = answer(&with(draft(21.0), &json!({ "target_flow_gpm": 100 }))).await;
    assert_eq!((&found["capacity_gpm"], &found["rating_share"]), (&Value::Null, &Value::Null));
    assert_eq!((&found["planning_flow_gpm"], &found["lift"]["verdict"]), (&json!(0.0), &json!("attainable")));
    assert!(codes(&found["findings"]).contains(&"lift_beyond_figures"));
    assert!(codes(&found["findings"]).contains(&"altitude_unknown"));
    close(&found["at_target"]["shortfall_gpm"], 100.0, 0.0);
    assert!(found.get("limited_by").is_none() && found.get("at_capacity").is_none());
    // 19 ft at 2000 ft ask what 21 do at sea level.
    let high = answer(&with(draft(19.0), &json!({ "altitude_ft": 2000 }))).await;
    assert_eq!(high["capacity_gpm"], Value::Null);
}

#[tokio::test]
async fn over_the_attainable_lift_nothing_comes() {
    let found = answer(&draft(23.0)).await;
    assert_eq!((&found["capacity_gpm"], &found["limited_by"]), (&json!(0.0), &json!("lift")));
    assert_eq!(found["lift"]["verdict"], "not_attainable");
}

#[tokio::test]
async fn a_lift_that_can_be_depended_on_says_so() {
    assert_eq!(answer(&draft(14.0)).await["lift"]["verdict"], "dependable");
}

#[tokio::test]
async fn a_stored_pumper_keeps_its_own_points_and_ceiling() {
    let service = Service::start().await;
    service.given("/v1/pumpers/engine-1", &with(pumper(), &json!({ "max_discharge_psi": 100 }))).await;
    let ask = json!({ "pumper": { "pumper_id": "engine-1" }, "lift_ft": 10, "altitude_ft": 0 });
    let found = service.post(PATH, &ask).await.ok();
    close(&found["capacity_gpm"], 1050.0, 1e-9);
    close(&found["at_capacity"]["net_psi"], 150.0, 1e-9);
    close(&found["at_capacity"]["discharge_psi"], 100.0, 0.0);
}

#[tokio::test]
async fn what_cannot_be_is_refused_at_its_place() {
    let service = Service::start().await;
    let bad = json!({
        "pumper": { "rated_flow_gpm": 0 }, "lift_ft": 41, "altitude_ft": -1, "suction_loss_coefficient": -1, "target_flow_gpm": 0
    });
    let found = service.post(PATH, &bad).await.problem(422, "invalid-values").faults();
    let places =
        ["/lift_ft", "/altitude_ft", "/suction_loss_coefficient", "/pumper/rated_flow_gpm", "/target_flow_gpm"];
    assert_eq!(found, places.map(|place| format!("{place} out_of_bounds")));
    let unknown = with(draft(10.0), &json!({ "pumper": { "pumper_id": "none" } }));
    let found = service.post(PATH, &unknown).await.problem(422, "unknown-reference").faults();
    assert_eq!(found, ["/pumper/pumper_id unknown_reference"]);
    let both = with(draft(10.0), &json!({ "pumper": { "pumper_id": "none", "rated_flow_gpm": 1 } }));
    assert_eq!(service.post(PATH, &both).await.problem(422, "invalid-values").faults(), ["/pumper exactly_one_of"]);
    service.post(PATH, &json!({ "lift_ft": 10 })).await.problem(422, "invalid-body-shape");
}
