use longlay_tests::Service;
use longlay_tests::records::{hydrant, with, without};
use serde_json::{Value, json};

use crate::read::{close, codes};

const PATH: &str = "/v1/needed-flow";

/// 50 x 75 x 12 ft: the printed 450 gpm.
fn iowa() -> Value {
    json!({ "method": "iowa", "length_ft": 50, "width_ft": 75, "height_ft": 12 })
}

/// 30 x 50 ft, one floor, a quarter involved: the printed 125 gpm.
fn academy() -> Value {
    json!({
        "method": "national_fire_academy", "length_ft": 30, "width_ft": 50, "floors": 1, "involvement": 0.25,
        "exposures": 0, "exposure_order": "after_involvement"
    })
}

fn iso() -> Value {
    json!({
        "method": "iso", "edition": "from_2012", "construction_class": "joisted_masonry", "effective_area_sq_ft": 12_000,
        "one_storey": false, "occupancy": "limited_combustible", "exposure_and_communication": 0.14,
        "wood_shingle_roof": false
    })
}

fn dwelling(edition: &str, feet: f64) -> Value {
    json!({ "method": "iso_dwelling", "edition": edition, "separation_ft": feet })
}

fn rural(edition: &str) -> Value {
    json!({
        "method": "nfpa_1142", "edition": edition, "volume_cu_ft": 24_000, "occupancy_hazard": 7,
        "construction_type": "type_v", "dwelling": true, "exposure": false
    })
}

/// 60 psi static, 40 at 600 gpm; 1000 ft of 5-inch. Alone it brings 542 gpm, boosted at the hydrant 872, which is all the main has.
fn lay() -> Value {
    json!({
        "source": { "static_psi": 60, "residual_psi": 40, "flow_gpm": 600 },
        "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "max_operating_psi": 300, "length_ft": 1000 }]
    })
}

fn boosted(lay: Value) -> Value {
    with(lay, &json!({ "boost": { "rated_flow_gpm": 1500 } }))
}

