use longlay_tests::{Answer, Service};
use reqwest::Method;
use serde_json::{Value, json};

const HEADER: &str = "hydrant_id,lon,lat,owner,potable,in_service,main_id\n";

async fn send(service: &Service, path: &str, media_type: &str, body: impl Into<reqwest::Body>) -> Answer {
    let request = service.request(Method::POST, path).header("content-type", media_type).body(body.into());
    service.send(request).await
}

async fn csv(service: &Service, path: &str, body: &str) -> Answer {
    send(service, path, "text/csv", body.to_owned()).await
}

async fn hydrants(service: &Service) -> usize {
    service.all("/v1/hydrants").await.len()
}

#[tokio::test]
async fn a_sheet_makes_replaces_and_leaves_hydrants() {
    let service = Service::start().await;
    let sheet = format!("{HEADER}H-1,-90,40,public,yes,yes,M-1\nH-2,-90.5,40.5,private,no,yes,\n");
    let answer = csv(&service, "/v1/imports/hydrants", &sheet).await.ok();
    let expected = json!({"kind": "hydrants", "dry_run": false, "rows": 2, "created": 2, "replaced": 0, "unchanged": 0,
        "skipped_count": 0, "skipped": [], "ignored_columns": [], "warning_count": 0, "warnings": [], "errors": [], "committed": true});
    for (member, value) in expected.as_object().unwrap() {
        assert_eq!(&answer[member], value, "{member}");
    }
    assert_eq!(answer["sha256"].as_str().unwrap().len(), 64);
    assert_eq!(service.get("/v1/hydrants/H-2").await.ok()["location"], json!({"lon": -90.5, "lat": 40.5}));
    let sheet = sheet.replace("M-1", "M-2") + "H-3,-90,40,public,yes,yes,\n";
    let answer = csv(&service, "/v1/imports/hydrants", &sheet).await.ok();
    assert_eq!((&answer["created"], &answer["replaced"], &answer["unchanged"]), (&json!(1), &json!(1), &json!(1)));
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok()["main_id"], "M-2");
}

#[tokio::test]
async fn a_look_changes_nothing_and_says_what_would_be_done() {
    let service = Service::start().await;
    let sheet = format!("{HEADER}H-1,-90,40,public,yes,yes,\n");
    let answer = csv(&service, "/v1/imports/hydrants?dry_run=true", &sheet).await.ok();
    assert_eq!(
        (&answer["created"], &answer["committed"], &answer["dry_run"]),
        (&json!(1), &json!(false), &json!(true))
    );
    assert_eq!(hydrants(&service).await, 0);
}

#[tokio::test]
async fn a_half_broken_sheet_changes_nothing_and_every_fault_has_its_row() {
    let service = Service::start().await;
    let sheet =
        format!("{HEADER}H-1,-90,40,public,yes,yes,\n\nH-2,-90,95,public,yes,maybe,\nH-1,-90,40,public,yes,yes,\n");
    for path in ["/v1/imports/hydrants", "/v1/imports/hydrants?dry_run=true"] {
        let problem = csv(&service, path, &sheet).await.problem(422, "import-refused");
        assert_eq!(problem.faults(), ["4 lat out_of_bounds", "4 in_service not_yes_or_no", "5 - given_twice"]);
        assert!(problem.detail().starts_with("3 faults in the file: row 4, "), "{}", problem.detail());
    }
    assert_eq!(hydrants(&service).await, 0);
}

