//! Reading what came back.

use serde_json::Value;

/// A number within a tolerance.
#[track_caller]
pub(crate) fn close(actual: &Value, expected: f64, tolerance: f64) {
    let actual = actual.as_f64().unwrap_or(f64::NAN);
    assert!((actual - expected).abs() <= tolerance, "{actual} is not within {tolerance} of {expected}");
}

/// The codes of a list of findings or cautions.
pub(crate) fn codes(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|item| item["code"].as_str().unwrap()).collect()
}
