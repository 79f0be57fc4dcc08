use longlay_tests::records::{flow_test, hydrant, pitot_test, with, without};
use longlay_tests::{NOW, Service};
use serde_json::{Value, json};

const TESTS: &str = "/v1/hydrants/H-1/flow-tests";

async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.given("/v1/hydrants/H-2", &hydrant()).await;
    service
}

async fn faults(body: Value) -> Vec<String> {
    town().await.post(TESTS, &body).await.problem(422, "invalid-values").faults()
}

fn codes(test: &Value) -> Vec<&str> {
    test["findings"].as_array().unwrap().iter().map(|finding| finding["code"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn a_metered_test_is_recorded_and_rated() {
    let service = town().await;
    let body = with(flow_test(), &json!({ "flow_hydrant_ids": ["H-2"], "notes": "windy" }));
    let answer = service.post(TESTS, &body).await;
    let test = answer.created();
    let id = test["id"].as_str().unwrap();
    assert_eq!(answer.header("location"), format!("{}{TESTS}/{id}", service.url));
    assert_eq!(
        without(without(with(test.clone(), &json!({ "rated_flow_gpm": 0.0 })), "id"), "rated_flow_band_gpm"),
        json!({
            "hydrant_id": "H-1", "tested_on": "2025-05-14", "static_psi": 60.0, "residual_psi": 40.0, "flow_gpm": 600.0,
            "rated_flow_gpm": 0.0, "rated_at_psi": 20.0, "findings": [], "flow_hydrant_ids": ["H-2"], "notes": "windy",
            "recorded_at": NOW
        })
    );
    // 600 (40 / 20)^0.54 by hand.
    assert!((test["rated_flow_gpm"].as_f64().unwrap() - 872.4).abs() < 0.1, "{test}");
    // Each reading at both its ends, and the changes added as the root of the sum of squares, by hand.
    let band = &test["rated_flow_band_gpm"];
    assert!((band["low"].as_f64().unwrap() - 785.42).abs() < 0.01, "{band}");
    assert!((band["high"].as_f64().unwrap() - 958.41).abs() < 0.01, "{band}");
    assert_eq!(service.get(&format!("{TESTS}/{id}")).await.ok(), test);
}

#[tokio::test]
async fn ids_carry_the_time_of_recording() {
    let test = town().await.post(TESTS, &flow_test()).await.created();
    // The first 48 bits of a version 7 id are the Unix time in ms.
    let millis = u64::from_str_radix(&test["id"].as_str().unwrap().replace('-', "")[..12], 16).unwrap();
    let now: chrono::DateTime<chrono::Utc> = NOW.parse().unwrap();
    assert_eq!(i64::try_from(millis).unwrap(), now.timestamp_millis());
}

#[tokio::test]
async fn a_pitot_test_works_out_its_flow() {
    let test = town().await.post(TESTS, &pitot_test()).await.created();
    // 29.84 x 0.9 x 2.5² x √16 by hand.
    assert!((test["flow_gpm"].as_f64().unwrap() - 671.4).abs() < 1e-9, "{test}");
    assert_eq!(test["outlets"], pitot_test()["outlets"]);
}

#[tokio::test]
async fn a_test_without_drop_proves_its_flow_and_no_rating() {
    let test = town().await.post(TESTS, &with(flow_test(), &json!({ "residual_psi": 60.0 }))).await.created();
    assert_eq!((&test["rated_flow_gpm"], codes(&test)), (&Value::Null, vec!["no_drop"]));
}

#[tokio::test]
async fn a_low_static_is_rated_at_its_half() {
    let body = with(flow_test(), &json!({ "static_psi": 36.0, "residual_psi": 25.0 }));
    let test = town().await.post(TESTS, &body).await.created();
    assert_eq!((&test["rated_at_psi"], codes(&test)), (&json!(18.0), vec!["low_static"]));
}

#[tokio::test]
async fn findings_name_what_is_weak_about_the_readings() {
    let outlet = json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 4.0 });
    let body = with(pitot_test(), &json!({ "outlets": [outlet], "residual_psi": 50.0, "flow_hydrant_ids": ["H-1"] }));
    let test = town().await.post(TESTS, &body).await.created();
    let expected = ["drop_under_25_percent", "long_extrapolation", "pitot_low", "single_hydrant_test"];
    assert_eq!(codes(&test), expected);
}

#[tokio::test]
async fn a_residual_above_static_is_refused() {
    let service = town().await;
    let answer = service.post(TESTS, &with(flow_test(), &json!({ "residual_psi": 61.0 }))).await;
    let problem = answer.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/residual_psi residual_above_static"]);
    assert!(problem.detail().contains("61") && problem.detail().contains("60"), "{}", problem.detail());
}

#[tokio::test]
async fn outlets_or_a_flow_and_not_both_nor_neither() {
    assert_eq!(faults(without(flow_test(), "flow_gpm")).await, [" exactly_one_of"]);
    assert_eq!(faults(with(pitot_test(), &json!({ "flow_gpm": 600.0 }))).await, [" exactly_one_of"]);
}

#[tokio::test]
async fn every_bad_reading_is_named_at_once() {
    let outlets = json!([
        { "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 16.0 },
        { "diameter_in": 30.0, "coefficient": 0.2, "pitot_psi": 0.0 }
    ]);
    let body = with(
        pitot_test(),
        &json!({ "tested_on": "1850-01-01", "static_psi": -1.0, "residual_psi": 1001.0, "outlets": outlets,
            "flow_hydrant_ids": ["H 2", "H-1", "H-1"], "notes": "" }),
    );
    let expected = [
        "/tested_on out_of_bounds",
        "/static_psi out_of_bounds",
        "/residual_psi out_of_bounds",
        "/outlets/1/diameter_in out_of_bounds",
        "/outlets/1/coefficient out_of_bounds",
        "/outlets/1/pitot_psi out_of_bounds",
        "/flow_hydrant_ids/0 invalid_id",
        "/flow_hydrant_ids/1 given_twice",
        "/flow_hydrant_ids/2 given_twice",
        "/notes out_of_bounds",
    ];
    assert_eq!(faults(body).await, expected);
}

#[tokio::test]
async fn a_flow_that_no_main_gives_is_refused() {
    assert_eq!(faults(with(flow_test(), &json!({ "flow_gpm": 0.0 }))).await, ["/flow_gpm out_of_bounds"]);
    let outlet = json!({ "diameter_in": 24.0, "coefficient": 1.0, "pitot_psi": 200.0 });
    let body = with(pitot_test(), &json!({ "outlets": [outlet], "static_psi": 200.0 }));
    assert_eq!(faults(body).await, ["/outlets out_of_bounds"]);
    assert_eq!(faults(with(pitot_test(), &json!({ "outlets": [] }))).await, ["/outlets out_of_bounds"]);
}

#[tokio::test]
async fn lists_have_their_limits() {
    let outlet = json!({ "diameter_in": 1.0, "coefficient": 0.9, "pitot_psi": 10.0 });
    assert_eq!(faults(with(pitot_test(), &json!({ "outlets": vec![outlet; 25] }))).await, ["/outlets out_of_bounds"]);
    let ids: Vec<_> = (0..13).map(|i| format!("H-{i}")).collect();
    let body = with(flow_test(), &json!({ "flow_hydrant_ids": ids }));
    assert_eq!(faults(body).await, ["/flow_hydrant_ids out_of_bounds"]);
}

#[tokio::test]
async fn a_test_of_tomorrow_is_refused_once_it_is_tomorrow_everywhere() {
    let service = town().await;
    // At noon in London it is already the 26th in the easternmost zone.
    service.post(TESTS, &with(flow_test(), &json!({ "tested_on": "2026-11-26" }))).await.created();
    let problem = service.post(TESTS, &with(flow_test(), &json!({ "tested_on": "2026-11-27" }))).await;
    assert_eq!(problem.problem(422, "invalid-values").faults(), ["/tested_on in_the_future"]);
}

#[tokio::test]
async fn what_is_no_day_has_the_wrong_shape() {
    let service = town().await;
    for day in ["14 May", "2025-1-1", "+2025-01-01", " 2025-01-01", "2025-02-30", "20250101", "2025-01-01T00:00:00Z"] {
        let answer = service.post(TESTS, &with(flow_test(), &json!({ "tested_on": day }))).await;
        let problem = answer.problem(422, "invalid-body-shape");
        assert_eq!(problem.faults(), ["/tested_on invalid_shape"], "{day}");
        assert_eq!(problem.detail(), "must be a date like 2026-05-01", "{day}");
    }
}

#[tokio::test]
async fn a_test_at_a_hydrant_that_is_not_there_is_not_found() {
    let service = town().await;
    service.post("/v1/hydrants/H-9/flow-tests", &flow_test()).await.problem(404, "not-found");
    service.get("/v1/hydrants/H-9/flow-tests").await.problem(404, "not-found");
}

#[tokio::test]
async fn an_unknown_flow_hydrant_is_pointed_at() {
    let body = with(flow_test(), &json!({ "flow_hydrant_ids": ["H-2", "H-9"] }));
    let problem = town().await.post(TESTS, &body).await.problem(422, "unknown-reference");
    assert_eq!(problem.faults(), ["/flow_hydrant_ids/1 unknown_reference"]);
}

#[tokio::test]
async fn tests_are_listed_in_the_order_of_recording_over_every_page() {
    let service = town().await;
    let mut recorded = Vec::new();
    for day in ["2025-05-14", "2020-01-01", "2024-07-01"] {
        recorded.push(service.post(TESTS, &with(flow_test(), &json!({ "tested_on": day }))).await.created());
    }
    for limit in 1..=4 {
        assert_eq!(service.all(&format!("{TESTS}?limit={limit}")).await, recorded, "limit={limit}");
    }
    assert_eq!(service.all("/v1/hydrants/H-2/flow-tests").await, Vec::<Value>::new());
}

#[tokio::test]
async fn a_cursor_of_another_list_is_refused() {
    let answer = town().await.get(&format!("{TESTS}?cursor=after.H-1")).await;
    assert_eq!(answer.problem(400, "invalid-query").faults(), ["cursor invalid_cursor"]);
}

#[tokio::test]
async fn a_voided_test_is_kept_with_its_reason() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    let path = format!("{TESTS}/{}", test["id"].as_str().unwrap());
    let expected = with(test, &json!({ "voided": { "reason": "gauge was broken", "at": NOW } }));
    let voided = service.post(&format!("{path}/void"), &json!({ "reason": "gauge was broken" })).await.ok();
    assert_eq!(voided, expected);
    assert_eq!(service.get(&path).await.ok(), expected);
    assert_eq!(service.all(TESTS).await, [expected]);
}

#[tokio::test]
async fn a_test_is_voided_once_and_the_first_reason_stands() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    let path = format!("{TESTS}/{}", test["id"].as_str().unwrap());
    service.post(&format!("{path}/void"), &json!({ "reason": "first" })).await.ok();
    service.post(&format!("{path}/void"), &json!({ "reason": "second" })).await.problem(409, "already-voided");
    assert_eq!(service.get(&path).await.ok()["voided"]["reason"], "first");
}

