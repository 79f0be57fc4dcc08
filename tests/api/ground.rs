//! What coverage is reckoned over: demand points, districts, streets and heights.

use longlay_tests::records::{with, without};
use longlay_tests::{Answer, Service};
use reqwest::Method;
use serde_json::{Value, json};

async fn send(service: &Service, path: &str, media_type: &str, body: impl Into<reqwest::Body>) -> Answer {
    let request = service.request(Method::POST, path).header("content-type", media_type).body(body.into());
    service.send(request).await
}

fn demand_point() -> Value {
    json!({"location": {"lon": -30.01, "lat": 40.02}, "elevation_ft": 61.5, "name": "Mill school", "address": "12 Quay Lane",
        "need": {"needed_flow_gpm": 1500.0, "source": "survey"}})
}

fn district() -> Value {
    let ring = |from: f64, to: f64| json!([[from, from], [to, from], [to, to], [from, to], [from, from]]);
    json!({"type": "Feature", "properties": {"name": "North"},
        "geometry": {"type": "Polygon", "coordinates": [ring(1.0, 9.0), ring(3.0, 5.0)]}})
}

fn map(features: &[(Value, Value)]) -> String {
    let feature = |(properties, geometry): &(Value, Value)| json!({"type": "Feature", "properties": properties, "geometry": geometry});
    json!({"type": "FeatureCollection", "features": features.iter().map(feature).collect::<Vec<_>>()}).to_string()
}

fn street(id: &str, places: &Value) -> (Value, Value) {
    (json!({"street_id": id, "OneWay": "FT"}), json!({"type": "LineString", "coordinates": places}))
}

#[tokio::test]
async fn a_demand_point_is_recorded_read_put_back_and_retired() {
    let service = Service::start().await;
    let path = "/v1/demand-points/B-1";
    let answer = service.put(path, &demand_point()).await;
    assert_eq!(answer.header("etag"), "\"1\"");
    let expected = with(demand_point(), &json!({"demand_point_id": "B-1"}));
    assert_eq!(answer.created(), expected);
    let read = service.get(path).await;
    assert_eq!((read.header("etag"), read.ok()), ("\"1\"", expected.clone()));
    assert_eq!(service.get_with(path, &[("if-none-match", "\"1\"")]).await.status, 304);
    assert_eq!(service.put_with(path, &expected, &[("if-match", "\"1\"")]).await.ok(), expected);
    service.put_with(path, &expected, &[("if-match", "\"1\"")]).await.problem(412, "precondition-failed");
    service.put(path, &without(demand_point(), "need")).await.ok();
    assert_eq!(service.get(path).await.ok().get("need"), None, "not known, and not nothing");
    assert_eq!(service.all("/v1/demand-points?limit=1").await.len(), 1);
    service.delete(path).await.no_content();
    service.get(path).await.problem(404, "not-found");
    service.delete(path).await.problem(404, "not-found");
    assert_eq!(service.all("/v1/demand-points").await.len(), 0);
}

#[tokio::test]
async fn a_need_by_a_method_tells_its_number_and_takes_no_other() {
    let service = Service::start().await;
    let need = json!({"method": "iso_dwelling", "edition": "from_2012", "separation_ft": 25.0});
    let point = with(demand_point(), &json!({ "need": need }));
    let told = service.put("/v1/demand-points/B-1", &point).await.created();
    let ask = service.post("/v1/needed-flow", &need).await.ok();
    assert_eq!(told["need"]["needed_flow_gpm"], ask["needed_flow_gpm"]);
    assert_eq!(service.put("/v1/demand-points/B-1", &told).await.ok(), told, "what was read can be put back");
    let code = json!({"method": "ifc_b105", "edition": "from_2015", "building_type": "V-B", "area_sq_ft": 4200.0,
        "dwelling": false, "sprinklers": "none"});
    let told = service.put("/v1/demand-points/B-2", &with(demand_point(), &json!({ "need": code }))).await.created();
    assert_eq!(told["need"]["needed_flow_gpm"], service.post("/v1/needed-flow", &code).await.ok()["needed_flow_gpm"]);
    for (need, faults) in [
        (with(need.clone(), &json!({"needed_flow_gpm": 9999.0})), vec!["/need/needed_flow_gpm differs_from_method"]),
        (without(need.clone(), "edition"), vec!["/need/edition required"]),
        (with(need.clone(), &json!({"edition": "from_2015"})), vec!["/need/edition not_with_method"]),
        (with(need, &json!({"sprinklers": "none"})), vec!["/need/sprinklers not_with_method"]),
        (with(code, &json!({"building_type": "II-A"})), vec!["/need/building_type no_known_row"]),
        (json!({}), vec!["/need/needed_flow_gpm required"]),
    ] {
        let point = with(demand_point(), &json!({ "need": need }));
        let problem = service.put("/v1/demand-points/B-3", &point).await.problem(422, "invalid-values");
        assert_eq!(problem.faults(), faults);
    }
    let bad = with(demand_point(), &json!({"location": {"lon": 200.0, "lat": 95.0}, "elevation_ft": 40_000.0}));
    let problem = service.put("/v1/demand-points/B-3", &bad).await.problem(422, "invalid-values");
    let expected = ["/location/lon out_of_bounds", "/location/lat out_of_bounds", "/elevation_ft out_of_bounds"];
    assert_eq!(problem.faults(), expected);
}

