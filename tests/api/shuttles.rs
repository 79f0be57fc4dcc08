use longlay_tests::Service;
use longlay_tests::records::{with, without};
use serde_json::{Value, json};

const PATH: &str = "/v1/shuttles";

/// 3000 gal in 4 + 2.25 min and 0.65 + 1.7 x 3 on the road: 2700 gal in 12 min, 225 gpm.
fn tanker() -> Value {
    json!({ "tank_gal": 3000, "fill_min": 4, "dump_min": 2.25, "round_trip_mi": 3 })
}

fn shuttle(tankers: usize) -> Value {
    json!({ "tankers": vec![tanker(); tankers] })
}

async fn answer(ask: &Value) -> Value {
    Service::start().await.post(PATH, ask).await.ok()
}

#[track_caller]
fn close(actual: &Value, expected: f64, tolerance: f64) {
    let actual = actual.as_f64().unwrap_or(f64::NAN);
    assert!((actual - expected).abs() <= tolerance, "{actual} is not within {tolerance} of {expected}");
}

fn codes(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn unlike_tankers_add_up() {
    let lesser = json!({ "tank_gal": 1000, "fill_min": 3, "dump_min": 1.25, "one_way_mi": 1.5 });
    let found = answer(&json!({ "tankers": [tanker(), lesser], "target_flow_gpm": 400 })).await;
    // 900 gal in 10 min beside 225 gpm.
    close(&found["sustained_flow_gpm"], 315.0, 1e-9);
    assert_eq!((&found["planning_flow_gpm"], &found["limited_by"]), (&json!(310.0), &json!("tankers")));
    close(&found["tankers"][1]["flow_gpm"], 90.0, 1e-9);
    close(&found["tankers"][1]["travel_min"], 5.75, 1e-9);
    // 3 + 0.65 + 1.7 x 1.5.
    close(&found["first_water_min"], 6.2, 1e-9);
    let target = &found["at_target"];
    assert_eq!((&target["met"], &target["tankers_needed"]), (&json!(false), &json!(3)));
    close(&target["shortfall_gpm"], 85.0, 1e-9);
    assert_eq!(codes(&found["findings"]), ["site_limit_unknown"]);
    assert_eq!(codes(&found["cautions"])[0], "single_dump_tank");
    assert_eq!(found["basis"].as_array().unwrap().len(), 4);
}

#[tokio::test]
async fn sites_hold_the_flow_whatever_tankers_come() {
    let one = json!({ "fill_sites": 1, "fill_flow_gpm": 500, "dump_sites": 2, "target_flow_gpm": 600 });
    let found = answer(&with(shuttle(3), &one)).await;
    close(&found["sustained_flow_gpm"], 500.0, 1e-9);
    assert_eq!((&found["limited_by"], &found["at_target"]["tankers_needed"]), (&json!("fill_flow"), &Value::Null));
    // 2700 gal in 4 min are 675 gpm, more than the site flows.
    assert_eq!(codes(&found["findings"]), ["fill_time_short"]);
    assert!(!codes(&found["cautions"]).contains(&"single_dump_tank"));
    // Four tankers ask 4 x 4/12 places to fill, and 4 x 2.25/12 to dump.
    let waiting = answer(&with(shuttle(4), &json!({ "fill_sites": 1, "dump_sites": 1 }))).await;
    assert_eq!(waiting["limited_by"], "fill_sites");
    close(&waiting["sustained_flow_gpm"], 675.0, 1e-9);
    let limits: Vec<_> = waiting["limits"].as_array().unwrap().iter().map(|limit| &limit["limit"]).collect();
    assert_eq!(limits, ["fill_sites", "tankers", "dump_sites"]);
    // Six ask 1.125 places to dump: 1350 / 1.125.
    let dumping = answer(&with(shuttle(6), &json!({ "dump_sites": 1 }))).await;
    assert_eq!(dumping["limited_by"], "dump_sites");
    close(&dumping["sustained_flow_gpm"], 1200.0, 1e-9);
}

#[tokio::test]
async fn a_small_shuttle_is_content_with_one_tank() {
    let found = answer(&with(shuttle(1), &json!({ "dump_sites": 1 }))).await;
    assert!(!codes(&found["cautions"]).contains(&"single_dump_tank"));
    for caution in ["supply_lost", "non_potable", "planning_answer", "gauges_govern", "local_procedures"] {
        assert!(codes(&found["cautions"]).contains(&caution), "{caution}");
    }
}

#[tokio::test]
async fn the_alternative_supply_is_met_only_where_all_of_it_is_known() {
    let test = |tankers: usize, members: Value| async move {
        let found = answer(&with(shuttle(tankers), &members)).await;
        found["tests"][0].clone()
    };
    let all = json!({ "water_after_first_engine_min": 5, "source_volume_gal": 30_000 });
    let met = test(2, all.clone()).await;
    assert_eq!((&met["name"], &met["verdict"]), (&json!("iso alternative supply"), &json!("met")));
    let weak = test(1, all).await;
    assert_eq!((&weak["verdict"], &weak["flow"]), (&json!("not_met"), &json!("not_met")));
    let late = test(2, json!({ "water_after_first_engine_min": 6 })).await;
    assert_eq!(
        (&late["verdict"], &late["start"], &late["duration"]),
        (&json!("not_met"), &json!("not_met"), &json!("unknown"))
    );
    assert_eq!(test(2, json!({ "source_volume_gal": 30_000 })).await["verdict"], "unknown");
}

#[tokio::test]
async fn what_cannot_be_is_refused_at_its_place() {
    let service = Service::start().await;
    let bad = json!({
        "tankers": [
            { "tank_gal": -1, "fill_min": 0, "dump_min": 0, "round_trip_mi": -1 },
            without(tanker(), "round_trip_mi"),
            with(tanker(), &json!({ "one_way_mi": 3 }))
        ],
        "fill_sites": 0, "dump_sites": 0, "fill_flow_gpm": 0, "target_flow_gpm": 0, "water_after_first_engine_min": 0, "source_volume_gal": -1
    });
    let found = service.post(PATH, &bad).await.problem(422, "invalid-values").faults();
    for fault in [
        "/tankers/0/tank_gal out_of_bounds",
        "/tankers/0/fill_min out_of_bounds",
        "/tankers/0/dump_min out_of_bounds",
        "/tankers/0/round_trip_mi out_of_bounds",
        "/tankers/1 exactly_one_of",
        "/tankers/2 exactly_one_of",
        "/fill_flow_gpm out_of_bounds",
        "/target_flow_gpm out_of_bounds",
        "/water_after_first_engine_min out_of_bounds",
        "/source_volume_gal out_of_bounds",
        "/fill_sites out_of_bounds",
        "/dump_sites out_of_bounds",
    ] {
        assert!(found.iter().any(|at| at == fault), "{fault} is not among {found:#?}");
    }
    assert_eq!(service.post(PATH, &shuttle(0)).await.problem(422, "invalid-values").faults(), ["/tankers too_few"]);
    assert_eq!(
        service.post(PATH, &shuttle(201)).await.problem(422, "invalid-values").faults(),
        ["/tankers out_of_bounds"]
    );
    service.post(PATH, &json!({})).await.problem(422, "invalid-body-shape");
}
