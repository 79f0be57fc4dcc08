//! What would close the gaps of a run, against runs over the changed town.

use longlay_tests::Service;
use longlay_tests::records::{hydrant, lay_profile, with};
use serde_json::{Value, json};

use crate::coverage_runs::{RUNS, run, street};

async fn remedies(service: &Service, run: &Value) -> Value {
    service.get(&format!("{RUNS}/{}/remedies", run["id"].as_str().unwrap())).await.ok()
}

fn gaps(area: &Value) -> u64 {
    let causes = area["causes"].as_object().unwrap();
    let is_gap = |cause: &&String| !cause.starts_with("covered") && *cause != "no_need_given";
    causes.keys().filter(is_gap).map(|cause| causes[cause].as_u64().unwrap()).sum()
}

#[tokio::test]
async fn more_hose_closes_what_is_beyond_it_and_a_run_with_it_says_so() {
    let service = street(&[("A-near", 500.0, Some(300.0)), ("C-far", 1500.0, Some(300.0))]).await;
    let before = run(&service, &json!({ "lay_profile_id": "five" })).await;
    let found = remedies(&service, &before).await;
    let remedy = &found["remedies"][0];
    // 1500 ft of street are 1700 of hose; 1000 are carried, and a quarter in whole sections is 200.
    assert_eq!(
        (&remedy["change"]["kind"], &remedy["change"]["hose_ft"], &remedy["change_count"], &remedy["closes_count"]),
        (&json!("more_hose"), &json!(1800.0), &json!(4), &json!(1))
    );
    assert_eq!((&remedy["closed_demand_point_ids"], &remedy["is_assumed"]), (&json!(["C-far"]), &json!(false)));
    assert_eq!((&found["before"], &remedy["before"]), (&before["summary"]["all"], &before["summary"]["all"]));
    let after = run(&service, &json!({ "lay_profile_id": "five", "max_lay_ft": 1800.0 })).await;
    assert_eq!(remedy["after"], after["summary"]["all"]);
    assert_eq!((found["is_all"].as_bool(), found["remedies"].as_array().unwrap().len()), (Some(true), 1));
    let nothing = remedies(&service, &after).await;
    assert_eq!((&nothing["remedies"], &nothing["is_all"]), (&json!([]), &json!(true)));
}

#[tokio::test]
async fn a_hydrant_put_back_closes_what_the_run_after_it_says() {
    let service = street(&[("A-near", 500.0, Some(300.0)), ("B-thirsty", 500.0, Some(5000.0))]).await;
    let place = service.get("/v1/hydrants/H-1").await.ok()["location"].clone();
    let closed = |in_service: bool| {
        with(hydrant(), &json!({ "location": place, "elevation_ft": 100.0, "in_service": in_service }))
    };
    service.put("/v1/hydrants/H-1", &closed(false)).await.ok();
    let found = remedies(&service, &run(&service, &json!({ "lay_profile_id": "five", "remedies": 1 })).await).await;
    let remedy = &found["remedies"][0];
    assert_eq!(
        (&remedy["change"]["kind"], &remedy["change"]["hydrant_id"], &remedy["closed_demand_point_ids"]),
        (&json!("back_in_service"), &json!("H-1"), &json!(["A-near"]))
    );
    assert_eq!(remedy["told"], "Put hydrant H-1 back in service: closes 1 of 2 gaps.");
    service.put("/v1/hydrants/H-1", &closed(true)).await.ok();
    let after = run(&service, &json!({ "lay_profile_id": "five" })).await;
    assert_eq!(remedy["after"], after["summary"]["all"]);
}

