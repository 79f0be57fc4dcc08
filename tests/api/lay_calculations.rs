use longlay_tests::Service;
use longlay_tests::records::{flow_test, hose_type, hydrant, pumper, with};
use serde_json::{Value, json};

const PATH: &str = "/v1/lay-calculations";

/// Main 60 static, 40 at 600; body loss and a valve; 1000 ft of 5-inch by the handbook.
fn worked() -> Value {
    json!({
        "source": { "static_psi": 60, "residual_psi": 40, "flow_gpm": 600, "body_loss_coefficient": 0.05 },
        "parts": [
            { "kind": "hydrant_valve", "through_coefficient": 0.22, "to_pump_coefficient": 0.10, "from_pump_coefficient": 0.05 },
            { "kind": "hose", "loss_coefficient": 0.08, "diameter_in": 5, "length_ft": 1000 }
        ]
    })
}

fn boosted(ask: Value) -> Value {
    with(ask, &json!({ "boost": { "rated_flow_gpm": 1500 } }))
}

/// A source and parts, nothing else.
fn lay(source: [f64; 3], parts: &Value) -> Value {
    let [static_psi, residual_psi, flow_gpm] = source;
    json!({ "source": { "static_psi": static_psi, "residual_psi": residual_psi, "flow_gpm": flow_gpm }, "parts": parts })
}

/// A pumper of 1000 gpm in front of hose that bears and passes more, and that the hydrant alone fills with less.
fn small_pumper(source: [f64; 3]) -> Value {
    let hose = json!({ "kind": "hose", "loss_coefficient": 0.08, "max_operating_psi": 300, "length_ft": 1000 });
    with(lay(source, &json!([hose])), &json!({ "boost": { "rated_flow_gpm": 1000 } }))
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
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
async fn the_worked_example_alone_is_friction_at_494() {
    let found = answer(&worked()).await;
    close(&found["deliverable_flow_gpm"], 494.0, 0.5);
    assert_eq!(found["limited_by"], "scene_intake");
    assert_eq!(found["diagnosis"]["code"], "friction");
    assert_eq!(found["diagnosis"]["remedies"], json!(["pumper_at_hydrant", "second_line", "bigger_hose"]));
    assert!(found.get("boosted").is_none() && found.get("boost_gain_gpm").is_none());
}

#[tokio::test]
async fn the_worked_example_is_planned_by_the_low_end_of_its_band() {
    // Each input at both its ends solved by scipy's brentq, and the changes added as the root of the sum of squares.
    let found = answer(&worked()).await;
    close(&found["band_gpm"]["low"], 454.32, 0.01);
    close(&found["band_gpm"]["high"], 559.51, 0.01);
    assert_eq!((&found["planning_flow_gpm"], &found["band_gpm"]["level"]), (&json!(450.0), &json!(0.9)));
    let inputs: Vec<_> = found["uncertainties"].as_array().unwrap().iter().map(|u| &u["input"]).collect();
    assert_eq!(inputs.len(), 6, "{inputs:?}");
    // By the same arithmetic the day's swing makes 0.399 of the width and the handbook's hose 0.380.
    assert_eq!(inputs[..2], [&json!("swing"), &json!("hose")]);
    let shares = found["uncertainties"].as_array().unwrap().iter().map(|u| u["share"].as_f64().unwrap());
    assert!((shares.sum::<f64>() - 1.0).abs() < 1e-9);
}

#[tokio::test]
async fn a_flow_wanted_inside_the_band_is_in_doubt() {
    let found = answer(&with(worked(), &json!({ "target_flow_gpm": 480 }))).await;
    assert_eq!((&found["diagnosis"]["code"], &found["diagnosis"]["in_doubt"]), (&json!("met"), &json!(true)));
    assert_eq!((&found["at_target"]["met"], &found["at_target"]["met_at_low_end"]), (&json!(true), &json!(false)));
    assert!(codes(&found["findings"]).contains(&"target_in_band"));
    let sure = answer(&with(worked(), &json!({ "target_flow_gpm": 440 }))).await;
    assert_eq!((&sure["diagnosis"]["in_doubt"], &sure["at_target"]["met_at_low_end"]), (&json!(false), &json!(true)));
}

#[tokio::test]
async fn a_test_that_hardly_moved_the_gauge_bounds_the_main_from_below_only() {
    let found =
        answer(&lay([60.0, 59.0, 500.0], &json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 100 }])))
            .await;
    assert!(found["main_limit_band_gpm"]["high"].is_null(), "{}", found["main_limit_band_gpm"]);
    // What arrives is bounded by the hose, whatever the main has.
    assert!(found["band_gpm"]["high"].is_number());
}

