//! What a write depends on: drawn as a header, and judged by the rules of RFC 9110 in a few lines.

use super::expected::Refusal;
use crate::random::Random;

/// A condition that was sent.
#[derive(Debug, Clone)]
pub(super) enum Said {
    Nothing,
    /// `If-Match: *`.
    Whatever,
    /// `If-None-Match: *`.
    NothingThere,
    /// `If-Match` with strong tags of these versions.
    OneOf(Vec<u64>),
}

pub(super) const FAILED: Refusal = (412, "precondition-failed");
pub(super) const NEEDED: Refusal = (428, "precondition-required");

impl Said {
    /// A condition, with the header it is sent in. `version` is what the record stands at, retired or not.
    pub(super) fn draw(random: &mut Random, version: u64) -> (Self, Option<(&'static str, String)>) {
        let stale = version.saturating_sub(1);
        match random.below(20) {
            0..3 => (Self::Nothing, None),
            3..11 => (Self::OneOf(vec![version]), Some(("if-match", format!("\"{version}\"")))),
            11..13 => (Self::OneOf(vec![stale]), Some(("if-match", format!("\"{stale}\"")))),
            13 => (Self::OneOf(vec![7777, version]), Some(("if-match", format!("\"7777\", \"{version}\"")))),
            // A weak tag, or one that this service never gave, is no tag of the record.
            14 => (Self::OneOf(Vec::new()), Some(("if-match", format!("W/\"{version}\"")))),
            15 => (Self::OneOf(Vec::new()), Some(("if-match", format!("\"0{version}\"")))),
            16..18 => (Self::Whatever, Some(("if-match", "*".to_owned()))),
            _ => (Self::NothingThere, Some(("if-none-match", "*".to_owned()))),
        }
    }

    /// Whether a record may be put where there is a live one at this version, or none.
    pub(super) fn lets_put(&self, live: Option<u64>) -> Result<(), Refusal> {
        match (self, live) {
            (Self::Nothing, Some(_)) => Err(NEEDED),
            (Self::Nothing | Self::NothingThere, None) | (Self::Whatever, Some(_)) => Ok(()),
            (Self::OneOf(tags), Some(version)) if tags.contains(&version) => Ok(()),
            _ => Err(FAILED),
        }
    }
}
