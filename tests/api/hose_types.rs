use longlay_tests::Service;
use longlay_tests::records::{hose_type, with};
use serde_json::json;

#[tokio::test]
async fn shipped_hose_shows_the_span_that_sources_give() {
    let service = Service::start().await;
    let row = service.get("/v1/hose-types/std-5in").await.ok();
    assert_eq!(row["loss_coefficient_range"], json!({ "low": 0.05, "high": 0.08 }));
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let service = Service::start().await;
    let body = with(
        hose_type(),
        &json!({ "diameter_in": 0.0, "loss_coefficient": 0.0, "max_operating_psi": 1001.0, "service_test_psi": -1.0, "source": "" }),
    );
    let expected = [
        "/diameter_in out_of_bounds",
        "/loss_coefficient out_of_bounds",
        "/max_operating_psi out_of_bounds",
        "/service_test_psi out_of_bounds",
        "/source out_of_bounds",
    ];
    assert_eq!(service.put("/v1/hose-types/own", &body).await.problem(422, "invalid-values").faults(), expected);
}

#[tokio::test]
async fn a_department_does_not_set_the_range() {
    let service = Service::start().await;
    let body = with(hose_type(), &json!({ "loss_coefficient_range": { "low": 0.05, "high": 0.08 } }));
    let problem = service.put("/v1/hose-types/own", &body).await.problem(422, "invalid-body-shape");
    assert_eq!(problem.faults(), ["/loss_coefficient_range invalid_shape"]);
}
