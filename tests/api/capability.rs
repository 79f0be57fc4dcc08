use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, hydrant_at, with};
use serde_json::{Value, json};

async fn tested(test: &Value) -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.post("/v1/hydrants/H-1/flow-tests", test).await.created();
    service
}

async fn capability(test: &Value) -> Value {
    tested(test).await.get("/v1/hydrants/H-1/capability").await.ok()
}

fn codes(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn a_hydrant_is_rated_at_20_psi_with_its_class_and_marking() {
    let found = capability(&flow_test()).await;
    // 600 (40/20)^0.54 = 872.4 gpm.
    assert!((found["rated_flow_gpm"].as_f64().unwrap() - 872.4).abs() < 0.1);
    assert_eq!((&found["rated_at_psi"], &found["class"]), (&json!(20.0), &json!({ "code": "B", "marking": "orange" })));
    assert_eq!(
        (&found["static_psi"], &found["residual_psi"], &found["flow_gpm"]),
        (&json!(60.0), &json!(40.0), &json!(600.0))
    );
    assert_eq!((&found["in_service"], &found["flow_test"]["age_days"]), (&json!(true), &json!(560)));
    let curve = found["curve"].as_array().unwrap();
    assert_eq!(curve[0], json!({ "flow_gpm": 0.0, "pressure_psi": 60.0 }));
    for caution in ["planning_answer", "gauges_govern", "local_procedures"] {
        assert!(codes(&found["cautions"]).contains(&caution), "{caution}");
    }
    assert_eq!(found["basis"][1]["id"], "rated_flow");
}

#[tokio::test]
async fn another_floor_rates_another_flow_and_leaves_the_class() {
    let service = tested(&flow_test()).await;
    let found = service.get("/v1/hydrants/H-1/capability?floor_psi=40").await.ok();
    assert_eq!((&found["rated_flow_gpm"], &found["class"]["code"]), (&json!(600.0), &json!("B")));
    for bad in ["-1", "NaN", "2000"] {
        let problem =
            service.get(&format!("/v1/hydrants/H-1/capability?floor_psi={bad}")).await.problem(400, "invalid-query");
        assert_eq!(problem.faults(), ["floor_psi out_of_bounds"]);
    }
}

#[tokio::test]
async fn weak_tests_say_so() {
    let of = |members: Value| async move {
        let found = capability(&with(flow_test(), &members)).await;
        codes(&found["findings"]).into_iter().map(str::to_owned).collect::<Vec<_>>()
    };
    assert!(of(json!({ "residual_psi": 56.0 })).await.contains(&"drop_under_10_percent".to_owned()));
    assert!(of(json!({ "residual_psi": 50.0 })).await.contains(&"drop_under_25_percent".to_owned()));
    assert!(of(json!({ "residual_psi": 56.0 })).await.contains(&"long_extrapolation".to_owned()));
    assert!(of(json!({ "static_psi": 36.0, "residual_psi": 25.0 })).await.contains(&"low_static".to_owned()));
    assert!(of(json!({ "residual_psi": 15.0 })).await.contains(&"tested_below_20".to_owned()));
    assert!(of(json!({ "tested_on": "2021-11-24" })).await.contains(&"old_test".to_owned()));
    assert_eq!(of(json!({})).await, Vec::<String>::new());
}

#[tokio::test]
async fn a_test_without_a_drop_proves_its_flow_and_no_more() {
    let found = capability(&with(flow_test(), &json!({ "residual_psi": 60.0 }))).await;
    assert_eq!((&found["rated_flow_gpm"], &found["rated_flow_at_least_gpm"]), (&Value::Null, &json!(600.0)));
    assert_eq!((&found["class"], codes(&found["findings"])), (&Value::Null, vec!["no_drop"]));
}

#[tokio::test]
async fn a_low_static_is_rated_at_its_half() {
    let found = capability(&with(flow_test(), &json!({ "static_psi": 36.0, "residual_psi": 25.0 }))).await;
    assert_eq!(found["rated_at_psi"], 18.0);
}

#[tokio::test]
async fn a_voided_test_no_longer_counts() {
    let service = tested(&flow_test()).await;
    let newer = with(flow_test(), &json!({ "tested_on": "2026-05-14", "residual_psi": 30.0 }));
    let id = service.post("/v1/hydrants/H-1/flow-tests", &newer).await.created()["id"].as_str().unwrap().to_owned();
    assert_eq!(service.get("/v1/hydrants/H-1/capability").await.ok()["residual_psi"], 30.0);
    service
        .post(&format!("/v1/hydrants/H-1/flow-tests/{id}/void"), &json!({ "reason": "gauge was broken" }))
        .await
        .ok();
    assert_eq!(service.get("/v1/hydrants/H-1/capability").await.ok()["residual_psi"], 40.0);
}

#[tokio::test]
async fn a_neighbour_on_the_main_lends_its_test() {
    let service = tested(&flow_test()).await;
    // 0.001 degree north: 365 ft; 50 ft higher: 21.7 psi less.
    let up = with(hydrant_at(-30.0, 40.001), &json!({ "elevation_ft": 150.0 }));
    service.given("/v1/hydrants/H-2", &up).await;
    let found = service.get("/v1/hydrants/H-2/capability").await.ok();
    assert_eq!(found["flow_test"]["borrowed_from"], "H-1");
    assert!((found["static_psi"].as_f64().unwrap() - 38.3).abs() < 1e-9);
    assert!(codes(&found["findings"]).contains(&"borrowed"));
}

#[tokio::test]
async fn a_hydrant_without_a_pumper_outlet_says_so_and_counts_more_loss() {
    let service = Service::start().await;
    let small = json!([{ "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9 }]);
    let body = with(hydrant(), &json!({ "outlets": small, "body_loss_coefficient": null }));
    service.given("/v1/hydrants/H-1", &body).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    let found = service.get("/v1/hydrants/H-1/capability").await.ok();
    assert!(codes(&found["findings"]).contains(&"no_pumper_outlet"));
    let lay = service.get("/v1/hydrants/H-1/deliverable-flow?hose_type_id=std-5in&length_ft=500").await.ok();
    let gpm = lay["deliverable_flow_gpm"].as_f64().unwrap();
    let loss = lay["pressure_budget"][0]["loss_psi"].as_f64().unwrap();
    // 0.16 psi per (100 gpm)²: 1 psi at 250 gpm.
    assert!((loss - 0.16 * (gpm / 100.0).powi(2)).abs() < 1e-9);
}

#[tokio::test]
async fn no_test_and_no_hydrant_are_told_apart() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.get("/v1/hydrants/H-1/capability").await.problem(409, "no-flow-test");
    service.get("/v1/hydrants/H-9/capability").await.problem(404, "not-found");
}

#[tokio::test]
async fn a_hydrant_out_of_service_shows_what_it_could_give_with_its_caution() {
    let service = tested(&flow_test()).await;
    service.put("/v1/hydrants/H-1", &with(hydrant(), &json!({ "in_service": false }))).await.ok();
    let found = service.get("/v1/hydrants/H-1/capability").await.ok();
    assert_eq!(found["in_service"], false);
    assert!(codes(&found["cautions"]).contains(&"out_of_service"));
}

#[tokio::test]
async fn the_list_holds_every_hydrant_of_the_town_once_and_the_untested_with_nulls() {
    let service = Service::demo().await;
    let hydrants = service.all("/v1/hydrants?limit=1000").await;
    let rated = service.all("/v1/capabilities?limit=37").await;
    let ids =
        |list: &[Value]| list.iter().map(|item| item["hydrant_id"].as_str().unwrap().to_owned()).collect::<Vec<_>>();
    assert_eq!(ids(&rated), ids(&hydrants));
    assert!(rated.len() >= 150, "{}", rated.len());
    let untested: Vec<_> = rated.iter().filter(|item| codes(&item["findings"]).contains(&"untested")).collect();
    assert!(!untested.is_empty());
    for item in untested {
        assert!(item["rated_flow_gpm"].is_null() && item["flow_test"].is_null() && item["class"].is_null(), "{item}");
    }
}

#[tokio::test]
async fn the_town_shows_a_test_of_every_kind() {
    let service = Service::demo().await;
    let rated = service.all("/v1/capabilities?limit=1000").await;
    let shown: std::collections::BTreeSet<_> = rated.iter().flat_map(|item| codes(&item["findings"])).collect();
    for code in [
        "untested",
        "no_drop",
        "drop_under_10_percent",
        "drop_under_25_percent",
        "pitot_low",
        "pitot_high",
        "long_extrapolation",
        "old_test",
        "single_hydrant_test",
        "low_static",
        "tested_below_20",
        "borrowed",
        "elevation_unknown",
    ] {
        assert!(shown.contains(code), "{code} is not shown");
    }
    let cautions: std::collections::BTreeSet<_> = rated.iter().flat_map(|item| codes(&item["cautions"])).collect();
    for code in ["private", "non_potable", "seasonal", "out_of_service"] {
        assert!(cautions.contains(code), "{code} is not shown");
    }
}

#[tokio::test]
async fn hydrants_are_listed_by_the_class_their_capability_shows() {
    let service = Service::demo().await;
    let rated = service.all("/v1/capabilities?limit=1000").await;
    for class in ["AA", "A", "B", "C"] {
        let of_class = rated.iter().filter(|item| item["class"]["code"] == class).map(|item| &item["hydrant_id"]);
        let listed = service.all(&format!("/v1/hydrants?class={class}&limit=7")).await;
        assert_eq!(listed.iter().map(|item| &item["hydrant_id"]).collect::<Vec<_>>(), of_class.collect::<Vec<_>>());
        assert!(!listed.is_empty(), "{class}");
    }
    service.get("/v1/hydrants?class=D").await.problem(400, "invalid-query");
}