#[tokio::test]
async fn remedies_of_the_demo_town_follow_on_one_another() {
    let service = Service::demo().await;
    let body = json!({ "lay_profile_id": "five-inch-valve", "boost_pumper_id": "engine-1", "remedies": 8 });
    let before = run(&service, &body).await;
    assert_eq!(before["status"], "done", "{before}");
    let found = remedies(&service, &before).await;
    let steps = found["remedies"].as_array().unwrap();
    assert!(!steps.is_empty(), "{found}");
    let mut area = &before["summary"]["all"];
    for step in steps {
        let [closes, opens, changes] =
            ["closes_count", "opens_count", "change_count"].map(|name| step[name].as_u64().unwrap());
        assert_eq!(&step["before"], area);
        assert_eq!(gaps(&step["after"]) + closes, gaps(area) + opens);
        assert!(closes > opens && step["considered"][0]["change"]["kind"] == step["change"]["kind"]);
        let share = step["closes_per_change"].as_f64().unwrap() * f64::from(u32::try_from(changes).unwrap());
        assert!((share - f64::from(u32::try_from(closes).unwrap())).abs() < 1e-9);
        assert_eq!(step["change"]["like_ft"].is_null(), step["change"]["like_hydrant_id"].is_null());
        area = &step["after"];
    }
    assert!(found["cautions"].as_array().is_some_and(|cautions| !cautions.is_empty()));
}

#[tokio::test]
async fn remedies_are_there_only_of_a_run_that_was_asked_for_them_and_ended() {
    let service = street(&[("A", 500.0, Some(300.0))]).await;
    let none = run(&service, &json!({ "lay_profile_id": "five", "remedies": 0 })).await;
    let path = format!("{RUNS}/{}/remedies", none["id"].as_str().unwrap());
    service.get(&path).await.problem(409, "no-remedies-asked");
    service.delete(&format!("{RUNS}/{}", none["id"].as_str().unwrap())).await;
    service.get(&path).await.problem(404, "not-found");
}

#[tokio::test]
async fn a_hydrant_that_nobody_tested_is_told_where_nothing_can_be_promised_of_it() {
    let service = street(&[("A", 1500.0, Some(300.0))]).await;
    let north = json!({ "location": { "lon": -30.0, "lat": 40.004 }, "elevation_ft": 100.0 });
    service.given("/v1/hydrants/U-1", &with(hydrant(), &north)).await;
    let found = remedies(&service, &run(&service, &json!({ "lay_profile_id": "five", "remedies": 1 })).await).await;
    // Only one that was tested is near, and nobody is reckoned by one. More hose to that one closes the gap.
    assert_eq!((&found["remedies"][0]["change"]["kind"], &found["to_test"]), (&json!("more_hose"), &json!([])));
    let short = json!({ "lay_profile_id": "five", "max_lay_ft": 200.0 });
    let found = remedies(&service, &run(&service, &short).await).await;
    assert_eq!((&found["remedies"], &found["is_all"]), (&json!([]), &json!(true)));
    assert_eq!(found["to_test"], json!([{ "hydrant_id": "U-1", "gap_count": 1 }]));
}

#[tokio::test]
async fn a_pumper_without_a_valve_says_what_hangs_on_it() {
    let service = street(&[("A", 500.0, Some(300.0)), ("B", 900.0, Some(900.0))]).await;
    let profile = |valve: &Value| {
        let own = json!({ "hose_type_id": "std-5in", "carried_ft": 1000.0, "hydrant_valve_id": valve });
        with(lay_profile(), &own)
    };
    service.put("/v1/lay-profiles/five", &profile(&Value::Null)).await.ok();
    let found = remedies(&service, &run(&service, &json!({ "lay_profile_id": "five" })).await).await;
    assert_eq!(found["without_valve"], Value::Null, "no pumper boosts");
    let boost = json!({ "lay_profile_id": "five", "boost_pumper_id": "engine" });
    let boosted = run(&service, &boost).await;
    let without = remedies(&service, &boosted).await["without_valve"].clone();
    assert_eq!(without["boosted_count"], boosted["summary"]["all"]["causes"]["covered_if_boosted"]);
    assert!(without["hydrant_valve_id"].is_string() && without["before"] == boosted["summary"]["all"]);
    // With the valve on the lay, the run says what was told here, and there is no more to tell.
    service.put("/v1/lay-profiles/five", &profile(&without["hydrant_valve_id"])).await.ok();
    let after = run(&service, &boost).await;
    assert_eq!(without["after"], after["summary"]["all"]);
    assert_eq!(remedies(&service, &after).await["without_valve"], Value::Null);
}
