use std::fs;

use longlay_tests::Service;
use serde_json::json;

#[tokio::test]
async fn a_running_service_is_live_and_ready() {
    let service = Service::start().await;
    assert_eq!(service.get("/health/live").await.ok(), json!({ "status": "ok" }));
    assert_eq!(service.get("/health/ready").await.ok(), json!({ "status": "ok" }));
}

#[tokio::test]
async fn a_service_that_can_only_read_stays_ready_and_says_so() {
    let service = Service::demo().await;
    let writable = async |service: &Service| {
        let text = service.get("/metrics").await.text;
        text.lines().find_map(|line| line.strip_prefix("longlay_store_writable ")).unwrap().to_owned()
    };
    assert_eq!(writable(&service).await, "1");
    // Where the file is not found, whoever has it open still reads from it.
    let away = service.database().with_extension("away");
    fs::rename(service.database(), &away).unwrap();
    let detail = "the database file or its folder cannot be written; reading still works";
    assert_eq!(service.get("/health/ready").await.ok(), json!({ "status": "read_only", "detail": detail }));
    assert_eq!(service.get("/health/live").await.ok(), json!({ "status": "ok" }));
    assert_eq!(writable(&service).await, "0");
    service.get("/v1/hydrants/H-101/capability").await.ok();
    fs::rename(&away, service.database()).unwrap();
    assert_eq!(service.get("/health/ready").await.ok(), json!({ "status": "ok" }));
}