#[tokio::test]
async fn demand_points_come_in_as_a_sheet_or_a_map_and_go_out_as_they_were() {
    let service = Service::start().await;
    let sheet = "demand_point_id,lon,lat,needed_flow_gpm,need_method,need_edition,separation_ft\n\
        B-1,-30,40,1500,,,\nB-2,-30.001,40,,iso_dwelling,from_2012,25\nB-3,-30.002,40,,,,\n";
    let path = "/v1/imports/demand-points";
    let look = send(&service, &format!("{path}?dry_run=true"), "text/csv", sheet).await.ok();
    assert_eq!((&look["created"], &look["committed"]), (&json!(3), &json!(false)));
    assert_eq!(send(&service, path, "text/csv", sheet).await.ok()["created"], 3);
    let parcel =
        json!({"type": "Polygon", "coordinates": [[[-30.0, 40.0], [-29.99, 40.0], [-29.99, 40.01], [-30.0, 40.0]]]});
    let parcels = map(&[(json!({"demand_point_id": "B-4"}), parcel)]);
    let answer = send(&service, path, "application/geo+json", parcels).await.ok();
    assert_eq!(answer["warnings"][0]["code"], "placed_inside");
    for (form, media_type) in [("csv", "text/csv"), ("geojson", "application/geo+json")] {
        let file = service.get(&format!("/v1/exports/demand-points?format={form}")).await.text;
        let again = send(&service, path, media_type, file).await.ok();
        assert_eq!((&again["unchanged"], &again["warning_count"]), (&json!(4), &json!(0)), "{form}");
    }
    let bad = "demand_point_id,lon,lat\nB-5,40,-130\nB-6,0,0\nB-7,-30\n";
    let problem = send(&service, path, "text/csv", bad).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 lat out_of_bounds", "3 lon no_place", "4 lat required"]);
}

#[tokio::test]
async fn a_district_is_a_feature_with_its_holes() {
    let service = Service::start().await;
    let path = "/v1/districts/north";
    let expected = with(district(), &json!({"id": "north"}));
    assert_eq!(service.put(path, &district()).await.created(), expected);
    assert_eq!(service.get(path).await.ok(), expected);
    let several = json!({"type": "MultiPolygon", "coordinates": [[[[20.0, 20.0], [21.0, 20.0], [21.0, 21.0], [20.0, 20.0]]],
        [[[30.0, 20.0], [31.0, 20.0], [31.0, 21.0], [30.0, 20.0]]]]});
    let two = json!({"type": "Feature", "geometry": several});
    assert_eq!(service.put_with(path, &two, &[("if-match", "\"1\"")]).await.ok()["geometry"], several);
    let listed = service.all("/v1/districts").await;
    assert_eq!(listed, [json!({"id": "north", "polygons": 2, "positions": 8})]);
    service.delete(path).await.no_content();
    service.get(path).await.problem(404, "not-found");
}

