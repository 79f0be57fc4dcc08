use longlay_tests::records::hydrant;
use longlay_tests::{Answer, Service};
use reqwest::Method;
use serde_json::Value;

async fn asked(service: &Service, path: &str, accept: &str) -> Answer {
    service.send(service.request(Method::GET, path).header("accept", accept)).await
}

fn lines(answer: &Answer) -> Vec<Value> {
    assert_eq!((answer.status, answer.header("content-type")), (200, "application/x-ndjson"));
    answer.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// The rows of a table, by heading.
fn table(answer: &Answer) -> Vec<std::collections::BTreeMap<String, String>> {
    assert_eq!((answer.status, answer.header("content-type")), (200, "text/csv; charset=utf-8; header=present"));
    csv::Reader::from_reader(answer.text.as_bytes()).deserialize().map(Result::unwrap).collect()
}

#[tokio::test]
async fn the_lines_are_the_items_of_the_pages() {
    let service = Service::demo().await;
    for query in ["", "in_service=false", "floor_psi=30"] {
        let paged = service.all(&format!("/v1/capabilities?limit=41&{query}")).await;
        let streamed = asked(&service, &format!("/v1/capabilities?{query}"), "application/x-ndjson").await;
        assert!(!paged.is_empty() && lines(&streamed) == paged, "{query}");
    }
}

#[tokio::test]
async fn the_table_says_what_the_items_say_and_leaves_empty_what_is_not_known() {
    let service = Service::demo().await;
    let paged = service.all("/v1/capabilities?limit=1000").await;
    let rows = table(&asked(&service, "/v1/capabilities", "text/csv").await);
    assert_eq!(rows.len(), paged.len());
    // To fifteen digits: the reader of JSON here may miss the last bit.
    let same = |cell: &str, value: &Value| match value.as_f64() {
        Some(number) => (cell.parse::<f64>().unwrap() - number).abs() <= 1e-15 * number.abs(),
        None => cell.is_empty() && value.is_null(),
    };
    for (row, item) in rows.iter().zip(&paged) {
        assert_eq!(row["hydrant_id"], item["hydrant_id"].as_str().unwrap());
        for key in ["static_psi", "residual_psi", "flow_gpm", "rated_flow_gpm", "rated_at_psi"] {
            assert!(same(&row[key], &item[key]), "{key}: {} of {item}", row[key]);
        }
        let band = &item["rated_flow_band_gpm"];
        assert!(same(&row["rated_low_gpm"], &band["low"]) && same(&row["rated_high_gpm"], &band["high"]), "{item}");
        assert_eq!(row["in_service"] == "yes", item["in_service"].as_bool().unwrap());
        assert_eq!(row["class"], item["class"]["code"].as_str().unwrap_or_default());
        let findings = item["findings"].as_array().unwrap().iter().map(|finding| finding["code"].as_str().unwrap());
        assert_eq!(row["findings"], findings.collect::<Vec<_>>().join(" "));
    }
    let untested = rows.iter().find(|row| row["findings"] == "untested").unwrap();
    assert_eq!((untested["rated_flow_gpm"].as_str(), untested["tested_on"].as_str()), ("", ""));
}

#[tokio::test]
async fn a_form_can_be_asked_for_in_the_query_whatever_accept_says() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let csv = asked(&service, "/v1/capabilities?format=csv", "application/json").await;
    assert_eq!(table(&csv).len(), 1);
    assert_eq!(csv.header("vary"), "accept");
    let json = asked(&service, "/v1/capabilities?format=json", "text/csv").await.ok();
    assert_eq!(json["items"].as_array().unwrap().len(), 1);
    service.get("/v1/capabilities?format=xml").await.problem(400, "invalid-query");
}

#[tokio::test]
async fn what_is_not_to_be_had_is_not_acceptable() {
    let service = Service::start().await;
    for accept in ["text/html", "application/geo+json, image/*", "*/*;q=0"] {
        let problem = asked(&service, "/v1/capabilities", accept).await.problem(406, "not-acceptable");
        assert!(problem.document["detail"].as_str().unwrap().contains("text/csv"));
    }
    let weighed = "application/json;q=0.2, application/x-ndjson;q=0.9, text/csv;q=0.5";
    assert_eq!(lines(&asked(&service, "/v1/capabilities", weighed).await), Vec::<Value>::new());
}

#[tokio::test]
async fn lines_are_not_paged() {
    let service = Service::start().await;
    let answer = service.get("/v1/capabilities?format=csv&limit=10&cursor=after.H-1").await;
    assert_eq!(answer.problem(400, "invalid-query").faults(), ["limit not_with", "cursor not_with"]);
}

#[tokio::test]
async fn an_empty_town_is_a_table_of_headings() {
    let service = Service::start().await;
    let answer = asked(&service, "/v1/capabilities", "text/csv").await;
    assert!(table(&answer).is_empty() && answer.text.starts_with("hydrant_id,lon,lat,in_service,"), "{}", answer.text);
}

#[tokio::test]
async fn callers_who_go_away_leave_room_for_others() {
    let service = Service::demo().await;
    for _ in 0..12 {
        // Only the head is read, and the rest is let go.
        drop(service.request(Method::GET, "/v1/capabilities?format=ndjson").send().await.unwrap());
    }
    assert_eq!(asked(&service, "/v1/capabilities?format=csv", "*/*").await.status, 200);
}