/// A space of this needed flow by Iowa, and the lay that is to bring it.
fn needing(gpm: f64, lay: &Value) -> Value {
    json!({ "method": "iowa", "length_ft": 10, "width_ft": 10, "height_ft": gpm, "lay": lay })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn the_printed_cases_come_out_as_printed() {
    let service = Service::start().await;
    for (ask, printed) in [
        (iowa(), 450.0),
        (academy(), 125.0),
        (dwelling("before_2012", 50.0), 750.0),
        (dwelling("before_2012", 20.0), 1000.0),
        (dwelling("before_2012", 10.0), 1500.0),
    ] {
        let found = service.post(PATH, &ask).await.ok();
        assert_eq!((&found["needed_flow_gpm"], &found["method"]), (&json!(printed), &ask["method"]));
        assert_eq!(found.get("edition"), ask.get("edition"));
        assert!(found.get("supply_gal").is_none() && found.get("supply").is_none());
    }
}

#[tokio::test]
async fn a_method_without_a_duration_has_none_and_no_volume() {
    for ask in [iowa(), academy()] {
        let found = answer(&ask).await;
        assert_eq!((&found["duration_min"], &found["volume_gal"]), (&Value::Null, &Value::Null));
        assert!(found.as_object().unwrap().contains_key("duration_min"));
    }
}

#[tokio::test]
async fn iso_runs_two_hours_and_shows_its_working() {
    let found = answer(&iso()).await;
    // 18 x √12,000 = 1971.8, to 2000; x 0.85 x 1.14 = 1938, to 2000. Two hours of it: 240,000 gal.
    assert_eq!(found["needed_flow_gpm"], 2000.0);
    assert_eq!((&found["duration_min"], &found["volume_gal"]), (&json!(120.0), &json!(240_000.0)));
    let working = found["working"].as_array().unwrap();
    let step = |name: &str| working.iter().find(|step| step["name"] == name).unwrap();
    close(&step("construction_flow_unrounded")["value"], 1971.8, 0.05);
    close(&step("needed_flow_unrounded")["value"], 1938.0, 1e-6);
    assert_eq!(step("needed_flow_unrounded")["unit"], "gpm");
    let cautions = codes(&found["cautions"]);
    assert_eq!(cautions[..2], ["from_memory", "duration_from_memory"]);
    for always in ["planning_answer", "gauges_govern", "local_procedures"] {
        assert!(cautions.contains(&always), "{always}");
    }
    let basis: Vec<_> = found["basis"].as_array().unwrap().iter().map(|formula| &formula["id"]).collect();
    assert_eq!(basis, ["iso_needed_flow", "flow_duration"]);
}

#[tokio::test]
async fn a_rural_supply_is_delivered_at_its_rate() {
    let found = answer(&rural("dwellings_at_most_one")).await;
    // 24,000/7 = 3428.57 gal at 500 gpm: 6.857 min.
    close(&found["supply_gal"], 3428.571, 0.001);
    assert_eq!(found["needed_flow_gpm"], 500.0);
    close(&found["duration_min"], 6.857, 0.001);
    assert_eq!(found["volume_gal"], found["supply_gal"]);
    assert!(codes(&found["cautions"]).contains(&"dwelling_capped"));
    // x 1.5 where the edition gives a dwelling its own number.
    let newer = answer(&rural("dwellings_by_construction")).await;
    close(&newer["supply_gal"], 5142.857, 0.001);
    let stated =
        with(without(rural("dwellings_by_construction"), "construction_type"), &json!({ "construction_number": 0.8 }));
    close(&answer(&stated).await["supply_gal"], 24_000.0 / 7.0 * 0.8, 0.001);
}

#[tokio::test]
async fn what_an_edition_or_an_order_changes_is_never_chosen_for_the_caller() {
    assert_eq!(answer(&dwelling("before_2012", 50.0)).await["needed_flow_gpm"], 750.0);
    assert_eq!(answer(&dwelling("from_2012", 50.0)).await["needed_flow_gpm"], 500.0);
    // 800 gpm a floor; half of two floors and two exposures of 200, whole or halved.
    let two = json!({ "length_ft": 60, "width_ft": 40, "floors": 2, "involvement": 0.5, "exposures": 2 });
    let by = |order: &str| with(with(academy(), &two), &json!({ "exposure_order": order }));
    assert_eq!(answer(&by("after_involvement")).await["needed_flow_gpm"], 1200.0);
    assert_eq!(answer(&by("before_involvement")).await["needed_flow_gpm"], 1000.0);
}

#[tokio::test]
async fn no_member_of_a_method_has_a_default() {
    let service = Service::start().await;
    let rural =
        with(without(rural("dwellings_at_most_one"), "construction_type"), &json!({ "construction_number": 1.0 }));
    for ask in [iowa(), academy(), iso(), dwelling("from_2012", 50.0), rural] {
        for member in ask.as_object().unwrap().keys().filter(|member| *member != "method") {
            let found = service.post(PATH, &without(ask.clone(), member)).await.problem(422, "invalid-values").faults();
            let wanted = match member.as_str() {
                "construction_number" => " exactly_one_of".to_owned(),
                _ => format!("/{member} required"),
            };
            assert_eq!(found, [wanted], "{} without {member}", ask["method"]);
        }
        let unsaid = service.post(PATH, &without(ask.clone(), "method")).await.problem(422, "invalid-body-shape");
        assert!(unsaid.detail().contains("method"), "{}", unsaid.detail());
    }
}

#[tokio::test]
async fn members_and_editions_of_another_method_are_refused() {
    let strange = with(iowa(), &json!({ "edition": "from_2012", "separation_ft": 3, "dwelling": true }));
    assert_eq!(
        faults(&strange).await,
        ["/edition not_with_method", "/separation_ft not_with_method", "/dwelling not_with_method"]
    );
    assert_eq!(faults(&dwelling("dwellings_at_most_one", 5.0)).await, ["/edition not_with_method"]);
    assert_eq!(faults(&rural("before_2012")).await, ["/edition not_with_method"]);
    let both = with(rural("dwellings_at_most_one"), &json!({ "construction_number": 1.0 }));
    assert_eq!(faults(&both).await, [" exactly_one_of"]);
}

#[tokio::test]
async fn every_fault_of_building_and_lay_is_named_at_once() {
    let ask = json!({
        "method": "nfpa_1142", "edition": "dwellings_at_most_one", "volume_cu_ft": 0, "occupancy_hazard": 8,
        "construction_number": 2, "dwelling": true,
        "lay": {
            "source": { "static_psi": -1, "residual_psi": 40, "flow_gpm": 600 },
            "parts": [{ "kind": "hose", "hose_type_id": "none-such", "length_ft": 1 }],
            "target_flow_gpm": 500, "streams": []
        }
    });
    let found = faults(&ask).await;
    let expected = [
        "/volume_cu_ft out_of_bounds",
        "/occupancy_hazard out_of_bounds",
        "/construction_number out_of_bounds",
        "/exposure required",
        "/lay/target_flow_gpm beside_needed_flow",
        "/lay/streams beside_needed_flow",
        "/lay/source/static_psi out_of_bounds",
        "/lay/parts/0/hose_type_id unknown_reference",
    ];
    assert_eq!(found, expected);
    let building = with(academy(), &json!({ "length_ft": 0, "floors": 0, "involvement": 2 }));
    assert_eq!(
        faults(&building).await,
        ["/length_ft out_of_bounds", "/floors out_of_bounds", "/involvement out_of_bounds"]
    );
    let huge = with(iowa(), &json!({ "length_ft": 10_000, "width_ft": 10_000, "height_ft": 10_000 }));
    // 10,000,000,000 gpm: a number, and nothing to ask of a lay.
    assert_eq!(answer(&huge).await["needed_flow_gpm"], 1e10);
    assert_eq!(faults(&with(huge, &json!({ "lay": lay() }))).await, ["/lay needed_flow_out_of_bounds"]);
}

#[tokio::test]
async fn a_wrong_shape_and_an_unknown_id_are_refused() {
    let service = Service::start().await;
    for (ask, fault) in [
        (with(iowa(), &json!({ "method": "any" })), "/method invalid_shape"),
        (with(iowa(), &json!({ "lenght_ft": 1 })), "/lenght_ft invalid_shape"),
        (with(iso(), &json!({ "edition": "2012" })), "/edition invalid_shape"),
        (with(iowa(), &json!({ "lay": [lay()] })), "/lay invalid_shape"),
    ] {
        assert_eq!(service.post(PATH, &ask).await.problem(422, "invalid-body-shape").faults(), [fault]);
    }
    let unknown = with(lay(), &json!({ "source": { "hydrant_id": "H-9" } }));
    let found = service.post(PATH, &needing(100.0, &unknown)).await.problem(422, "unknown-reference");
    assert_eq!(found.faults(), ["/lay/source/hydrant_id unknown_reference"]);
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let untested = with(lay(), &json!({ "source": { "hydrant_id": "H-1" } }));
    service.post(PATH, &needing(100.0, &untested)).await.problem(409, "no-flow-test");
}

#[tokio::test]
async fn a_lay_meets_the_need_alone_or_boosted_or_falls_short() {
    // 541.5 gpm arrives, 498.6 at the low end: each reading at both its ends by scipy's brentq, root of the sum of squares.
    let met = answer(&needing(498.0, &lay())).await["supply"].clone();
    assert_eq!((&met["verdict"], &met["diagnosis"]["code"]), (&json!("met"), &json!("met")));
    assert_eq!(answer(&needing(499.0, &lay())).await["supply"]["verdict"], "in_doubt");
    close(&met["deliverable_flow_gpm"], 542.0, 0.5);
    assert_eq!((&met["shortfall_gpm"], &met["lay"]["at_target"]["met"]), (&json!(0.0), &json!(true)));

    let by_pumper = answer(&needing(600.0, &boosted(lay()))).await["supply"].clone();
    assert_eq!(
        (&by_pumper["verdict"], &by_pumper["diagnosis"]["code"]),
        (&json!("met_if_boosted"), &json!("friction"))
    );
    close(&by_pumper["unboosted_flow_gpm"], 542.0, 0.5);
    // 600 x (40/20)^0.54 = 872.4.
    close(&by_pumper["deliverable_flow_gpm"], 872.4, 0.1);

    let short = answer(&needing(1000.0, &boosted(lay()))).await["supply"].clone();
    assert_eq!((&short["verdict"], &short["diagnosis"]["code"]), (&json!("short"), &json!("water")));
    // What is missing is counted from the low end of the band: 785.4 of 872.4.
    close(&short["shortfall_gpm"], 1000.0 - 785.4, 0.1);
    assert!(short["diagnosis"]["message"].as_str().unwrap().contains("of the 1000 gpm wanted"));
}

#[tokio::test]
async fn the_lay_answer_is_the_one_of_a_lay_calculation_for_that_flow() {
    let service = Service::start().await;
    let supply = service.post(PATH, &needing(600.0, &boosted(lay()))).await.ok()["supply"].clone();
    let wanting = with(boosted(lay()), &json!({ "target_flow_gpm": 600 }));
    assert_eq!(supply["lay"], service.post("/v1/lay-calculations", &wanting).await.ok());
}

#[tokio::test]
async fn a_missing_marking_or_a_serious_finding_makes_no_verdict_surer() {
    let hose = json!([{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 1000 }]);
    let unmarked = boosted(with(lay(), &json!({ "parts": hose })));
    let found = answer(&needing(600.0, &unmarked)).await["supply"].clone();
    assert_eq!((&found["verdict"], &found["doubted_by"]), (&json!("in_doubt"), &json!(["hose_unmarked"])));
    // What the hydrant brings alone is not the worse for it.
    assert_eq!(answer(&needing(490.0, &unmarked)).await["supply"]["verdict"], "met");
    let source = json!({ "source": { "static_psi": 60, "residual_psi": 57, "flow_gpm": 600 } });
    let small_drop = answer(&needing(500.0, &with(lay(), &source))).await["supply"].clone();
    assert_eq!(
        (&small_drop["verdict"], &small_drop["doubted_by"]),
        (&json!("in_doubt"), &json!(["drop_under_10_percent"]))
    );
}
