use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, with};
use serde_json::{Value, json};

const HISTORY: &str = "/v1/hydrants/H-1/test-history";
const TESTS: &str = "/v1/hydrants/H-1/flow-tests";

async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service
}

async fn tested(service: &Service, on: &str, residual: f64, flow: f64) -> Value {
    let test = json!({ "tested_on": on, "residual_psi": residual, "flow_gpm": flow });
    service.post(TESTS, &with(flow_test(), &test)).await.created()
}

fn codes(of: &Value) -> Vec<&str> {
    of["findings"].as_array().unwrap().iter().map(|finding| finding["code"].as_str().unwrap()).collect()
}

#[track_caller]
fn close(actual: &Value, expected: f64, tolerance: f64) {
    assert!((actual.as_f64().unwrap() - expected).abs() < tolerance, "{actual} is not {expected}");
}

#[tokio::test]
async fn a_main_that_lost_more_than_the_readings_explain_is_found_everywhere_it_is_used() {
    let service = town().await;
    tested(&service, "2025-05-01", 30.0, 400.0).await;
    tested(&service, "2015-05-01", 40.0, 600.0).await;
    tested(&service, "2020-05-01", 37.0, 600.0).await;
    let history = service.get(HISTORY).await.ok();
    let days: Vec<_> = history["tests"].as_array().unwrap().iter().map(|test| &test["tested_on"]).collect();
    assert_eq!(days, ["2015-05-01", "2020-05-01", "2025-05-01"]);
    // 600 (40/20)^0.54, 600 (40/23)^0.54 and 400 (40/30)^0.54; the line of least squares through them by numpy.
    close(&history["tests"][0]["rated_flow_gpm"], 872.38, 0.01);
    close(&history["latest"]["rated_flow_gpm"], 467.23, 0.01);
    assert_eq!(history["lowest"], history["latest"]);
    close(&history["trend_gpm_per_year"], -40.508, 0.01);
    // The latest is 511 at most, the one before 729.6 at least.
    assert_eq!(codes(&history), ["capacity_fell"]);
    close(&history["findings"][0]["value"], 42.244, 0.001);
    assert!(codes(&service.get("/v1/hydrants/H-1/capability").await.ok()).contains(&"capacity_fell"));
    let lay = service.get("/v1/hydrants/H-1/deliverable-flow?hose_type_id=std-5in&length_ft=500").await.ok();
    assert!(codes(&lay).contains(&"capacity_fell"));
}

#[tokio::test]
async fn a_fall_that_the_readings_explain_is_no_finding_and_two_tests_are_no_trend() {
    let service = town().await;
    tested(&service, "2015-05-01", 40.0, 600.0).await;
    tested(&service, "2020-05-01", 37.0, 600.0).await;
    let history = service.get(HISTORY).await.ok();
    assert_eq!((codes(&history), &history["trend_gpm_per_year"]), (vec![], &Value::Null));
}

#[tokio::test]
async fn a_main_that_gives_more_than_it_did_is_noted() {
    let service = town().await;
    tested(&service, "2015-05-01", 30.0, 400.0).await;
    tested(&service, "2020-05-01", 40.0, 600.0).await;
    let history = service.get(HISTORY).await.ok();
    assert_eq!((codes(&history), &history["findings"][0]["severity"]), (vec!["capacity_rose"], &json!("note")));
}

#[tokio::test]
async fn a_test_without_a_drop_has_fallen_under_nothing() {
    let service = town().await;
    tested(&service, "2015-05-01", 40.0, 600.0).await;
    tested(&service, "2020-05-01", 60.0, 500.0).await;
    let history = service.get(HISTORY).await.ok();
    assert!(
        history["latest"]["rated_flow_gpm"].is_null() && history["latest"]["rated_flow_band_gpm"]["high"].is_null()
    );
    assert_eq!((codes(&history), &history["lowest"]["tested_on"]), (vec![], &json!("2015-05-01")));
}

#[tokio::test]
async fn voided_tests_and_hydrants_without_tests_have_no_history() {
    let service = town().await;
    service.get(HISTORY).await.problem(409, "no-flow-test");
    service.get("/v1/hydrants/H-9/test-history").await.problem(404, "not-found");
    let test = tested(&service, "2015-05-01", 40.0, 600.0).await;
    let void = format!("{TESTS}/{}/void", test["id"].as_str().unwrap());
    service.post(&void, &json!({ "reason": "gauge was broken" })).await.ok();
    service.get(HISTORY).await.problem(409, "no-flow-test");
}

#[tokio::test]
async fn a_flow_ten_times_the_others_is_asked_about_wherever_it_is_used() {
    const FAR: &str = "flow_differs_from_other_tests";
    let service = town().await;
    tested(&service, "2023-05-01", 38.0, 590.0).await;
    tested(&service, "2024-05-01", 40.0, 600.0).await;
    let slip = tested(&service, "2025-05-01", 40.0, 6000.0).await;
    assert!(codes(&slip).contains(&FAR));
    let history = service.get(HISTORY).await.ok();
    let each = history["tests"].as_array().unwrap().iter().map(|test| codes(test).contains(&FAR)).collect::<Vec<_>>();
    assert_eq!((each, codes(&history).contains(&FAR)), (vec![false, false, true], true));
    let capability = service.get("/v1/hydrants/H-1/capability").await.ok();
    let lay = service.get("/v1/hydrants/H-1/deliverable-flow?hose_type_id=std-5in&length_ft=500").await.ok();
    for answer in [capability, lay] {
        let found = answer["findings"].as_array().unwrap().iter().find(|finding| finding["code"] == FAR).unwrap();
        assert_eq!(found["severity"], "serious");
        // (40/20)^0.54 is 1.453973: times 600 and 6000.
        let message = found["message"].as_str().unwrap();
        assert!(message.ends_with("[8723.84 gpm, and 872.38 gpm in the test of 2024-05-01]"), "{message}");
    }
    let void = format!("{TESTS}/{}/void", slip["id"].as_str().unwrap());
    service.post(&void, &json!({ "reason": "a digit too many" })).await.ok();
    assert!(!codes(&service.get("/v1/hydrants/H-1/capability").await.ok()).contains(&FAR));
}
