//! What is written out of one service comes in again in another, and is written out there byte for byte as it was.

use std::collections::BTreeMap;

use longlay_tests::Service;
use longlay_tests::records::{
    appliance, flow_test, hose_type, hydrant, hydrant_valve, lay_profile, pumper, with, without,
};
use reqwest::Method;
use serde_json::{Value, json};

/// In an order in which each refers only to those before it.
const KINDS: [&str; 8] = [
    "hydrants",
    "flow-tests",
    "hose-types",
    "appliances",
    "hydrant-valves",
    "pumpers",
    "lay-profiles",
    "demand-points",
];
const PLACED: [&str; 3] = ["hydrants", "flow-tests", "demand-points"];
/// What a spreadsheet or a reader of CSV, JSON or SQL might take for something else.
const ODD: &str = "=SUM(\"A1\";'B2'),\u{2028}+1 -- \\n é 消防栓 \u{1f692} \u{feff}<&>\u{a0}";

/// The forms a kind is written in, those that are brought in first.
fn forms(kind: &str) -> &'static [&'static str] {
    if PLACED.contains(&kind) { &["csv", "geojson", "ndjson"] } else { &["csv", "ndjson"] }
}

/// Every kind in every form.
async fn written(service: &Service) -> BTreeMap<(&'static str, &'static str), String> {
    let mut files = BTreeMap::new();
    for kind in KINDS {
        for form in forms(kind) {
            let answer = service.get(&format!("/v1/exports/{kind}?format={form}")).await;
            assert_eq!(answer.status, 200, "{}", answer.text);
            files.insert((kind, *form), answer.text);
        }
    }
    files
}

async fn bring_in(service: &Service, kind: &str, form: &str, file: &str) -> Value {
    let media_type = if form == "csv" { "text/csv" } else { "application/geo+json" };
    let request = service.request(Method::POST, &format!("/v1/imports/{kind}")).header("content-type", media_type);
    service.send(request.body(file.to_owned())).await.ok()
}

/// Brings all of a service's files into an empty one by each form, and looks at what goes out there.
async fn comes_back(service: &Service) {
    let before = written(service).await;
    for placed in ["csv", "geojson"] {
        let other = Service::start().await;
        for kind in KINDS {
            let form = if PLACED.contains(&kind) { placed } else { "csv" };
            let records = before[&(kind, "ndjson")].lines().count();
            assert!(records > 0, "there are no {kind} to tell anything by");
            let answer = bring_in(&other, kind, form, &before[&(kind, form)]).await;
            assert_eq!((&answer["created"], &answer["rows"]), (&json!(records), &json!(records)), "{kind} as {form}");
        }
        let after = written(&other).await;
        for (file, bytes) in &before {
            assert_eq!(&after[file], bytes, "{file:?} by way of {placed}");
        }
        for kind in KINDS {
            let again = bring_in(&other, kind, "csv", &before[&(kind, "csv")]).await;
            let same = again["unchanged"].as_u64().unwrap() + again["skipped_count"].as_u64().unwrap();
            assert_eq!(json!(same), again["rows"], "{kind}: what is there already is left");
        }
    }
}

#[tokio::test]
async fn the_demo_town_comes_back_byte_for_byte() {
    comes_back(&Service::demo().await).await;
}

async fn given_hydrants(service: &Service) {
    let full = with(
        hydrant(),
        &json!({
            "location": { "lon": -179.999_999_999_999_97, "lat": 0.1 + 0.2 }, "elevation_ft": -0.000_000_123_456_789,
            "main_id": "-1+2", "pressure_zone": "@zone", "main_diameter_in": 7.999_999_999_999_999,
            "in_service": false, "out_of_service_reason": ODD, "description": format!(" 'tis \"{ODD}\""),
            "seasonal": true, "body_loss_coefficient": 1.0 / 3.0
        }),
    );
    service.given("/v1/hydrants/-1", &full).await;
    let mut bare = hydrant();
    for member in
        ["elevation_ft", "body_loss_coefficient", "main_id", "main_diameter_in", "pressure_zone", "description"]
    {
        bare = without(bare, member);
    }
    service.given("/v1/hydrants/007", &with(bare, &json!({ "outlets": [] }))).await;
    service.given("/v1/hydrants/1e3", &with(hydrant(), &json!({ "owner": "private", "potable": false }))).await;
}

