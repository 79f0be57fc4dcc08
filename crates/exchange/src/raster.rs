//! Heights of the ground out of a plain grid: six lines of a header, then rows of heights from the north to the south.
//!
//! ```text
//! ncols 3
//! nrows 2
//! xllcorner -30.0
//! yllcorner 40.0
//! cellsize 0.001
//! NODATA_value -9999
//! 80 81 82
//! 78 -9999 80
//! ```
//!
//! Longitude and latitude of WGS 84, degrees. A height stands in the middle of its cell: `xllcorner` and `yllcorner` are the corner of the south-western
//! cell, `xllcenter` and `yllcenter` its middle. The file does not say whether its heights are feet or metres: whoever brings it in does.

use std::io::BufRead;

use longlay_records::hydrant::{Elevation, Location};
use longlay_records::terrain::{ElevationGrid, MAX_GRID_HEIGHTS};

use crate::fault::{Faults, quoted};
use crate::scalar::written_number;

/// Unit of the heights of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightUnit {
    /// Feet.
    Feet,
    /// Metres.
    Metres,
}

impl HeightUnit {
    const fn ft(self, height: f64) -> f64 {
        const FT_PER_M: f64 = 1.0 / 0.3048;
        match self {
            Self::Feet => height,
            Self::Metres => height * FT_PER_M,
        }
    }
}

/// Longest line, bytes.
const MOST_LINE_BYTES: usize = 16 * 1024 * 1024;
const KEYS: [&str; 8] =
    ["ncols", "nrows", "xllcorner", "xllcenter", "yllcorner", "yllcenter", "cellsize", "nodata_value"];