#[tokio::test]
async fn what_is_no_district_is_refused_where_it_is_wrong() {
    let service = Service::start().await;
    let path = "/v1/districts/north";
    for coordinates in [
        json!([]),
        json!([[]]),
        json!([[[1, 1], [2, 1], [2, 2], [1, 2]]]),
        json!([[[1, 1], [2, 1], [1, 1]]]),
        json!([[[1]]]),
    ] {
        let body = with(district(), &json!({"geometry": {"type": "Polygon", "coordinates": coordinates}}));
        let problem = service.put(path, &body).await.problem(422, "invalid-values");
        assert_eq!(problem.faults(), ["/geometry/coordinates no_shape"], "{coordinates}");
    }
    let far = json!([[[1, 1], [200, 1], [2, 2], [1, 1]]]);
    let body = with(district(), &json!({"geometry": {"type": "Polygon", "coordinates": far}}));
    let problem = service.put(path, &body).await.problem(422, "invalid-values");
    assert_eq!(problem.faults(), ["/geometry/coordinates out_of_bounds"]);
    for geometry in [
        json!({"type": "Point", "coordinates": [1, 1]}),
        json!({"type": "Polygon", "coordinates": [1, 1]}),
        json!({"type": "Polygon"}),
        json!([1]),
        Value::Null,
    ] {
        let body = with(district(), &json!({ "geometry": geometry }));
        service.put(path, &body).await.problem(422, "invalid-body-shape");
    }
    let place = |i: u32| json!([f64::from(i) * 0.000_123_456_7, 40.123_456_789_012]);
    let long = json!([(0..60_000).map(place).collect::<Vec<_>>()]);
    let body = with(district(), &json!({"geometry": {"type": "Polygon", "coordinates": long}}));
    service.put(path, &body).await.problem(413, "body-too-large");
}

#[tokio::test]
async fn a_file_of_streets_stands_in_place_of_all_there_were() {
    let service = Service::start().await;
    service.get("/v1/streets/summary").await.problem(404, "not-found");
    let path = "/v1/imports/streets";
    let first = map(&[
        street("S-1", &json!([[-30, 40], [-30, 40.01]])),
        street("S-2", &json!([[-30, 40.01], [-30.01, 40.02]])),
    ]);
    let look = send(&service, &format!("{path}?dry_run=true"), "application/geo+json", first.clone()).await.ok();
    assert_eq!((&look["network"]["streets"], &look["committed"]), (&json!(2), &json!(false)));
    service.get("/v1/streets/summary").await.problem(404, "not-found");
    let answer = send(&service, path, "application/geo+json", first).await.ok();
    assert_eq!((&answer["replaced"], &answer["ignored_columns"]), (&json!(0), &json!(["OneWay"])));
    let mut railway = street("R-1", &json!([[-30.02, 40.005], [-29.98, 40.005]]));
    railway.0["barrier"] = json!("railway");
    railway.0["to_level"] = json!(1);
    let second = send(&service, path, "application/geo+json", map(&[railway])).await.ok();
    assert_eq!(second["replaced"], 2);
    let told = service.get("/v1/streets/summary").await.ok();
    assert_eq!(told, second["network"]);
    let barriers = json!({"railway": 1, "limited_access": 0, "median": 0, "wall": 0});
    assert_eq!((&told["streets"], &told["places"], &told["barriers"]), (&json!(1), &json!(2), &barriers));
    assert_eq!((&told["bbox"], &told["off_ground"]), (&json!([-30.02, 40.005, -29.98, 40.005]), &json!(1)));
}

#[tokio::test]
async fn a_half_broken_network_changes_nothing() {
    let service = Service::demo().await;
    let before = service.get("/v1/streets/summary").await.ok();
    let path = "/v1/imports/streets";
    let broken =
        map(&[street("S-1", &json!([[-30, 40], [-30, 40.01]])), street("S-1", &json!([[0, 0], [-30.01, 40.02]]))]);
    let problem = send(&service, path, "application/geo+json", broken).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 geometry no_place"]);
    send(&service, path, "application/geo+json", map(&[])).await.problem(422, "import-refused");
    send(&service, path, "text/csv", "street_id\nS-1\n").await.problem(415, "unsupported-media-type");
    assert_eq!(service.get("/v1/streets/summary").await.ok(), before);
    let exchanged = map(&[street("S-1", &json!([[40, -30], [40.01, -30]]))]);
    let look = send(&service, &format!("{path}?dry_run=true"), "application/geo+json", exchanged).await.ok();
    assert_eq!((&look["warnings"][0]["row"], &look["warnings"][0]["code"]), (&json!(1), &json!("far_from_others")));
    assert!(look["warnings"][0]["detail"].as_str().unwrap().contains("exchanged"), "{look}");
}