async fn given_tests(service: &Service) {
    let outlet = |psi: f64| json!({ "diameter_in": 2.500_000_000_000_001, "coefficient": 0.9, "pitot_psi": psi });
    let full = with(
        without(flow_test(), "flow_gpm"),
        &json!({
            "static_psi": 62.3 + 1e-13, "outlets": [outlet(14.1), outlet(12.0 + 1.0 / 3.0)],
            "second_point": { "residual_psi": 30.000_000_000_000_004, "flow_gpm": 1_310.1 },
            "flow_hydrant_ids": ["1e3", "007"], "notes": ODD
        }),
    );
    service.post("/v1/hydrants/-1/flow-tests", &full).await.created();
    service.post("/v1/hydrants/007/flow-tests", &flow_test()).await.created();
    let voided = service.post("/v1/hydrants/1e3/flow-tests", &flow_test()).await.created();
    let void = format!("/v1/hydrants/1e3/flow-tests/{}/void", voided["id"].as_str().unwrap());
    service.post(&void, &json!({ "reason": ODD })).await.ok();
}

async fn given_equipment(service: &Service) {
    let odd = json!({ "name": ODD, "source": ODD });
    let hose = json!({ "hose_type_id": "-5in", "length_ft": 33.333_333_333_333_336 });
    service.given("/v1/hose-types/-5in", &with(hose_type(), &odd)).await;
    let bare = without(without(hose_type(), "max_operating_psi"), "service_test_psi");
    service.given("/v1/hose-types/bare", &bare).await;
    service.given("/v1/appliances/-wye", &with(appliance(), &odd)).await;
    let step = json!({ "fixed_loss_psi": 10.1, "at_or_above_gpm": 350.7 });
    let step = with(without(without(appliance(), "loss_coefficient"), "max_operating_psi"), &step);
    service.given("/v1/appliances/step", &step).await;
    let hoses = json!({ "to_pump_hose": hose, "from_pump_hose": hose });
    service.given("/v1/hydrant-valves/-1", &with(with(hydrant_valve(), &odd), &hoses)).await;
    service.given("/v1/hydrant-valves/bare", &hydrant_valve()).await;
    let full = json!({ "name": ODD, "hose": [hose, { "hose_type_id": "std-5in", "length_ft": 1.1 + 2.2 }] });
    service.given("/v1/pumpers/-1", &with(pumper(), &full)).await;
    service
        .given("/v1/pumpers/bare", &json!({ "name": "'=Engine", "rated_flow_gpm": 1_000.000_000_000_1, "hose": [] }))
        .await;
    let full = json!({ "name": ODD, "hydrant_valve_id": "-1", "hose_type_id": "-5in", "scene_appliance_ids": ["-wye", "std-intake-valve"] });
    service.given("/v1/lay-profiles/-1", &with(lay_profile(), &full)).await;
    let bare =
        json!({ "name": "bare", "hose_type_id": "bare", "lines": 2, "carried_ft": 1_000.1, "scene_appliance_ids": [] });
    service.given("/v1/lay-profiles/bare", &bare).await;
}

async fn given_demand_points(service: &Service) {
    let place =
        |members: Value| with(json!({ "location": { "lon": -30.000_000_000_000_004, "lat": 0.1 + 0.2 } }), &members);
    let said = json!({ "name": ODD, "address": ODD, "elevation_ft": -0.1, "need": { "needed_flow_gpm": 1_000.1, "source": ODD } });
    let dwelling = json!({ "need": { "method": "iso_dwelling", "edition": "before_2012", "separation_ft": 10.000_000_000_000_002 } });
    let shop = json!({ "need": { "method": "ifc_b105", "edition": "before_2015", "building_type": "V-B", "area_sq_ft": 4_800.1,
        "dwelling": false, "sprinklers": "full" } });
    for (id, members) in [("-1", said), ("1e3", dwelling), ("007", shop), ("bare", json!({}))] {
        service.given(&format!("/v1/demand-points/{id}"), &place(members)).await;
    }
}

#[tokio::test]
async fn odd_words_long_numbers_and_every_member_come_back_byte_for_byte() {
    let service = Service::start().await;
    given_hydrants(&service).await;
    given_tests(&service).await;
    given_equipment(&service).await;
    given_demand_points(&service).await;
    comes_back(&service).await;
}
