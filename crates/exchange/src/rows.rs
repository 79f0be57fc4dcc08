//! The rows of a CSV file, numbered as a spreadsheet shows them.
//!
//! Ours and not a library's because of two things a person depends on: a row is numbered by what the spreadsheet shows, blank rows
//! and line breaks inside cells counted as it counts them; and a quote that is never closed is refused where it opens, where others
//! would take the rest of the file for one cell.

use std::io::BufRead;
use std::ops::Range;

use crate::fault::Faults;

/// Longest row. A longer one is a quote that was not closed.
pub(crate) const MAX_ROW_BYTES: usize = 256 * 1024;

/// One row: its cells stand behind each other in one text.
#[derive(Debug, Default)]
pub(crate) struct Row {
    pub(crate) number: u64,
    text: String,
    ends: Vec<usize>,
}

impl Row {
    pub(crate) fn len(&self) -> usize {
        self.ends.len()
    }

    pub(crate) fn cell(&self, index: usize) -> Option<&str> {
        self.text.get(self.range(index)?)
    }

    pub(crate) fn cells(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).filter_map(|index| self.cell(index))
    }

    pub(crate) fn is_blank(&self) -> bool {
        self.cells().all(|cell| cell.trim().is_empty())
    }

    fn range(&self, index: usize) -> Option<Range<usize>> {
        let end = *self.ends.get(index)?;
        let start = index.checked_sub(1).map_or(0, |before| self.ends[before]);
        Some(start..end)
    }

    fn clear(&mut self) {
        self.text.clear();
        self.ends.clear();
    }
}

/// Where in a cell the reading is.
#[derive(Clone, Copy, PartialEq)]
enum At {
    Start,
    Plain,
    Quoted,
    /// Behind a quote inside a quoted cell: it closes the cell, or another quote follows and both are one.
    Closed,
}

/// Reads rows.
#[derive(Debug)]
pub(crate) struct Rows<R> {
    input: R,
    delimiter: char,
    line: Vec<u8>,
    number: u64,
}

impl<R: BufRead> Rows<R> {
    pub(crate) const fn new(input: R, delimiter: char) -> Self {
        Self { input, delimiter, line: Vec::new(), number: 0 }
    }

    /// The next row into `row`; false at the end.
    pub(crate) fn next(&mut self, row: &mut Row) -> Result<bool, Faults> {
        row.clear();
        self.number += 1;
        row.number = self.number;
        let mut at = At::Start;
        let mut is_first = true;
        while is_first || at == At::Quoted {
            if !self.read_line()? {
                return if is_first { Ok(false) } else { Err(self.unclosed()) };
            }
            is_first = false;
            at = self.split(row, at)?;
            if row.text.len() > MAX_ROW_BYTES {
                return Err(self.unclosed());
            }
        }
        row.ends.push(row.text.len());
        Ok(true)
    }

    fn unclosed(&self) -> Faults {
        Faults::of_file(self.number, "unclosed_quote", "a quote opens in this row and is not closed")
    }

    /// A line with its end; false where the file ends.
    fn read_line(&mut self) -> Result<bool, Faults> {
        self.line.clear();
        let most = u64::try_from(MAX_ROW_BYTES).unwrap_or(u64::MAX).saturating_add(2);
        let read = std::io::Read::take(&mut self.input, most).read_until(b'\n', &mut self.line);
        match read {
            Ok(0) => Ok(false),
            Ok(_) if self.line.len() > MAX_ROW_BYTES => {
                let detail = format!("a row is at most {MAX_ROW_BYTES} bytes, with LF or CRLF behind it");
                Err(Faults::of_file(self.number, "row_too_long", detail))
            }
            Ok(_) => Ok(true),
            Err(error) => Err(Faults::of_file(self.number, "unreadable", error.to_string())),
        }
    }

    /// Takes the line apart, from where the line before it left off.
    fn split(&self, row: &mut Row, mut at: At) -> Result<At, Faults> {
        let Ok(line) = std::str::from_utf8(&self.line) else {
            let detail = "this row is not UTF-8: save the file as CSV UTF-8";
            return Err(Faults::of_file(self.number, "not_utf8", detail));
        };
        let ending = line.len() - line.trim_end_matches('\n').trim_end_matches('\r').len();
        let (body, ending) = line.split_at(line.len() - ending);
        for c in body.chars() {
            at = match (at, c) {
                (At::Start | At::Plain | At::Closed, c) if c == self.delimiter => {
                    row.ends.push(row.text.len());
                    At::Start
                }
                (At::Start, '"') => At::Quoted,
                (At::Quoted, '"') | (At::Closed, ' ') => At::Closed,
                (At::Closed, '"') => {
                    row.text.push('"');
                    At::Quoted
                }
                (At::Closed, _) => {
                    let detail = "text stands behind the closing quote of a cell; write a quote inside a cell twice";
                    return Err(Faults::of_file(self.number, "broken_quote", detail));
                }
                (at, c) => {
                    row.text.push(c);
                    if at == At::Quoted { At::Quoted } else { At::Plain }
                }
            };
        }
        if at == At::Quoted {
            row.text.push_str(ending);
        }
        Ok(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Result<Vec<(u64, Vec<String>)>, Faults> {
        let mut rows = Rows::new(text.as_bytes(), ',');
        let (mut row, mut all) = (Row::default(), Vec::new());
        while rows.next(&mut row)? {
            all.push((row.number, row.cells().map(str::to_owned).collect()));
        }
        Ok(all)
    }

    fn code(text: &str) -> (u64, &'static str) {
        let faults = rows(text).unwrap_err();
        (faults.kept()[0].row, faults.kept()[0].code)
    }

    #[test]
    fn rows_are_numbered_as_a_spreadsheet_numbers_them() {
        let read = rows("a,b\r\n\r\n\"one\ntwo\",\"say \"\"x\"\"\"\n3,").unwrap();
        let plain: Vec<_> = read.iter().map(|(number, cells)| (*number, cells.join("|"))).collect();
        let expected = [(1, "a|b"), (2, ""), (3, "one\ntwo|say \"x\""), (4, "3|")];
        assert_eq!(plain, expected.map(|(number, cells)| (number, cells.to_owned())));
    }

    #[test]
    fn a_quote_left_open_is_refused_where_it_opens() {
        assert_eq!(code("a\nb\n\"c\nd\ne\n"), (3, "unclosed_quote"));
        assert_eq!(code("a\n\"b\"c\n"), (2, "broken_quote"));
    }

    #[test]
    fn a_row_without_an_end_is_refused() {
        assert_eq!(code(&"x".repeat(MAX_ROW_BYTES * 2)), (1, "row_too_long"));
    }
}
