use longlay_tests::Service;
use longlay_tests::records::{flow_test, hose_type, hydrant, pumper, with, without};
use serde_json::{Value, json};

const PATH: &str = "/v1/relays";

/// 70 psi whatever flows; 5-inch by the handbook, marked 185: 8 psi for 100 ft at 1000 gpm.
fn level() -> Value {
    json!({
        "source": { "static_psi": 70, "residual_psi": 70, "flow_gpm": 2000, "body_loss_coefficient": 0 },
        "hose": { "loss_coefficient": 0.08, "max_operating_psi": 185 },
        "distance_ft": 6000, "rise_ft": 0, "target_flow_gpm": 1000, "method": "maximum_distance",
        "typical_pumper": { "rated_flow_gpm": 1500 }
    })
}

fn at_one_discharge() -> Value {
    let constant = json!({ "distance_ft": 5000, "method": "constant_pressure", "customary_discharge": true });
    with(level(), &constant)
}

fn drafting() -> Value {
    let members = json!({ "source": { "draft": { "lift_ft": 10 } }, "distance_ft": 1500 });
    with(level(), &members)
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

fn ids(basis: &Value) -> Vec<&str> {
    basis.as_array().unwrap().iter().map(|formula| formula["id"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn each_pumper_stands_where_the_one_before_leaves_its_floor() {
    let found = answer(&level()).await;
    assert_eq!((&found["carried"], &found["pumpers_needed"]), (&json!(true), &json!(4)));
    let pumpers = found["pumpers"].as_array().unwrap();
    // (185 - 20) / 0.08 for each: 0, 2062.5, 4125 ft; the last needs 150 psi more than 20.
    for (pumper, at) in pumpers.iter().zip([0.0, 2062.5, 4125.0]) {
        close(&pumper["at_ft"], at, 1e-6);
    }
    assert_eq!((&pumpers[0]["held_by"], &pumpers[2]["held_by"]), (&json!("hose_rating"), &json!("need")));
    close(&pumpers[2]["intake_psi"], 20.0, 1e-6);
    close(&pumpers[2]["discharge_psi"], 170.0, 1e-6);
    assert_eq!(pumpers[2]["intake_floor_met"], true);
    close(&found["relay"]["hose_to_spare_ft"], 187.5, 1e-6);
    // Handbook hose may lose a tenth more: at the low end 1000/√1.1 = 953 gpm come through stretches that are full at 1000.
    assert_eq!((&found["relay"]["weakest"], &found["relay"]["planning_flow_gpm"]), (&json!("pumper_2"), &json!(950.0)));
    assert_eq!((&found["relay"]["limited_by"], found["hindrance"].is_null()), (&json!("hose_rating"), true));
}

#[tokio::test]
async fn at_one_discharge_all_stand_at_one_spacing() {
    let found = answer(&at_one_discharge()).await;
    close(&found["constant_discharge_psi"], 175.0, 0.0);
    let pumpers = found["pumpers"].as_array().unwrap();
    assert_eq!(pumpers.len(), 3);
    close(&pumpers[1]["at_ft"], 5000.0 / 3.0, 1e-6);
    // 400 psi of friction in thirds.
    close(&pumpers[1]["intake_psi"], 175.0 - 400.0 / 3.0, 1e-6);
    close(&found["relay"]["scene_intake_psi"], 175.0 - 400.0 / 3.0, 1e-6);
    let own = with(without(at_one_discharge(), "customary_discharge"), &json!({ "constant_discharge_psi": 120 }));
    // 100 psi at most for each: four.
    assert_eq!(answer(&own).await["pumpers"].as_array().unwrap().len(), 4);
}

#[tokio::test]
async fn open_water_is_pumped_at_its_share_and_is_not_fit_to_drink() {
    let found = answer(&drafting()).await;
    let first = &found["pumpers"][0];
    close(&first["intake_psi"], -4.34, 1e-9);
    close(&first["discharge_psi"], 140.0, 1e-9);
    close(&first["capacity_gpm"], 1050.0, 1e-9);
    assert!(first.get("intake_floor_met").is_none());
    for caution in ["non_potable", "supply_lost", "bleed_air", "planning_answer", "gauges_govern", "local_procedures"] {
        assert!(codes(&found["cautions"]).contains(&caution), "{caution}");
    }
    assert!(!codes(&found["cautions"]).contains(&"main_floor"));
    for finding in ["altitude_unknown", "suction_not_given"] {
        assert!(codes(&found["findings"]).contains(&finding), "{finding}");
    }
    for id in ["relay_places", "lift", "draft_capacity"] {
        assert!(ids(&found["basis"]).contains(&id), "{id}");
    }
}

#[tokio::test]
async fn the_ground_is_followed_point_by_point() {
    let ground = json!([
        { "distance_ft": 0, "elevation_ft": 700 }, { "distance_ft": 500, "elevation_ft": 1000 },
        { "distance_ft": 1000, "elevation_ft": 700 }, { "distance_ft": 3000, "elevation_ft": 700 }
    ]);
    let hill = with(without(level(), "rise_ft"), &json!({ "distance_ft": 3000, "ground": ground }));
    let found = answer(&hill).await;
    // 0.6 ft a foot take 0.2604 psi beside 0.08.
    close(&found["pumpers"][1]["at_ft"], 165.0 / 0.3404, 1e-6);
    assert!(!codes(&found["findings"]).contains(&"even_slope"));
    let slope = answer(&with(level(), &json!({ "rise_ft": 60 }))).await;
    assert!(codes(&slope["findings"]).contains(&"even_slope"));
}

#[tokio::test]
async fn a_relay_that_cannot_be_says_why() {
    let why = |ask: Value| async move {
        let found = answer(&ask).await;
        assert_eq!((&found["carried"], found.get("relay"), found.get("pumpers_needed")), (&json!(false), None, None));
        let hindrance = found["hindrance"].clone();
        assert!(hindrance["message"].as_str().is_some_and(|message| !message.is_empty()));
        (hindrance["code"].as_str().unwrap().to_owned(), hindrance["pumper"].as_u64())
    };
    let says = |code: &str, pumper: Option<u64>| (code.to_owned(), pumper);
    let weak = json!({ "source": { "static_psi": 60, "residual_psi": 40, "flow_gpm": 600 } });
    assert_eq!(why(with(level(), &weak)).await, says("source_too_weak", Some(1)));
    let typical = |pumper: Value| with(level(), &json!({ "typical_pumper": pumper }));
    assert_eq!(why(typical(json!({ "rated_flow_gpm": 750 }))).await, says("pumper_too_small", Some(1)));
    let throttled = json!({ "rated_flow_gpm": 1500, "max_discharge_psi": 20 });
    assert_eq!(why(typical(throttled)).await, says("reaches_nowhere", Some(1)));
    let listed = |pumpers: Value| with(without(level(), "typical_pumper"), &json!({ "pumpers": pumpers }));
    let large = json!({ "rated_flow_gpm": 1500 });
    assert_eq!(why(listed(json!([large, large]))).await, says("pumpers_run_out", None));
    let lift = |feet: f64| with(drafting(), &json!({ "source": { "draft": { "lift_ft": feet } } }));
    assert_eq!(why(lift(23.0)).await, says("lift_not_attainable", Some(1)));
    assert_eq!(why(lift(21.0)).await, says("lift_unknown", Some(1)));
    let soft = json!({ "hose": { "loss_coefficient": 0.08, "max_operating_psi": 150 } });
    assert_eq!(why(with(at_one_discharge(), &soft)).await, says("discharge_over_ceiling", Some(1)));
    let spent = json!({
        "typical_pumper": { "rated_flow_gpm": 1000 },
        "source": { "static_psi": 20, "residual_psi": 20, "flow_gpm": 2000 }
    });
    // 20 psi of the hydrant and 150 of its own are no 175.
    assert_eq!(why(with(at_one_discharge(), &spent)).await, says("net_too_small", Some(1)));
    let few = with(without(at_one_discharge(), "typical_pumper"), &json!({ "pumpers": [large, large] }));
    assert_eq!(why(few).await, says("intake_under_floor", Some(2)));
}

#[tokio::test]
async fn stored_things_are_used_by_their_ids() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.given("/v1/hose-types/own", &hose_type()).await;
    service.given("/v1/pumpers/engine-1", &pumper()).await;
    let ask = json!({
        "source": { "hydrant_id": "H-1" }, "hose": { "hose_type_id": "own" }, "distance_ft": 2000, "rise_ft": 10,
        "target_flow_gpm": 500, "method": "maximum_distance",
        "pumpers": [{ "pumper_id": "engine-1" }, { "rated_flow_gpm": 2000 }]
    });
    let none = service.post(PATH, &ask).await.problem(409, "no-flow-test");
    assert!(none.detail().contains("no flow test"));
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    let found = service.post(PATH, &ask).await.ok();
    assert_eq!(found["flow_test"]["tested_on"], "2025-05-14");
    // 60 - 20 (500/600)^(1/0.54) - 0.05 x 25 = 44.48 at the hydrant's pumper outlet.
    close(&found["pumpers"][0]["intake_psi"], 44.48, 0.01);
    // 2000 ft of 0.07 at 500 gpm take 35 psi, 10 ft 4.34, and 20 are left.
    close(&found["pumpers"][0]["discharge_psi"], 59.34, 1e-9);
    assert!(codes(&found["findings"]).contains(&"largest_pump_not_at_source"));
    let shut = with(hydrant(), &json!({ "in_service": false, "out_of_service_reason": "Broken stem" }));
    service.put("/v1/hydrants/H-1", &shut).await.ok();
    service.post(PATH, &ask).await.problem(409, "hydrant-out-of-service");
    let allowed = service.post(PATH, &with(ask, &json!({ "allow_out_of_service": true }))).await.ok();
    assert_eq!(codes(&allowed["cautions"])[0], "out_of_service");
}

#[tokio::test]
async fn what_does_not_exist_is_named_at_its_place() {
    let ask = json!({
        "source": { "hydrant_id": "none" }, "hose": { "hose_type_id": "none" }, "distance_ft": 2000, "rise_ft": 0,
        "target_flow_gpm": 500, "method": "maximum_distance", "pumpers": [{ "pumper_id": "none" }]
    });
    let found = Service::start().await.post(PATH, &ask).await.problem(422, "unknown-reference").faults();
    let places = ["/source/hydrant_id", "/hose/hose_type_id", "/pumpers/0/pumper_id"];
    assert_eq!(found, places.map(|place| format!("{place} unknown_reference")));
}

#[tokio::test]
async fn every_fault_is_named_at_once() {
    let ask = json!({
        "source": { "static_psi": 70, "draft": { "lift_ft": 10 } }, "hose": { "loss_coefficient": 0, "lines": 9 },
        "distance_ft": 0, "rise_ft": 0, "ground": [], "target_flow_gpm": 0, "method": "constant_pressure",
        "typical_pumper": { "rated_flow_gpm": 1 }, "pumpers": [], "main_floor_psi": 2000, "scene_floor_psi": -1
    });
    let found = faults(&ask).await;
    for fault in [
        "/main_floor_psi out_of_bounds",
        "/source exactly_one_of",
        "/distance_ft out_of_bounds",
        "/hose/lines out_of_bounds",
        "/hose/loss_coefficient out_of_bounds",
        " exactly_one_of",
        "/target_flow_gpm out_of_bounds",
        "/scene_floor_psi out_of_bounds",
    ] {
        assert!(found.iter().any(|at| at == fault), "{fault} is not among {found:#?}");
    }
    // Ground, discharge and pumpers, each given twice or not at all.
    assert_eq!(found.iter().filter(|at| *at == " exactly_one_of").count(), 3);
}

#[tokio::test]
async fn values_that_make_no_relay_are_refused_at_their_place() {
    let ground = |points: &[(f64, f64)]| {
        let point = |(at, height): &(f64, f64)| json!({ "distance_ft": at, "elevation_ft": height });
        let points: Vec<_> = points.iter().map(point).collect();
        with(without(level(), "rise_ft"), &json!({ "ground": points }))
    };
    let listed = |pumpers: Value| with(without(level(), "typical_pumper"), &json!({ "pumpers": pumpers }));
    let draft = |place: Value| with(drafting(), &json!({ "source": { "draft": place } }));
    let pumper = json!({ "rated_flow_gpm": 1500 });
    for (ask, fault) in [
        (ground(&[(0.0, 0.0)]), "/ground too_few"),
        (ground(&[(5.0, 0.0), (6000.0, 0.0)]), "/ground/0/distance_ft not_from_source"),
        (ground(&[(0.0, 0.0), (0.0, 1.0), (6000.0, 0.0)]), "/ground/1/distance_ft not_farther"),
        (ground(&[(0.0, 0.0), (5000.0, 0.0)]), "/ground/1/distance_ft not_to_scene"),
        (ground(&[(0.0, 4000.0), (10.0, 8500.0), (6000.0, 0.0)]), "/ground too_high"),
        (ground(&[(0.0, 0.0), (6000.0, 9000.0)]), "/ground/1/elevation_ft out_of_bounds"),
        (ground(&[(0.0, -2000.0), (6000.0, 0.0)]), "/ground/0/elevation_ft out_of_bounds"),
        (listed(json!([])), "/pumpers too_few"),
        (listed(Value::from(vec![pumper; 25])), "/pumpers out_of_bounds"),
        (listed(json!([{ "rated_flow_gpm": 0 }])), "/pumpers/0/rated_flow_gpm out_of_bounds"),
        (with(level(), &json!({ "customary_discharge": true })), "/customary_discharge not_with_method"),
        (with(level(), &json!({ "constant_discharge_psi": 175 })), "/constant_discharge_psi not_with_method"),
        (with(level(), &json!({ "rise_ft": 9000 })), "/rise_ft out_of_bounds"),
        (draft(json!({ "lift_ft": 41 })), "/source/draft/lift_ft out_of_bounds"),
        (draft(json!({ "lift_ft": 1, "altitude_ft": -1 })), "/source/draft/altitude_ft out_of_bounds"),
        (
            draft(json!({ "lift_ft": 1, "suction_loss_coefficient": -1 })),
            "/source/draft/suction_loss_coefficient out_of_bounds",
        ),
        (with(drafting(), &json!({ "main_floor_psi": 20 })), "/main_floor_psi beside_draft"),
        (with(level(), &json!({ "source": {} })), "/source exactly_one_of"),
        (
            with(level(), &json!({ "source": { "static_psi": 0, "residual_psi": 0, "flow_gpm": 1 } })),
            "/source/static_psi no_static",
        ),
    ] {
        assert_eq!(faults(&ask).await, [fault], "{ask}");
    }
}

#[tokio::test]
async fn bodies_of_another_shape_are_refused() {
    let service = Service::start().await;
    for ask in [
        with(level(), &json!({ "colour": "red" })),
        without(level(), "method"),
        with(level(), &json!({ "method": "guess" })),
        with(level(), &json!({ "source": [70, 70, 2000] })),
    ] {
        service.post(PATH, &ask).await.problem(422, "invalid-body-shape");
    }
}
