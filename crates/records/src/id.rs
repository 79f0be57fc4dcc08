//! The department's own numbers are the ids.

use thiserror::Error;

/// Longest id, characters.
pub const MAX_ID_CHARS: usize = 64;

/// The department's own number for a hydrant or a piece of equipment: 1 to 64 of `A-Z a-z 0-9 _ -`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AssetId(String);

/// Characters or a length that no id has.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("an id is 1 to {MAX_ID_CHARS} characters of A-Z a-z 0-9 _ -")]
pub struct InvalidId;

impl AssetId {
    /// Checks and takes an id.
    ///
    /// # Errors
    /// Empty, too long, or a character outside the set.
    pub fn new(id: impl Into<String>) -> Result<Self, InvalidId> {
        let id = id.into();
        let sound = (1..=MAX_ID_CHARS).contains(&id.len())
            && id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-');
        if sound { Ok(Self(id)) } else { Err(InvalidId) }
    }

    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for AssetId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_plain_and_short() {
        for good in ["H-101", "a", &"x".repeat(64)] {
            assert!(AssetId::new(good).is_ok(), "{good}");
        }
        for bad in ["", " H", "H.1", "H/1", "é", &"x".repeat(65)] {
            assert_eq!(AssetId::new(bad), Err(InvalidId), "{bad}");
        }
    }
}
