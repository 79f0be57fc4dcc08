//! Of what data a run was worked: a digest of each kind, so that two runs can tell which of them changed in between.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;

/// A SHA-256 of each kind of data that a run was worked from. Two runs with the same one were worked from the same; remedies rest on the other hose, valves and
/// pumpers on record besides.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) struct Fingerprint {
    /// The file of the streets; null where there are none.
    #[schema(required = true)]
    pub(crate) streets: Option<String>,
    /// Where the demand points are, what they need and how high they lie.
    pub(crate) demand_points: String,
    /// Where the hydrants stand, whether they are in service, and what their tests say on that day.
    pub(crate) hydrants: String,
    /// The districts.
    pub(crate) districts: String,
    /// The figures of the lay, its hose, valve, appliances and pumper.
    pub(crate) equipment: String,
}

impl Fingerprint {
    /// The kinds of data that differ.
    pub(crate) fn differing(&self, other: &Self) -> Vec<&'static str> {
        let same = [
            ("streets", self.streets == other.streets),
            ("demand_points", self.demand_points == other.demand_points),
            ("hydrants", self.hydrants == other.hydrants),
            ("districts", self.districts == other.districts),
            ("equipment", self.equipment == other.equipment),
        ];
        same.into_iter().filter_map(|(kind, same)| (!same).then_some(kind)).collect()
    }
}

/// A digest made of pieces that cannot run together.
#[derive(Debug, Default)]
pub(crate) struct Print(Sha256);

impl Print {
    pub(crate) fn text(&mut self, text: &str) {
        self.0.update((text.len() as u64).to_le_bytes());
        self.0.update(text);
    }

    pub(crate) fn number(&mut self, number: Option<f64>) {
        self.0.update([u8::from(number.is_some())]);
        self.0.update(number.unwrap_or(0.0).to_le_bytes());
    }

    pub(crate) fn finish(self) -> String {
        hex(&self.0.finalize())
    }
}

/// Bytes in hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes
        .iter()
        .flat_map(|byte| [byte >> 4, byte & 15])
        .filter_map(|digit| char::from_digit(u32::from(digit), 16))
        .collect()
}
