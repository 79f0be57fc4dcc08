//! Records that are wholly known from one number, so that a half-written one cannot pass for whole.

use serde_json::{Value, json};

use crate::random::Random;

/// The hydrant of this number: every member and the count of its outlets follow from it.
pub(crate) fn hydrant(number: u64) -> Value {
    let mut random = Random::new(number);
    let outlets: Vec<_> = (0..random.below(7)).map(|_| outlet(&mut random)).collect();
    json!({
        "location": { "lon": quarter(&mut random, 320) - 80.0, "lat": quarter(&mut random, 320) - 40.0 },
        "elevation_ft": quarter(&mut random, 4000),
        "outlets": outlets,
        "body_loss_coefficient": quarter(&mut random, 16),
        "main_id": format!("M-{}", random.below(50)),
        "main_diameter_in": 4.0 + quarter(&mut random, 32),
        "pressure_zone": "low",
        "owner": if random.percent(80) { "public" } else { "private" },
        "potable": random.percent(80),
        "seasonal": random.percent(20),
        "in_service": true,
        "description": format!("number {number}"),
    })
}

fn outlet(random: &mut Random) -> Value {
    let kind = if random.percent(50) { "hose" } else { "pumper" };
    json!({ "kind": kind, "diameter_in": 2.0 + quarter(random, 16), "coefficient": 0.75 })
}

/// The flow test of this number at a hydrant: its readings and its notes follow from it.
pub(crate) fn flow_test(number: u64) -> Value {
    let mut random = Random::new(number);
    let outlets: Vec<_> = (0..=random.below(5))
        .map(|_| json!({ "diameter_in": 2.5, "coefficient": 0.75, "pitot_psi": 4.0 + quarter(&mut random, 100) }))
        .collect();
    let residual = 30.0 + quarter(&mut random, 80);
    json!({
        "tested_on": format!("2025-{:02}-{:02}", 1 + random.below(12), 1 + random.below(28)),
        "static_psi": 60.0, "residual_psi": residual, "outlets": outlets, "notes": format!("number {number}"),
    })
}

/// A multiple of a quarter: the same text on every way through JSON.
#[expect(clippy::cast_precision_loss, reason = "small whole numbers")]
fn quarter(random: &mut Random, end: u64) -> f64 {
    random.below(end) as f64 / 4.0
}

/// A record without what is said of it beside others: a test is held against the hydrant's others, which come and go.
pub(crate) fn by_itself(mut record: Value) -> Value {
    if let Some(findings) = record.get_mut("findings").and_then(Value::as_array_mut) {
        let beside_others =
            |code: &Value| code.as_str().is_some_and(|code| code.ends_with("_differs_from_other_tests"));
        findings.retain(|finding| !beside_others(&finding["code"]));
    }
    record
}

/// Whether a record says everything that was sent, and the same.
pub(crate) fn says(record: &Value, sent: &Value) -> bool {
    let mut members = sent.as_object().expect("a record").iter();
    members.all(|(name, value)| record.get(name) == Some(value))
}
