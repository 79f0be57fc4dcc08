use longlay_tests::Service;
use reqwest::Method;
use serde_json::{Value, json};

async fn answer(service: &Service, id: &str, inputs: Value) -> Value {
    service.post(&format!("/v1/formulas/{id}"), &json!({ "inputs": inputs })).await.ok()
}

fn value(answer: &Value, name: &str) -> f64 {
    let values = answer["values"].as_array().unwrap();
    values.iter().find(|value| value["name"] == name).unwrap()["value"].as_f64().unwrap()
}

async fn faults(service: &Service, id: &str, inputs: Value) -> Vec<String> {
    let body = json!({ "inputs": inputs });
    service.post(&format!("/v1/formulas/{id}"), &body).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn the_list_is_one_page_of_every_formula_with_what_each_is_asked_with() {
    let service = Service::start().await;
    let list = service.get("/v1/formulas").await.ok();
    assert_eq!(list["next"], Value::Null);
    let items = list["items"].as_array().unwrap();
    assert_eq!(items.len(), longlay_hydraulics::formula::FORMULAS.len());
    for item in items {
        assert!(!item["sources"].as_array().unwrap().is_empty(), "{item}");
        let id = item["id"].as_str().unwrap();
        assert_eq!(service.get(&format!("/v1/formulas/{id}")).await.ok(), *item);
        if item["calculate"].is_null() {
            let by = item["answered_by"].as_str().unwrap();
            assert!(service.get("/openapi.json").await.ok()["paths"].get(by).is_some(), "{id}: {by}");
        } else {
            assert!(!item["inputs"].as_array().unwrap().is_empty() && item["answered_by"].is_null(), "{item}");
        }
    }
}

#[tokio::test]
async fn an_input_is_described_with_its_kind_bounds_and_choices() {
    let service = Service::start().await;
    let formula = service.get("/v1/formulas/outlet_discharge").await.ok();
    let outlets = &formula["inputs"][0];
    assert_eq!((&outlets["kind"], &outlets["required"]), (&"list".into(), &true.into()));
    let pitot = &outlets["items"][2];
    assert_eq!(
        (&pitot["name"], &pitot["unit"], &pitot["kind"]),
        (&"pitot_psi".into(), &"psi".into(), &"number".into())
    );
    assert_eq!((&pitot["minimum"], &pitot["maximum"]), (&0.1.into(), &200.0.into()));
    let dwelling = service.get("/v1/formulas/iso_dwelling").await.ok();
    assert_eq!(dwelling["inputs"][0]["choices"], json!(["before_2012", "from_2012"]));
    assert_eq!(dwelling["outputs"], json!([{ "name": "needed_flow_gpm", "unit": "gpm" }]));
    let lines = &service.get("/v1/formulas/hose_friction").await.ok()["inputs"][2];
    assert_eq!((&lines["whole"], &lines["required"], &lines["maximum"]), (&true.into(), &false.into(), &8.0.into()));
}

#[tokio::test]
async fn an_answer_carries_its_working_its_cautions_and_its_sources() {
    let service = Service::start().await;
    let outlets = json!([
        { "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 16 },
        { "diameter_in": 2.5, "coefficient": 0.8, "pitot_psi": 9 }
    ]);
    let found = answer(&service, "outlet_discharge", json!({ "outlets": outlets })).await;
    // 29.84 x 6.25 = 186.5; x 0.9 x 4 = 671.4, x 0.8 x 3 = 447.6.
    assert!((value(&found, "flow_gpm") - 1119.0).abs() < 1e-9, "{found}");
    assert_eq!(found["values"][0]["unit"], "gpm");
    assert_eq!((&found["working"][1]["name"], &found["working"][1]["index"]), (&"outlet".into(), &1.into()));
    assert!((found["working"][1]["value"].as_f64().unwrap() - 447.6).abs() < 1e-9);
    assert_eq!(found["findings"][0]["code"], "pitot_low");
    let codes: Vec<_> = found["cautions"].as_array().unwrap().iter().map(|caution| &caution["code"]).collect();
    assert_eq!(codes, ["planning_answer", "gauges_govern", "local_procedures"]);
    assert_eq!((&found["id"], &found["formula"]), (&"outlet_discharge".into(), &"Q = 29.84 c d² √p".into()));
    assert_eq!(found["sources"][0]["key"], "nfpa-291");
}

#[tokio::test]
async fn a_class_is_a_text_and_enough_is_a_flag() {
    let service = Service::start().await;
    let class = answer(&service, "capacity_class", json!({ "rated_flow_gpm": 1499.9 })).await;
    assert_eq!(class["values"], json!([{ "name": "class", "text": "A" }, { "name": "marking", "text": "green" }]));
    let size = json!({ "rated_flow_gpm": 1500, "net_psi": 185, "flow_gpm": 1100 });
    let size = answer(&service, "relay_pump_size", size).await;
    // 70 % of 1500 is 1050.
    assert_eq!(size["values"][0], json!({ "name": "enough", "flag": false }));
    assert_eq!(value(&size, "capacity_gpm"), 1050.0);
}

#[tokio::test]
async fn an_attack_line_is_added_up_part_by_part() {
    let service = Service::start().await;
    let line = json!({
        "flow_gpm": 200, "nozzle_psi": 75, "rise_ft": 50,
        "hoses": [{ "loss_coefficient": 0.8, "length_ft": 300 }, { "loss_coefficient": 2, "length_ft": 150, "lines": 2 }],
        "appliances": [{ "fixed_loss_psi": 10, "at_or_above_gpm": 350 }, { "loss_coefficient": 0.5 }]
    });
    // 75 + 0.8 x 4 x 3 + 2 x 1 x 1.5 + (0 + 0.5 x 4) + 21.7 = 111.3.
    let found = answer(&service, "attack_line", line).await;
    assert!((value(&found, "pump_psi") - 111.3).abs() < 1e-9, "{found}");
}

#[tokio::test]
async fn what_of_a_lay_can_be_asked_by_itself_is_answered() {
    let service = Service::start().await;
    let points = json!([
        { "max_operating_psi": 200, "service_test_psi": 200, "rise_ft": -50 },
        { "max_operating_psi": 175, "rise_ft": 20 }
    ]);
    // 180 - 21.7 = 158.3 and 175 + 8.68.
    let ceiling = answer(&service, "pressure_ceiling", json!({ "points": points })).await;
    assert!((value(&ceiling, "ceiling_psi") - 158.3).abs() < 1e-9, "{ceiling}");
    // No drop: 80 psi at the valve, 0.05 x 16 lost in the valve, at most the static.
    let test = json!({ "static_psi": 80, "residual_psi": 80, "flow_gpm": 1000, "rise_ft": 10, "running_gpm": 400,
        "body_loss_coefficient": 0.1, "from_pump_coefficient": 0.05 });
    // 80 - 1.6 - 4.34 + 0.8 = 74.86; the static less the rise is 75.66.
    let valve = answer(&service, "change_over", test).await;
    assert!((value(&valve, "change_over_discharge_psi") - 74.86).abs() < 1e-9, "{valve}");
    let lay = json!({ "static_psi": 80, "residual_psi": 80, "flow_gpm": 1000, "loss_coefficient": 0.08, "lines": 2,
        "main_floor_psi": 20, "scene_floor_psi": 20, "target_flow_gpm": 800 });
    // 60 psi to lose, 0.08 x 16 = 1.28 in 100 ft of each line: 4687.5 ft.
    let longest = answer(&service, "longest_lay", lay).await;
    assert!((value(&longest, "longest_lay_ft") - 4687.5).abs() < 1e-6, "{longest}");
    assert_eq!(longest["values"][1]["flag"], true);
    let codes: Vec<_> = longest["findings"].as_array().unwrap().iter().map(|finding| &finding["code"]).collect();
    assert!(codes.contains(&&"no_drop".into()) && codes.contains(&&"no_body_loss".into()), "{codes:?}");
}

#[tokio::test]
async fn lines_side_by_side_share_one_loss() {
    let service = Service::start().await;
    let hoses = json!([{ "loss_coefficient": 0.8, "length_ft": 100 }, { "loss_coefficient": 0.8, "length_ft": 400 }]);
    let found = answer(&service, "parallel_lines", json!({ "hoses": hoses, "flow_gpm": 300 })).await;
    // Twice the flow through a quarter of the length: 200 and 100; 0.8 x 4.
    assert!((value(&found, "loss_psi") - 3.2).abs() < 1e-9, "{found}");
    assert!((found["working"][0]["value"].as_f64().unwrap() - 200.0).abs() < 1e-9);
}

#[tokio::test]
async fn a_method_answers_with_its_working_and_its_own_cautions() {
    let service = Service::start().await;
    let shop = json!({ "edition": "from_2012", "construction_class": "joisted_masonry", "effective_area_sq_ft": 12000,
        "one_storey": false, "occupancy": "limited_combustible", "exposure_and_communication": 0.14,
        "wood_shingle_roof": false });
    let found = answer(&service, "iso_needed_flow", shop).await;
    assert_eq!(value(&found, "needed_flow_gpm"), 2000.0);
    // 18 √12,000 = 1971.8, to the nearest 250.
    assert_eq!(found["working"][2], json!({ "name": "construction_flow", "value": 2000.0, "unit": "gpm" }));
    let codes: Vec<_> = found["cautions"].as_array().unwrap().iter().map(|caution| &caution["code"]).collect();
    assert!(codes.contains(&&"gauges_govern".into()) && codes.contains(&&"from_memory".into()), "{codes:?}");
}

#[tokio::test]
async fn what_is_not_known_is_left_out_and_not_made_up() {
    let service = Service::start().await;
    let test = json!({ "static_psi": 60, "residual_psi": 60, "flow_gpm": 700 });
    let rated = answer(&service, "rated_flow", test).await;
    let names: Vec<_> = rated["values"].as_array().unwrap().iter().map(|value| &value["name"]).collect();
    assert_eq!(names, ["rated_flow_at_least_gpm", "rated_at_psi"]);
    assert_eq!(rated["findings"][0]["code"], "no_drop");
    assert_eq!(faults(&service, "rating_by_lift", json!({ "lift_ft": 21 })).await, ["/inputs/lift_ft not_known"]);
    let building = json!({ "edition": "from_2015", "building_type": "II-B", "area_sq_ft": 5000, "dwelling": false, "sprinklers": "none" });
    assert_eq!(faults(&service, "ifc_b105", building).await, ["/inputs/building_type no_known_row"]);
}

#[tokio::test]
async fn every_fault_is_told_at_once_with_its_place() {
    let service = Service::start().await;
    let inputs = json!({ "static_psi": 2000, "residual_psi": "low", "at_psi": 20, "pitot_psi": 10, "a/b": 1 });
    let mut found = faults(&service, "supply_curve", inputs).await;
    found.sort();
    assert_eq!(
        found,
        [
            "/inputs/a~1b unknown_input",
            "/inputs/flow_gpm required",
            "/inputs/pitot_psi unknown_input",
            "/inputs/residual_psi wrong_type",
            "/inputs/static_psi out_of_bounds",
        ]
    );
    let outlets = json!([{ "diameter_in": 2.5, "coefficient": 1.2, "pitot": 16 }, 7]);
    let mut found = faults(&service, "outlet_discharge", json!({ "outlets": outlets })).await;
    found.sort();
    assert_eq!(
        found,
        [
            "/inputs/outlets/0/coefficient out_of_bounds",
            "/inputs/outlets/0/pitot unknown_input",
            "/inputs/outlets/0/pitot_psi required",
            "/inputs/outlets/1 wrong_type",
        ]
    );
}

#[tokio::test]
async fn a_refusal_says_the_bounds_the_choices_and_the_inputs_there_are() {
    let service = Service::start().await;
    let ask = async |id: &str, inputs: Value| {
        let problem = service.post(&format!("/v1/formulas/{id}"), &json!({ "inputs": inputs })).await;
        problem.problem(422, "invalid-values").document["errors"][0]["detail"].as_str().unwrap().to_owned()
    };
    let said = ask("smooth_bore_flow", json!({ "tip_in": 7, "nozzle_psi": 50 })).await;
    assert_eq!(said, "nozzle tip diameter must be from 0.1 to 6 in, not 7");
    let said = ask("iso_dwelling", json!({ "edition": "newest", "separation_ft": 50 })).await;
    assert_eq!(said, "must be one of before_2012, from_2012, not newest");
    let said = ask("smooth_bore_flow", json!({ "tip": 1, "tip_in": 1, "nozzle_psi": 50 })).await;
    assert_eq!(said, "unknown input tip; there are tip_in, nozzle_psi");
    let said =
        ask("hose_friction", json!({ "loss_coefficient": 2, "length_ft": 100, "flow_gpm": 100, "lines": 1.5 })).await;
    assert_eq!(said, "must be a whole number from 1 to 8, not 1.5");
}

#[tokio::test]
async fn no_method_edition_or_order_has_a_default() {
    let service = Service::start().await;
    for (id, name) in [
        ("iso_dwelling", "edition"),
        ("iso_needed_flow", "edition"),
        ("nfpa_1142", "edition"),
        ("ifc_b105", "edition"),
        ("national_fire_academy", "exposure_order"),
        ("gauge_rules", "rule"),
    ] {
        let fault = format!("/inputs/{name} required");
        assert!(faults(&service, id, json!({})).await.contains(&fault), "{id}");
    }
}

#[tokio::test]
async fn inputs_that_exclude_each_other_are_refused_together_and_when_none_is_given() {
    let service = Service::start().await;
    for inputs in [json!({ "nozzle_psi": 50 }), json!({ "nozzle_psi": 50, "tip_in": 1, "flow_gpm": 150 })] {
        assert_eq!(faults(&service, "nozzle_reaction", inputs).await, ["/inputs exactly_one_of"]);
    }
    let round = json!({ "tank_gal": 3000, "fill_min": 2, "dump_min": 2 });
    assert_eq!(faults(&service, "tanker_rate", round).await, ["/inputs exactly_one_of"]);
}

#[tokio::test]
async fn values_that_fit_no_formula_are_refused_where_they_stand() {
    let service = Service::start().await;
    let reading = json!({ "static_psi": 60, "residual_psi": 70, "flow_gpm": 500, "at_gpm": 100 });
    assert_eq!(faults(&service, "supply_curve", reading).await, ["/inputs/residual_psi residual_above_static"]);
    let level =
        json!({ "rule": "squaring_the_lines", "static_psi": 60, "residual_psi": 60, "flow_gpm": 500, "floor_psi": 20 });
    assert_eq!(faults(&service, "gauge_rules", level).await, ["/inputs/residual_psi no_drop"]);
    let readings = json!([{ "flow_gpm": 500, "upstream_psi": 100, "downstream_psi": 80 },
        { "flow_gpm": 700, "upstream_psi": 80, "downstream_psi": 80 }]);
    let test = json!({ "length_ft": 300, "rise_ft": 0, "meter_percent": 2, "readings": readings });
    assert_eq!(faults(&service, "friction_test", test).await, ["/inputs/readings/1 no_loss"]);
    assert_eq!(faults(&service, "total_flow", json!({ "streams": [] })).await, ["/inputs/streams required"]);
    let relay = json!({ "discharge_psi": 20, "residual_psi": 20, "loss_coefficient": 0.8, "flow_gpm": 500 });
    assert_eq!(faults(&service, "relay_distance", relay).await, ["/inputs/discharge_psi reaches_nowhere"]);
    let pipe = json!({ "diameter_in": 2, "length_ft": 10, "roughness_in": 0.2, "viscosity_cst": 1, "flow_gpm": 10 });
    assert_eq!(faults(&service, "darcy_pipe", pipe).await, ["/inputs/roughness_in out_of_bounds"]);
}

#[tokio::test]
async fn a_formula_that_is_not_there_or_answered_elsewhere_is_not_found() {
    let service = Service::start().await;
    service.get("/v1/formulas/luck").await.problem(404, "not-found");
    service.post("/v1/formulas/luck", &json!({ "inputs": {} })).await.problem(404, "not-found");
    let elsewhere = service.post("/v1/formulas/deliverable_flow", &json!({ "inputs": {} })).await;
    let detail = elsewhere.problem(404, "not-found").document["detail"].as_str().unwrap().to_owned();
    assert!(detail.contains("/v1/lay-calculations"), "{detail}");
}

#[tokio::test]
async fn a_body_of_another_shape_is_refused() {
    let service = Service::start().await;
    for body in [json!({}), json!({ "inputs": [1] }), json!({ "inputs": {}, "method": "iso" }), json!([{}])] {
        service.post("/v1/formulas/iowa", &body).await.problem(422, "invalid-body-shape");
    }
}

#[tokio::test]
async fn an_input_given_twice_is_refused() {
    let service = Service::start().await;
    for (id, body) in [
        ("capacity_class", r#"{"inputs":{"rated_flow_gpm":900,"rated_flow_gpm":1600}}"#),
        ("total_flow", r#"{"inputs":{"streams":[{"flow_gpm":100,"flow_gpm":200,"nozzle_psi":100}]}}"#),
    ] {
        let request = service.request(Method::POST, &format!("/v1/formulas/{id}"));
        let request = request.header("content-type", "application/json").body(body);
        let problem = service.send(request).await.problem(422, "invalid-body-shape");
        assert!(problem.detail().starts_with("duplicate member"), "{}", problem.detail());
    }
}
