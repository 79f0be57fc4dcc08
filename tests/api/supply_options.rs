//! What to lay for an address: out of the demo town, and for a street of which the answer is known.

use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant, lay_profile, with};
use serde_json::{Value, json};

const ASK: &str = "/v1/supply-options?lay_profile_id=five-inch-valve&boost_pumper_id=engine-1";

async fn options(service: &Service, more: &str) -> Value {
    service.get(&format!("{ASK}{more}")).await.ok()
}

/// Where the demo town's hydrant H-101 stands.
async fn at_h_101(service: &Service) -> String {
    let place = service.get("/v1/hydrants/H-101").await.ok()["location"].clone();
    // With its ground: else no rise is known, and no figure is that of a lay whose rise is.
    format!("&lon={}&lat={}&elevation_ft=100", place["lon"], place["lat"])
}

fn hydrants(option: &Value) -> Vec<String> {
    option["lays"].as_array().unwrap().iter().map(|lay| lay["hydrant_id"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn what_an_option_brings_is_what_the_lay_calculation_says() {
    let service = Service::demo().await;
    let place = at_h_101(&service).await;
    let answer = options(&service, &format!("{place}&limit=20")).await;
    let told = answer["options"].as_array().unwrap();
    let mut held = 0;
    for option in told.iter().filter(|option| ["hydrant_alone", "boosted"].contains(&option["way"].as_str().unwrap())) {
        let lay = &option["lays"][0];
        let (id, feet) = (lay["hydrant_id"].as_str().unwrap(), lay["lay_ft"].as_f64().unwrap());
        // A rise that is not known widens the band: such are left out here.
        let Some(rise) = lay["rise_ft"].as_f64() else { continue };
        held += 1;
        let exact = service
            .get(&format!("/v1/hydrants/{id}/deliverable-flow?lay_profile_id=five-inch-valve&boost_pumper_id=engine-1&length_ft={feet}&rise_ft={rise}"))
            .await
            .ok();
        let line = if option["way"] == "boosted" { &exact["boosted"] } else { &exact["unboosted"] };
        for (told, exact) in
            [(&option["flow_gpm"], &line["deliverable_flow_gpm"]), (&option["low_flow_gpm"], &line["band_gpm"]["low"])]
        {
            let (told, exact) = (told.as_f64().unwrap(), exact.as_f64().unwrap());
            assert!(told <= exact && told >= exact - 1e-4 * exact.max(1.0), "{id}: {told} and {exact}");
        }
    }
    assert!(held > 0, "{answer}");
}

#[tokio::test]
async fn a_hydrant_put_out_of_service_is_out_of_the_next_answer() {
    let service = Service::demo().await;
    let place = at_h_101(&service).await;
    let before = options(&service, &place).await;
    let first = hydrants(&before["options"][0])[0].clone();
    let mut record = service.get(&format!("/v1/hydrants/{first}")).await.ok();
    record["in_service"] = json!(false);
    service.put(&format!("/v1/hydrants/{first}"), &record).await.ok();
    let after = options(&service, &format!("{place}&limit=20")).await;
    assert!(after["options"].as_array().unwrap().iter().all(|option| !hydrants(option).contains(&first)), "{after}");
    let passed = after["passed_over"].as_array().unwrap().iter().find(|passed| passed["hydrant_id"] == *first);
    assert_eq!(passed.unwrap()["why"], "out_of_service");
}

#[tokio::test]
async fn a_hydrant_that_was_set_moved_or_retired_is_where_it_is_in_the_next_answer() {
    let service = Service::demo().await;
    let place = at_h_101(&service).await;
    let seen = async || {
        let told = options(&service, &format!("{place}&limit=20")).await;
        let passed = told["passed_over"].as_array().unwrap().iter().map(|passed| passed["hydrant_id"].clone());
        let mut ids: Vec<_> = passed.map(|id| id.as_str().unwrap().to_owned()).collect();
        ids.extend(told["options"].as_array().unwrap().iter().flat_map(hydrants));
        ids
    };
    let first = "A-000".to_owned();
    assert!(!seen().await.contains(&first));
    let mut record = service.get("/v1/hydrants/H-101").await.ok();
    let here = record["location"].clone();
    record["in_service"] = json!(false);
    record
        .as_object_mut()
        .unwrap()
        .retain(|name, _| !["id", "hydrant_id", "version", "updated_at"].contains(&name.as_str()));
    let mut put = async |at: Value| {
        record["location"] = at;
        let answer = service.put("/v1/hydrants/A-000", &record).await;
        assert!([200, 201].contains(&answer.status), "{}", answer.text);
    };
    put(here.clone()).await;
    assert!(seen().await.contains(&first), "it was set");
    put(json!({ "lon": here["lon"], "lat": 41.0 })).await;
    assert!(!seen().await.contains(&first), "it was moved away");
    put(here).await;
    assert!(seen().await.contains(&first), "and back");
    assert_eq!(service.delete("/v1/hydrants/A-000").await.status, 204);
    let left = seen().await;
    assert!(!left.contains(&first) && left.contains(&"H-101".to_owned()), "{left:?}");
}

#[tokio::test]
async fn options_that_meet_the_need_come_first_and_what_takes_least_before_what_takes_more() {
    let service = Service::demo().await;
    let place = at_h_101(&service).await;
    let answer = options(&service, &format!("{place}&needed_flow_gpm=500&limit=20")).await;
    let told = answer["options"].as_array().unwrap();
    let met: Vec<_> = told.iter().map(|option| option["meets_need"].as_bool().unwrap()).collect();
    assert!(met.windows(2).all(|pair| pair[0] >= pair[1]), "{met:?}");
    for option in told {
        let low = option["low_flow_gpm"].as_f64().unwrap();
        assert_eq!(option["meets_need"], json!(low >= 500.0));
        assert!(option["planning_flow_gpm"].as_f64().unwrap() <= low);
    }
    let met = || told.iter().filter(|option| option["meets_need"] == true);
    let findings = |option: &Value| option["findings"].as_array().unwrap().clone();
    let doubtful = |option: &Value| findings(option).iter().any(|finding| finding["severity"] == "serious");
    let doubts: Vec<_> = met().map(doubtful).collect();
    assert!(doubts.windows(2).all(|pair| pair[0] <= pair[1]), "{doubts:?}");
    let order = ["hydrant_alone", "second_line", "boosted", "two_hydrants"];
    let place_of = |option: &Value| order.iter().position(|way| option["way"] == *way).unwrap();
    let ways: Vec<_> = met().filter(|option| !doubtful(option)).map(place_of).collect();
    assert!(ways.windows(2).all(|pair| pair[0] <= pair[1]), "{ways:?}");
    // What the gauges read is told for the flow wanted where it arrives.
    let mut held = 0;
    for option in met().filter(|option| option["way"] == "hydrant_alone") {
        let lay = &option["lays"][0];
        let Some(rise) = lay["rise_ft"].as_f64() else { continue };
        held += 1;
        let id = lay["hydrant_id"].as_str().unwrap();
        let lay = format!("lay_profile_id=five-inch-valve&length_ft={}&rise_ft={rise}", lay["lay_ft"]);
        let exact = service.get(&format!("/v1/hydrants/{id}/deliverable-flow?{lay}&target_flow_gpm=500")).await.ok();
        assert_eq!(option["gauges"], exact["at_target"]["gauges"]);
    }
    assert!(held > 0, "{answer}");
    let sentence = answer["radio"].as_str().unwrap();
    assert!(sentence.contains(&hydrants(&told[0])[0]) && sentence.len() <= 120, "{sentence}");
    let fallback = &answer["fallback"];
    let used = hydrants(&told[0]);
    assert!(hydrants(fallback).iter().all(|id| !used.contains(id)), "{fallback}");
}

#[tokio::test]
async fn the_way_that_the_engine_comes_tells_a_forward_lay_from_a_reverse_one() {
    let service = Service::demo().await;
    let place = at_h_101(&service).await;
    let plain = options(&service, &place).await;
    assert_eq!(plain["options"][0]["lays"][0]["direction"], Value::Null);
    // From the hydrant's own corner every hydrant lies somewhere, and the one at the place is on the way.
    let from = place.replace("&lon", "&from_lon").replace("&lat", "&from_lat").replace("&elevation_ft=100", "");
    let told = options(&service, &format!("{place}{from}&limit=20")).await;
    let lays = told["options"].as_array().unwrap().iter().flat_map(|option| option["lays"].as_array().unwrap().clone());
    let at = lays.filter(|lay| lay["hydrant_id"] == "H-101").collect::<Vec<_>>();
    assert!(!at.is_empty() && at.iter().all(|lay| lay["direction"] == "hydrant_on_the_way_in"), "{at:?}");
}

#[tokio::test]
async fn without_streets_the_straight_distance_is_true_where_the_hydrants_are_whatever_was_asked_before_them() {
    let service = Service::start().await;
    service.given("/v1/lay-profiles/five", &with(lay_profile(), &json!({ "hose_type_id": "std-5in" }))).await;
    // 480 ft to the north, where a degree of latitude is 111.035 km.
    let ask = format!("/v1/supply-options?lay_profile_id=five&lon=-30&lat={}", 40.0 + 480.0 * 0.3048 / 111_035.0);
    assert_eq!(service.get(&ask).await.ok()["options"], json!([]));
    service.given("/v1/hydrants/H-1", &with(hydrant(), &json!({ "location": { "lon": -30.0, "lat": 40.0 } }))).await;
    service.post("/v1/hydrants/H-1/flow-tests", &flow_test()).await.created();
    let answer = service.get(&ask).await.ok();
    // 1.4 times as much, in whole sections.
    assert_eq!(
        (&answer["joined"], &answer["options"][0]["lays"][0]["lay_ft"]),
        (&json!("straight_line"), &json!(700.0))
    );
    assert_eq!(answer["findings"][0]["code"], "straight_line_lay");
}

#[tokio::test]
async fn a_place_with_nothing_around_says_so_and_never_no_water() {
    let service = Service::demo().await;
    let answer = options(&service, "&lon=10&lat=-10").await;
    assert_eq!((&answer["options"], &answer["on_streets"]), (&json!([]), &json!(false)));
    assert!(answer["radio"].as_str().unwrap().contains("no street"), "{answer}");
    assert_eq!(answer["fallback"], Value::Null);
}

#[tokio::test]
async fn a_question_at_fault_is_refused_with_every_fault() {
    let service = Service::demo().await;
    service.get("/v1/supply-options?lay_profile_id=five-inch-valve&lat=40").await.problem(400, "invalid-query");
    let faults =
        service.get(&format!("{ASK}&lon=200&lat=-91&from_lon=1&max_lay_ft=0&needed_flow_gpm=NaN&limit=0")).await;
    assert_eq!(faults.problem(400, "invalid-query").faults().len(), 6);
    service.get("/v1/supply-options?lay_profile_id=none&lon=-30&lat=40").await.problem(400, "invalid-query");
}
