use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, lay_profile, pumper, with, without};
use serde_json::{Value, json};

/// H-1 tested at 60 static, 40 at 600; a profile of shipped equipment; a pumper.
async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    service.given("/v1/lay-profiles/five", &lay_profile()).await;
    service.given("/v1/pumpers/engine-1", &pumper()).await;
    service
}

fn path(query: &str) -> String {
    format!("/v1/hydrants/H-1/deliverable-flow?{query}")
}

fn has(list: &Value, code: &str) -> bool {
    list.as_array().unwrap().iter().any(|item| item["code"] == code)
}

#[tokio::test]
async fn a_line_of_query_gives_the_answer_of_the_calculation() {
    let service = town().await;
    let asked =
        service.get(&path("lay_profile_id=five&boost_pumper_id=engine-1&target_flow_gpm=600&rise_ft=10")).await.ok();
    let body = json!({
        "source": { "hydrant_id": "H-1" }, "lay_profile_id": "five", "boost": { "pumper_id": "engine-1" },
        "target_flow_gpm": 600, "rise_ft": 10
    });
    assert_eq!(asked, service.post("/v1/lay-calculations", &body).await.ok());
    assert_eq!(asked["flow_test"]["tested_on"], "2025-05-14");
}

#[tokio::test]
async fn plain_hose_needs_no_profile() {
    let service = town().await;
    let found = service.get(&path("hose_type_id=std-5in&length_ft=1000")).await.ok();
    // By hand for x = Q/100: 60 - 20 (x/6)^(1/0.54) - 0.85 x² = 20 with body 0.05 and hose 0.8; 530 gpm takes 15.89 + 23.88 = 39.77 psi.
    let gpm = found["deliverable_flow_gpm"].as_f64().unwrap();
    assert!((530.0..533.0).contains(&gpm), "{gpm}");
    let two = service.get(&path("hose_type_id=std-5in&length_ft=1000&lines=2")).await.ok();
    assert!(two["deliverable_flow_gpm"].as_f64().unwrap() > gpm);
}

#[tokio::test]
async fn a_lay_longer_than_the_hose_carried_is_found() {
    let service = town().await;
    let found = service.get(&path("lay_profile_id=five&length_ft=1300")).await.ok();
    let finding = found["findings"].as_array().unwrap().iter().find(|f| f["code"] == "beyond_carried_hose").unwrap();
    assert_eq!(finding["value"], 300.0);
    assert!(!has(
        &service.get(&path("lay_profile_id=five&length_ft=900")).await.ok()["findings"],
        "beyond_carried_hose"
    ));
}

#[tokio::test]
async fn faults_of_the_query_name_their_parameter() {
    let service = town().await;
    for (query, fault) in [
        ("", "lay_profile_id exactly_one_of"),
        ("lay_profile_id=five&hose_type_id=std-5in", "lay_profile_id exactly_one_of"),
        ("lay_profile_id=five&lines=2", "lines not_with"),
        ("hose_type_id=std-5in", "length_ft required"),
        (
            "hose_type_id=std-5in&length_ft=0&lines=9&rise_ft=9999",
            "length_ft out_of_bounds lines out_of_bounds rise_ft out_of_bounds",
        ),
        ("hose_type_id=std-5in&length_ft=NaN", "length_ft out_of_bounds"),
        ("hose_type_id=std-5in&length_ft=1e999", "length_ft out_of_bounds"),
        ("hose_type_id=std-5in&length_ft=far", "length_ft invalid_form"),
        ("hose_type_id=none-such&length_ft=100", "hose_type_id unknown_reference"),
        ("lay_profile_id=none-such", "lay_profile_id unknown_reference"),
        ("lay_profile_id=five&boost_pumper_id=none-such", "boost_pumper_id unknown_reference"),
        ("lay_profile_id=five&target_flow_gpm=-1", "target_flow_gpm out_of_bounds"),
        ("lay_profile_id=five&main_floor_psi=inf", "main_floor_psi out_of_bounds"),
        ("lay_profile_id=five&lenght_ft=100", "lenght_ft unknown_parameter"),
        ("lay_profile_id=five&rise_ft=1&rise_ft=2", "rise_ft given_twice"),
    ] {
        let problem = service.get(&path(query)).await.problem(400, "invalid-query");
        assert_eq!(problem.faults().join(" "), fault, "{query}");
    }
}

#[tokio::test]
async fn an_unknown_hydrant_is_a_path_that_names_nothing() {
    let service = town().await;
    for id in ["H-9", "H.9"] {
        service.get(&format!("/v1/hydrants/{id}/deliverable-flow?lay_profile_id=five")).await.problem(404, "not-found");
    }
}

#[tokio::test]
async fn no_test_is_no_data_and_not_no_water() {
    let service = town().await;
    service.given("/v1/hydrants/H-2", &with(hydrant(), &json!({ "main_id": "M-2" }))).await;
    let untested = service.get("/v1/hydrants/H-2/deliverable-flow?lay_profile_id=five").await;
    untested.problem(409, "no-flow-test");
    let body = json!({ "source": { "hydrant_id": "H-2" }, "lay_profile_id": "five" });
    service.post("/v1/lay-calculations", &body).await.problem(409, "no-flow-test");
}

#[tokio::test]
async fn a_hydrant_out_of_service_answers_only_when_asked_for_it() {
    let service = town().await;
    let out = with(hydrant(), &json!({ "in_service": false, "out_of_service_reason": "stem broken" }));
    service.put("/v1/hydrants/H-1", &out).await.ok();
    let problem = service.get(&path("lay_profile_id=five")).await.problem(409, "hydrant-out-of-service");
    assert!(problem.detail().contains("stem broken"));
    let found = service.get(&path("lay_profile_id=five&allow_out_of_service=true")).await.ok();
    assert!(has(&found["cautions"], "out_of_service"));
}

