use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, hydrant_at, with};
use serde_json::{Value, json};

/// Feet in a degree of latitude on the sphere that distances are measured on.
const FT_PER_DEGREE: f64 = 20_902_231.0 * std::f64::consts::PI / 180.0;

fn ids(items: &[Value]) -> Vec<&str> {
    items.iter().map(|item| item["hydrant_id"].as_str().unwrap()).collect()
}

async fn listed(service: &Service, query: &str) -> Vec<String> {
    let items = service.all(&format!("/v1/hydrants?{query}")).await;
    ids(&items).into_iter().map(str::to_owned).collect()
}

async fn faults(query: &str) -> Vec<String> {
    let service = Service::start().await;
    service.get(&format!("/v1/hydrants?{query}")).await.problem(400, "invalid-query").faults()
}

#[tokio::test]
async fn an_empty_town_has_an_empty_list() {
    let service = Service::start().await;
    assert_eq!(service.get("/v1/hydrants").await.ok(), json!({ "items": [], "next": null }));
}

#[tokio::test]
async fn the_union_of_the_pages_is_the_set() {
    let service = Service::start().await;
    for i in 0..7 {
        service.given(&format!("/v1/hydrants/H-{i}"), &hydrant()).await;
    }
    let expected = ["H-0", "H-1", "H-2", "H-3", "H-4", "H-5", "H-6"];
    for limit in 1..=8 {
        assert_eq!(listed(&service, &format!("limit={limit}")).await, expected, "limit={limit}");
    }
}

#[tokio::test]
async fn the_next_page_is_also_in_the_link_header() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.given("/v1/hydrants/H-2", &hydrant()).await;
    let first = service.get("/v1/hydrants?limit=1&in_service=true").await;
    let next = first.ok()["next"].as_str().unwrap().to_owned();
    assert_eq!(first.header("link"), format!("<{next}>; rel=\"next\""));
    assert!(next.contains("in_service=true") && next.contains("limit=1"), "{next}");
    let last = service.get(next.strip_prefix(&service.url).unwrap()).await;
    assert_eq!((ids(last.ok()["items"].as_array().unwrap()), last.header("link")), (vec!["H-2"], ""));
}

#[tokio::test]
async fn a_page_that_just_holds_the_rest_is_the_last() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    assert_eq!(service.get("/v1/hydrants?limit=1").await.ok()["next"], Value::Null);
}

#[tokio::test]
async fn a_limit_over_a_thousand_is_clamped() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    for limit in ["1001", "4294967296", "99999999999999999999999999"] {
        assert_eq!(listed(&service, &format!("limit={limit}")).await, ["H-1"], "{limit}");
    }
}

#[tokio::test]
async fn a_limit_that_is_no_count_is_refused() {
    for limit in ["0", "-1", "1.5", "many", "", "NaN", "1e999"] {
        assert_eq!(faults(&format!("limit={limit}")).await, ["limit invalid_form"], "{limit}");
    }
}

#[tokio::test]
async fn a_cursor_of_ones_own_making_is_refused() {
    for cursor in ["H-1", "", "after.", "after.H%201", "%00"] {
        assert_eq!(faults(&format!("cursor={cursor}")).await, ["cursor invalid_cursor"], "{cursor}");
    }
}

#[tokio::test]
async fn a_retired_hydrant_is_not_listed() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.delete("/v1/hydrants/H-1").await.no_content();
    assert_eq!(listed(&service, "").await, Vec::<String>::new());
}

#[tokio::test]
async fn in_service_narrows_the_list() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.given("/v1/hydrants/H-2", &with(hydrant(), &json!({ "in_service": false }))).await;
    assert_eq!(listed(&service, "in_service=true").await, ["H-1"]);
    assert_eq!(listed(&service, "in_service=false").await, ["H-2"]);
}

#[tokio::test]
async fn tested_before_finds_old_tests_and_none() {
    let service = Service::start().await;
    for (id, day) in [("H-1", "2020-01-01"), ("H-2", "2025-01-01")] {
        service.given(&format!("/v1/hydrants/{id}"), &hydrant()).await;
        let test = with(flow_test(), &json!({ "tested_on": day }));
        service.post(&format!("/v1/hydrants/{id}/flow-tests"), &test).await.created();
    }
    service.given("/v1/hydrants/H-3", &hydrant()).await;
    assert_eq!(listed(&service, "tested_before=2021-01-01").await, ["H-1", "H-3"]);
}

