//! Text that a spreadsheet would take for a formula, or whose spaces would be lost, is marked with `'` on the way out; the mark is
//! taken off on the way in, and off nothing else.

use std::borrow::Cow;

fn needs_mark(text: &str) -> bool {
    // Past marks of its own: a text that would read as one already marked. There may be any number of them.
    let rest = text.trim_start_matches('\'');
    rest.starts_with(['=', '+', '-', '@', '\t', '\r']) || rest.trim().len() != rest.len()
}

/// A text as it stands in a cell.
pub(crate) fn marked(text: &str) -> Cow<'_, str> {
    if needs_mark(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// A cell as it was meant: without its mark, or without the spaces around it.
pub(crate) fn unmarked(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if needs_mark(rest) => rest,
        _ => cell.trim(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mark_is_undone_exactly() {
        for text in
            ["a", "=1+1", "-5", "+", "@x", "\tx", "'", "'tis", "'=x", "''", "''=x", " a", "a ", "' a", "'a '", ""]
        {
            assert_eq!(unmarked(&marked(text)), text, "{text:?} as {:?}", marked(text));
        }
    }

    #[test]
    fn a_cell_of_nothing_but_marks_is_read_however_long() {
        let marks = "'".repeat(250_000);
        assert_eq!((unmarked(&marks), unmarked(&marked(&marks))), (&*marks, &*marks));
        let marked_formula = format!("{marks}=1");
        assert_eq!(unmarked(&marked_formula), &marked_formula[1..]);
    }

    #[test]
    fn what_a_spreadsheet_would_run_is_marked() {
        for text in ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1"] {
            assert!(marked(text).starts_with('\''), "{text:?}");
        }
        assert_eq!(marked("it's"), "it's");
    }

    #[test]
    fn stray_spaces_around_a_cell_are_dropped() {
        assert_eq!(unmarked("  M-12\u{a0}"), "M-12");
    }
}
