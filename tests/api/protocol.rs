//! What holds for every route: verbs, bodies, queries, headers.

use longlay_tests::Service;
use longlay_tests::records::{hydrant, hydrant_valve, lay_profile, pitot_test, pumper, with, without};
use reqwest::Method;
use serde_json::{Value, json};

const HYDRANT: &str = "/v1/hydrants/H-1";

async fn put_text(
    service: &Service,
    content_type: Option<&str>,
    body: impl Into<reqwest::Body>,
) -> longlay_tests::Answer {
    let mut request = service.request(Method::PUT, HYDRANT).body(body);
    if let Some(content_type) = content_type {
        request = request.header("content-type", content_type);
    }
    service.send(request).await
}

/// Every operation of the description, as method and path with an id filled in.
fn operations() -> Vec<(Method, String)> {
    let document = longlay_service::app::openapi();
    let mut operations = Vec::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        let filled: Vec<_> = path.split('/').map(|step| if step.starts_with('{') { "none" } else { step }).collect();
        for method in item.as_object().unwrap().keys() {
            operations.push((Method::from_bytes(method.to_uppercase().as_bytes()).unwrap(), filled.join("/")));
        }
    }
    operations
}

#[tokio::test]
async fn an_unknown_route_is_a_problem() {
    let service = Service::start().await;
    for path in ["/v1", "/v1/", "/v1/hydrants/", "/v1/hydrants/H-1/", "/v2/hydrants", "/nothing?x=1", "//"] {
        service.get(path).await.problem(404, "not-found");
    }
}

#[tokio::test]
async fn a_wrong_verb_is_a_problem_that_names_the_right_ones() {
    let service = Service::start().await;
    for (path, verb, allowed) in [
        ("/v1/hydrants", Method::POST, vec!["GET"]),
        (HYDRANT, Method::PATCH, vec!["GET", "PUT", "DELETE"]),
        ("/v1/hydrants/H-1/flow-tests", Method::DELETE, vec!["GET", "POST"]),
        ("/health/live", Method::POST, vec!["GET"]),
        ("/problems", Method::PUT, vec!["GET"]),
    ] {
        let answer = service.send(service.request(verb, path)).await;
        answer.problem(405, "method-not-allowed");
        let allow: Vec<_> = answer.header("allow").split(',').map(str::trim).collect();
        assert!(allowed.iter().all(|verb| allow.contains(verb)), "{path}: {allow:?}");
    }
}

#[tokio::test]
async fn every_operation_refuses_a_parameter_it_does_not_take() {
    let service = Service::start().await;
    for (method, path) in operations() {
        let answer = service.send(service.request(method.clone(), &format!("{path}?hydrent=1")).json(&json!({}))).await;
        assert_eq!(answer.problem(400, "invalid-query").faults(), ["hydrent unknown_parameter"], "{method} {path}");
    }
}

#[tokio::test]
async fn every_operation_that_takes_a_body_refuses_another_media_type() {
    let service = Service::start().await;
    for (method, path) in operations() {
        // Calling a run off takes no body.
        if method == Method::PUT || method == Method::POST && !path.ends_with("/cancel") {
            let by_uuid = |path: String, kind: &str| {
                path.replace(&format!("{kind}/none"), &format!("{kind}/00000000-0000-7000-8000-000000000000"))
            };
            let path = ["-tests", "drills"].into_iter().fold(path, by_uuid).replace("imports/none", "imports/pumpers");
            let answer =
                service.send(service.request(method, &path).header("content-type", "text/html").body("{}")).await;
            answer.problem(415, "unsupported-media-type");
        }
    }
}

#[tokio::test]
async fn unknown_and_doubled_parameters_are_all_named() {
    let service = Service::start().await;
    let answer = service.get("/v1/hydrants?limit=1&limit=2&a=1&b=2&limit=3").await;
    let expected = ["limit given_twice", "a unknown_parameter", "b unknown_parameter", "limit given_twice"];
    assert_eq!(answer.problem(400, "invalid-query").faults(), expected);
}

#[tokio::test]
async fn a_body_without_a_media_type_is_refused() {
    put_text(&Service::start().await, None, hydrant().to_string()).await.problem(415, "unsupported-media-type");
}