#[tokio::test]
async fn voiding_needs_a_reason() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    let path = format!("{TESTS}/{}/void", test["id"].as_str().unwrap());
    let problem = service.post(&path, &json!({ "reason": " " })).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/reason out_of_bounds"]);
    service.post(&path, &json!({})).await.problem(422, "invalid-body-shape");
}

#[tokio::test]
async fn a_test_is_found_under_its_own_hydrant_only() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    let elsewhere = format!("/v1/hydrants/H-2/flow-tests/{}", test["id"].as_str().unwrap());
    service.get(&elsewhere).await.problem(404, "not-found");
    service.post(&format!("{elsewhere}/void"), &json!({ "reason": "x" })).await.problem(404, "not-found");
    service.get(&format!("{TESTS}/no-uuid")).await.problem(404, "not-found");
}

#[tokio::test]
async fn tests_are_never_changed_and_never_deleted() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    let path = format!("{TESTS}/{}", test["id"].as_str().unwrap());
    service.delete(&path).await.problem(405, "method-not-allowed");
    service.put(&path, &flow_test()).await.problem(405, "method-not-allowed");
}

#[tokio::test]
async fn the_tests_of_a_retired_hydrant_are_kept_for_the_answers_that_name_them() {
    let service = town().await;
    let test = service.post(TESTS, &flow_test()).await.created();
    service.delete("/v1/hydrants/H-1").await.no_content();
    assert_eq!(service.get(&format!("{TESTS}/{}", test["id"].as_str().unwrap())).await.ok(), test);
    service.get(TESTS).await.problem(404, "not-found");
}

