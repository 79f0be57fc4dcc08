use longlay_tests::Service;
use longlay_tests::records::{appliance, with, without};
use serde_json::{Value, json};

async fn faults(body: Value) -> Vec<String> {
    let service = Service::start().await;
    service.put("/v1/appliances/own", &body).await.problem(422, "invalid-values").faults()
}

fn step() -> Value {
    with(without(appliance(), "loss_coefficient"), &json!({ "fixed_loss_psi": 10.0, "at_or_above_gpm": 350.0 }))
}

#[tokio::test]
async fn a_fixed_loss_comes_back_as_it_was_put() {
    let service = Service::start().await;
    let expected = with(step(), &json!({ "id": "own", "origin": "department" }));
    assert_eq!(service.put("/v1/appliances/own", &step()).await.created(), expected);
    assert_eq!(without(service.get("/v1/appliances/own").await.ok(), "in_use"), expected);
}

#[tokio::test]
async fn shipped_appliances_show_the_span_that_sources_give() {
    let service = Service::start().await;
    let row = service.get("/v1/appliances/std-wye").await.ok();
    assert_eq!((&row["fixed_loss_psi"], &row["loss_range"]), (&json!(10.0), &json!({ "low": 10.0, "high": 25.0 })));
}

#[tokio::test]
async fn one_form_of_loss_and_not_both_nor_neither() {
    assert_eq!(faults(without(appliance(), "loss_coefficient")).await, [" exactly_one_of"]);
    assert_eq!(faults(with(step(), &json!({ "loss_coefficient": 0.1 }))).await, [" exactly_one_of"]);
}

#[tokio::test]
async fn a_fixed_loss_needs_its_flow_and_the_flow_its_loss() {
    assert_eq!(faults(without(step(), "at_or_above_gpm")).await, ["/at_or_above_gpm required"]);
    assert_eq!(faults(without(step(), "fixed_loss_psi")).await, ["/fixed_loss_psi required"]);
}

#[tokio::test]
async fn every_bad_value_is_named_at_once() {
    let body = with(step(), &json!({ "fixed_loss_psi": -1.0, "at_or_above_gpm": 1e9, "max_operating_psi": 2000.0 }));
    let expected =
        ["/fixed_loss_psi out_of_bounds", "/at_or_above_gpm out_of_bounds", "/max_operating_psi out_of_bounds"];
    assert_eq!(faults(body).await, expected);
    let body = with(appliance(), &json!({ "loss_coefficient": 1000.5 }));
    assert_eq!(faults(body).await, ["/loss_coefficient out_of_bounds"]);
}