#[tokio::test]
async fn a_sheet_of_tests_brought_in_twice_doubles_nothing() {
    let service = Service::start().await;
    csv(&service, "/v1/imports/hydrants", &format!("{HEADER}H-1,-90,40,public,yes,yes,\n")).await.ok();
    let tests =
        "Hydrant ID,Tested On,Static (psi),Residual (psi),Outlets\nH-1,5/14/2026,62,48,2.5 0.9 14; 2.5 0.9 12\n";
    let problem = csv(&service, "/v1/imports/flow-tests", tests).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 tested_on date_format_needed"]);
    let path = "/v1/imports/flow-tests?date_format=mdy";
    assert_eq!(csv(&service, path, tests).await.ok()["created"], 1);
    let again = csv(&service, path, tests).await.ok();
    assert_eq!((&again["created"], &again["skipped_count"]), (&json!(0), &json!(1)));
    let skipped = json!([{"row": 2, "code": "already_recorded", "detail": "this test was recorded before"}]);
    assert_eq!(again["skipped"], skipped);
    assert_eq!(service.all("/v1/hydrants/H-1/flow-tests").await.len(), 1);
    let lost = tests.replace("H-1", "H-9").replace("5/14/2026", "2026-05-14");
    let problem = csv(&service, "/v1/imports/flow-tests", &lost).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 hydrant_id unknown_reference"]);
}

#[tokio::test]
async fn equipment_that_refers_to_nothing_is_refused_where_it_says_so() {
    let service = Service::start().await;
    let pumpers =
        "id,name,rated_flow_gpm,hose\nE-1,Engine 1,1500,std-5in 1000\nE-2,Engine 2,1000,std-5in 800; odd 100\n";
    let problem = csv(&service, "/v1/imports/pumpers", pumpers).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["3 hose unknown_reference"]);
    let pumpers = pumpers.replace("odd", "std-3in");
    assert_eq!(csv(&service, "/v1/imports/pumpers", &pumpers).await.ok()["created"], 2);
    let shipped = "id,name,diameter_in,loss_coefficient,source\nstd-5in,Ours,5,0.07,own test\n";
    let problem = csv(&service, "/v1/imports/hose-types", shipped).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 id read_only_record"]);
}

#[tokio::test]
async fn a_map_brings_hydrants_in() {
    let service = Service::start().await;
    let feature = json!({"type": "Feature", "geometry": {"type": "Point", "coordinates": [-90.25, 40.5]},
        "properties": {"hydrant_id": 17, "owner": "public", "potable": true, "in_service": true, "outlets": "hose 2.5 0.9"}});
    let map = json!({"type": "FeatureCollection", "features": [feature]}).to_string();
    let answer = send(&service, "/v1/imports/hydrants", "application/geo+json", map.clone()).await.ok();
    assert_eq!(answer["created"], 1);
    let hydrant: Value = service.get("/v1/hydrants/17").await.ok();
    assert_eq!(hydrant["outlets"], json!([{"kind": "hose", "diameter_in": 2.5, "coefficient": 0.9}]));
    send(&service, "/v1/imports/pumpers", "application/geo+json", map).await.problem(415, "unsupported-media-type");
}

#[tokio::test]
async fn what_is_no_file_of_a_kind_is_refused() {
    let service = Service::start().await;
    csv(&service, "/v1/imports/drills", "a\n1\n").await.problem(404, "not-found");
    csv(&service, "/v1/imports/hydrants?dry-run=true", "a\n").await.problem(400, "invalid-query");
    csv(&service, "/v1/imports/hydrants?date_format=ymd", "a\n").await.problem(400, "invalid-query");
    send(&service, "/v1/imports/hydrants", "application/json", "{}").await.problem(415, "unsupported-media-type");
    let utf_16 = b"\xff\xfeh\0y\0".to_vec();
    let problem = send(&service, "/v1/imports/hydrants", "text/csv", utf_16).await.problem(422, "import-refused");
    assert!(problem.detail().contains("UTF-16"), "{}", problem.detail());
}

#[tokio::test]
async fn a_file_larger_than_other_bodies_is_taken_and_one_past_its_limit_is_not() {
    let service = Service::start().await;
    let filler = "x".repeat(1900);
    let rows: Vec<_> = (0..1500).map(|n| format!("H-{n},-90,40,public,yes,yes,,{filler}")).collect();
    let sheet = format!("{},description\n{}\n", HEADER.trim_end(), rows.join("\n"));
    assert!(sheet.len() > 2 * 1024 * 1024);
    assert_eq!(csv(&service, "/v1/imports/hydrants", &sheet).await.ok()["created"], 1500);
    let huge = vec![b'x'; 64 * 1024 * 1024 + 1];
    send(&service, "/v1/imports/hydrants", "text/csv", huge).await.problem(413, "body-too-large");
}