#[tokio::test]
async fn the_worked_example_boosted_carries_600_and_764_at_most() {
    let found = answer(&with(boosted(worked()), &json!({ "target_flow_gpm": 600 }))).await;
    close(&found["deliverable_flow_gpm"], 764.0, 0.5);
    assert_eq!(found["limited_by"], "pumper_intake");
    close(&found["unboosted"]["deliverable_flow_gpm"], 494.0, 0.5);
    close(&found["boost_gain_gpm"], 764.0 - 494.0, 1.0);
    close(&found["main_limit_gpm"], 872.4, 0.1);
    let at_target = &found["at_target"];
    assert_eq!((&at_target["met"], &at_target["shortfall_gpm"]), (&json!(true), &json!(0.0)));
    close(&at_target["pumpers"][0]["intake_psi"], 34.6, 0.05);
    close(&at_target["pumpers"][0]["discharge_psi"], 50.6, 0.05);
    // Change-over at 494 gpm: 60 - 20 (493.6/600)^(1/0.54) = 46.07, and body and from_pump loss cancel.
    close(&found["change_over_discharge_psi"], 46.1, 0.05);
    assert_eq!(
        (&found["diagnosis"]["code"], &found["boosted"]["diagnosis"]["code"]),
        (&json!("friction"), &json!("met"))
    );
}

#[tokio::test]
async fn a_weak_main_is_water_and_calls_no_boost() {
    let weak = with(
        worked(),
        &json!({
            "source": { "static_psi": 60, "residual_psi": 30, "flow_gpm": 400, "body_loss_coefficient": 0.05 },
            "parts": [worked()["parts"][0], { "kind": "hose", "loss_coefficient": 0.08, "length_ft": 100 }]
        }),
    );
    let found = answer(&boosted(weak)).await;
    close(&found["unboosted"]["deliverable_flow_gpm"], 426.0, 1.0);
    close(&found["deliverable_flow_gpm"], 448.0, 1.0);
    close(&found["main_limit_gpm"], 467.0, 0.5);
    assert_eq!(found["diagnosis"]["code"], "water");
    assert!(!found["diagnosis"]["remedies"].as_array().unwrap().contains(&json!("pumper_at_hydrant")));
}

#[tokio::test]
async fn the_budget_runs_from_the_main_to_the_scene_gauge() {
    let found = answer(&boosted(worked())).await;
    let gauges = found["gauges"].as_array().unwrap();
    let stations: Vec<_> = gauges.iter().map(|gauge| gauge["station"].as_str().unwrap()).collect();
    assert_eq!(stations, ["main", "hydrant", "pumper_1_intake", "pumper_1_discharge", "scene"]);
    let losses: f64 =
        found["pressure_budget"].as_array().unwrap().iter().map(|line| line["loss_psi"].as_f64().unwrap()).sum();
    close(&gauges[4]["pressure_psi"], gauges[0]["pressure_psi"].as_f64().unwrap() - losses, 1e-9);
    let parts: Vec<_> = found["pressure_budget"].as_array().unwrap().iter().map(|line| &line["part"]).collect();
    assert_eq!(parts, ["hydrant_body", "valve_to_pump", "pumper", "valve_from_pump", "hose"]);
}