#[tokio::test]
async fn a_pitot_above_the_static_is_a_slip_of_the_pen() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let outlet = |psi: f64| json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": psi });
    let test = with(pitot_test(), &json!({ "outlets": [outlet(18.0), outlet(90.0)] }));
    let problem = service.post("/v1/hydrants/H-1/flow-tests", &test).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/outlets/1/pitot_psi pitot_above_static"]);
}

/// A main whose drop grows with the square of the flow: 5 psi at 500 gpm, 20 at 1000.
fn two_points() -> Value {
    with(
        flow_test(),
        &json!({
            "static_psi": 70.0, "residual_psi": 65.0, "flow_gpm": 500.0, "second_point": { "residual_psi": 50.0, "flow_gpm": 1000.0 }
        }),
    )
}

#[tokio::test]
async fn a_second_point_gives_the_main_its_own_exponent() {
    let service = town().await;
    let test = service.post(TESTS, &two_points()).await.created();
    // 1000 √(50/20); the pipe law through the first point alone would promise 1734, through the second 1640.
    assert!((test["rated_flow_gpm"].as_f64().unwrap() - 1581.14).abs() < 0.01, "{test}");
    assert_eq!(test["second_point"], json!({ "residual_psi": 50.0, "flow_gpm": 1000.0 }));
    assert!(codes(&test).contains(&"fitted_curve"));
    let id = test["id"].as_str().unwrap();
    assert_eq!(service.get(&format!("{TESTS}/{id}")).await.ok(), test);
    let capability = service.get("/v1/hydrants/H-1/capability").await.ok();
    assert_eq!((&capability["rated_flow_gpm"], &capability["flow_gpm"]), (&test["rated_flow_gpm"], &json!(1000.0)));
    assert!(capability["basis"].as_array().unwrap().iter().any(|formula| formula["id"] == "fitted_supply_curve"));
}