#[tokio::test]
async fn a_file_sent_again_with_its_key_is_brought_in_once_and_answered_as_the_first_time() {
    let service = Service::start().await;
    let sheet = format!("{HEADER}H-1,-90,40,public,yes,yes,\n");
    let post = |sheet: String| {
        let request = service.request(Method::POST, "/v1/imports/hydrants").header("content-type", "text/csv");
        service.send(request.header("idempotency-key", "k-1").body(sheet))
    };
    let first = post(sheet.clone()).await;
    assert_eq!(first.ok()["created"], 1);
    let again = post(sheet.clone()).await;
    assert_eq!((again.text.as_str(), again.header("idempotency-replayed")), (first.text.as_str(), "true"));
    post(sheet.replace("H-1", "H-2")).await.problem(422, "idempotency-key-reused");
    assert_eq!(hydrants(&service).await, 1);
}

/// Each warning as `row id code`.
fn warned(answer: &Value) -> Vec<String> {
    let text = |warning: &Value| {
        let [id, code] = ["id", "code"].map(|member| warning[member].as_str().unwrap().to_owned());
        format!("{} {id} {code}", warning["row"])
    };
    answer["warnings"].as_array().unwrap().iter().map(text).collect()
}

#[tokio::test]
async fn a_hydrant_returns_to_service_only_where_that_is_said_and_what_a_file_takes_is_told() {
    let service = Service::start().await;
    let header = "hydrant_id,lon,lat,owner,potable,in_service,out_of_service_reason,main_id\n";
    let first =
        "H-1,-90,40,public,yes,no,stem broken,M-1\nH-2,-90,40,public,yes,yes,,M-1\nH-3,-90,40,public,yes,yes,,\n";
    csv(&service, "/v1/imports/hydrants", &format!("{header}{first}")).await.ok();
    service.delete("/v1/hydrants/H-3").await.no_content();
    let old = format!("{HEADER}H-2,-90,40,public,yes,no,\nH-1,-90,40,public,yes,yes,M-1\nH-3,-90,40,public,yes,yes,\n");
    for path in ["/v1/imports/hydrants", "/v1/imports/hydrants?dry_run=true"] {
        let problem = csv(&service, path, &old).await.problem(422, "import-refused");
        assert_eq!(problem.faults(), ["3 in_service returns_to_service"]);
        assert!(problem.detail().contains("(stem broken)"), "{}", problem.detail());
        assert!(problem.detail().contains("return_to_service=true"), "{}", problem.detail());
    }
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok()["in_service"], false);
    let expected =
        ["3 H-1 returns_to_service", "4 H-3 returns_from_retirement", "2 H-2 leaves_service", "2 H-2 empties"];
    for look in ["&dry_run=true", ""] {
        let path = format!("/v1/imports/hydrants?return_to_service=true{look}");
        let answer = csv(&service, &path, &old).await.ok();
        assert_eq!((warned(&answer), &answer["warning_count"]), (expected.map(str::to_owned).to_vec(), &json!(4)));
        assert!(answer["warnings"][0]["detail"].as_str().unwrap().contains("(stem broken)"), "{answer}");
        assert!(answer["warnings"][3]["detail"].as_str().unwrap().ends_with("main_id"), "{answer}");
    }
    assert_eq!(service.get("/v1/hydrants/H-1").await.ok()["in_service"], true);
}

#[tokio::test]
async fn twenty_warnings_are_told_and_all_are_counted() {
    let service = Service::start().await;
    let sheet = |main: &str, status: &str| {
        let row = |n: usize| format!("H-{n:02},-90,40,public,yes,{},{main}\n", if n == 29 { status } else { "yes" });
        HEADER.to_owned() + &(0..30).map(row).collect::<String>()
    };
    csv(&service, "/v1/imports/hydrants", &sheet("M-1", "no")).await.ok();
    let answer = csv(&service, "/v1/imports/hydrants?return_to_service=true", &sheet("", "yes")).await.ok();
    let told = warned(&answer);
    assert_eq!((told.len(), &answer["warning_count"]), (20, &json!(31)));
    assert_eq!(told[..2], ["31 H-29 returns_to_service", "2 H-00 empties"], "the weightiest first");
}