#[tokio::test]
async fn limits_ascend_and_what_never_binds_comes_last() {
    let found = answer(&boosted(worked())).await;
    let limits = found["limits"].as_array().unwrap();
    let flows: Vec<_> = limits.iter().map(|limit| limit["flow_gpm"].as_f64().unwrap_or(f64::MAX)).collect();
    assert!(flows.is_sorted(), "{flows:?}");
    // The hose bears no marking: its rating never binds, and that is a finding.
    assert_eq!((&limits[3]["limit"], &limits[3]["flow_gpm"]), (&json!("hose_rating"), &Value::Null));
    assert!(codes(&found["findings"]).contains(&"hose_unmarked"));
}

#[tokio::test]
async fn every_limit_can_bind() {
    let hose = |c: f64, feet: f64| json!({ "kind": "hose", "loss_coefficient": c, "max_operating_psi": 185, "length_ft": feet });
    let by = |ask: Value| async move { answer(&ask).await["limited_by"].as_str().unwrap().to_owned() };
    // A fall gives the scene more than the main keeps.
    let fall = lay([60.0, 40.0, 600.0], &json!([hose(0.08, 50.0), { "kind": "rise", "feet": -100 }]));
    assert_eq!(by(fall).await, "main_floor");
    let strong = [90.0, 80.0, 2000.0];
    assert_eq!(by(lay(strong, &json!([hose(0.2, 1200.0)]))).await, "scene_intake");
    assert_eq!(by(boosted(lay(strong, &json!([hose(0.2, 1200.0)])))).await, "hose_rating");
    assert_eq!(by(small_pumper(strong)).await, "pumper_capacity");
    assert_eq!(by(boosted(worked())).await, "pumper_intake");
}

#[tokio::test]
async fn every_diagnosis_can_be_given() {
    let hose = |c: f64, feet: f64| json!({ "kind": "hose", "loss_coefficient": c, "max_operating_psi": 185, "length_ft": feet });
    let boosted_code =
        |ask: Value| async move { answer(&ask).await["boosted"]["diagnosis"]["code"].as_str().unwrap().to_owned() };
    let strong = [90.0, 80.0, 2000.0];
    assert_eq!(boosted_code(boosted(lay(strong, &json!([hose(0.2, 1200.0)])))).await, "hose");
    assert_eq!(boosted_code(small_pumper(strong)).await, "pumper");
    assert_eq!(boosted_code(boosted(worked())).await, "suction");
    assert_eq!(boosted_code(boosted(with(worked(), &json!({ "target_flow_gpm": 2000 })))).await, "water");
    assert_eq!(boosted_code(boosted(with(worked(), &json!({ "target_flow_gpm": 700 })))).await, "met");
    assert_eq!(answer(&worked()).await["diagnosis"]["code"], "friction");
}

#[tokio::test]
async fn pumpers_written_into_a_lay_are_computed_as_written() {
    let hose = json!({ "kind": "hose", "loss_coefficient": 0.08, "max_operating_psi": 185, "length_ft": 2000 });
    let relay = json!([hose, { "kind": "pumper", "rated_flow_gpm": 1500 }, hose]);
    let found = answer(&with(lay([80.0, 60.0, 1500.0], &relay), &json!({ "target_flow_gpm": 500 }))).await;
    // 500 gpm takes 40 psi of each 2000 ft: 80 - 20 (500/1500)^(1/0.54) = 77.39 in the main, 37.39 at the pumper.
    close(&found["at_target"]["pumpers"][0]["intake_psi"], 37.39, 0.01);
    close(&found["at_target"]["pumpers"][0]["discharge_psi"], 60.0, 1e-9);
    let budget = found["pressure_budget"].as_array().unwrap();
    assert_eq!((&budget[1]["part"], &budget[1]["part_index"]), (&json!("pumper"), &json!(1)));
    let beside = boosted(lay([80.0, 60.0, 1500.0], &json!([hose, { "kind": "pumper", "rated_flow_gpm": 1500 }])));
    assert_eq!(faults(&beside).await, ["/boost beside_pumper_part"]);
}