#[tokio::test]
async fn json_goes_by_several_names() {
    for name in ["application/json", "Application/JSON; charset=utf-8", "application/geo+json"] {
        let service = Service::start().await;
        assert!(put_text(&service, Some(name), hydrant().to_string()).await.status < 300, "{name}");
    }
}

#[tokio::test]
async fn a_body_that_is_no_json_is_a_bad_request() {
    let service = Service::start().await;
    let bodies: [&[u8]; 7] = [b"", b"{", b"{'a': 1}", b"{} {}", b"NaN", b"\xff", b"[1,]"];
    for body in bodies {
        put_text(&service, Some("application/json"), body).await.problem(400, "invalid-json");
    }
}

#[tokio::test]
async fn json_of_another_shape_is_unprocessable() {
    let service = Service::start().await;
    for body in ["null", "[]", "1", "\"x\"", "true", "{\"location\":1e999}"] {
        put_text(&service, Some("application/json"), body).await.problem(422, "invalid-body-shape");
    }
}

#[tokio::test]
async fn a_list_is_never_taken_for_an_object() {
    let service = Service::start().await;
    service.given(HYDRANT, &hydrant()).await;
    let tests = "/v1/hydrants/H-1/flow-tests";
    let hose = json!(["std-5in", 100.0]);
    for (method, path, body, at) in [
        (Method::PUT, HYDRANT, with(hydrant(), &json!({ "location": [40.0, -30.0] })), "/location"),
        (Method::PUT, HYDRANT, with(hydrant(), &json!({ "outlets": [["hose", 2.5, 0.9]] })), "/outlets/0"),
        (Method::POST, tests, json!(["2025-05-14", 60.0, 40.0, null, 600.0, null, null]), ""),
        (Method::POST, tests, with(pitot_test(), &json!({ "outlets": [[2.5, 0.9, 16.0]] })), "/outlets/0"),
        (Method::PUT, "/v1/pumpers/E-1", with(pumper(), &json!({ "hose": [hose] })), "/hose/0"),
        (Method::PUT, "/v1/pumpers/E-1", with(pumper(), &json!({ "points": [[750.0, 250.0]] })), "/points/0"),
        (
            Method::PUT,
            "/v1/hydrant-valves/V-1",
            with(hydrant_valve(), &json!({ "to_pump_hose": hose })),
            "/to_pump_hose",
        ),
        (
            Method::PUT,
            "/v1/hydrant-valves/V-1",
            with(hydrant_valve(), &json!({ "from_pump_hose": hose })),
            "/from_pump_hose",
        ),
        (Method::PUT, "/v1/appliances/A-1", json!(["Wye", 0.1, null, null, null, "test"]), ""),
    ] {
        let problem = service.send(service.request(method, path).json(&body)).await.problem(422, "invalid-body-shape");
        assert_eq!(problem.faults(), [format!("{at} invalid_shape")], "{body}");
        assert!(problem.detail().contains("must be an object"), "{}", problem.detail());
    }
}

#[tokio::test]
async fn a_member_given_twice_is_refused() {
    let body = hydrant().to_string().replacen('{', "{\"potable\":false,", 1);
    let problem =
        put_text(&Service::start().await, Some("application/json"), body).await.problem(422, "invalid-body-shape");
    assert_eq!(problem.detail(), "duplicate member `potable`");
}

