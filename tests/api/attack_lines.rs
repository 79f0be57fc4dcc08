use longlay_tests::Service;
use longlay_tests::records::hose_type;
use serde_json::{Value, json};

use crate::read::{close, codes};

const PATH: &str = "/v1/attack-lines";

fn lines(lines: &Value) -> Value {
    json!({ "lines": lines })
}

fn fog(gpm: f64, psi: f64) -> Value {
    json!({ "kind": "fog", "flow_gpm": gpm, "nozzle_psi": psi })
}

fn hose(c: f64, feet: f64, marking: f64) -> Value {
    json!({ "kind": "hose", "loss_coefficient": c, "length_ft": feet, "max_operating_psi": marking })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn a_line_asks_nozzle_hose_appliance_and_rise_together() {
    // 200 gpm in 300 ft of C 15.5: 15.5 x 4 x 3 = 186; wye 10 from 350 gpm: nothing; 20 ft up: 8.68; nozzle 100.
    let wye = json!({ "kind": "appliance", "fixed_loss_psi": 10, "at_or_above_gpm": 350 });
    let parts = json!([hose(15.5, 200.0, 300.0), wye, hose(15.5, 100.0, 300.0)]);
    let found = answer(&lines(&json!([{ "stream": fog(200.0, 100.0), "parts": parts, "rise_ft": 20 }]))).await;
    let line = &found["lines"][0];
    assert_eq!((&line["kind"], &line["count"], &line["flow_gpm"]), (&json!("fog"), &json!(1), &json!(200.0)));
    assert_eq!(
        (&line["nozzle_psi"], &line["appliances_psi"], &line["gated_psi"]),
        (&json!(100.0), &json!(0.0), &json!(0.0))
    );
    close(&line["hose_psi"], 186.0, 1e-9);
    close(&line["elevation_psi"], 8.68, 1e-9);
    close(&line["pump_psi"], 294.68, 1e-9);
    close(&line["reaction_lbf"], 101.0, 1e-9);
    close(&found["pump_discharge_psi"], 294.68, 1e-9);
    assert_eq!(found["total_flow_gpm"], 200.0);
    assert_eq!((&line["findings"], codes(&found["cautions"])[0]), (&json!([]), "planning_answer"));
    let ids: Vec<_> = found["basis"].as_array().unwrap().iter().map(|formula| &formula["id"]).collect();
    for id in ["attack_line", "hose_friction", "pump_for_lines", "nozzle_reaction"] {
        assert!(ids.contains(&&json!(id)), "{id}");
    }
}

#[tokio::test]
async fn the_pump_makes_the_most_that_any_line_asks_and_the_others_are_gated() {
    // 150 gpm in 200 ft of 1-3/4 at 50 psi: 50 + 15.5 x 2.25 x 2 = 119.75. A monitor on the pump: 80.
    let hand = json!({ "kind": "fog", "flow_gpm": 150, "nozzle": "fog_50", "count": 2 });
    let monitor = json!({ "kind": "smooth_bore", "tip_in": 1.375, "nozzle": "smooth_bore_master_stream" });
    let found = answer(&lines(&json!([
        { "stream": hand, "parts": [hose(15.5, 200.0, 275.0)] },
        { "stream": monitor, "parts": [] }
    ])))
    .await;
    close(&found["pump_discharge_psi"], 119.75, 1e-9);
    close(&found["lines"][0]["gated_psi"], 0.0, 1e-9);
    assert_eq!((&found["lines"][1]["pump_psi"], &found["lines"][1]["hose_psi"]), (&json!(80.0), &json!(0.0)));
    close(&found["lines"][1]["gated_psi"], 39.75, 1e-9);
    // Two of 150, and the printed 502.
    close(&found["total_flow_gpm"], 802.0, 1.0);
    assert_eq!(codes(&found["cautions"])[0], "gated_line");
}

#[tokio::test]
async fn what_the_pump_makes_for_one_line_stands_on_the_other_with_its_nozzle_shut() {
    // The long line asks 100 + 15.5 x 4 x 3 = 286; the short 100 + 15.5 x 1 = 115.5, gated, on hose marked 275.
    let found = answer(&lines(&json!([
        { "stream": fog(200.0, 100.0), "parts": [hose(15.5, 300.0, 400.0)] },
        { "stream": fog(100.0, 100.0), "parts": [hose(15.5, 100.0, 275.0)] },
        { "stream": fog(100.0, 100.0), "parts": [{ "kind": "hose", "loss_coefficient": 15.5, "length_ft": 100 }], "rise_ft": -100 }
    ])))
    .await;
    assert_eq!(found["lines"][0]["findings"], json!([]));
    let over = &found["lines"][1]["findings"][0];
    assert_eq!((&over["code"], &over["part_index"]), (&json!("pump_over_marking"), &json!(0)));
    close(&over["value"], 11.0, 1e-9);
    assert_eq!(codes(&found["lines"][2]["findings"]), ["hose_unmarked"]);
    close(&found["lines"][2]["elevation_psi"], -43.4, 1e-9);
}

#[tokio::test]
async fn stored_hose_and_appliances_are_used_by_their_ids() {
    let service = Service::start().await;
    service.given("/v1/hose-types/own", &hose_type()).await;
    let parts = json!([
        { "kind": "hose", "hose_type_id": "own", "length_ft": 1000, "lines": 2 },
        { "kind": "appliance", "appliance_id": "std-wye" }
    ]);
    let found = service.post(PATH, &lines(&json!([{ "stream": fog(1000.0, 100.0), "parts": parts }]))).await.ok();
    // C 0.07: 0.07 x (1000/100/2)² x 10 = 17.5.
    close(&found["lines"][0]["hose_psi"], 17.5, 1e-9);
    let findings = &found["lines"][0]["findings"];
    assert_eq!((codes(findings), &findings[0]["part_index"]), (vec!["assumed_loss"], &json!(1)));
    // Marked 185 and tested at 200: 90 % of that is 180.
    let high = service.post(PATH, &lines(&json!([{ "stream": fog(1000.0, 180.0), "parts": parts }]))).await.ok();
    close(&high["lines"][0]["findings"][0]["value"], high["pump_discharge_psi"].as_f64().unwrap() - 180.0, 1e-9);
}

#[tokio::test]
async fn a_fall_that_gives_too_much_asks_nothing_of_the_pump() {
    let found = answer(&lines(&json!([{ "stream": fog(100.0, 50.0), "parts": [], "rise_ft": -300 }]))).await;
    // 50 - 0.434 x 300 = -80.2.
    close(&found["lines"][0]["pump_psi"], -80.2, 1e-9);
    close(&found["lines"][0]["gated_psi"], 80.2, 1e-9);
    assert_eq!(found["pump_discharge_psi"], 0.0);
}

#[tokio::test]
async fn every_fault_of_the_lines_is_named_at_once() {
    let ask = lines(&json!([
        { "stream": { "kind": "fog", "tip_in": 1 }, "parts": [{ "kind": "hose", "loss_coefficient": 1 }], "rise_ft": 9999 },
        { "stream": fog(100.0, 100.0), "parts": [{ "kind": "pumper", "rated_flow_gpm": 1000 }] },
        { "stream": fog(100.0, 100.0), "parts": [{ "kind": "hose", "hose_type_id": "x", "length_ft": 1, "feet": 1 }] }
    ]));
    let expected = [
        "/lines/0/stream exactly_one_of",
        "/lines/0/stream/tip_in not_with_kind",
        "/lines/0/stream/flow_gpm required",
        "/lines/0/rise_ft out_of_bounds",
        "/lines/0/parts/0/length_ft required",
        "/lines/1/parts/0/kind not_in_a_branch",
        "/lines/2/parts/0/feet not_with_kind",
        "/lines/2/parts/0/hose_type_id unknown_reference",
    ];
    assert_eq!(faults(&ask).await, expected);
}

#[tokio::test]
async fn no_line_too_many_and_too_much_water_are_refused() {
    let line = |gpm: f64| json!({ "stream": fog(gpm, 100.0), "parts": [] });
    assert_eq!(faults(&lines(&json!([]))).await, ["/lines no_streams"]);
    assert_eq!(faults(&lines(&Value::from(vec![line(1.0); 21]))).await, ["/lines out_of_bounds"]);
    assert_eq!(faults(&lines(&json!([line(30_000.0), line(30_000.0)]))).await, ["/lines out_of_bounds"]);
    let parts = Value::from(vec![hose(1.0, 1.0, 300.0); 101]);
    let long = lines(&json!([{ "stream": fog(100.0, 100.0), "parts": parts }]));
    assert_eq!(faults(&long).await, ["/lines/0/parts out_of_bounds"]);
    let service = Service::start().await;
    let unknown = json!([{ "stream": fog(100.0, 100.0), "parts": [{ "kind": "appliance", "appliance_id": "x" }] }]);
    let found = service.post(PATH, &lines(&unknown)).await.problem(422, "unknown-reference");
    assert_eq!(found.faults(), ["/lines/0/parts/0/appliance_id unknown_reference"]);
    for (ask, fault) in [
        (json!({}), " invalid_shape"),
        (lines(&json!([{ "parts": [] }])), "/lines/0 invalid_shape"),
        (lines(&json!([{ "stream": fog(1.0, 1.0) }])), "/lines/0 invalid_shape"),
        (lines(&json!([{ "stream": ["fog"], "parts": [] }])), "/lines/0/stream invalid_shape"),
    ] {
        assert_eq!(service.post(PATH, &ask).await.problem(422, "invalid-body-shape").faults(), [fault]);
    }
}