#[tokio::test]
async fn a_longest_lay_is_given_for_a_target() {
    let ask = lay([60.0, 40.0, 600.0], &json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 500 }]));
    let found = answer(&with(ask, &json!({ "target_flow_gpm": 600 }))).await;
    // 20 psi to spend at 2.88 psi for 100 ft.
    close(&found["longest_lay_ft"], 694.44, 0.01);
}

#[tokio::test]
async fn a_tank_that_empties_before_the_line_is_full_is_an_alarm() {
    let tank =
        |gallons: f64| json!({ "fill_flow_gpm": 500, "tank": { "volume_gal": gallons, "attack_flow_gpm": 500 } });
    let found = answer(&with(worked(), &tank(500.0))).await;
    // 1000 ft of 5-inch: pi/4 (5/12)^2 x 1000 x 1728/231 = 1020.0 gal, 122.4 s at 500 gpm.
    close(&found["fill"]["volume_gal"], 1020.0, 0.1);
    close(&found["fill"]["duration_s"], 122.4, 0.1);
    assert!(codes(&found["cautions"]).contains(&"tank_runs_out_first"));
    let lasts = answer(&with(worked(), &tank(2000.0))).await;
    assert!(!codes(&lasts["cautions"]).contains(&"tank_runs_out_first"));
}

#[tokio::test]
async fn cautions_always_stand_and_others_when_they_apply() {
    let plain =
        answer(&lay([60.0, 40.0, 600.0], &json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 500 }])))
            .await;
    for caution in ["planning_answer", "gauges_govern", "local_procedures"] {
        assert!(codes(&plain["cautions"]).contains(&caution), "{caution}");
    }
    // What is special to the answer stands first.
    assert_eq!(codes(&plain["cautions"])[0], "no_valve");
    assert!(codes(&plain["cautions"]).contains(&"no_valve"));
    let boosted = answer(&boosted(worked())).await;
    for caution in ["main_floor", "shared_main", "nozzle_shut", "supply_lost"] {
        assert!(codes(&boosted["cautions"]).contains(&caution), "{caution}");
    }
    assert!(!codes(&boosted["cautions"]).contains(&"no_valve"));
}

#[tokio::test]
async fn every_formula_used_names_its_source() {
    let found = answer(&boosted(worked())).await;
    let basis = found["basis"].as_array().unwrap();
    let ids: Vec<_> = basis.iter().map(|formula| formula["id"].as_str().unwrap()).collect();
    for id in ["supply_curve", "hose_friction", "hydrant_valve", "pump_rating", "pressure_ceiling", "deliverable_flow"]
    {
        assert!(ids.contains(&id), "{id}");
    }
    for formula in basis {
        assert!(!formula["sources"].as_array().unwrap().is_empty(), "{formula}");
        assert!(formula["units"].is_string() && formula["range"].is_string(), "{formula}");
    }
}

#[tokio::test]
async fn stored_things_are_used_by_their_ids() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    service.given("/v1/hose-types/own", &hose_type()).await;
    service.given("/v1/pumpers/engine-1", &pumper()).await;
    let ask = json!({
        "source": { "hydrant_id": "H-1" },
        "parts": [
            { "kind": "hydrant_valve", "hydrant_valve_id": "std-four-way" },
            { "kind": "parallel", "branches": [
                { "parts": [{ "kind": "hose", "hose_type_id": "own", "length_ft": 500 }] },
                { "parts": [{ "kind": "hose", "hose_type_id": "std-3in", "length_ft": 500 }, { "kind": "appliance", "appliance_id": "std-wye" }] }
            ]},
            { "kind": "appliance", "appliance_id": "std-intake-valve" }
        ],
        "boost": { "pumper_id": "engine-1" }
    });
    let found = service.post(PATH, &ask).await.ok();
    assert_eq!(found["flow_test"]["tested_on"], "2025-05-14");
    // Valve, wye in its branch and intake valve are handbook figures.
    let assumed = found["findings"].as_array().unwrap().iter().filter(|finding| finding["code"] == "assumed_loss");
    assert_eq!(assumed.map(|finding| &finding["part_index"]).collect::<Vec<_>>(), [0, 1, 2]);
}

