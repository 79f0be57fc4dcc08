//! Coverage runs over the demo town and over a straight street of our own, whose answers are known by construction.

use std::time::Duration;

use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, lay_profile, pumper, with};
use serde_json::{Value, json};

pub(crate) const RUNS: &str = "/v1/coverage-runs";
/// A degree of latitude at 40 degrees, ft: 111.035 km.
const FT_OF_A_DEGREE: f64 = 111_035.0 / 0.3048;

/// Waits for a run's end.
async fn ended(service: &Service, run: &Value) -> Value {
    let path = format!("{RUNS}/{}", run["id"].as_str().unwrap());
    let mut looks = 0;
    loop {
        let run = service.get(&path).await.ok();
        if !["queued", "running"].contains(&run["status"].as_str().unwrap()) {
            return run;
        }
        looks += 1;
        assert!(looks < 600, "the run never ended: {run}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

pub(crate) async fn run(service: &Service, body: &Value) -> Value {
    let answer = service.post(RUNS, body).await;
    assert_eq!(answer.status, 202, "{}", answer.text);
    ended(service, &answer.json(202)).await
}

/// So many feet north of the town's corner.
fn north(ft: f64) -> Value {
    json!({ "lon": -30.0, "lat": 40.0 + ft / FT_OF_A_DEGREE })
}

/// A street of 6000 ft to the north with a hydrant at its foot, and places along it, each with its need.
pub(crate) async fn street(places: &[(&str, f64, Option<f64>)]) -> Service {
    let service = Service::start().await;
    let ground = |ft: f64| json!({ "location": north(ft), "elevation_ft": 100.0 });
    service.given("/v1/hydrants/H-1", &with(hydrant(), &ground(0.0))).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    service
        .given(
            "/v1/lay-profiles/five",
            &with(lay_profile(), &json!({ "hose_type_id": "std-5in", "carried_ft": 1000.0 })),
        )
        .await;
    service.given("/v1/pumpers/engine", &pumper()).await;
    let line = json!([[-30.0, 40.0], [-30.0, 40.0 + 6000.0 / FT_OF_A_DEGREE]]);
    let street = json!({ "type": "Feature", "properties": { "street_id": "S-1" }, "geometry": { "type": "LineString", "coordinates": line } });
    let streets = json!({ "type": "FeatureCollection", "features": [street] });
    let request = service.request(reqwest::Method::POST, "/v1/imports/streets");
    let request = request.header("content-type", "application/geo+json").body(streets.to_string());
    let imported = service.send(request).await;
    assert!((200..300).contains(&imported.status), "{}", imported.text);
    for (id, ft, need) in places {
        let mut place = ground(*ft);
        if let Some(gpm) = need {
            place["need"] = json!({ "needed_flow_gpm": gpm });
        }
        service.given(&format!("/v1/demand-points/{id}"), &place).await;
    }
    service
}

async fn gaps(service: &Service, run: &Value, query: &str) -> Value {
    service.get(&format!("{RUNS}/{}/gaps{query}", run["id"].as_str().unwrap())).await.features()
}

#[tokio::test]
async fn each_place_along_a_street_has_the_cause_that_its_distance_and_need_make() {
    let places = [
        ("A-near", 500.0, Some(300.0)),
        ("B-thirsty", 500.0, Some(5000.0)),
        ("C-far", 1500.0, Some(300.0)),
        ("D-out", 5900.0, Some(300.0)),
        ("E-unknown", 500.0, None),
    ];
    let service = street(&places).await;
    let run = run(&service, &json!({ "lay_profile_id": "five" })).await;
    assert_eq!(run["status"], "done", "{run}");
    let causes = &run["summary"]["all"]["causes"];
    let counted =
        ["covered", "water", "beyond_hose", "no_hydrant", "no_need_given"].map(|cause| causes[cause].as_u64());
    assert_eq!(counted, [Some(1); 5], "{causes}");
    assert_eq!((&run["summary"]["all"]["covered_percent"], &run["progress"]), (&json!(25.0), &Value::Null));

    let gaps = gaps(&service, &run, "?cause=covered,water,beyond_hose,no_hydrant,no_need_given").await;
    let of = |id: &str| {
        let feature = gaps["features"].as_array().unwrap().iter().find(|feature| feature["id"] == id).unwrap();
        feature["properties"].clone()
    };
    // 500 ft of street and a tenth more, in whole sections.
    assert_eq!(
        (&of("A-near")["cause"], &of("A-near")["alone"]["lays"][0]["lay_ft"]),
        (&json!("covered"), &json!(600.0))
    );
    let far = of("C-far");
    assert_eq!((&far["cause"], &far["hydrant"]["lay_ft"]), (&json!("beyond_hose"), &json!(1700.0)));
    assert_eq!(far["hydrant"]["extra_hose_ft"], 700.0);
    assert_eq!((&far["alone"], &far["shortfall_gpm"]), (&Value::Null, &json!(300.0)));
    // What arrives is what the lay calculation says of the same lay.
    let lay = service.get("/v1/hydrants/H-1/deliverable-flow?lay_profile_id=five&length_ft=600&rise_ft=0").await.ok();
    let (exact, told) =
        (lay["deliverable_flow_gpm"].as_f64().unwrap(), of("A-near")["alone"]["flow_gpm"].as_f64().unwrap());
    assert!(told <= exact && told >= exact * (1.0 - 1e-4), "{told} and {exact}");
    let (exact, told) =
        (lay["band_gpm"]["low"].as_f64().unwrap(), of("A-near")["alone"]["low_flow_gpm"].as_f64().unwrap());
    assert!(told <= exact && told >= exact * (1.0 - 1e-4), "{told} and {exact}");
}

#[tokio::test]
async fn without_streets_a_run_says_that_distances_are_straight() {
    let service = Service::start().await;
    service.given("/v1/lay-profiles/five", &with(lay_profile(), &json!({ "hose_type_id": "std-5in" }))).await;
    let run = run(&service, &json!({ "lay_profile_id": "five" })).await;
    assert_eq!(
        (&run["summary"]["joined"], &run["summary"]["all"]["demand_point_count"]),
        (&json!("straight_line"), &json!(0))
    );
    assert_eq!(run["summary"]["all"]["covered_percent"], Value::Null, "of nothing there is no share");
}

#[tokio::test]
async fn a_run_says_which_change_moved_a_place() {
    let service = street(&[("A", 1500.0, Some(300.0))]).await;
    let first = run(&service, &json!({ "lay_profile_id": "five" })).await;
    let longer = run(&service, &json!({ "lay_profile_id": "five", "max_lay_ft": 2000.0 })).await;
    let changes = |since: &Value, until: &Value| {
        format!("{RUNS}/{}/changes?since={}", until["id"].as_str().unwrap(), since["id"].as_str().unwrap())
    };
    let by_settings = service.get(&changes(&first, &longer)).await.ok();
    assert_eq!(
        (&by_settings["because_of"], &by_settings["settings_changed"]),
        (&json!("settings"), &json!(["max_lay_ft"]))
    );
    assert_eq!(by_settings["points"][0]["demand_point_id"], "A");
    assert_eq!(by_settings["moves"], json!([{ "from": "beyond_hose", "to": "covered", "count": 1 }]));

    let closed = with(hydrant(), &json!({ "location": north(0.0), "elevation_ft": 100.0, "in_service": false }));
    service.put("/v1/hydrants/H-1", &closed).await.ok();
    let closed = run(&service, &json!({ "lay_profile_id": "five", "max_lay_ft": 2000.0 })).await;
    let by_data = service.get(&changes(&longer, &closed)).await.ok();
    assert_eq!((&by_data["because_of"], &by_data["data_changed"]), (&json!("data"), &json!(["hydrants"])));
    assert_eq!(by_data["moves"], json!([{ "from": "covered", "to": "out_of_service", "count": 1 }]));
    let fewer = run(&service, &json!({ "lay_profile_id": "five", "max_lay_ft": 2000.0, "remedies": 0 })).await;
    assert_eq!(service.get(&changes(&closed, &fewer)).await.ok()["because_of"], "nothing", "remedies move no cause");
    let nothing = service.get(&changes(&longer, &longer)).await.ok();
    assert_eq!((&nothing["because_of"], &nothing["moves"]), (&json!("nothing"), &json!([])));
}

#[tokio::test]
async fn every_demand_point_of_the_demo_town_is_told_once_however_it_is_paged() {
    let service = Service::demo().await;
    let run = run(&service, &json!({ "lay_profile_id": "five-inch-valve", "boost_pumper_id": "engine-1" })).await;
    assert_eq!(run["status"], "done", "{run}");
    let all = run["summary"]["all"]["demand_point_count"].as_u64().unwrap();
    let every = "covered,covered_if_boosted,covered_if_combined,out_of_service,friction,beyond_hose,pumper,untested,water,no_hydrant,no_need_given,not_on_streets";
    let mut ids = Vec::new();
    let mut path = format!("{RUNS}/{}/gaps?cause={every}&limit=7", run["id"].as_str().unwrap());
    loop {
        let answer = service.get(&path).await;
        let page = answer.features();
        ids.extend(
            page["features"].as_array().unwrap().iter().map(|feature| feature["id"].as_str().unwrap().to_owned()),
        );
        match page["next"].as_str() {
            Some(next) => path = next.strip_prefix(&service.url).unwrap().to_owned(),
            None => break,
        }
    }
    let told = ids.len() as u64;
    ids.sort();
    ids.dedup();
    assert_eq!((told, ids.len() as u64), (all, all));
    let table = service.get(&format!("{RUNS}/{}/gaps?cause={every}&format=csv", run["id"].as_str().unwrap())).await;
    assert_eq!(table.text.lines().count() as u64, all + 1);
    // Without a cause only gaps are told, and a covered place is none.
    let gaps = gaps(&service, &run, "?limit=1000").await;
    let features = gaps["features"].as_array().unwrap();
    assert!(features.iter().all(|feature| !feature["properties"]["cause"].as_str().unwrap().starts_with("covered")));
}

#[tokio::test]
async fn a_run_can_be_called_off_and_deleted() {
    let service = street(&[("A", 500.0, Some(300.0))]).await;
    let done = run(&service, &json!({ "lay_profile_id": "five" })).await;
    let path = format!("{RUNS}/{}", done["id"].as_str().unwrap());
    let after = service.post(&format!("{path}/cancel"), &json!({})).await.ok();
    assert_eq!(after["status"], "done", "what has ended stays as it ended");
    assert_eq!(service.delete(&path).await.status, 204);
    service.get(&path).await.problem(404, "not-found");
    service.get(&format!("{path}/gaps")).await.problem(404, "not-found");
    service.delete(&path).await.problem(404, "not-found");
    assert_eq!(service.get(RUNS).await.ok()["items"], json!([]));
}

#[tokio::test]
async fn a_run_that_cannot_be_is_refused_with_every_fault_at_once() {
    let service = street(&[]).await;
    let body = json!({ "lay_profile_id": "none", "boost_pumper_id": "gone", "district_id": "nowhere" });
    let unknown = service.post(RUNS, &body).await.problem(422, "unknown-reference").faults();
    assert_eq!(unknown.len(), 3, "{unknown:?}");
    let body = json!({
        "lay_profile_id": "five", "slack": 0.5, "section_ft": 0.0, "max_lay_ft": 1e9, "remedies": 21, "second_pumper": true,
    });
    let bounds = service.post(RUNS, &body).await.problem(422, "invalid-values").faults();
    assert_eq!(bounds.len(), 5, "{bounds:?}");
    assert_eq!(service.get(RUNS).await.ok()["items"], json!([]), "nothing was kept");
    service
        .get(&format!("{RUNS}/00000000-0000-7000-8000-000000000000/gaps?cause=drought"))
        .await
        .problem(400, "invalid-query");
}

#[tokio::test]
async fn a_request_sent_again_makes_no_second_run() {
    let service = street(&[("A", 500.0, Some(300.0))]).await;
    let body = json!({ "lay_profile_id": "five" });
    let first = service.post_with(RUNS, &body, &[("idempotency-key", "k1")]).await;
    let again = service.post_with(RUNS, &body, &[("idempotency-key", "k1")]).await;
    assert_eq!(first.json(202), again.json(202));
    ended(&service, &first.json(202)).await;
    assert_eq!(service.get(RUNS).await.ok()["items"].as_array().unwrap().len(), 1);
}