#[tokio::test]
async fn a_hydrant_far_from_the_others_is_told_and_exchanged_coordinates_are_named() {
    let service = Service::start().await;
    let town = (0..4).map(|n| format!("H-{n},-90.0{n},40,public,yes,yes,\n")).collect::<Vec<_>>().concat();
    let sheet = format!("{HEADER}{town}H-8,40,-90,public,yes,yes,\nH-9,-90,42,public,yes,yes,\n");
    let answer = csv(&service, "/v1/imports/hydrants", &sheet).await.ok();
    assert_eq!(warned(&answer), ["6 H-8 far_from_others", "7 H-9 far_from_others"]);
    let detail = |at: usize| answer["warnings"][at]["detail"].as_str().unwrap();
    assert!(
        detail(0).ends_with("lon and lat look exchanged") && detail(1).ends_with("look at lon and lat"),
        "{answer}"
    );
    assert!(detail(1).contains("138 miles"), "two degrees of latitude: {}", detail(1));
    let nowhere = format!("{HEADER}H-7,0,0,public,yes,yes,\n");
    let problem = csv(&service, "/v1/imports/hydrants", &nowhere).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["2 lon no_place"]);
}

#[tokio::test]
async fn what_is_said_against_a_test_alone_is_said_of_it_in_a_file() {
    let service = Service::start().await;
    csv(&service, "/v1/imports/hydrants", &format!("{HEADER}H-1,-90,40,public,yes,yes,\n")).await.ok();
    let header = "hydrant_id,tested_on,static_psi,residual_psi,flow_gpm\n";
    let sheet = format!("{header}H-1,2026-05-14,60,30,900\nH-1,2026-05-15,60,48,900\nH-1,2026-05-16,60,57,900\n");
    let answer = csv(&service, "/v1/imports/flow-tests", &sheet).await.ok();
    let expected = ["4 H-1 drop_under_10_percent", "3 H-1 drop_under_25_percent"];
    let told = warned(&answer);
    assert!(told[0] == expected[0] && told.contains(&expected[1].to_owned()), "the serious first: {told:?}");
    assert!(!told.iter().any(|warning| warning.starts_with("2 ")), "{told:?}");
    let alone = service.all("/v1/hydrants/H-1/flow-tests").await;
    let alone = alone.iter().find(|test| test["tested_on"] == "2026-05-16").unwrap();
    let said = &alone["findings"].as_array().unwrap().iter().find(|finding| finding["code"] == "drop_under_10_percent");
    assert_eq!(answer["warnings"][0]["detail"], said.unwrap()["message"]);
    let again = csv(&service, "/v1/imports/flow-tests", &sheet).await.ok();
    assert_eq!((&again["skipped_count"], &again["warning_count"]), (&json!(3), &json!(0)), "none is new");
}

#[tokio::test]
async fn columns_passed_over_are_told_and_a_header_alone_is_no_fault() {
    let service = Service::start().await;
    let sheet = "Hydrant ID,lon,lat,owner,potable,in_service,Crew\nH-1,-90,40,public,yes,yes,B\n";
    let problem = csv(&service, "/v1/imports/hydrants", sheet).await.problem(422, "import-refused");
    assert_eq!(problem.faults(), ["1 Crew unknown_column"]);
    assert!(problem.detail().contains("ignore_unknown_columns=true"), "{}", problem.detail());
    let answer = csv(&service, "/v1/imports/hydrants?ignore_unknown_columns=true", sheet).await.ok();
    assert_eq!((&answer["ignored_columns"], &answer["created"]), (&json!(["Crew"]), &json!(1)));
    let answer = csv(&service, "/v1/imports/hydrants", HEADER).await.ok();
    assert_eq!((&answer["rows"], &answer["committed"]), (&json!(0), &json!(true)));
}