#[tokio::test]
async fn a_fault_of_shape_is_told_in_words_of_json() {
    let service = Service::start().await;
    let profile = "/v1/lay-profiles/P-1";
    for (path, record, member, value, says) in [
        (HYDRANT, hydrant(), "elevation_ft", json!("high"), r#"must be a number, not "high""#),
        (HYDRANT, hydrant(), "potable", json!(1), "must be true or false, not `1`"),
        (HYDRANT, hydrant(), "main_id", json!(7.5), "must be text, not `7.5`"),
        (HYDRANT, hydrant(), "outlets", json!({}), "must be a list, not an object"),
        (HYDRANT, hydrant(), "location", json!(null), "must be an object, not null"),
        (HYDRANT, hydrant(), "owner", json!("mine"), "must be `public` or `private`, not `mine`"),
        (HYDRANT, hydrant(), "owner", json!(1), "must be text"),
        (profile, lay_profile(), "lines", json!("two"), r#"must be a whole number from 0 to 255, not "two""#),
        (profile, lay_profile(), "lines", json!(1.5), "must be a whole number from 0 to 255, not `1.5`"),
        (profile, lay_profile(), "lines", json!(256), "must be a whole number from 0 to 255, not `256`"),
    ] {
        let problem = service.put(path, &with(record, &json!({ member: value }))).await;
        let problem = problem.problem(422, "invalid-body-shape");
        assert_eq!((problem.faults(), problem.detail()), (vec![format!("/{member} invalid_shape")], says));
    }
    let unknown = service.put(HYDRANT, &with(hydrant(), &json!({ "potible": true }))).await;
    let unknown = unknown.problem(422, "invalid-body-shape");
    assert!(unknown.detail().starts_with("unknown member `potible`, expected one of "), "{}", unknown.detail());
    let missing = service.put(HYDRANT, &without(hydrant(), "owner")).await.problem(422, "invalid-body-shape");
    assert_eq!(missing.detail(), "missing member `owner`");
}

#[tokio::test]
async fn a_query_of_the_wrong_form_is_told_in_plain_words() {
    let service = Service::start().await;
    for (query, says) in [
        ("within_ft=far", "within_ft: must be a number"),
        ("within_ft=", "within_ft: must be a number"),
        ("in_service=yes", "in_service: must be true or false"),
        ("class=D", "class: must be one of `AA`, `A`, `B`, `C`, not `D`"),
        ("tested_before=2026", "tested_before: must be a date like 2026-05-01"),
    ] {
        let problem = service.get(&format!("/v1/hydrants?{query}")).await.problem(400, "invalid-query");
        assert_eq!(problem.detail(), says);
    }
    for (lines, says) in [("two", "a whole number"), ("", "a whole number"), ("256", "a smaller whole number")] {
        let path = format!("{HYDRANT}/deliverable-flow?hose_type_id=std-5in&length_ft=100&lines={lines}");
        let problem = service.get(&path).await.problem(400, "invalid-query");
        assert_eq!(problem.detail(), format!("lines: must be {says}"));
    }
}

#[tokio::test]
async fn a_byte_order_mark_is_refused_by_its_name() {
    let body = format!("\u{feff}{}", hydrant());
    let problem = put_text(&Service::start().await, Some("application/json"), body).await.problem(400, "invalid-json");
    assert!(problem.detail().contains("byte order mark"), "{}", problem.detail());
}

#[tokio::test]
async fn thousands_of_faults_do_not_make_a_long_answer() {
    let service = Service::start().await;
    let query: Vec<_> = (0..1000).map(|i| format!("x{i}=1")).collect();
    let answer = service.get(&format!("/v1/hydrants?{}", query.join("&"))).await;
    let problem = answer.problem(400, "invalid-query");
    assert_eq!(problem.faults().len(), 20);
    assert!(problem.detail().ends_with("; and 999 more"), "{}", problem.detail());
    assert!(answer.text.len() < 10_000, "{}", answer.text.len());
}

#[tokio::test]
async fn a_long_name_is_not_thrown_back_whole() {
    let service = Service::start().await;
    let name = "n".repeat(20_000);
    let answer = service.get(&format!("/v1/hydrants?{}=1", &name[..8000])).await;
    answer.problem(400, "invalid-query");
    assert!(answer.text.len() < 1000, "{}", answer.text.len());
    let answer = service.put(HYDRANT, &with(hydrant(), &json!({ name: 1 }))).await;
    answer.problem(422, "invalid-body-shape");
    assert!(answer.text.len() < 3000, "{}", answer.text.len());
}

#[tokio::test]
async fn json_nested_without_end_is_refused() {
    let body = format!("{{\"location\":{}", "[".repeat(200_000));
    let answer = put_text(&Service::start().await, Some("application/json"), body).await;
    answer.problem(400, "invalid-json");
    let body = format!("{{\"location\":{}{}}}", "[".repeat(200_000), "]".repeat(200_000));
    let answer = put_text(&Service::start().await, Some("application/json"), body).await;
    answer.problem(422, "invalid-body-shape");
}

#[tokio::test]
async fn a_body_over_a_mebibyte_is_refused_and_one_of_a_mebibyte_is_read() {
    let service = Service::start().await;
    let most = 1024 * 1024;
    let padded = |length: usize| {
        let body = hydrant().to_string();
        let padding = " ".repeat(length - body.len());
        body + &padding
    };
    put_text(&service, Some("application/json"), padded(most + 1)).await.problem(413, "body-too-large");
    put_text(&service, Some("application/json"), padded(most)).await.created();
}

#[tokio::test]
async fn a_problem_does_not_throw_a_long_body_back() {
    let body = json!({ "location": "x".repeat(100_000) }).to_string();
    let answer = put_text(&Service::start().await, Some("application/json"), body).await;
    answer.problem(422, "invalid-body-shape");
    assert!(answer.text.len() < 5_000, "{}", answer.text.len());
}

#[tokio::test]
async fn every_answer_carries_a_request_id_and_a_caller_may_bring_one() {
    let service = Service::start().await;
    let ids = [service.get("/health/live").await, service.get("/nothing").await]
        .map(|answer| answer.header("x-request-id").to_owned());
    assert!(ids.iter().all(|id| id.len() == 36) && ids[0] != ids[1], "{ids:?}");
    let answer = service.send(service.request(Method::GET, "/nothing").header("x-request-id", "call-7")).await;
    assert_eq!(answer.header("x-request-id"), "call-7");
}

#[tokio::test]
async fn an_odd_request_id_is_replaced() {
    let service = Service::start().await;
    for odd in ["x".repeat(65), "two words".to_owned(), "caf\u{e9}".to_owned()] {
        let answer = service.send(service.request(Method::GET, "/nothing").header("x-request-id", &odd)).await;
        let id = answer.header("x-request-id");
        assert!(id.len() == 36 && !odd.contains(id), "{odd}: {id}");
    }
}

#[tokio::test]
async fn an_address_over_its_bounds_is_refused_and_one_at_them_is_read() {
    let service = Service::start().await;
    let path = |bytes: usize| format!("/v1/hydrants/{}", "h".repeat(bytes - "/v1/hydrants/".len()));
    service.get(&path(512)).await.problem(404, "not-found");
    service.get(&path(513)).await.problem(414, "address-too-long");
    let query = |bytes: usize| format!("/v1/hydrants?{}=1", "q".repeat(bytes - "=1".len()));
    service.get(&query(8192)).await.problem(400, "invalid-query");
    service.get(&query(8193)).await.problem(414, "address-too-long");
}

#[tokio::test]
async fn head_answers_as_get_does_without_a_body() {
    let service = Service::start().await;
    let answer = service.send(service.request(Method::HEAD, "/v1/hydrants")).await;
    assert_eq!((answer.status, answer.text.as_str()), (200, ""));
    let answer = service.send(service.request(Method::HEAD, "/v1/hydrants?x=1")).await;
    assert_eq!(answer.status, 400);
}

#[tokio::test]
async fn the_docs_page_needs_no_network() {
    let service = Service::start().await;
    let page = service.get("/docs/").await;
    assert_eq!(page.status, 200);
    let named = |attribute: &str| -> Vec<_> {
        let after = page.text.split(attribute).skip(1);
        after.filter_map(|text| text.split('"').next()).filter(|file| !file.starts_with("data:")).collect()
    };
    let files = [named("src=\""), named("href=\"")].concat();
    assert!(files.len() >= 4, "{files:?}");
    for file in files {
        assert!(!file.contains("//"), "{file} comes from elsewhere");
        let path = format!("/docs/{}", file.trim_start_matches("./"));
        assert_eq!(service.get(&path).await.status, 200, "{path}");
    }
    let initializer = service.get("/docs/swagger-initializer.js").await.text;
    assert!(initializer.contains("/openapi.json") && !initializer.contains("http"), "{initializer}");
}

#[tokio::test]
async fn the_root_leads_to_the_page_under_the_title_of_the_api() {
    let service = Service::start().await;
    for path in ["/", "/docs", "/docs/", "/docs/index.html"] {
        let page = service.get(path).await;
        assert_eq!(page.text.matches("<title>").count(), 1, "{path}");
        assert!(
            page.text.contains("<title>Longlay API</title>") && page.text.trim_end().ends_with("</html>"),
            "{path}"
        );
    }
    service.send(service.request(Method::POST, "/")).await.problem(405, "method-not-allowed");
}

#[tokio::test]
async fn the_description_is_served() {
    let service = Service::start().await;
    let served = service.get("/openapi.json").await.ok();
    assert_eq!(served, longlay_service::app::openapi());
    assert_eq!(served["openapi"], Value::from("3.1.0"));
}
