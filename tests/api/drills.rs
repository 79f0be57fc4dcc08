use longlay_tests::records::{flow_test, hose_type, hydrant, hydrant_valve, lay_profile, pumper, with, without};
use longlay_tests::{NOW, Service};
use serde_json::{Value, json};

const DRILLS: &str = "/v1/drills";

/// A hydrant with a test, and a hose of the department's own that loses 20 psi in 1000 ft at 500 gpm.
async fn town() -> Service {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    let hose = with(hose_type(), &json!({ "loss_coefficient": 0.08 }));
    service.given("/v1/hose-types/own-5in", &hose).await;
    service
}

fn lay() -> Value {
    let hose = json!({ "kind": "hose", "hose_type_id": "own-5in", "length_ft": 1000.0 });
    json!({ "source": { "hydrant_id": "H-1" }, "parts": [hose] })
}

fn read(station: &str, psi: f64) -> Value {
    json!({ "station": station, "pressure_psi": psi })
}

/// 22 psi lost between hydrant and scene, where 20 were to be.
fn drill() -> Value {
    json!({
        "drilled_on": "2026-10-01", "lay": lay(), "flow_gpm": 500.0, "flow_uncertainty_percent": 3.0,
        "readings": [read("hydrant", 50.0), read("scene", 28.0)]
    })
}

fn close(value: &Value, expected: f64, tolerance: f64) {
    let number = value.as_f64().unwrap();
    assert!((number - expected).abs() <= tolerance, "{number} is not within {tolerance} of {expected}");
}

/// What the main holds at 500 gpm: 60 psi static and 40 at 600.
fn main_psi() -> f64 {
    60.0 - 20.0 * (500.0_f64 / 600.0).powf(1.0 / 0.54)
}

