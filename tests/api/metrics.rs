use longlay_tests::Service;
use reqwest::Method;

/// The value of a series, written as it stands in the text.
fn value(text: &str, series: &str) -> f64 {
    let line = text.lines().find_map(|line| line.strip_prefix(series)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("no {series} in\n{text}")).parse().unwrap()
}

#[tokio::test]
async fn requests_are_counted_by_route_and_never_by_path() {
    let service = Service::demo().await;
    for hydrant in ["H-101", "H-201", "none-such"] {
        service.get(&format!("/v1/hydrants/{hydrant}?x-secret=1")).await;
        service.get(&format!("/v1/hydrants/{hydrant}")).await;
    }
    for path in ["/nothing-here", "/nor-here"] {
        service.get(path).await;
    }
    service.send(service.request(Method::from_bytes(b"BREW").unwrap(), "/v1/hydrants")).await;
    let answer = service.get("/metrics").await;
    assert!(answer.header("content-type").starts_with("application/openmetrics-text; version=1.0.0"));
    let text = &answer.text;
    let of = |method, route, status| {
        value(text, &format!("longlay_requests_total{{method=\"{method}\",route=\"{route}\",status=\"{status}\"}}"))
    };
    assert_eq!(of("GET", "/v1/hydrants/{hydrant_id}", 200), 2.0);
    assert_eq!(of("GET", "/v1/hydrants/{hydrant_id}", 404), 1.0);
    assert_eq!(of("GET", "/v1/hydrants/{hydrant_id}", 400), 3.0);
    assert_eq!(of("GET", "none", 404), 2.0);
    assert_eq!(of("other", "/v1/hydrants", 405), 1.0);
    for told in ["H-101", "none-such", "nothing-here", "secret", "BREW"] {
        assert!(!text.contains(told), "{told} is in the metrics");
    }
    assert!(text.ends_with("# EOF\n"));
}

#[tokio::test]
async fn the_state_of_the_store_and_of_the_requests_is_told() {
    let service = Service::demo().await;
    let text = service.get("/metrics").await.text;
    assert_eq!(value(&text, "longlay_requests_in_flight"), 1.0, "this one");
    assert!(value(&text, "longlay_store_database_size_bytes") > 4096.0);
    assert!(value(&text, "longlay_store_free_bytes") > 0.0);
    assert!(value(&text, "longlay_store_writes_total") > 100.0, "the town was written");
    assert!(value(&text, "longlay_connections") >= 1.0);
    for pool in ["dispatch", "records", "calculations", "heavy"] {
        assert_eq!(value(&text, &format!("longlay_requests_shed_total{{pool=\"{pool}\"}}")), 0.0);
    }
    assert!(text.contains("longlay_build_info{version="), "{text}");
}
