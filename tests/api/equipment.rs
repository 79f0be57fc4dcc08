//! What holds for every kind of equipment alike.

use longlay_tests::Service;
use longlay_tests::records::{appliance, hose_type, hydrant_valve, lay_profile, pumper, with, without};
use serde_json::{Value, json};

/// Every collection, with a record to put into it.
fn collections() -> [(&'static str, Value); 5] {
    [
        ("hose-types", hose_type()),
        ("appliances", appliance()),
        ("hydrant-valves", hydrant_valve()),
        ("pumpers", pumper()),
        ("lay-profiles", lay_profile()),
    ]
}

/// The collections with shipped rows, with one of them each.
const SHIPPED: [(&str, &str); 3] =
    [("hose-types", "std-5in"), ("appliances", "std-wye"), ("hydrant-valves", "std-four-way")];

#[tokio::test]
async fn a_record_comes_back_as_it_was_put() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        let path = format!("/v1/{collection}/own-1");
        let put = service.put(&path, &body).await.created();
        let mut expected = with(body, &json!({ "id": "own-1" }));
        if put.get("origin").is_some() {
            expected = with(expected, &json!({ "origin": "department" }));
        }
        assert_eq!(put, expected, "{collection}");
        let found = service.get(&path).await.ok();
        // The figure that answers are worked with comes on top of what was put.
        let found = if collection == "lay-profiles" { found } else { without(found, "in_use") };
        assert_eq!(found, expected, "{collection}");
    }
}

#[tokio::test]
async fn a_second_put_replaces_the_record() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        let path = format!("/v1/{collection}/own-1");
        service.given(&path, &body).await;
        service.put(&path, &with(body, &json!({ "name": "Another name" }))).await.ok();
        assert_eq!(service.get(&path).await.ok()["name"], "Another name", "{collection}");
    }
}

#[tokio::test]
async fn a_retired_record_is_not_found_and_not_listed() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        let path = format!("/v1/{collection}/own-1");
        service.given(&path, &body).await;
        service.delete(&path).await.no_content();
        service.get(&path).await.problem(404, "not-found");
        service.delete(&path).await.problem(404, "not-found");
        let listed = service.all(&format!("/v1/{collection}")).await;
        assert!(listed.iter().all(|row| row["id"] != "own-1"), "{collection}");
        service.given(&path, &body).await;
    }
}

#[tokio::test]
async fn what_was_never_recorded_is_not_found() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        for path in [format!("/v1/{collection}/none"), format!("/v1/{collection}/no.id")] {
            service.get(&path).await.problem(404, "not-found");
            service.delete(&path).await.problem(404, "not-found");
        }
        service.put(&format!("/v1/{collection}/no.id"), &body).await.problem(404, "not-found");
    }
}

#[tokio::test]
async fn the_union_of_the_pages_is_the_set() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        for i in 0..3 {
            service.given(&format!("/v1/{collection}/own-{i}"), &body).await;
        }
        let all = service.all(&format!("/v1/{collection}?limit=1000")).await;
        let ids: Vec<_> = all.iter().map(|row| row["id"].as_str().unwrap()).collect();
        assert!(ids.is_sorted_by(|a, b| a < b) && ids.len() >= 3, "{collection} {ids:?}");
        for limit in [1, 2, 3] {
            assert_eq!(service.all(&format!("/v1/{collection}?limit={limit}")).await, all, "{collection} {limit}");
        }
    }
}

#[tokio::test]
async fn a_list_refuses_what_it_does_not_take() {
    let service = Service::start().await;
    for (collection, _) in collections() {
        let refused = |query: &str| format!("/v1/{collection}?{query}");
        for (query, fault) in [
            ("limit=0", "limit invalid_form"),
            ("cursor=own-1", "cursor invalid_cursor"),
            ("name=x", "name unknown_parameter"),
            ("limit=1&limit=2", "limit given_twice"),
        ] {
            let problem = service.get(&refused(query)).await.problem(400, "invalid-query");
            assert_eq!(problem.faults(), [fault], "{collection}");
        }
    }
}

#[tokio::test]
async fn a_name_is_neither_empty_nor_long_nor_broken() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        for (name, code) in [
            ("", "out_of_bounds"),
            ("   ", "out_of_bounds"),
            (&"x".repeat(121), "out_of_bounds"),
            ("a\u{0}", "control_character"),
        ] {
            let answer =
                service.put(&format!("/v1/{collection}/own-1"), &with(body.clone(), &json!({ "name": name }))).await;
            assert_eq!(answer.problem(422, "invalid-values").faults(), [format!("/name {code}")], "{collection}");
        }
    }
}

#[tokio::test]
async fn an_unknown_member_is_refused_by_name() {
    let service = Service::start().await;
    for (collection, body) in collections() {
        for member in ["version", "colour"] {
            let answer =
                service.put(&format!("/v1/{collection}/own-1"), &with(body.clone(), &json!({ member: "x" }))).await;
            let faults = answer.problem(422, "invalid-body-shape").faults();
            assert_eq!(faults, [format!("/{member} invalid_shape")], "{collection}");
        }
    }
}

#[tokio::test]
async fn shipped_rows_say_where_they_come_from() {
    let service = Service::start().await;
    for (collection, id) in SHIPPED {
        let row = service.get(&format!("/v1/{collection}/{id}")).await.ok();
        assert_eq!(row["origin"], "library", "{collection}");
        let listed = service.all(&format!("/v1/{collection}")).await;
        assert!(listed.contains(&without(row, "in_use")), "{collection}");
    }
}

#[tokio::test]
async fn shipped_rows_cannot_be_changed_or_retired() {
    let service = Service::start().await;
    for (collection, id) in SHIPPED {
        let path = format!("/v1/{collection}/{id}");
        let before = service.get(&path).await.ok();
        let body = collections().into_iter().find(|(name, _)| *name == collection).unwrap().1;
        service.put(&path, &body).await.problem(409, "read-only-record");
        service.delete(&path).await.problem(409, "read-only-record");
        assert_eq!(service.get(&path).await.ok(), before, "{collection}");
    }
}

#[tokio::test]
async fn what_others_refer_to_cannot_be_retired_and_they_are_named() {
    let service = Service::start().await;
    service.given("/v1/hose-types/own-hose", &hose_type()).await;
    service.given("/v1/appliances/own-appliance", &appliance()).await;
    service.given("/v1/hydrant-valves/own-valve", &hydrant_valve()).await;
    let lay = json!({
        "hose_type_id": "own-hose", "hydrant_valve_id": "own-valve", "scene_appliance_ids": ["own-appliance"]
    });
    service.given("/v1/lay-profiles/own-lay", &with(lay_profile(), &lay)).await;
    for path in ["/v1/hose-types/own-hose", "/v1/appliances/own-appliance", "/v1/hydrant-valves/own-valve"] {
        let problem = service.delete(path).await.problem(409, "record-in-use");
        assert!(problem.detail().contains("own-lay"), "{}", problem.detail());
    }
    service.delete("/v1/lay-profiles/own-lay").await.no_content();
    service.delete("/v1/hose-types/own-hose").await.no_content();
}
