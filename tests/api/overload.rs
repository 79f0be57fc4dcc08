use std::time::{Duration, Instant};

use longlay_service::pools::Sizes;
use longlay_tests::Service;
use reqwest::Method;
use serde_json::{Value, json};
use tokio::io::AsyncWriteExt;
use tokio::net::TcpStream;
use tokio::task::JoinSet;

const LOOK_UP: &str = "/v1/hydrants/H-101/deliverable-flow?lay_profile_id=five-inch-valve&target_flow_gpm=600";

fn combined() -> Value {
    let line = |hydrant| {
        json!({ "lay": { "source": { "hydrant_id": hydrant }, "lay_profile_id": "five-inch-valve",
        "boost": { "pumper_id": "engine-1" } } })
    };
    json!({ "target_flow_gpm": 700, "lines": [line("H-101"), line("H-201")] })
}

/// A request whose body never comes: it keeps its place until the time limit.
async fn stuck(service: &Service, path: &str) -> TcpStream {
    let address = service.url.strip_prefix("http://").unwrap();
    let mut connection = TcpStream::connect(address).await.unwrap();
    let head = format!(
        "POST {path} HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\ncontent-length: 100\r\n\r\n{{"
    );
    connection.write_all(head.as_bytes()).await.unwrap();
    connection
}

/// Waits until so many requests are being answered besides the one that asks.
async fn in_flight(service: &Service, others: usize) {
    let wanted = format!("longlay_requests_in_flight {}\n", others + 1);
    let mut tries = 0;
    while !service.get("/metrics").await.text.contains(&wanted) {
        tries += 1;
        assert!(tries < 200, "never {others} in flight");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

#[tokio::test]
async fn with_every_other_place_taken_dispatch_is_answered_and_the_rest_is_told_at_once() {
    let sizes = Sizes { dispatch: 4, records: 1, calculations: 2, heavy: 1 };
    let service = Service::demo_with(sizes).await;
    let _stuck = [
        stuck(&service, "/v1/combined-supplies").await,
        stuck(&service, "/v1/lay-calculations").await,
        stuck(&service, "/v1/lay-calculations").await,
        stuck(&service, "/v1/drills").await,
    ];
    in_flight(&service, 4).await;
    for (path, body) in
        [("/v1/combined-supplies", combined()), ("/v1/lay-calculations", json!({})), ("/v1/drills", json!({}))]
    {
        let asked = Instant::now();
        let answer = service.post(path, &body).await;
        answer.problem(503, "overloaded");
        assert_eq!(answer.header("retry-after"), "1");
        assert!(asked.elapsed() < Duration::from_secs(2), "{path} waited {:?}", asked.elapsed());
    }
    for _ in 0..20 {
        service.get(LOOK_UP).await.ok();
        service.get("/v1/hydrants/H-101").await.ok();
        service.get("/v1/hydrants/H-101/capability").await.ok();
        service.get("/health/live").await.ok();
        service.get("/health/ready").await.ok();
    }
    let text = service.get("/metrics").await.text;
    for pool in ["records", "calculations", "heavy"] {
        assert!(text.contains(&format!("longlay_requests_shed_total{{pool=\"{pool}\"}} 1\n")), "{text}");
    }
}

#[tokio::test]
async fn a_place_comes_free_when_its_caller_leaves() {
    let service = Service::demo_with(Sizes { heavy: 1, ..Sizes::default() }).await;
    let stuck = stuck(&service, "/v1/combined-supplies").await;
    in_flight(&service, 1).await;
    service.post("/v1/combined-supplies", &combined()).await.problem(503, "overloaded");
    drop(stuck);
    in_flight(&service, 0).await;
    service.post("/v1/combined-supplies", &combined()).await.ok();
}

#[tokio::test]
async fn an_import_whose_caller_left_keeps_its_place_until_it_is_read() {
    let service = Service::demo_with(Sizes { heavy: 1, ..Sizes::default() }).await;
    let rows = "H 1,x,y\n".repeat(500_000);
    let sheet = format!("hydrant_id,lon,lat,owner,potable,in_service\n{rows}");
    let import = service.request(Method::POST, "/v1/imports/hydrants?dry_run=true").header("content-type", "text/csv");
    // The file arrives in a moment, and is read for seconds.
    let left = tokio::time::timeout(Duration::from_secs(1), import.body(sheet).send()).await;
    assert!(left.is_err(), "the file was read too soon to leave before");
    in_flight(&service, 0).await;
    service.post("/v1/combined-supplies", &combined()).await.problem(503, "overloaded");
    let mut tries = 0;
    while service.post("/v1/combined-supplies", &combined()).await.status == 503 {
        tries += 1;
        assert!(tries < 600, "the place never came free");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

/// Resident memory of this process, which the service under test is a part of.
fn resident_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmRSS:")?.trim().strip_suffix(" kB")?.trim().parse().ok())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn ten_times_the_load_gives_answers_or_refusals_with_a_time_and_then_all_is_as_before() {
    let sizes = Sizes { dispatch: 8, records: 8, calculations: 4, heavy: 2 };
    let service = std::sync::Arc::new(Service::demo_with(sizes).await);
    let before = resident_kib();
    let mut callers = JoinSet::new();
    for caller in 0..200 {
        let service = std::sync::Arc::clone(&service);
        callers.spawn(async move {
            let mut statuses = Vec::new();
            for _ in 0..5 {
                let request = match caller % 4 {
                    0 => service.request(Method::GET, LOOK_UP),
                    1 => service.request(Method::GET, "/v1/capabilities?limit=200"),
                    2 => service.request(Method::POST, "/v1/combined-supplies").json(&combined()),
                    _ => service.request(Method::GET, "/v1/hydrants?limit=1000"),
                };
                let answer = service.send(request).await;
                assert!(
                    answer.status == 200 || answer.header("retry-after") == "1",
                    "{} {}",
                    answer.status,
                    answer.text
                );
                statuses.push(answer.status);
            }
            statuses
        });
    }
    let statuses: Vec<u16> = callers.join_all().await.into_iter().flatten().collect();
    assert!(statuses.iter().all(|status| matches!(status, 200 | 503)), "{statuses:?}");
    assert!(statuses.contains(&200) && statuses.contains(&503), "not ten times the load: {statuses:?}");
    let quiet = Instant::now();
    service.get(LOOK_UP).await.ok();
    service.post("/v1/combined-supplies", &combined()).await.ok();
    service.get("/v1/capabilities?limit=200").await.ok();
    assert!(quiet.elapsed() < Duration::from_secs(5), "{:?}", quiet.elapsed());
    if let Some((before, after)) = before.zip(resident_kib()) {
        assert!(after < before + 128 * 1024, "from {before} to {after} KiB");
    }
}
