use longlay_tests::Service;
use longlay_tests::records::{hydrant, with, without};
use serde_json::{Value, json};

use crate::read::{close, codes};

const PATH: &str = "/v1/gauge-readings";

fn reading(static_psi: f64, residual_psi: f64, flow_gpm: f64) -> Value {
    json!({ "static_psi": static_psi, "residual_psi": residual_psi, "flow_gpm": flow_gpm })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
}

fn rule<'a>(found: &'a Value, name: &str) -> &'a Value {
    found["rules"].as_array().unwrap().iter().find(|rule| rule["rule"] == name).unwrap()
}

#[tokio::test]
async fn the_printed_reading_promises_500_more_and_the_curve_gives_405() {
    let found = answer(&reading(80.0, 60.0, 500.0)).await;
    close(&found["total_gpm"], 904.931, 0.001);
    close(&found["more_gpm"], 404.931, 0.001);
    assert_eq!((&found["drop_psi"], &found["drop_percent"]), (&json!(20.0), &json!(25.0)));
    assert_eq!(found["floor_psi"], 20.0);
    let percentage = rule(&found, "percentage");
    assert_eq!((&percentage["more_volumes"], &percentage["promised_gpm"]), (&json!(1), &json!(500.0)));
    // 80 - 20 x 2^(1/0.54) = 7.8.
    close(&percentage["residual_if_added_psi"], 7.8, 0.1);
    assert_eq!(percentage["over_promises"], true);
    let message = percentage["message"].as_str().unwrap();
    assert!(
        message.contains("promises too much") && message.contains("7 psi") && message.contains("404 gpm"),
        "{message}"
    );
    // 20 psi of drop is within three first digits of 8; and 2² x 20 = 80 is more than the 60 above the floor.
    assert_eq!(rule(&found, "first_digit")["more_volumes"], 1);
    let squared = rule(&found, "squaring_the_lines");
    assert_eq!((&squared["more_volumes"], &squared["over_promises"]), (&json!(0), &json!(false)));
    assert_eq!(squared["message"], "It promises no more like volume.");
}

#[tokio::test]
async fn a_rule_may_promise_what_the_main_cannot_give_and_another_less() {
    // 10 %: 3 more. The curve is empty long before: 80 - 8 x 4^(1/0.54) = -24.
    let full = answer(&reading(80.0, 72.0, 500.0)).await;
    let percentage = rule(&full, "percentage");
    assert_eq!((&percentage["more_volumes"], &percentage["over_promises"]), (&json!(3), &json!(true)));
    close(&percentage["residual_if_added_psi"], -24.2, 0.2);
    assert!(percentage["message"].as_str().unwrap().contains("the main cannot give 1500 gpm more"));
    // 5 psi of drop: 3² x 5 = 45 of the 60 above the floor, 4² x 5 = 80: two more lines, and 80 - 5 x 3^(1/0.54) = 41.8.
    let squared = rule(&answer(&reading(80.0, 75.0, 500.0)).await, "squaring_the_lines").clone();
    assert_eq!((&squared["promised_gpm"], &squared["over_promises"]), (&json!(1000.0), &json!(false)));
    close(&squared["residual_if_added_psi"], 41.8, 0.1);
    // Of a static of 72 the first digit is 7: a drop of 6 promises 3.
    assert_eq!(rule(&answer(&reading(72.0, 66.0, 400.0)).await, "first_digit")["more_volumes"], 3);
}

#[tokio::test]
async fn no_drop_proves_nothing_more_and_is_no_failure() {
    let found = answer(&reading(80.0, 80.0, 500.0)).await;
    assert_eq!((&found["more_gpm"], &found["total_gpm"]), (&Value::Null, &Value::Null));
    assert_eq!(found["flow_gpm"], 500.0);
    assert!(codes(&found["findings"]).contains(&"no_drop"));
    let squared = rule(&found, "squaring_the_lines");
    for member in ["more_volumes", "promised_gpm", "residual_if_added_psi", "over_promises"] {
        assert!(squared.as_object().unwrap().contains_key(member) && squared[member].is_null(), "{member}");
    }
    assert!(squared["message"].as_str().unwrap().contains("needs a drop"));
    let percentage = rule(&found, "percentage");
    assert_eq!((&percentage["over_promises"], &percentage["residual_if_added_psi"]), (&json!(true), &Value::Null));
    assert!(percentage["message"].as_str().unwrap().contains("bears out 0 of it"));
}