#[tokio::test]
async fn every_fault_is_named_at_once() {
    let ask = json!({
        "source": { "static_psi": -1, "residual_psi": 40 },
        "parts": [
            { "kind": "hose", "loss_coefficient": 0, "length_ft": 0, "lines": 9 },
            { "kind": "hose", "hose_type_id": "none-such", "length_ft": 100 },
            { "kind": "appliance", "loss_coefficient": 1, "fixed_loss_psi": 10 },
            { "kind": "hydrant_valve", "through_coefficient": 0.2 },
            { "kind": "rise", "feet": 9999, "length_ft": 1 },
            { "kind": "pumper", "rated_flow_gpm": 0 },
            { "kind": "parallel", "branches": [{ "parts": [{ "kind": "rise", "feet": 1 }] }, { "parts": [] }] }
        ],
        "main_floor_psi": 2000, "scene_floor_psi": -5, "target_flow_gpm": 0, "fill_flow_gpm": 1e9,
        "tank": { "volume_gal": -1, "attack_flow_gpm": 0 }
    });
    let found = faults(&ask).await;
    for fault in [
        "/source/static_psi out_of_bounds",
        "/source/flow_gpm required",
        "/parts/0/length_ft out_of_bounds",
        "/parts/0/loss_coefficient out_of_bounds",
        "/parts/1/hose_type_id unknown_reference",
        "/parts/2 exactly_one_of",
        "/parts/3/to_pump_coefficient required",
        "/parts/3/from_pump_coefficient required",
        "/parts/4/feet out_of_bounds",
        "/parts/4/length_ft not_with_kind",
        "/parts/0/lines out_of_bounds",
        "/parts/5/rated_flow_gpm out_of_bounds",
        "/parts/6/branches/0/parts/0/kind not_in_a_branch",
        "/main_floor_psi out_of_bounds",
        "/scene_floor_psi out_of_bounds",
        "/target_flow_gpm out_of_bounds",
        "/fill_flow_gpm out_of_bounds",
        "/tank/volume_gal out_of_bounds",
        "/tank/attack_flow_gpm out_of_bounds",
    ] {
        assert!(found.iter().any(|at| at == fault), "{fault} is not among {found:#?}");
    }
}

#[tokio::test]
async fn lays_that_are_none_are_refused_at_their_place() {
    let hose = json!({ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 100 });
    let valve = worked()["parts"][0].clone();
    let main = [60.0, 40.0, 600.0];
    let branch = json!({ "parts": [hose] });
    let wye = json!({ "kind": "appliance", "fixed_loss_psi": 10, "at_or_above_gpm": 350 });
    for (ask, fault) in [
        (lay(main, &json!([])), "/parts empty_lay"),
        (lay(main, &Value::from(vec![hose.clone(); 101])), "/parts too_many"),
        (lay(main, &json!([valve, valve, hose])), "/parts/1 second_hydrant_valve"),
        (lay(main, &json!([{ "kind": "parallel", "branches": [branch] }])), "/parts/0/branches branch_count"),
        (
            lay(main, &json!([{ "kind": "parallel", "branches": [branch, { "parts": [wye] }] }])),
            "/parts/0/branches/1/parts branch_without_hose",
        ),
        (lay([40.0, 60.0, 600.0], &json!([hose])), "/source/residual_psi residual_above_static"),
        (with(lay(main, &json!([hose])), &json!({ "length_ft": 100 })), "/length_ft beside_parts"),
        (with(lay(main, &json!([hose])), &json!({ "lay_profile_id": "x" })), "/lay_profile_id unknown_reference"),
        (
            with(lay(main, &json!([hose, { "kind": "rise", "feet": 1 }])), &json!({ "rise_ft": 10 })),
            "/rise_ft beside_rise_part",
        ),
        (with(lay(main, &json!([hose])), &json!({ "source": {} })), "/source exactly_one_of"),
        (json!({ "source": { "static_psi": 60, "residual_psi": 40, "flow_gpm": 600 } }), " exactly_one_of"),
    ] {
        let found = Service::start().await.post(PATH, &ask).await;
        assert_eq!(found.status, 422, "{ask}");
        assert!(found.text.contains(fault.split(' ').next_back().unwrap()), "{fault}: {}", found.text);
    }
}