#[tokio::test]
async fn a_second_point_read_by_pitot_keeps_its_outlets() {
    let service = town().await;
    let outlet = json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 9.0 });
    let second = json!({ "second_point": { "residual_psi": 54.0, "outlets": [outlet] } });
    let test = service.post(TESTS, &with(pitot_test(), &second)).await.created();
    assert_eq!(test["second_point"]["outlets"], json!([outlet]));
    // 29.84 x 0.9 x 2.5² x √9 by hand.
    assert!((test["second_point"]["flow_gpm"].as_f64().unwrap() - 503.55).abs() < 1e-9, "{test}");
    assert_eq!(test["outlets"], pitot_test()["outlets"]);
    assert!(codes(&test).contains(&"pitot_low"));
}

#[tokio::test]
async fn points_that_fit_no_main_are_rated_by_the_lesser() {
    // Four times the drop at a tenth more flow: the drop would grow with the fifteenth power.
    let body = with(two_points(), &json!({ "second_point": { "residual_psi": 50.0, "flow_gpm": 550.0 } }));
    let test = town().await.post(TESTS, &body).await.created();
    // 550 (50/20)^0.54, under 500 (50/5)^0.54.
    assert!((test["rated_flow_gpm"].as_f64().unwrap() - 902.09).abs() < 0.01, "{test}");
    let unfit =
        test["findings"].as_array().unwrap().iter().find(|finding| finding["code"] == "second_point_unfit").unwrap();
    assert_eq!(unfit["severity"], "serious");
    assert!((unfit["value"].as_f64().unwrap() - 4.0_f64.ln() / 1.1_f64.ln()).abs() < 1e-9);
}

#[tokio::test]
async fn faults_of_a_second_point_are_found_at_their_place() {
    let second = |second: Value| with(two_points(), &json!({ "second_point": second }));
    let outlet = json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 99.0 });
    assert_eq!(
        faults(second(json!({ "residual_psi": 71.0, "flow_gpm": 900.0 }))).await,
        ["/second_point/residual_psi residual_above_static"]
    );
    assert_eq!(faults(second(json!({ "residual_psi": 60.0 }))).await, ["/second_point exactly_one_of"]);
    assert_eq!(
        faults(second(json!({ "residual_psi": 60.0, "outlets": [outlet] }))).await,
        ["/second_point/outlets/0/pitot_psi pitot_above_static"]
    );
    assert_eq!(
        faults(second(json!({ "residual_psi": -1.0, "flow_gpm": 0.5 }))).await,
        ["/second_point/residual_psi out_of_bounds", "/second_point/flow_gpm out_of_bounds"]
    );
}

#[tokio::test]
async fn a_near_point_that_the_gauge_hardly_shows_raises_no_rating() {
    // 3 psi of drop at 130 gpm: the fit through it would have an exponent of 1.05 and promise 1524.
    let body = json!({ "static_psi": 60.0, "residual_psi": 45.0, "second_point": { "residual_psi": 57.0, "flow_gpm": 130.0 } });
    let test = town().await.post(TESTS, &with(flow_test(), &body)).await.created();
    // Of 600 (40/15)^0.54 and 130 (40/3)^0.54 the lesser.
    assert!((test["rated_flow_gpm"].as_f64().unwrap() - 526.6).abs() < 0.1, "{test}");
    assert!(codes(&test).contains(&"second_point_unfit"));
}
