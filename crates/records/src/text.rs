//! The department's own words: how long they may be, and that they stand on one line.

use thiserror::Error;

/// Longest name, characters.
pub const MAX_NAME_CHARS: usize = 120;
/// Longest note, description, source or reason, characters.
pub const MAX_NOTE_CHARS: usize = 2000;

/// Words that no record takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum TextFault {
    /// Blank, or too long.
    #[error("must be 1 to {0} characters, and not blank")]
    Length(usize),
    /// A line break or another control character.
    #[error("must hold no control characters, line breaks included")]
    ControlCharacter,
}

/// Checks a text of 1 to `most` characters, not blank, on one line.
///
/// # Errors
/// See [`TextFault`].
pub fn check(text: &str, most: usize) -> Result<(), TextFault> {
    if text.trim().is_empty() || text.chars().nth(most).is_some() {
        return Err(TextFault::Length(most));
    }
    if text.chars().any(char::is_control) {
        return Err(TextFault::ControlCharacter);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_counted_and_not_bytes() {
        assert_eq!(check(&"é".repeat(120), MAX_NAME_CHARS), Ok(()));
        assert_eq!(check(&"é".repeat(121), MAX_NAME_CHARS), Err(TextFault::Length(120)));
    }

    #[test]
    fn blank_and_broken_lines_are_no_words() {
        assert_eq!(check("  ", 120), Err(TextFault::Length(120)));
        for bad in ["a\nb", "a\u{7f}"] {
            assert_eq!(check(bad, 120), Err(TextFault::ControlCharacter), "{bad:?}");
        }
    }
}