/// The grid of a file.
///
/// # Errors
/// What is wrong with it, each with its line: its first hundred and their number.
pub fn read(input: impl BufRead, unit: HeightUnit) -> Result<ElevationGrid, Faults> {
    let mut lines = Lines { input, number: 0, line: Vec::new() };
    let mut header = Header::default();
    let mut first = loop {
        let Some(line) = lines.next()? else {
            return Err(Faults::of_file(0, "no_rows", "no heights stand in the file"));
        };
        if !header.take(lines.number, &line)? {
            break Some(line);
        }
    };
    let (columns, rows, south_west) = header.placed()?;
    let mut faults = Faults::default();
    let mut heights = Vec::with_capacity(columns * rows);
    while let Some(line) = match first.take() {
        Some(line) => Some(line),
        None => lines.next()?,
    } {
        for (at, text) in line.split_ascii_whitespace().enumerate() {
            if heights.len() >= columns * rows {
                faults.note(lines.number, None, "too_many_heights", format!("over {columns} times {rows} heights"));
                return Err(faults);
            }
            heights.push(height(text, &header, unit).unwrap_or_else(|(code, detail)| {
                faults.note(lines.number, Some(&format!("value {}", at + 1)), code, detail);
                None
            }));
        }
    }
    if heights.len() < columns * rows {
        let detail = format!("{} heights, and {columns} times {rows} are told of", heights.len());
        faults.note(0, None, "too_few_heights", detail);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let from_south = heights.chunks(columns).rev().flatten().copied();
    let grid = ElevationGrid::new(south_west, header.number("cellsize").unwrap_or(0.0), columns, rows, from_south);
    grid.map_err(|fault| Faults::of_file(0, "no_grid", fault.to_string()))
}

fn height(text: &str, header: &Header, unit: HeightUnit) -> Result<Option<Elevation>, (&'static str, String)> {
    let number = written_number(text).map_err(|wrong| (wrong.code, wrong.detail))?;
    if header.number("nodata_value") == Some(number) {
        return Ok(None);
    }
    Elevation::from_ft(unit.ft(number)).map(Some).map_err(|error| ("out_of_bounds", error.to_string()))
}

/// What stands before the heights.
#[derive(Default)]
struct Header([Option<f64>; KEYS.len()]);

impl Header {
    fn number(&self, key: &str) -> Option<f64> {
        KEYS.iter().position(|known| *known == key).and_then(|at| self.0[at])
    }

    /// Takes a line in; false where it is none of the header.
    fn take(&mut self, number: u64, line: &str) -> Result<bool, Faults> {
        let mut words = line.split_ascii_whitespace();
        let Some(key) = words.next() else { return Ok(true) };
        if !key.starts_with(|c: char| c.is_ascii_alphabetic()) {
            return Ok(false);
        }
        let Some(at) = KEYS.iter().position(|known| known.eq_ignore_ascii_case(key)) else {
            let detail = format!("{} is no part of the header: {}", quoted(key), KEYS.join(", "));
            return Err(Faults::of_file(number, "unknown_column", detail));
        };
        if self.0[at].is_some() {
            return Err(Faults::of_file(number, "given_twice", format!("{} is given twice", quoted(key))));
        }
        let value = words.next().unwrap_or_default();
        let value = written_number(value).map_err(|wrong| Faults::of_file(number, wrong.code, wrong.detail))?;
        self.0[at] = Some(value);
        Ok(true)
    }

    /// Its columns and rows, and where its south-western height stands.
    fn placed(&self) -> Result<(usize, usize, Location), Faults> {
        let missing = |key: &str| Faults::of_file(0, "column_missing", format!("the header must say {key}"));
        let needed = |key: &str| self.number(key).ok_or_else(|| missing(key));
        let half = needed("cellsize")? / 2.0;
        let middle = |corner: &str, center: &str| match (self.number(corner), self.number(center)) {
            (Some(corner), None) => Ok(corner + half),
            (None, Some(center)) => Ok(center),
            _ => Err(missing(&format!("one of {corner} and {center}"))),
        };
        let (lon, lat) = (middle("xllcorner", "xllcenter")?, middle("yllcorner", "yllcenter")?);
        let (columns, rows) = (count(needed("ncols")?), count(needed("nrows")?));
        let size = columns.zip(rows).filter(|(columns, rows)| columns * rows <= MAX_GRID_HEIGHTS);
        let size = size.ok_or_else(|| {
            let detail = format!("ncols and nrows are whole numbers, and at most {MAX_GRID_HEIGHTS} heights together");
            Faults::of_file(0, "out_of_bounds", detail)
        });
        let place = Location::new(lon, lat).map_err(|faults| {
            let detail: Vec<_> = faults.iter().map(ToString::to_string).collect();
            Faults::of_file(0, "out_of_bounds", format!("{}: are they degrees?", detail.join(", ")))
        });
        let ((columns, rows), place) = (size?, place?);
        Ok((columns, rows, place))
    }
}

fn count(number: f64) -> Option<usize> {
    let is_whole = number.fract() == 0.0 && (1.0..=1e7).contains(&number);
    // Exact: it is whole and small.
    is_whole.then(|| format!("{number}").parse().ok()).flatten()
}

struct Lines<R> {
    input: R,
    number: u64,
    line: Vec<u8>,
}

impl<R: BufRead> Lines<R> {
    fn next(&mut self) -> Result<Option<String>, Faults> {
        self.line.clear();
        self.number += 1;
        let most = MOST_LINE_BYTES as u64 + 1;
        let read = std::io::Read::take(&mut self.input, most).read_until(b'\n', &mut self.line);
        let fault = |code, detail: String| Faults::of_file(self.number, code, detail);
        match read {
            Ok(0) => Ok(None),
            Err(error) => Err(fault("unreadable", error.to_string())),
            Ok(read) if read > MOST_LINE_BYTES => Err(fault("out_of_bounds", "a line is too long".to_owned())),
            Ok(_) => {
                let text = std::str::from_utf8(&self.line).map(str::to_owned);
                text.map(Some).map_err(|_| fault("not_utf8", "it is not text: is it a grid in plain text?".to_owned()))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "ncols 3\nNROWS 2\nxllcenter -30\nyllcorner 39.5\ncellsize 1\nNODATA_value -9999\n";

    fn told(text: &str) -> Vec<(u64, &'static str)> {
        let faults = read(text.as_bytes(), HeightUnit::Feet).unwrap_err();
        faults.kept().iter().map(|fault| (fault.row, fault.code)).collect()
    }

    #[test]
    fn rows_run_from_the_north() {
        let text = format!("{HEADER}80 81 82\r\n78 -9999 80.5\n");
        let grid = read(text.as_bytes(), HeightUnit::Feet).unwrap();
        assert_eq!((grid.south_west(), grid.columns(), grid.rows()), ((-30.0, 40.0), 3, 2));
        let heights: Vec<_> = grid.heights().map(|height| height.map(Elevation::ft)).collect();
        assert_eq!(heights, [Some(78.0), None, Some(80.5), Some(80.0), Some(81.0), Some(82.0)]);
        let metres = read(text.as_bytes(), HeightUnit::Metres).unwrap();
        let first = metres.heights().next().flatten().unwrap().ft();
        assert!((first - 255.905).abs() < 0.001, "{first}");
    }

    #[test]
    fn what_is_no_grid_is_told_with_its_line() {
        assert_eq!(told(""), [(0, "no_rows")]);
        assert_eq!(told("lon,lat,ft\n1,2,3\n"), [(1, "unknown_column")]);
        assert_eq!(told(&HEADER.replace("cellsize 1\n", "")), [(0, "no_rows")]);
        assert_eq!(told(&format!("{}1 2 3\n", HEADER.replace("cellsize 1\n", ""))), [(0, "column_missing")]);
        assert_eq!(told(&format!("{}1 2 3\n", HEADER.replace("ncols 3", "ncols 1e9"))), [(0, "out_of_bounds")]);
        assert_eq!(told(&format!("{}1 2 3\n", HEADER.replace("-30", "500000"))), [(0, "out_of_bounds")]);
        assert_eq!(told(&format!("{HEADER}1 2 3\n4 x 99999\n")), [(8, "not_a_number"), (8, "out_of_bounds")]);
        assert_eq!(told(&format!("{HEADER}1 2 3\n4 5\n")), [(0, "too_few_heights")]);
        assert_eq!(told(&format!("{HEADER}1 2 3\n4 5 6 7\n")), [(8, "too_many_heights")]);
        assert_eq!(told(&format!("{}1 2 3\n4 5 6\n", HEADER.replace("39.5", "89.5"))), [(0, "no_grid")]);
    }
}
