use longlay_tests::Service;
use longlay_tests::records::with;
use serde_json::{Value, json};

use crate::read::close;

const PATH: &str = "/v1/lay-calculations";

fn lay() -> Value {
    json!({
        "source": { "static_psi": 60, "residual_psi": 40, "flow_gpm": 600 },
        "parts": [{ "kind": "hose", "loss_coefficient": 0.08, "length_ft": 200 }]
    })
}

fn wanting(streams: &Value) -> Value {
    with(lay(), &json!({ "streams": streams }))
}

async fn faults(ask: &Value) -> Vec<String> {
    Service::start().await.post(PATH, ask).await.problem(422, "invalid-values").faults()
}

#[tokio::test]
async fn streams_are_the_flow_wanted() {
    let service = Service::start().await;
    // Two 1 in tips at 64 psi: 29.7 x 8 = 237.6 each, 1.57 x 64 = 100.48 lbf; a fog of 150 at 100 psi: 0.0505 x 150 x 10 = 75.75 lbf.
    let streams = json!([
        { "kind": "smooth_bore", "tip_in": 1, "nozzle_psi": 64, "count": 2 },
        { "kind": "fog", "flow_gpm": 150, "nozzle": "fog_100" }
    ]);
    let found = service.post(PATH, &wanting(&streams)).await.ok();
    close(&found["streams"]["total_flow_gpm"], 625.2, 1e-9);
    let each = &found["streams"]["each"];
    assert_eq!((&each[0]["kind"], &each[0]["count"]), (&json!("smooth_bore"), &json!(2)));
    close(&each[0]["flow_gpm"], 237.6, 1e-9);
    close(&each[0]["reaction_lbf"], 100.48, 1e-9);
    assert_eq!((&each[1]["kind"], &each[1]["count"]), (&json!("fog"), &json!(1)));
    assert_eq!((&each[1]["flow_gpm"], &each[1]["nozzle_psi"]), (&json!(150.0), &json!(100.0)));
    close(&each[1]["reaction_lbf"], 75.75, 1e-9);
    let ids: Vec<_> = found["basis"].as_array().unwrap().iter().map(|formula| &formula["id"]).collect();
    for id in ["smooth_bore_flow", "nozzle_reaction", "total_flow"] {
        assert!(ids.contains(&&json!(id)), "{id}");
    }
    let by_gallons = with(lay(), &json!({ "target_flow_gpm": found["streams"]["total_flow_gpm"] }));
    let by_gallons = service.post(PATH, &by_gallons).await.ok();
    assert_eq!((&found["at_target"], &found["diagnosis"]), (&by_gallons["at_target"], &by_gallons["diagnosis"]));
    assert!(by_gallons.get("streams").is_none());
}

#[tokio::test]
async fn a_customary_nozzle_gives_its_pressure_and_printed_flow() {
    let service = Service::start().await;
    for (nozzle, psi) in [("fog_100", 100.0), ("fog_75", 75.0), ("fog_50", 50.0)] {
        let streams = json!([{ "kind": "fog", "flow_gpm": 100, "nozzle": nozzle }]);
        assert_eq!(service.post(PATH, &wanting(&streams)).await.ok()["streams"]["each"][0]["nozzle_psi"], psi);
    }
    for (nozzle, tip, psi, printed) in
        [("smooth_bore_hand_line", 1.0, 50.0, 210.0), ("smooth_bore_master_stream", 1.375, 80.0, 502.0)]
    {
        let streams = json!([{ "kind": "smooth_bore", "tip_in": tip, "nozzle": nozzle }]);
        let each = service.post(PATH, &wanting(&streams)).await.ok()["streams"]["each"][0].clone();
        assert_eq!(each["nozzle_psi"], psi);
        close(&each["flow_gpm"], printed, 1.0);
    }
}

#[tokio::test]
async fn every_fault_of_the_streams_is_named_at_once() {
    let streams = json!([
        { "kind": "smooth_bore", "flow_gpm": 100, "nozzle": "fog_75" },
        { "kind": "fog", "tip_in": 1, "nozzle_psi": 100 },
        { "kind": "fog", "flow_gpm": 0, "nozzle_psi": 1001, "nozzle": "fog_50" },
        { "kind": "fog", "flow_gpm": 0, "nozzle_psi": 1001 },
        { "kind": "smooth_bore", "tip_in": 7, "count": 0 }
    ]);
    let expected = [
        "/streams/0/nozzle not_with_kind",
        "/streams/0/flow_gpm not_with_kind",
        "/streams/0/tip_in required",
        "/streams/1/tip_in not_with_kind",
        "/streams/1/flow_gpm required",
        "/streams/2 exactly_one_of",
        "/streams/2/flow_gpm out_of_bounds",
        "/streams/3/nozzle_psi out_of_bounds",
        "/streams/3/flow_gpm out_of_bounds",
        "/streams/4 exactly_one_of",
        "/streams/4/tip_in out_of_bounds",
        "/streams/4/count out_of_bounds",
    ];
    assert_eq!(faults(&wanting(&streams)).await, expected);
}

#[tokio::test]
async fn two_targets_no_stream_and_too_many_gallons_are_refused() {
    let fog = |gpm: f64| json!({ "kind": "fog", "flow_gpm": gpm, "nozzle_psi": 100 });
    let both = with(wanting(&json!([fog(150.0)])), &json!({ "target_flow_gpm": 500 }));
    assert_eq!(faults(&both).await, ["/streams exactly_one_of"]);
    assert_eq!(faults(&wanting(&json!([]))).await, ["/streams no_streams"]);
    assert_eq!(faults(&wanting(&json!([fog(30_000.0), fog(30_000.0)]))).await, ["/streams out_of_bounds"]);
    assert_eq!(faults(&wanting(&Value::from(vec![fog(1.0); 21]))).await, ["/streams out_of_bounds"]);
    // A tip without pressure flows nothing, and nothing is no flow wanted.
    let still = json!([{ "kind": "smooth_bore", "tip_in": 1, "nozzle_psi": 0 }]);
    assert_eq!(faults(&wanting(&still)).await, ["/streams out_of_bounds"]);
    let service = Service::start().await;
    for (streams, fault) in [
        (json!([{ "kind": "mist" }]), "/streams/0/kind invalid_shape"),
        (json!([{ "kind": "fog", "nozzle": "fog_200" }]), "/streams/0/nozzle invalid_shape"),
        (json!([{ "kind": "fog", "count": 256 }]), "/streams/0/count invalid_shape"),
        (json!([["fog", 100]]), "/streams/0 invalid_shape"),
    ] {
        assert_eq!(service.post(PATH, &wanting(&streams)).await.problem(422, "invalid-body-shape").faults(), [fault]);
    }
}