async fn faults(body: Value) -> Vec<String> {
    town().await.post(DRILLS, &body).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn a_drill_is_recorded_with_its_misses() {
    let service = town().await;
    let answer = service.post(DRILLS, &with(drill(), &json!({ "notes": "windy" }))).await;
    let drill = answer.created();
    let id = drill["id"].as_str().unwrap();
    assert_eq!(answer.header("location"), format!("{}{DRILLS}/{id}", service.url));
    assert_eq!((&drill["drilled_on"], &drill["recorded_at"]), (&json!("2026-10-01"), &json!(NOW)));
    assert_eq!(
        (&drill["pumped"], &drill["notes"], &drill["flow_gpm"]),
        (&json!(false), &json!("windy"), &json!(500.0))
    );
    assert_eq!(drill["lay"], lay());
    // A body of 0.05 takes 1.25 psi at 500 gpm, the hose 20.
    let stations: Vec<_> =
        drill["predicted"].as_array().unwrap().iter().map(|one| one["station"].as_str().unwrap()).collect();
    assert_eq!(stations, ["main", "hydrant", "scene"]);
    close(&drill["predicted"][0]["pressure_psi"], main_psi(), 1e-9);
    close(&drill["predicted"][2]["pressure_psi"], main_psi() - 21.25, 1e-9);
    assert_eq!(drill["readings"][0]["station"], "hydrant");
    close(&drill["readings"][0]["miss_psi"], 50.0 - (main_psi() - 1.25), 1e-9);
    close(&drill["readings"][1]["miss_psi"], 28.0 - (main_psi() - 21.25), 1e-9);
    let stretch = &drill["stretches"][0];
    assert_eq!((&stretch["from"], &stretch["to"]), (&json!("hydrant"), &json!("scene")));
    close(&stretch["read_loss_psi"], 22.0, 1e-9);
    close(&stretch["predicted_loss_psi"], 20.0, 1e-9);
    close(&stretch["loss_miss_psi"], 2.0, 1e-9);
    close(&stretch["loss_miss_percent"], 10.0, 1e-9);
    assert_eq!(service.get(&format!("{DRILLS}/{id}")).await.ok(), drill);
}

/// The same drill with every gauge at what is predicted.
async fn exact(service: &Service, body: &Value) -> Value {
    let trial = service.post(DRILLS, body).await.created();
    let id = trial["id"].as_str().unwrap();
    service.post(&format!("{DRILLS}/{id}/void"), &json!({ "reason": "a trial" })).await.ok();
    let predicted = trial["predicted"].as_array().unwrap().iter();
    let readings: Vec<_> =
        predicted.map(|one| read(one["station"].as_str().unwrap(), one["pressure_psi"].as_f64().unwrap())).collect();
    with(body.clone(), &json!({ "readings": readings }))
}

#[tokio::test]
async fn an_exact_drill_misses_nothing_and_changes_no_figure() {
    let service = town().await;
    let pumped = with(
        drill(),
        &json!({
            "lay": { "source": { "hydrant_id": "H-1" }, "boost": { "rated_flow_gpm": 1500.0 }, "rise_ft": 30.0, "parts": [
                { "kind": "hydrant_valve", "hydrant_valve_id": "std-four-way" },
                { "kind": "hose", "hose_type_id": "own-5in", "length_ft": 1000.0 },
                { "kind": "appliance", "appliance_id": "std-intake-valve" }
            ]}
        }),
    );
    let pumped = with(pumped, &json!({ "readings": [read("hydrant", 40.0)] }));
    for body in [drill(), pumped] {
        let drill = service.post(DRILLS, &exact(&service, &body).await).await.created();
        for one in drill["readings"].as_array().unwrap() {
            if !one["station"].as_str().unwrap().ends_with("discharge") {
                close(&one["miss_psi"], 0.0, 1e-9);
            }
        }
        drill["stretches"].as_array().unwrap().iter().for_each(|one| close(&one["loss_miss_psi"], 0.0, 1e-9));
    }
    let estimates = service.get("/v1/drill-estimates").await.ok();
    assert_eq!((&estimates["drills"], &estimates["left_out"]), (&json!(2), &json!([])));
    let items = estimates["items"].as_array().unwrap();
    let named: Vec<_> =
        items.iter().map(|one| format!("{} {} {}", one["kind"], one["id"], one["leg"]).replace('"', "")).collect();
    assert_eq!(
        named,
        [
            "hydrant H-1 null",
            "hose_type own-5in null",
            "appliance std-intake-valve null",
            "hydrant_valve std-four-way to_pump",
            "hydrant_valve std-four-way from_pump"
        ]
    );
    for one in items {
        let current = one["current"].as_f64().unwrap();
        close(&one["estimate"], current, 1e-9 * current);
        close(&one["change_percent"], 0.0, 1e-7);
    }
}

#[tokio::test]
async fn a_scene_that_reads_lower_moves_the_hose_up() {
    let service = town().await;
    service.post(DRILLS, &drill()).await.created();
    let estimates = service.get("/v1/drill-estimates").await.ok();
    let hose = &estimates["items"][0];
    assert_eq!(estimates["items"].as_array().unwrap().len(), 1, "the body lies before the first gauge");
    assert_eq!((&hose["kind"], &hose["id"], &hose["from"]), (&json!("hose_type"), &json!("own-5in"), &json!("stated")));
    assert_eq!((&hose["readings"], &hose["drills"], &hose["current"]), (&json!(1), &json!(1), &json!(0.08)));
    assert_eq!(hose["unit"], "psi/(100 gpm)²/100 ft");
    // Held: 20 x 0.35/1.645 = 4.25532 psi. Read: √(2 + (2 x 0.03 x 20)²)/1.645 = 1.12749 psi. 18.10774/(18.10774 + 1.27124) of 10 %.
    close(&hose["change_percent"], 9.344_01, 1e-4);
    close(&hose["estimate"], 0.087_475_2, 1e-7);
    // 1.645/√(1/18.10774 + 1/1.27124) = 1.79285 psi of 20 on each side.
    close(&hose["low"], 0.087_475_2 - 0.08 * 1.792_85 / 20.0, 1e-6);
    close(&hose["high"], 0.087_475_2 + 0.08 * 1.792_85 / 20.0, 1e-6);
    assert!(estimates["note"].as_str().unwrap().contains("No estimate is applied by itself"));
    assert_eq!(estimates["basis"][0]["id"], "drill_estimate");
    // And so it is: the hose is as it was.
    assert_eq!(service.get("/v1/hose-types/own-5in").await.ok()["loss_coefficient"], 0.08);
}

#[tokio::test]
async fn without_drills_there_is_no_estimate() {
    let estimates = town().await.get("/v1/drill-estimates").await.ok();
    assert_eq!((&estimates["items"], &estimates["drills"]), (&json!([]), &json!(0)));
}

#[tokio::test]
async fn a_drill_that_can_no_longer_be_worked_is_named_and_left_out() {
    let service = town().await;
    let drill = service.post(DRILLS, &drill()).await.created();
    service.delete("/v1/hose-types/own-5in").await.no_content();
    let estimates = service.get("/v1/drill-estimates").await.ok();
    assert_eq!(estimates["left_out"][0]["drill_id"], drill["id"]);
    assert_eq!((&estimates["items"], &estimates["drills"]), (&json!([]), &json!(0)));
}

fn has_bias(answer: &Value) -> bool {
    answer["findings"].as_array().unwrap().iter().any(|finding| finding["code"] == "drill_bias")
}

#[tokio::test]
async fn a_bias_is_told_with_every_answer_it_touches_from_three_drills_on() {
    let service = town().await;
    let mut body = exact(&service, &drill()).await;
    let scene = body["readings"][2]["pressure_psi"].as_f64().unwrap();
    body["readings"][2]["pressure_psi"] = json!(scene - 5.0);
    let ask = lay();
    let before = service.post("/v1/lay-calculations", &ask).await.ok();
    assert_eq!(before["track_record"], Value::Null, "no drill is no record");
    for count in 1..=3 {
        let day = format!("2026-10-0{count}");
        service.post(DRILLS, &with(body.clone(), &json!({ "drilled_on": day }))).await.created();
        let answer = service.post("/v1/lay-calculations", &ask).await.ok();
        let record = &answer["track_record"];
        assert_eq!((&record["drills"], &record["readings"]), (&json!(count), &json!(3 * count)));
        assert_eq!(record["last_drilled_on"], day);
        close(&record["mean_miss_psi"], -5.0, 1e-9);
        close(&record["worst_miss_psi"], -5.0, 1e-9);
        // Of 1.25 psi in the hydrant and 20 in the hose.
        close(&record["mean_miss_percent_of_loss"], -100.0 * 5.0 / 21.25, 1e-6);
        assert_eq!(has_bias(&answer), count == 3, "{count}");
        assert_eq!(answer["deliverable_flow_gpm"], before["deliverable_flow_gpm"], "it is told, not taken off");
    }
    let flow = "/v1/hydrants/H-1/deliverable-flow";
    let answer = service.get(&format!("{flow}?hose_type_id=own-5in&length_ft=300")).await.ok();
    assert!(has_bias(&answer));
    let finding =
        answer["findings"].as_array().unwrap().iter().find(|finding| finding["code"] == "drill_bias").unwrap();
    assert_eq!(finding["severity"], "weak");
    close(&finding["value"], -5.0, 1e-9);
    assert!(answer["basis"].as_array().unwrap().iter().any(|formula| formula["id"] == "drill_bias"));
    // Another hose shares nothing with the drills.
    let other = service.get(&format!("{flow}?hose_type_id=std-4in&length_ft=300")).await.ok();
    assert_eq!((&other["track_record"], has_bias(&other)), (&Value::Null, false));

    let last = service.all(DRILLS).await.pop().unwrap();
    let void = format!("{DRILLS}/{}/void", last["id"].as_str().unwrap());
    service.post(&void, &json!({ "reason": "the gauge was off" })).await.ok();
    let answer = service.post("/v1/lay-calculations", &ask).await.ok();
    assert_eq!((&answer["track_record"]["drills"], has_bias(&answer)), (&json!(2), false));
}

#[tokio::test]
async fn a_pumper_whose_discharge_was_read_starts_its_line_at_it() {
    let service = town().await;
    let boosted = with(lay(), &json!({ "boost": { "rated_flow_gpm": 1500.0 } }));
    let readings = json!([read("pumper_1_discharge", 120.0), read("scene", 98.0)]);
    let drill = service.post(DRILLS, &with(drill(), &json!({ "lay": boosted, "readings": readings }))).await.created();
    assert_eq!(drill["pumped"], true);
    assert_eq!(drill["readings"][0].get("miss_psi"), None, "the operator sets the discharge");
    // 120 less 20.
    close(&drill["readings"][1]["predicted_psi"], 100.0, 1e-9);
    close(&drill["readings"][1]["miss_psi"], -2.0, 1e-9);
    close(&drill["stretches"][0]["loss_miss_percent"], 10.0, 1e-9);
}

#[tokio::test]
async fn behind_a_pumper_that_nobody_read_nothing_is_missed() {
    let boosted = with(lay(), &json!({ "boost": { "rated_flow_gpm": 1500.0 } }));
    let service = town().await;
    let readings = json!([read("pumper_1_intake", 40.0), read("scene", 98.0)]);
    let body = with(drill(), &json!({ "lay": boosted, "readings": readings }));
    let drill = service.post(DRILLS, &body).await.created();
    assert_eq!(drill["readings"][1].get("miss_psi"), None);
    close(&drill["readings"][0]["miss_psi"], 40.0 - (main_psi() - 1.25), 1e-9);
    let alone = with(body, &json!({ "readings": [read("scene", 98.0)] }));
    let problem = service.post(DRILLS, &alone).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/readings nothing_to_compare"]);
    // A gauge on its peg says nothing either.
    let pegged = with(alone, &json!({ "lay": lay(), "readings": [read("scene", 0.0)] }));
    let problem = service.post(DRILLS, &pegged).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/readings nothing_to_compare"]);
}

#[tokio::test]
async fn a_profile_is_written_out_as_it_lay() {
    let service = town().await;
    service.given("/v1/hydrant-valves/own-valve", &hydrant_valve()).await;
    let profile =
        json!({ "hydrant_valve_id": "own-valve", "hose_type_id": "own-5in", "lines": 2, "scene_floor_psi": 30.0 });
    service.given("/v1/lay-profiles/L-1", &with(lay_profile(), &profile)).await;
    let asked =
        json!({ "source": { "hydrant_id": "H-1" }, "lay_profile_id": "L-1", "length_ft": 700.0, "rise_ft": 10.0 });
    let drill = service.post(DRILLS, &with(drill(), &json!({ "lay": asked }))).await.created();
    assert_eq!(
        drill["lay"],
        json!({
            "source": { "hydrant_id": "H-1" }, "rise_ft": 10.0, "scene_floor_psi": 30.0, "main_floor_psi": 20.0,
            "parts": [
                { "kind": "hydrant_valve", "hydrant_valve_id": "own-valve" },
                { "kind": "hose", "hose_type_id": "own-5in", "length_ft": 700.0, "lines": 2 },
                { "kind": "appliance", "appliance_id": "std-intake-valve" }
            ]
        })
    );
    // 0.2 x 25 through the valve, 0.08 x 25 x 7/4 in the hose, and the intake valve.
    let estimates = service.get("/v1/drill-estimates").await.ok();
    let ids: Vec<_> = estimates["items"].as_array().unwrap().iter().map(|one| one["id"].as_str().unwrap()).collect();
    assert_eq!(ids, ["own-5in", "std-intake-valve", "own-valve"]);
    assert_eq!(estimates["items"][2]["leg"], "through");
}

#[tokio::test]
async fn a_list_is_paged_and_narrowed_to_what_was_used() {
    let service = town().await;
    service.given("/v1/pumpers/E-1", &pumper()).await;
    let boosted = with(lay(), &json!({ "boost": { "pumper_id": "E-1" } }));
    let by_numbers = json!({
        "source": { "static_psi": 60.0, "residual_psi": 40.0, "flow_gpm": 600.0 },
        "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 1000.0 }]
    });
    let mut ids = Vec::new();
    for lay in [lay(), boosted, by_numbers] {
        let readings = json!([read("hydrant", 50.0)]);
        let body = with(drill(), &json!({ "lay": lay, "readings": readings }));
        ids.push(service.post(DRILLS, &body).await.created()["id"].clone());
    }
    let listed = async |query: &str| -> Vec<Value> {
        service.all(&format!("{DRILLS}?limit=1{query}")).await.iter().map(|one| one["id"].clone()).collect()
    };
    assert_eq!(listed("").await, ids);
    assert_eq!(listed("&hydrant_id=H-1").await, ids[..2]);
    assert_eq!(listed("&hose_type_id=own-5in&pumper_id=E-1").await, ids[1..2]);
    assert_eq!(listed("&hose_type_id=std-5in").await, Vec::<Value>::new());
    assert_eq!(listed("&appliance_id=std-wye").await, Vec::<Value>::new());
    assert_eq!(listed("&hydrant_valve_id=std-four-way").await, Vec::<Value>::new());
    let problem = service.get(&format!("{DRILLS}?hydrant_id=no%20id&cursor=x")).await.problem(400, "invalid-query");
    assert_eq!(problem.faults(), ["cursor invalid_cursor"]);
    let problem = service.get(&format!("{DRILLS}?hydrant_id=no%20id&limit=0")).await.problem(400, "invalid-query");
    assert_eq!(problem.faults(), ["limit invalid_form"]);
    let problem = service.get(&format!("{DRILLS}?hydrant_id=no%20id")).await.problem(400, "invalid-query");
    assert_eq!(problem.faults(), ["hydrant_id invalid_id"]);
}

#[tokio::test]
async fn a_drill_is_voided_once_with_its_reason() {
    let service = town().await;
    let drill = service.post(DRILLS, &drill()).await.created();
    let path = format!("{DRILLS}/{}", drill["id"].as_str().unwrap());
    let problem = service.post(&format!("{path}/void"), &json!({ "reason": " " })).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/reason out_of_bounds"]);
    let voided = service.post(&format!("{path}/void"), &json!({ "reason": "meter clogged" })).await.ok();
    assert_eq!(voided["voided"], json!({ "reason": "meter clogged", "at": NOW }));
    assert_eq!(without(voided.clone(), "voided"), drill);
    assert_eq!(service.get(&path).await.ok(), voided);
    service.post(&format!("{path}/void"), &json!({ "reason": "again" })).await.problem(409, "already-voided");
    assert_eq!(service.get("/v1/drill-estimates").await.ok()["items"], json!([]));
}

#[tokio::test]
async fn what_is_not_there_is_not_found() {
    let service = town().await;
    for id in ["01980000-0000-7000-8000-000000000000", "nothing"] {
        service.get(&format!("{DRILLS}/{id}")).await.problem(404, "not-found");
        let void = service.post(&format!("{DRILLS}/{id}/void"), &json!({ "reason": "x" })).await;
        void.problem(404, "not-found");
    }
}

#[tokio::test]
async fn every_fault_of_a_drill_is_named_at_once() {
    let lay = json!({
        "source": { "static_psi": 60.0, "residual_psi": 70.0, "flow_gpm": 600.0 }, "target_flow_gpm": 500.0, "fill_flow_gpm": 9.0,
        "tank": { "volume_gal": 500.0, "attack_flow_gpm": 100.0 },
        "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 0.0 }]
    });
    let body = with(
        drill(),
        &json!({ "drilled_on": "2026-11-27", "lay": lay, "flow_gpm": 0.0, "flow_uncertainty_percent": 0.0, "notes": "",
            "readings": [read("hydrant", 1001.0), read("roof", 50.0), read("scene", 20.0), read("scene", 21.0)] }),
    );
    let expected = [
        "/lay/target_flow_gpm not_in_a_drill",
        "/lay/fill_flow_gpm not_in_a_drill",
        "/lay/tank not_in_a_drill",
        "/lay/source/residual_psi residual_above_static",
        "/lay/parts/0/length_ft out_of_bounds",
        "/drilled_on in_the_future",
        "/flow_gpm out_of_bounds",
        "/flow_uncertainty_percent out_of_bounds",
        "/readings/0/pressure_psi out_of_bounds",
        "/readings/1/station no_such_station",
        "/readings/2/station given_twice",
        "/readings/3/station given_twice",
        "/notes out_of_bounds",
    ];
    assert_eq!(faults(body).await, expected);
}

#[tokio::test]
async fn a_gauge_that_the_lay_does_not_have_is_no_reading_of_it() {
    let readings = json!([read("scene", 20.0), read("pumper_1_intake", 30.0)]);
    let service = town().await;
    let answer = service.post(DRILLS, &with(drill(), &json!({ "readings": readings }))).await;
    let problem = answer.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/readings/1/station no_such_station"]);
    assert!(problem.detail().contains("main, hydrant, scene"), "{}", problem.detail());
}

#[tokio::test]
async fn a_drill_needs_readings_and_not_too_many() {
    assert_eq!(faults(with(drill(), &json!({ "readings": [] }))).await, ["/readings out_of_bounds"]);
    let many = vec![read("scene", 20.0); 51];
    assert_eq!(faults(with(drill(), &json!({ "readings": many }))).await, ["/readings out_of_bounds"]);
}

#[tokio::test]
async fn a_lay_that_names_nothing_is_an_unknown_reference() {
    let hose = json!({ "kind": "hose", "hose_type_id": "gone", "length_ft": 1000.0 });
    let lay = json!({ "source": { "hydrant_id": "H-9" }, "parts": [hose] });
    let answer = town().await.post(DRILLS, &with(drill(), &json!({ "lay": lay }))).await;
    let problem = answer.problem(422, "unknown-reference");
    assert_eq!(
        problem.faults(),
        ["/lay/source/hydrant_id unknown_reference", "/lay/parts/0/hose_type_id unknown_reference"]
    );
}

#[tokio::test]
async fn a_lay_that_makes_none_is_refused_at_its_place() {
    let service = town().await;
    service.given("/v1/lay-profiles/L-1", &lay_profile()).await;
    let beside = with(lay(), &json!({ "lay_profile_id": "L-1" }));
    let problem = service.post(DRILLS, &with(drill(), &json!({ "lay": beside }))).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/lay exactly_one_of"]);
    let empty = with(lay(), &json!({ "parts": [] }));
    assert_eq!(faults(with(drill(), &json!({ "lay": empty }))).await, ["/lay/parts empty_lay"]);
}

#[tokio::test]
async fn a_hydrant_without_a_test_predicts_nothing() {
    let service = town().await;
    service.given("/v1/hydrants/H-2", &with(hydrant(), &json!({ "main_id": "M-2" }))).await;
    let untested = with(lay(), &json!({ "source": { "hydrant_id": "H-2" } }));
    let body = with(drill(), &json!({ "lay": untested }));
    service.post(DRILLS, &body).await.problem(409, "no-flow-test");
    // What is wrong with the question comes first.
    service.post(DRILLS, &with(body, &json!({ "flow_gpm": 0.0 }))).await.problem(422, "invalid-values");
}

#[tokio::test]
async fn a_hydrant_out_of_service_is_drilled_only_where_that_is_said() {
    let service = town().await;
    service.put("/v1/hydrants/H-1", &with(hydrant(), &json!({ "in_service": false }))).await.ok();
    service.post(DRILLS, &drill()).await.problem(409, "hydrant-out-of-service");
    let allowed = with(lay(), &json!({ "allow_out_of_service": true }));
    service.post(DRILLS, &with(drill(), &json!({ "lay": allowed }))).await.created();
}

#[tokio::test]
async fn the_shape_of_a_drill_is_checked() {
    let service = town().await;
    for (body, at) in [
        (without(drill(), "lay"), ""),
        (with(drill(), &json!({ "lay": [] })), "/lay"),
        (with(drill(), &json!({ "weather": "wet" })), "/weather"),
        (with(drill(), &json!({ "readings": [[1, 2]] })), "/readings/0"),
        (with(drill(), &json!({ "drilled_on": "1/2/2026" })), "/drilled_on"),
    ] {
        let problem = service.post(DRILLS, &body).await.problem(422, "invalid-body-shape");
        assert!(problem.faults()[0].starts_with(at), "{:?}", problem.faults());
    }
    let text = service.request(reqwest::Method::POST, DRILLS).body("{}");
    service.send(text).await.problem(415, "unsupported-media-type");
    let json = service.request(reqwest::Method::POST, DRILLS).header("content-type", "application/json").body("{");
    service.send(json).await.problem(400, "invalid-json");
}