#[tokio::test]
async fn a_rise_of_the_whole_lay_moves_no_index() {
    let hose = json!({ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 100 });
    let wye = json!({ "kind": "appliance", "loss_coefficient": 0.05 });
    let valve = worked()["parts"][0].clone();
    let main = [60.0, 40.0, 600.0];
    let found = answer(&with(lay(main, &json!([hose, wye])), &json!({ "rise_ft": 10 }))).await;
    let budget = found["pressure_budget"].as_array().unwrap();
    let parts: Vec<_> =
        budget.iter().map(|line| (line["part"].as_str().unwrap(), line["part_index"].as_u64())).collect();
    assert_eq!(parts, [("hose", Some(0)), ("rise", None), ("appliance", Some(1))]);
    let two = with(lay(main, &json!([hose, valve, valve])), &json!({ "rise_ft": 10 }));
    assert_eq!(faults(&two).await, ["/parts/2 second_hydrant_valve"]);
}

#[tokio::test]
async fn a_test_without_a_drop_is_unproved_and_no_empty_main() {
    let hose = json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 500 }]);
    let found = answer(&with(lay([65.0, 65.0, 500.0], &hose), &json!({ "target_flow_gpm": 700 }))).await;
    assert_eq!(
        (&found["diagnosis"]["code"], &found["diagnosis"]["remedies"][0]),
        (&json!("unproved"), &json!("flow_test"))
    );
    assert!(codes(&found["findings"]).contains(&"no_drop"));
}

#[tokio::test]
async fn only_unknown_ids_are_an_unknown_reference() {
    let ask = json!({ "source": { "hydrant_id": "H-9" }, "lay_profile_id": "none-such" });
    let problem = Service::start().await.post(PATH, &ask).await.problem(422, "unknown-reference");
    assert_eq!(problem.faults(), ["/source/hydrant_id unknown_reference", "/lay_profile_id unknown_reference"]);
}

#[tokio::test]
async fn a_wrong_shape_points_at_its_first_fault() {
    let service = Service::start().await;
    let typo = with(worked(), &json!({ "lenght_ft": 100 }));
    assert_eq!(
        service.post(PATH, &typo).await.problem(422, "invalid-body-shape").faults(),
        ["/lenght_ft invalid_shape"]
    );
    let unsaid = lay([60.0, 40.0, 600.0], &json!([{ "kind": "hose", "loss_coefficient": 0.08 }]));
    assert_eq!(
        service.post(PATH, &unsaid).await.problem(422, "invalid-values").faults(),
        ["/parts/0/length_ft required"]
    );
    let odd = lay([60.0, 40.0, 600.0], &json!([{ "kind": "ladder" }]));
    assert_eq!(
        service.post(PATH, &odd).await.problem(422, "invalid-body-shape").faults(),
        ["/parts/0/kind invalid_shape"]
    );
    let deep = json!([{ "kind": "parallel", "branches": [{ "parts": [{ "kind": "hose", "length_ft": "far" }] }] }]);
    let deep = service.post(PATH, &lay([60.0, 40.0, 600.0], &deep)).await.problem(422, "invalid-body-shape");
    assert_eq!(deep.faults(), ["/parts/0/branches/0/parts/0/length_ft invalid_shape"]);
    for list in [json!({ "source": [60, 40, 600] }), with(worked(), &json!({ "parts": [["rise", 50]] })), json!([])] {
        service.post(PATH, &list).await.problem(422, "invalid-body-shape");
    }
}

#[tokio::test]
async fn a_floor_that_even_no_flow_misses_is_an_answer_of_nothing() {
    let hill = lay([30.0, 20.0, 500.0], &json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 100 }]));
    let found = answer(&with(hill, &json!({ "rise_ft": 100 }))).await;
    assert_eq!((&found["deliverable_flow_gpm"], &found["limited_by"]), (&json!(0.0), &json!("scene_intake")));
}
