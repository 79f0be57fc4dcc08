use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, with};
use serde_json::{Value, json};

const PATH: &str = "/v1/combined-supplies";

/// 60 psi static, 40 at 600 gpm, and 500 ft of 5-inch by the handbook.
fn line() -> Value {
    let source = json!({ "static_psi": 60, "residual_psi": 40, "flow_gpm": 600 });
    json!({ "lay": { "source": source, "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 500 }] } })
}

fn second(members: &Value) -> Value {
    with(line(), members)
}

fn stored(id: &str) -> Value {
    json!({ "lay": { "source": { "hydrant_id": id }, "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 500 }] } })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
}

fn codes(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap()).collect()
}

#[track_caller]
fn close(actual: &Value, expected: f64, tolerance: f64) {
    assert!((actual.as_f64().unwrap() - expected).abs() <= tolerance, "{actual} is not {expected}");
}

/// A town of hydrants with their mains and pressure zones, each tested 60/40 at 600 gpm.
async fn town(hydrants: &[(&str, &str, &str)]) -> Service {
    let service = Service::start().await;
    for (id, main, zone) in hydrants {
        let place = json!({ "main_id": main, "pressure_zone": zone, "body_loss_coefficient": 0.0 });
        service.given(&format!("/v1/hydrants/{id}"), &with(hydrant(), &place)).await;
        service.post(&format!("/v1/hydrants/{id}/flow-tests"), &flow_test()).await.created();
    }
    service
}

#[tokio::test]
async fn more_lines_than_feed_a_scene_are_refused_before_they_are_looked_at() {
    let service = Service::start().await;
    let line =
        json!({ "lay": { "source": { "hydrant_id": "nowhere" }, "lay_profile_id": "none" }, "same_hydrant_as": 0 });
    let lines = vec![line; 8000];
    let problem =
        service.post("/v1/combined-supplies", &json!({ "lines": lines })).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/lines out_of_bounds"]);
}

#[tokio::test]
async fn two_lines_on_one_main_bring_less_than_twice_one() {
    // By scipy's brentq: one line 60 - 20 (T/600)^(1/0.54) - 0.4 (T/100)² = 20 at 649.19, two at 795.01 together.
    let found = answer(&json!({ "lines": [line(), line()], "mains": "shared" })).await;
    close(&found["total_flow_gpm"], 795.01, 0.01);
    close(&found["best_single_flow_gpm"], 649.19, 0.01);
    close(&found["gain_gpm"], 795.01 - 649.19, 0.02);
    close(&found["lines"][0]["flow_gpm"], 795.01 / 2.0, 0.01);
    assert_eq!(found["mains"], json!({ "counted": "shared", "from": "given" }));
    assert!(found.get("upper_flow_gpm").is_none() && codes(&found["cautions"]).contains(&"shared_main"));
    let (low, planned) = (found["band_gpm"]["low"].as_f64().unwrap(), found["planning_flow_gpm"].as_f64().unwrap());
    assert!(planned <= low && low < 795.01, "{found}");
}

#[tokio::test]
async fn mains_that_are_not_known_count_as_one_and_tell_the_upper_end() {
    let found = answer(&json!({ "lines": [line(), line()] })).await;
    close(&found["total_flow_gpm"], 795.01, 0.01);
    close(&found["upper_flow_gpm"], 2.0 * 649.19, 0.02);
    assert_eq!(found["mains"], json!({ "counted": "shared", "from": "not_known" }));
    assert!(codes(&found["findings"]).contains(&"main_not_known"));
    let apart = answer(&json!({ "lines": [line(), line()], "mains": "separate" })).await;
    close(&apart["total_flow_gpm"], 2.0 * 649.19, 0.02);
}

#[tokio::test]
async fn two_lines_of_one_hydrant_are_the_lay_of_two_branches() {
    let service = Service::start().await;
    let found = service.post(PATH, &json!({ "lines": [line(), second(&json!({ "same_hydrant_as": 0 }))] })).await.ok();
    let hose = line()["lay"]["parts"][0].clone();
    let parts = json!([{ "kind": "parallel", "branches": [{ "parts": [hose] }, { "parts": [hose] }] }]);
    let lay = json!({ "source": line()["lay"]["source"], "parts": parts });
    let lay = service.post("/v1/lay-calculations", &lay).await.ok();
    close(&found["total_flow_gpm"], lay["deliverable_flow_gpm"].as_f64().unwrap(), 1e-6);
    assert_eq!(found["lines"][1]["hydrant_of_line"], 0);
}

#[tokio::test]
async fn the_records_say_which_mains_are_one_and_which_are_two() {
    let hydrants = [("H-1", "M-1", "low"), ("H-2", "M-1", "low"), ("H-3", "M-2", "low"), ("H-4", "M-9", "high")];
    let service = town(&hydrants).await;
    for (other, mains) in [
        ("H-2", json!({ "counted": "shared", "from": "record" })),
        ("H-3", json!({ "counted": "shared", "from": "not_known" })),
        ("H-4", json!({ "counted": "separate", "from": "record" })),
    ] {
        let found = service.post(PATH, &json!({ "lines": [stored("H-1"), stored(other)] })).await.ok();
        assert_eq!(found["mains"], mains, "{other}");
        assert_eq!(found["hydrants"][1]["hydrant_id"], other);
        assert!(found["lines"][0]["flow_test"]["tested_on"].is_string());
    }
    let same = service.post(PATH, &json!({ "lines": [stored("H-1"), stored("H-1")] })).await.ok();
    assert_eq!((&same["hydrants"].as_array().unwrap().len(), &same["lines"][1]["hydrant_of_line"]), (&1, &json!(0)));
}

#[tokio::test]
async fn a_flow_wanted_is_met_short_or_in_doubt() {
    let ask = |target: f64| json!({ "lines": [line(), line()], "mains": "shared", "target_flow_gpm": target });
    let short = answer(&ask(1000.0)).await;
    assert_eq!((&short["at_target"]["met"], &short["diagnosis"]["code"]), (&json!(false), &json!("water")));
    close(&short["at_target"]["shortfall_gpm"], 1000.0 - 795.01, 0.01);
    let met = answer(&ask(600.0)).await;
    assert_eq!((&met["at_target"]["met_at_low_end"], &met["diagnosis"]["code"]), (&json!(true), &json!("met")));
    close(&met["at_target"]["lines"][0]["flow_gpm"], 300.0, 1e-6);
    let doubt = answer(&ask(790.0)).await;
    assert_eq!((&doubt["at_target"]["met"], &doubt["diagnosis"]["in_doubt"]), (&json!(true), &json!(true)));
    assert!(codes(&doubt["findings"]).contains(&"target_in_band"));
}

#[tokio::test]
async fn every_fault_is_found_at_its_line() {
    assert_eq!(faults(&json!({ "lines": [] })).await, ["/lines out_of_bounds"]);
    let lines: Vec<_> = (0..9).map(|_| line()).collect();
    assert_eq!(faults(&json!({ "lines": lines })).await, ["/lines out_of_bounds"]);
    let own = with(line()["lay"].clone(), &json!({ "target_flow_gpm": 500, "rise_ft": 9999 }));
    assert_eq!(
        faults(&json!({ "lines": [line(), { "lay": own }], "target_flow_gpm": 0 })).await,
        [
            "/target_flow_gpm out_of_bounds",
            "/lines/1/lay/target_flow_gpm not_of_a_line",
            "/lines/1/lay/rise_ft out_of_bounds"
        ]
    );
    let later = second(&json!({ "same_hydrant_as": 1 }));
    assert_eq!(faults(&json!({ "lines": [line(), later] })).await, ["/lines/1/same_hydrant_as out_of_bounds"]);
    let mut other = second(&json!({ "same_hydrant_as": 0 }));
    other["lay"]["source"]["static_psi"] = json!(70);
    assert_eq!(faults(&json!({ "lines": [line(), other] })).await, ["/lines/1/lay/source source_differs"]);
}

#[tokio::test]
async fn what_cannot_be_counted_on_is_refused() {
    let service = town(&[("H-1", "M-1", "low")]).await;
    service.given("/v1/hydrants/H-2", &with(hydrant(), &json!({ "main_id": "M-7" }))).await;
    service.given("/v1/hydrants/H-3", &with(hydrant(), &json!({ "in_service": false }))).await;
    service.post("/v1/hydrants/H-3/flow-tests", &flow_test()).await.created();
    let with_h1 = |id: &str| json!({ "lines": [stored("H-1"), stored(id)] });
    service.post(PATH, &with_h1("H-2")).await.problem(409, "no-flow-test");
    service.post(PATH, &with_h1("H-3")).await.problem(409, "hydrant-out-of-service");
    let unknown = service.post(PATH, &with_h1("H-9")).await.problem(422, "unknown-reference").faults();
    assert_eq!(unknown, ["/lines/1/lay/source/hydrant_id unknown_reference"]);
    service.post(PATH, &json!({ "lines": [[]] })).await.problem(422, "invalid-body-shape");
}