#[tokio::test]
async fn streams_may_stand_for_the_flow() {
    let streams = json!([{ "kind": "smooth_bore", "tip_in": 1, "nozzle_psi": 64, "count": 2 }]);
    let ask = with(without(reading(80.0, 60.0, 0.0), "flow_gpm"), &json!({ "streams": streams, "floor_psi": 30 }));
    let found = answer(&ask).await;
    // 2 x 29.7 x 8 = 475.2; x (50/20)^0.54 = 1.6402.
    close(&found["flow_gpm"], 475.2, 1e-9);
    close(&found["streams"]["total_flow_gpm"], 475.2, 1e-9);
    close(&found["total_gpm"], 475.2 * 1.6402, 0.1);
    let ids: Vec<_> = found["basis"].as_array().unwrap().iter().map(|formula| &formula["id"]).collect();
    for id in ["supply_curve", "gauge_rules", "smooth_bore_flow"] {
        assert!(ids.contains(&&json!(id)), "{id}");
    }
}

#[tokio::test]
async fn a_main_under_its_floor_is_an_alarm() {
    let found = answer(&reading(80.0, 15.0, 1500.0)).await;
    assert_eq!((codes(&found["cautions"])[0], &found["more_gpm"]), ("under_floor", &json!(0.0)));
    // 1500 x (60/65)^0.54 = 1436.5.
    close(&found["total_gpm"], 1436.5, 0.1);
    let sound = answer(&reading(80.0, 20.0, 1500.0)).await;
    assert_eq!(codes(&sound["cautions"]), ["main_floor", "planning_answer", "gauges_govern", "local_procedures"]);
}

#[tokio::test]
async fn a_hydrants_record_adds_its_cautions() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &with(hydrant(), &json!({ "potable": false }))).await;
    let ask = with(reading(80.0, 60.0, 500.0), &json!({ "hydrant_id": "H-1" }));
    assert!(codes(&service.post(PATH, &ask).await.ok()["cautions"]).contains(&"non_potable"));
    for unknown in ["H-9", "no id at all"] {
        let ask = with(reading(80.0, 60.0, 500.0), &json!({ "hydrant_id": unknown }));
        let found = service.post(PATH, &ask).await.problem(422, "unknown-reference").faults();
        assert_eq!(found, ["/hydrant_id unknown_reference"]);
    }
}

#[tokio::test]
async fn every_fault_of_a_reading_is_named_at_once() {
    assert_eq!(faults(&json!({})).await, [" exactly_one_of", "/static_psi required", "/residual_psi required"]);
    let wild = json!({ "static_psi": -1, "residual_psi": 2000, "flow_gpm": 0, "floor_psi": -5, "hydrant_id": "H-9" });
    let expected = [
        "/hydrant_id unknown_reference",
        "/flow_gpm out_of_bounds",
        "/static_psi out_of_bounds",
        "/residual_psi out_of_bounds",
        "/floor_psi out_of_bounds",
    ];
    assert_eq!(faults(&wild).await, expected);
    let both = with(
        reading(80.0, 60.0, 500.0),
        &json!({ "streams": [{ "kind": "fog", "flow_gpm": 100, "nozzle_psi": 100 }] }),
    );
    assert_eq!(faults(&both).await, [" exactly_one_of"]);
    assert_eq!(faults(&reading(60.0, 80.0, 500.0)).await, ["/residual_psi residual_above_static"]);
    assert_eq!(faults(&reading(0.0, 0.0, 500.0)).await, ["/static_psi no_static"]);
    let streams = with(without(reading(80.0, 60.0, 0.0), "flow_gpm"), &json!({ "streams": [] }));
    assert_eq!(faults(&streams).await, ["/streams no_streams"]);
    let typo = with(reading(80.0, 60.0, 500.0), &json!({ "flor_psi": 1 }));
    let shape = Service::start().await.post(PATH, &typo).await.problem(422, "invalid-body-shape");
    assert_eq!(shape.faults(), ["/flor_psi invalid_shape"]);
}
