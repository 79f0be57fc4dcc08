use longlay_tests::Service;
use serde_json::json;

#[tokio::test]
async fn a_running_service_is_live_and_ready() {
    let service = Service::start().await;
    assert_eq!(service.get("/health/live").await.ok(), json!({ "status": "ok" }));
    assert_eq!(service.get("/health/ready").await.ok(), json!({ "status": "ok" }));
}