#[tokio::test]
async fn a_box_holds_its_edges() {
    let service = Service::start().await;
    for (id, lon, lat) in [("A", 10.0, 50.0), ("B", 10.5, 50.5), ("C", 11.0, 50.0)] {
        service.given(&format!("/v1/hydrants/{id}"), &hydrant_at(lon, lat)).await;
    }
    assert_eq!(listed(&service, "bbox=10,50,10.5,50.5").await, ["A", "B"]);
    assert_eq!(listed(&service, "bbox=10.1,50.1,11,51").await, ["B"]);
}

#[tokio::test]
async fn a_box_may_cross_the_antimeridian() {
    let service = Service::start().await;
    for (id, lon) in [("A", 179.9), ("B", -179.9), ("C", 0.0)] {
        service.given(&format!("/v1/hydrants/{id}"), &hydrant_at(lon, 0.0)).await;
    }
    assert_eq!(listed(&service, "bbox=179,-1,-179,1").await, ["A", "B"]);
}

#[tokio::test]
async fn near_keeps_what_the_circle_holds_over_every_page() {
    let service = Service::start().await;
    // Corners of the box lie outside the circle: they are in the store's answer and not in this one.
    let step = 900.0 / FT_PER_DEGREE;
    for (id, east, north) in [("A", 0.0, 0.0), ("B", 1.0, 0.0), ("C", 1.0, 1.0), ("D", 0.0, 1.0), ("E", -1.0, -1.0)] {
        service.given(&format!("/v1/hydrants/{id}"), &hydrant_at(east * step, north * step)).await;
    }
    for limit in 1..=4 {
        let query = format!("near=0,0&within_ft=1000&limit={limit}");
        assert_eq!(listed(&service, &query).await, ["A", "B", "D"], "{query}");
    }
}

#[tokio::test]
async fn near_reaches_over_the_antimeridian() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant_at(-179.999, 0.0)).await;
    assert_eq!(listed(&service, "near=179.999,0&within_ft=1000").await, ["H-1"]);
}

#[tokio::test]
async fn filters_narrow_together() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant_at(0.0, 0.0)).await;
    service.given("/v1/hydrants/H-2", &with(hydrant_at(0.0, 0.0), &json!({ "in_service": false }))).await;
    assert_eq!(listed(&service, "near=0,0&within_ft=10&in_service=false").await, ["H-2"]);
}

#[tokio::test]
async fn a_box_that_is_none_is_refused() {
    for bbox in ["1,2,3", "1,2,3,4,5", "a,b,c,d", ""] {
        assert_eq!(faults(&format!("bbox={bbox}")).await, ["bbox invalid_form"], "{bbox}");
    }
    for bbox in ["-181,0,0,1", "0,-91,0,1", "NaN,0,0,1", "0,0,inf,1", "0,0,1e999,1", "0,2,1,1"] {
        assert!(faults(&format!("bbox={bbox}")).await.iter().all(|fault| fault == "bbox out_of_bounds"), "{bbox}");
    }
}

#[tokio::test]
async fn near_and_within_go_together_and_not_with_a_box() {
    assert_eq!(faults("near=0,0").await, ["within_ft required"]);
    assert_eq!(faults("within_ft=10").await, ["within_ft not_with"]);
    assert_eq!(faults("near=0,0&within_ft=10&bbox=0,0,1,1").await, ["bbox not_with"]);
}

#[tokio::test]
async fn a_point_without_a_distance_is_told_which_goes_with_it() {
    let problem = Service::start().await.get("/v1/hydrants?near=0,0").await.problem(400, "invalid-query");
    assert_eq!(problem.detail(), "within_ft must be given with near");
}

#[tokio::test]
async fn a_circle_that_is_none_is_refused() {
    assert_eq!(faults("near=0&within_ft=10").await, ["near invalid_form"]);
    assert_eq!(faults("near=200,0&within_ft=10").await, ["near out_of_bounds"]);
    for within in ["0", "-5", "NaN", "inf", "1e999", "100001"] {
        assert_eq!(faults(&format!("near=0,0&within_ft={within}")).await, ["within_ft out_of_bounds"], "{within}");
    }
    assert_eq!(faults("near=0,0&within_ft=far").await, ["within_ft invalid_form"]);
}

#[tokio::test]
async fn what_is_no_day_and_no_truth_is_refused() {
    for day in ["yesterday", "2026-02-30", "2025-1-1", "%2B2025-01-01"] {
        assert_eq!(faults(&format!("tested_before={day}")).await, ["tested_before invalid_form"], "{day}");
    }
    assert_eq!(faults("tested_before=0001-01-01").await, ["tested_before out_of_bounds"]);
    assert_eq!(faults("in_service=1").await, ["in_service invalid_form"]);
}
