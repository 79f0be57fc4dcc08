use longlay_tests::Service;
use longlay_tests::records::{hydrant, with, without};
use serde_json::{Value, json};

/// Puts a hydrant that must be refused, and tells where it is at fault.
async fn faults(body: Value) -> Vec<String> {
    let service = Service::start().await;
    service.put("/v1/hydrants/H-1", &body).await.problem(422, "invalid-values").faults()
}

/// Puts a body of the wrong shape, and tells where.
async fn misshapen(body: Value) -> Vec<String> {
    let service = Service::start().await;
    service.put("/v1/hydrants/H-1", &body).await.problem(422, "invalid-body-shape").faults()
}

#[tokio::test]
async fn a_hydrant_comes_back_as_it_was_put() {
    let service = Service::start().await;
    let expected = with(hydrant(), &json!({ "hydrant_id": "H-1" }));
    assert_eq!(service.put("/v1/hydrants/H-1", &hydrant()).await.created(), expected);
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok(), expected);
}

#[tokio::test]
async fn what_was_not_said_is_absent_and_not_null() {
    let service = Service::start().await;
    let least = json!({
        "location": { "lon": 1.0, "lat": 2.0 }, "outlets": [], "owner": "private", "potable": false, "in_service": true
    });
    service.given("/v1/hydrants/H-1", &least).await;
    let expected = with(least, &json!({ "hydrant_id": "H-1", "seasonal": false }));
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok(), expected);
}

#[tokio::test]
async fn a_null_is_as_good_as_nothing_said() {
    let service = Service::start().await;
    let body = with(hydrant(), &json!({ "elevation_ft": null, "description": null }));
    let record = service.put("/v1/hydrants/H-1", &body).await.created();
    assert_eq!(record.get("elevation_ft"), None);
}

#[tokio::test]
async fn a_second_put_replaces_the_whole() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    let other = with(without(hydrant(), "description"), &json!({ "outlets": [], "potable": false }));
    let expected = with(other.clone(), &json!({ "hydrant_id": "H-1" }));
    assert_eq!(service.put("/v1/hydrants/H-1", &other).await.ok(), expected);
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok(), expected);
}

#[tokio::test]
async fn a_hydrant_out_of_service_says_why() {
    let service = Service::start().await;
    let body = with(hydrant(), &json!({ "in_service": false, "out_of_service_reason": "struck by a plough" }));
    service.given("/v1/hydrants/H-1", &body).await;
    let record = service.get("/v1/hydrants/H-1").await.ok();
    assert_eq!(
        (&record["in_service"], &record["out_of_service_reason"]),
        (&json!(false), &json!("struck by a plough"))
    );
}

#[tokio::test]
async fn a_retired_hydrant_is_not_found_until_it_is_put_again() {
    let service = Service::start().await;
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.delete("/v1/hydrants/H-1").await.no_content();
    let problem = service.get("/v1/hydrants/H-1").await.problem(404, "not-found");
    assert_eq!(problem.detail(), "there is no hydrant H-1");
    service.delete("/v1/hydrants/H-1").await.problem(404, "not-found");
    service.given("/v1/hydrants/H-1", &hydrant()).await;
    service.get("/v1/hydrants/H-1").await.ok();
}

