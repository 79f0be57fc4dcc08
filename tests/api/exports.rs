use std::collections::BTreeMap;

use longlay_tests::records::{flow_test, hose_type, hydrant};
use longlay_tests::{Answer, Service};
use reqwest::Method;
use serde_json::{Value, json};

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

async fn export(service: &Service, kind: &str, format: &str) -> Answer {
    let answer = service.get(&format!("/v1/exports/{kind}?format={format}")).await;
    assert_eq!(answer.status, 200, "{}", answer.text);
    let named = format!("attachment; filename=\"{kind}.{format}\"");
    assert_eq!((answer.header("content-disposition"), answer.header("vary")), (named.as_str(), "accept"));
    answer
}

fn table(answer: &Answer) -> Vec<BTreeMap<String, String>> {
    assert_eq!(answer.header("content-type"), "text/csv; charset=utf-8; header=present");
    csv::Reader::from_reader(answer.text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

fn lines(answer: &Answer) -> Vec<Value> {
    assert_eq!(answer.header("content-type"), "application/x-ndjson");
    answer.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn features(answer: &Answer) -> Vec<Value> {
    assert_eq!(answer.header("content-type"), "application/geo+json");
    let whole: Value = serde_json::from_str(&answer.text).unwrap();
    assert_eq!(whole["type"], "FeatureCollection");
    whole["features"].as_array().unwrap().clone()
}

fn ids(records: &[Value], key: &str) -> Vec<String> {
    records.iter().map(|record| record[key].as_str().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn every_live_hydrant_goes_out_once_by_its_number_in_each_form() {
    let service = Service::demo().await;
    let listed = ids(&service.all("/v1/hydrants?limit=1000").await, "hydrant_id");
    let rows = table(&export(&service, "hydrants", "csv").await);
    assert_eq!(rows.iter().map(|row| row["hydrant_id"].clone()).collect::<Vec<_>>(), listed);
    assert_eq!(ids(&lines(&export(&service, "hydrants", "ndjson").await), "hydrant_id"), listed);
    let mapped = features(&export(&service, "hydrants", "geojson").await);
    let properties: Vec<_> = mapped.iter().map(|feature| feature["properties"].clone()).collect();
    assert_eq!(ids(&properties, "hydrant_id"), listed);
}

#[tokio::test]
async fn the_shipped_library_stays_and_the_departments_own_equipment_goes_out() {
    let service = Service::start().await;
    for kind in KINDS {
        assert_eq!(table(&export(&service, kind, "csv").await).len(), 0, "{kind}");
        assert_eq!(export(&service, kind, "ndjson").await.text, "", "{kind}");
    }
    service.given("/v1/hose-types/own-5in", &hose_type()).await;
    service.given("/v1/hose-types/own-4in", &hose_type()).await;
    let rows = table(&export(&service, "hose-types", "csv").await);
    assert_eq!(rows.iter().map(|row| row["id"].as_str()).collect::<Vec<_>>(), ["own-4in", "own-5in"]);
}

#[tokio::test]
async fn tests_go_out_at_their_gauge_voided_ones_too_and_those_of_retired_hydrants_do_not() {
    let service = Service::start().await;
    for number in ["H-1", "H-2"] {
        service.given(&format!("/v1/hydrants/{number}"), &hydrant()).await;
    }
    let mut recorded = Vec::new();
    for number in ["H-1", "H-2", "H-1"] {
        let mut test = flow_test();
        test.as_object_mut().unwrap().remove("flow_hydrant_ids");
        let answer = service.post(&format!("/v1/hydrants/{number}/flow-tests"), &test).await.created();
        recorded.push(answer["id"].as_str().unwrap().to_owned());
    }
    let void = format!("/v1/hydrants/H-1/flow-tests/{}/void", recorded[2]);
    service.post(&void, &json!({"reason": "gauge was broken"})).await.ok();
    service.delete("/v1/hydrants/H-2").await.no_content();

    let rows = table(&export(&service, "flow-tests", "csv").await);
    let told: Vec<_> = rows.iter().map(|row| (row["id"].as_str(), row["void_reason"].as_str())).collect();
    let mut expected = vec![(recorded[0].as_str(), ""), (recorded[2].as_str(), "gauge was broken")];
    expected.sort_unstable();
    assert_eq!(told, expected);
    for feature in features(&export(&service, "flow-tests", "geojson").await) {
        let place = &hydrant()["location"];
        assert_eq!(feature["geometry"]["coordinates"], json!([place["lon"], place["lat"]]));
    }
}

#[tokio::test]
async fn the_form_follows_accept_and_what_has_no_place_is_on_no_map() {
    let service = Service::start().await;
    let asked = async |kind: &str, accept: &str| {
        service.send(service.request(Method::GET, &format!("/v1/exports/{kind}")).header("accept", accept)).await
    };
    assert!(features(&asked("flow-tests", "application/geo+json").await).is_empty());
    assert!(lines(&asked("pumpers", "text/csv;q=0.5, application/x-ndjson").await).is_empty());
    assert!(table(&asked("pumpers", "*/*").await).is_empty());
    asked("pumpers", "application/geo+json").await.problem(406, "not-acceptable");
    asked("hydrants", "application/json").await.problem(406, "not-acceptable");
    service.get("/v1/exports/pumpers?format=geojson").await.problem(400, "invalid-query");
    service.get("/v1/exports/hydrants?format=xml").await.problem(400, "invalid-query");
    service.get("/v1/exports/engines").await.problem(404, "not-found");
}

#[tokio::test]
async fn more_records_than_one_piece_holds_make_one_whole_file() {
    let service = Service::start().await;
    let count = 1001;
    for n in 0..count {
        service.given(&format!("/v1/hydrants/H-{n:04}"), &hydrant()).await;
    }
    let mapped = features(&export(&service, "hydrants", "geojson").await);
    let numbers: Vec<_> = mapped.iter().map(|feature| feature["properties"]["hydrant_id"].clone()).collect();
    assert_eq!(numbers, (0..count).map(|n| Value::from(format!("H-{n:04}"))).collect::<Vec<_>>());
}
