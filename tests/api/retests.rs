use std::collections::BTreeSet;

use longlay_tests::Service;
use longlay_tests::records::{flow_test, hydrant_at, with};
use serde_json::{Value, json};

fn ids(list: &[Value]) -> Vec<&str> {
    list.iter().map(|item| item["hydrant_id"].as_str().unwrap()).collect()
}

fn codes(item: &Value) -> Vec<&str> {
    item["reasons"].as_array().unwrap().iter().map(|reason| reason["code"].as_str().unwrap()).collect()
}

/// Hydrants a mile apart, each by its own test or by none.
async fn town() -> Service {
    let service = Service::start().await;
    let sharp = json!({ "residual_psi": 40.0, "tested_on": "2026-05-14" });
    let blunt = json!({ "residual_psi": 56.0, "tested_on": "2026-05-14" });
    let level = json!({ "residual_psi": 60.0, "tested_on": "2026-05-14" });
    let old = json!({ "residual_psi": 40.0, "tested_on": "2014-05-14" });
    let tests =
        [("A", Some(sharp)), ("B", Some(blunt)), ("C", None), ("D", Some(level)), ("E", Some(old)), ("F", None)];
    for (i, (id, test)) in (0_u8..).zip(tests) {
        let own = json!({ "main_id": id, "in_service": id != "F" });
        let place = hydrant_at(-30.0, 40.0 + 0.02 * f64::from(i));
        service.given(&format!("/v1/hydrants/{id}"), &with(place, &own)).await;
        if let Some(test) = test {
            service.post(&format!("/v1/hydrants/{id}/flow-tests"), &with(flow_test(), &test)).await.created();
        }
    }
    service
}

#[tokio::test]
async fn the_list_goes_from_what_is_not_known_to_what_is() {
    let list = town().await.all("/v1/retests").await;
    assert_eq!(ids(&list), ["C", "D", "B", "E", "A", "F"]);
    let settles: Vec<_> = list.iter().map(|item| item["settles"].as_str().unwrap()).collect();
    assert_eq!(settles, ["everything", "high_end", "width", "width", "width", "everything"]);
    assert_eq!((codes(&list[0]), codes(&list[5])), (vec!["untested"], vec!["out_of_service", "untested"]));
    assert!(codes(&list[1]).contains(&"no_drop") && codes(&list[2]).contains(&"drop_under_10_percent"));
    assert!(codes(&list[3]).contains(&"old_test"));
    // 600 (15/20)^0.54 gpm drops 60 psi by a quarter.
    assert!((list[4]["target_flow_gpm"].as_f64().unwrap() - 513.7).abs() < 0.1, "{}", list[4]);
    assert_eq!((&list[0]["target_flow_gpm"], &list[0]["band_now_gpm"]), (&Value::Null, &Value::Null));
    for item in &list {
        let sentences = item["reasons"].as_array().unwrap().iter().map(|reason| reason["message"].as_str().unwrap());
        assert!(sentences.clone().count() > 0 && sentences.into_iter().all(|text| text.len() > 20), "{item}");
    }
}

#[tokio::test]
async fn the_pages_of_a_town_are_its_list_and_every_hydrant_stands_on_it_once() {
    let service = Service::demo().await;
    let (whole, paged) = (service.all("/v1/retests?limit=1000").await, service.all("/v1/retests?limit=7").await);
    assert_eq!(whole, paged);
    let all = service.all("/v1/hydrants?limit=1000").await;
    assert_eq!(ids(&whole).into_iter().collect::<BTreeSet<_>>(), ids(&all).into_iter().collect());
    assert_eq!(whole.len(), all.len());
    let out = whole.iter().position(|item| item["in_service"] == false).unwrap();
    assert!(whole[out..].iter().all(|item| item["in_service"] == false && codes(item)[0] == "out_of_service"));
    let widths: Vec<_> = whole[..out].iter().filter_map(|item| item["settles_gpm"].as_f64()).collect();
    assert!(widths.len() > 50 && widths.is_sorted_by(|a, b| a >= b), "{widths:?}");
}

#[tokio::test]
async fn the_list_can_be_narrowed_to_a_box_and_to_those_in_service() {
    let service = town().await;
    assert_eq!(ids(&service.all("/v1/retests?in_service=true&limit=2").await), ["C", "D", "B", "E", "A"]);
    assert_eq!(ids(&service.all("/v1/retests?in_service=false").await), ["F"]);
    assert_eq!(ids(&service.all("/v1/retests?bbox=-31,39.99,-29,40.03").await), ["B", "A"]);
    assert_eq!(service.get("/v1/retests?bbox=1,2").await.problem(400, "invalid-query").faults(), ["bbox invalid_form"]);
    service.get("/v1/retests?cursor=after.A").await.problem(400, "invalid-query");
}