#[tokio::test]
async fn text_that_is_no_id_names_nothing() {
    let service = Service::start().await;
    let too_long = format!("/v1/hydrants/{}", "x".repeat(65));
    for path in ["/v1/hydrants/H.1", "/v1/hydrants/H%201", "/v1/hydrants/%C3%A9", "/v1/hydrants/%FF", &too_long] {
        service.get(path).await.problem(404, "not-found");
        service.delete(path).await.problem(404, "not-found");
        service.put(path, &hydrant()).await.problem(404, "not-found");
    }
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let body = with(
        hydrant(),
        &json!({
            "location": { "lon": 181.0, "lat": -90.5 },
            "elevation_ft": 40_000.0,
            "outlets": [
                { "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9 },
                { "kind": "hose", "diameter_in": 0.1, "coefficient": 1.1 }
            ],
            "body_loss_coefficient": -1.0,
            "main_id": "",
            "main_diameter_in": 100.0,
            "pressure_zone": "x".repeat(121),
            "description": "two\nlines"
        }),
    );
    let expected = [
        "/location/lon out_of_bounds",
        "/location/lat out_of_bounds",
        "/elevation_ft out_of_bounds",
        "/outlets/1/diameter_in out_of_bounds",
        "/outlets/1/coefficient out_of_bounds",
        "/body_loss_coefficient out_of_bounds",
        "/main_id out_of_bounds",
        "/main_diameter_in out_of_bounds",
        "/pressure_zone out_of_bounds",
        "/description control_character",
    ];
    assert_eq!(faults(body).await, expected);
}

#[tokio::test]
async fn a_refused_hydrant_is_not_recorded() {
    let service = Service::start().await;
    let body = with(hydrant(), &json!({ "elevation_ft": 40_000.0 }));
    let problem = service.put("/v1/hydrants/H-1", &body).await.problem(422, "invalid-values");
    assert!(problem.detail().contains("from -1500 to 30000 ft"), "{}", problem.detail());
    service.get("/v1/hydrants/H-1").await.problem(404, "not-found");
}

#[tokio::test]
async fn a_hydrant_has_at_most_six_outlets() {
    let outlet = json!({ "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9 });
    let body = with(hydrant(), &json!({ "outlets": vec![outlet; 7] }));
    assert_eq!(faults(body).await, ["/outlets out_of_bounds"]);
}

#[tokio::test]
async fn a_reason_without_being_out_of_service_is_refused() {
    let body = with(hydrant(), &json!({ "out_of_service_reason": "frozen" }));
    assert_eq!(faults(body).await, ["/out_of_service_reason not_with"]);
}

#[tokio::test]
async fn lengths_of_text_are_counted_in_characters() {
    let service = Service::start().await;
    let body = with(hydrant(), &json!({ "description": "é".repeat(2000) }));
    service.given("/v1/hydrants/H-1", &body).await;
    let body = with(hydrant(), &json!({ "description": "é".repeat(2001) }));
    service.put("/v1/hydrants/H-1", &body).await.problem(422, "invalid-values");
}

#[tokio::test]
async fn an_unknown_member_is_refused_by_name() {
    assert_eq!(misshapen(with(hydrant(), &json!({ "potible": true }))).await, ["/potible invalid_shape"]);
    let outlet = json!({ "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9, "colour": "red" });
    assert_eq!(misshapen(with(hydrant(), &json!({ "outlets": [outlet] }))).await, ["/outlets/0/colour invalid_shape"]);
}

#[tokio::test]
async fn a_number_in_the_body_is_the_one_in_the_path() {
    assert_eq!(faults(with(hydrant(), &json!({ "hydrant_id": "H-2" }))).await, ["/hydrant_id not_the_path_s"]);
    assert_eq!(misshapen(with(hydrant(), &json!({ "id": "H-1" }))).await, ["/id invalid_shape"]);
}

#[tokio::test]
async fn a_missing_member_is_named() {
    let service = Service::start().await;
    let problem = service.put("/v1/hydrants/H-1", &without(hydrant(), "potable")).await;
    let problem = problem.problem(422, "invalid-body-shape");
    assert!(problem.detail().contains("`potable`"), "{}", problem.detail());
}

#[tokio::test]
async fn a_member_of_the_wrong_type_is_pointed_at() {
    assert_eq!(misshapen(with(hydrant(), &json!({ "elevation_ft": "high" }))).await, ["/elevation_ft invalid_shape"]);
    assert_eq!(misshapen(with(hydrant(), &json!({ "owner": "mine" }))).await, ["/owner invalid_shape"]);
    let location = json!({ "location": { "lon": [], "lat": 0.0 } });
    assert_eq!(misshapen(with(hydrant(), &location)).await, ["/location/lon invalid_shape"]);
}