#[tokio::test]
async fn private_and_non_potable_water_carries_its_caution() {
    let service = town().await;
    let odd = with(hydrant(), &json!({ "owner": "private", "potable": false, "seasonal": true }));
    service.put("/v1/hydrants/H-1", &odd).await.ok();
    let found = service.get(&path("lay_profile_id=five")).await.ok();
    for caution in ["private", "non_potable", "seasonal"] {
        assert!(has(&found["cautions"], caution), "{caution}");
    }
}

#[tokio::test]
async fn the_default_body_loss_is_shown_and_found_and_a_single_hydrant_test_holds_it() {
    let service = town().await;
    service.put("/v1/hydrants/H-1", &without(hydrant(), "body_loss_coefficient")).await.ok();
    let parts = |answer: &Value| {
        let budget = answer["pressure_budget"].as_array().unwrap().clone();
        budget.iter().map(|line| line["part"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    let assumed = service.get(&path("hose_type_id=std-5in&length_ft=500")).await.ok();
    assert_eq!(parts(&assumed), ["hydrant_body", "hose"]);
    assert!(has(&assumed["findings"], "assumed_loss"));
    let single = with(flow_test(), &json!({ "tested_on": "2026-05-14", "flow_hydrant_ids": ["H-1"] }));
    service.post("/v1/hydrants/H-1/flow-tests", &single).await.created();
    let held = service.get(&path("hose_type_id=std-5in&length_ft=500")).await.ok();
    assert_eq!(parts(&held), ["hose"]);
    assert!(has(&held["findings"], "single_hydrant_test") && !has(&held["findings"], "assumed_loss"));
}

#[tokio::test]
async fn a_floor_under_20_is_told_with_the_caution_whoever_set_it() {
    let service = town().await;
    let told = |found: &Value| {
        let lowered = found["findings"].as_array().unwrap().iter().filter(|f| f["code"] == "floor_lowered");
        let told =
            |f: &Value| (f["message"].as_str().unwrap().split(':').next().unwrap().to_owned(), f["value"].as_f64());
        assert!(lowered.clone().all(|f| f["severity"] == "serious"));
        lowered.map(told).collect::<Vec<_>>()
    };
    let plain = service.get(&path("lay_profile_id=five&main_floor_psi=20&scene_floor_psi=20")).await.ok();
    assert_eq!(told(&plain), []);
    let asked = service.get(&path("lay_profile_id=five&main_floor_psi=5&scene_floor_psi=10&length_ft=2000")).await.ok();
    assert_eq!(told(&asked), [("Main floor".to_owned(), Some(5.0)), ("Scene floor".to_owned(), Some(10.0))]);
    assert!(has(&asked["cautions"], "main_floor"));

    service.given("/v1/lay-profiles/low", &with(lay_profile(), &json!({ "main_floor_psi": 0.0 }))).await;
    service.given("/v1/pumpers/engine-2", &with(pumper(), &json!({ "intake_floor_psi": 0.0 }))).await;
    let stored = service.get(&path("lay_profile_id=low&boost_pumper_id=engine-2")).await.ok();
    let both = [("Main floor".to_owned(), Some(0.0)), ("A pumper's intake floor".to_owned(), Some(0.0))];
    assert_eq!(told(&stored), both);
    assert!(has(&stored["cautions"], "main_floor"));
    let rated = service.get("/v1/hydrants/H-1/capability?floor_psi=5").await.ok();
    assert_eq!(told(&rated), [("Main floor".to_owned(), Some(5.0))]);
}

#[tokio::test]
async fn an_answer_given_again_is_what_the_records_give_after_every_write() {
    let service = town().await;
    let asked = path("lay_profile_id=five&boost_pumper_id=engine-1&target_flow_gpm=600");
    let calculated = json!({
        "source": { "hydrant_id": "H-1" }, "lay_profile_id": "five", "boost": { "pumper_id": "engine-1" }, "target_flow_gpm": 600
    });
    let answer = async || {
        let first = service.get(&asked).await.ok();
        assert_eq!(first, service.get(&asked).await.ok(), "the same question to the same records");
        assert_eq!(first, service.post("/v1/lay-calculations", &calculated).await.ok(), "which is never kept");
        assert_ne!(first, service.get(&asked.replace("600", "601")).await.ok(), "another question");
        first
    };
    let mut seen = vec![answer().await, answer().await];
    assert_eq!(seen[0], seen[1], "nothing was written between");
    let put = async |path: &str, body: &Value| service.put_with(path, body, &[("if-match", "*")]).await.ok();
    let weaker = with(flow_test(), &json!({ "tested_on": "2026-05-14", "residual_psi": 35.0 }));
    service.post("/v1/hydrants/H-1/flow-tests", &weaker).await.created();
    seen.push(answer().await);
    put("/v1/pumpers/engine-1", &with(pumper(), &json!({ "intake_floor_psi": 12.0 }))).await;
    seen.push(answer().await);
    put("/v1/lay-profiles/five", &with(lay_profile(), &json!({ "carried_ft": 1200.0 }))).await;
    seen.push(answer().await);
    assert!(seen[1..].windows(2).all(|pair| pair[0] != pair[1]), "each write tells on the answer");
    service.delete_with("/v1/hydrants/H-1", &[("if-match", "*")]).await.no_content();
    service.get(&asked).await.problem(404, "not-found");
}