#[tokio::test]
async fn files_that_are_sent_again_are_answered_again() {
    let service = Service::start().await;
    let streets = map(&[street("S-1", &json!([[-30, 40], [-30, 40.01]]))]);
    let grid = "ncols 2\nnrows 2\nxllcenter -30\nyllcenter 40\ncellsize 0.01\n1 2\n3 4\n".to_owned();
    let sheet = "demand_point_id,lon,lat\nB-1,-30,40\n".to_owned();
    for (path, media_type, body) in [
        ("/v1/imports/streets", "application/geo+json", streets),
        ("/v1/imports/elevation-grid?unit=ft", "text/plain", grid),
        ("/v1/imports/demand-points", "text/csv", sheet),
    ] {
        let post = async || {
            let request = service.request(Method::POST, path).header("content-type", media_type);
            service.send(request.header("idempotency-key", media_type).body(body.clone())).await
        };
        let (first, again) = (post().await, post().await);
        assert_eq!((again.header("idempotency-replayed"), first.ok()), ("true", again.ok()), "{path}");
        let other = service.request(Method::POST, path).header("content-type", media_type);
        let other = other.header("idempotency-key", media_type).body(format!("{body} "));
        service.send(other).await.problem(422, "idempotency-key-reused");
    }
}

#[tokio::test]
async fn heights_come_in_with_the_unit_that_was_said() {
    let service = Service::start().await;
    service.get("/v1/elevation-grid").await.problem(404, "not-found");
    let grid = "ncols 3\nnrows 2\nxllcorner -30.005\nyllcorner 39.995\ncellsize 0.01\nNODATA_value -9999\n80 81 82\n78 -9999 80\n";
    let path = "/v1/imports/elevation-grid";
    let problem = send(&service, path, "text/plain", grid).await.problem(400, "invalid-query");
    assert_eq!(problem.faults(), ["unit required"]);
    send(&service, &format!("{path}?unit=yd"), "text/plain", grid).await.problem(400, "invalid-query");
    send(&service, &format!("{path}?unit=ft"), "text/csv", grid).await.problem(415, "unsupported-media-type");
    let look = send(&service, &format!("{path}?unit=ft&dry_run=true"), "text/plain", grid).await.ok();
    assert_eq!((&look["grid"]["known"], &look["committed"]), (&json!(5), &json!(false)));
    service.get("/v1/elevation-grid").await.problem(404, "not-found");
    send(&service, &format!("{path}?unit=ft"), "text/plain", grid).await.ok();
    let told = service.get("/v1/elevation-grid").await.ok();
    assert_eq!((&told["columns"], &told["rows"], &told["known"]), (&json!(3), &json!(2), &json!(5)));
    let cut = grid.replace("78 -9999 80\n", "");
    let problem = send(&service, &format!("{path}?unit=ft"), "text/plain", cut).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["0 - too_few_heights"]);
}

#[tokio::test]
async fn the_demo_town_has_what_coverage_is_reckoned_over() {
    let service = Service::demo().await;
    let points = service.all("/v1/demand-points").await;
    let count = |is: fn(&Value) -> bool| points.iter().filter(|point| is(point)).count();
    assert!(points.len() >= 39);
    assert_eq!(count(|point| point.get("need").is_none()), 2);
    assert!(count(|point| point.get("elevation_ft").is_none()) >= 3);
    assert!(count(|point| point["need"]["needed_flow_gpm"].as_f64().is_some_and(|gpm| gpm > 2000.0)) >= 2);
    assert_eq!(service.all("/v1/districts").await.len(), 2);
    let streets = service.get("/v1/streets/summary").await.ok();
    assert_eq!((&streets["barriers"]["railway"], &streets["off_ground"]), (&json!(1), &json!(3)));
}
