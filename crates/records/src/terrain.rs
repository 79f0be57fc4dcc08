//! A grid of heights of the ground, for what has no height of its own.

use thiserror::Error;

use crate::hydrant::{Elevation, Location};

/// Most heights of a grid.
pub const MAX_GRID_HEIGHTS: usize = 4_000_000;
/// Stands where no height is known: no ground is so low.
const UNKNOWN: f32 = f32::MIN;

/// What is no grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum GridFault {
    /// Fewer than two rows or columns, or too many heights.
    #[error("must be at least 2 by 2 heights, and at most {MAX_GRID_HEIGHTS}")]
    Size,
    /// The heights are not as many as rows times columns.
    #[error("must hold a height or its absence for each place")]
    Count,
    /// It does not lie on the earth, or its step is no distance.
    #[error("must lie between 180 degrees west and east and 90 south and north, with a step over 0")]
    Place,
}

/// Heights at the crossings of evenly spaced meridians and parallels.
#[derive(Debug, Clone, PartialEq)]
pub struct ElevationGrid {
    west: f64,
    south: f64,
    step_deg: f64,
    columns: usize,
    /// From west to east, the southernmost row first.
    heights_ft: Vec<f32>,
}

impl ElevationGrid {
    /// A grid of which the south-western height stands at `south_west`, the others `step_deg` apart, the southernmost row first.
    ///
    /// # Errors
    /// See [`GridFault`].
    pub fn new(
        south_west: Location,
        step_deg: f64,
        columns: usize,
        rows: usize,
        heights: impl IntoIterator<Item = Option<Elevation>>,
    ) -> Result<Self, GridFault> {
        let count = columns.checked_mul(rows).filter(|count| *count <= MAX_GRID_HEIGHTS);
        let Some(count) = count.filter(|_| columns >= 2 && rows >= 2) else { return Err(GridFault::Size) };
        let (west, south) = (south_west.lon(), south_west.lat());
        let end = |from: f64, steps: usize| from + step_deg * number(steps - 1);
        let is_placed = step_deg > 0.0 && end(west, columns) <= 180.0 && end(south, rows) <= 90.0;
        if !is_placed {
            return Err(GridFault::Place);
        }
        #[expect(clippy::cast_possible_truncation, reason = "heights to a hundredth of a foot are enough")]
        let heights_ft: Vec<_> = heights
            .into_iter()
            .take(count + 1)
            .map(|height| height.map_or(UNKNOWN, |height| height.ft() as f32))
            .collect();
        if heights_ft.len() != count {
            return Err(GridFault::Count);
        }
        Ok(Self { west, south, step_deg, columns, heights_ft })
    }

    /// Place of its south-western height: longitude and latitude, degrees.
    pub const fn south_west(&self) -> (f64, f64) {
        (self.west, self.south)
    }

    /// From one height to the next, degrees.
    pub const fn step_deg(&self) -> f64 {
        self.step_deg
    }

    /// Heights from west to east.
    pub const fn columns(&self) -> usize {
        self.columns
    }

    /// Heights from south to north.
    pub fn rows(&self) -> usize {
        self.heights_ft.len() / self.columns
    }

    /// Its heights as they were given to it.
    pub fn heights(&self) -> impl Iterator<Item = Option<Elevation>> {
        self.heights_ft.iter().map(|ft| height(*ft))
    }

    /// The height of the ground at a place, by proportion between the four around it. None outside the grid, and where one of the four that counts is not
    /// known.
    pub fn at(&self, place: Location) -> Option<Elevation> {
        let (column, east) = self.cell(place.lon() - self.west, self.columns)?;
        let (row, north) = self.cell(place.lat() - self.south, self.rows())?;
        let mut ft = 0.0;
        for (up, share_up) in [(0, 1.0 - north), (1, north)] {
            for (right, share_right) in [(0, 1.0 - east), (1, east)] {
                let share = share_up * share_right;
                if share > 0.0 {
                    ft += share * height(*self.heights_ft.get((row + up) * self.columns + column + right)?)?.ft();
                }
            }
        }
        Elevation::from_ft(ft).ok()
    }

    /// The last step before a distance in degrees, and how far it lies behind that, as a share of a step.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative, and less than the count"
    )]
    fn cell(&self, offset_deg: f64, count: usize) -> Option<(usize, f64)> {
        let steps = offset_deg / self.step_deg;
        if !(steps >= 0.0 && steps <= number(count - 1)) {
            return None;
        }
        let first = (steps as usize).min(count - 2);
        Some((first, steps - number(first)))
    }
}

fn height(ft: f32) -> Option<Elevation> {
    Elevation::from_ft(f64::from(ft)).ok()
}

/// Exact: no grid has so many.
fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::MAX, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Location {
        Location::new(lon, lat).unwrap()
    }

    fn grid(heights: [Option<f64>; 6]) -> ElevationGrid {
        let heights = heights.map(|ft| ft.map(|ft| Elevation::from_ft(ft).unwrap()));
        ElevationGrid::new(at(-30.0, 40.0), 0.5, 3, 2, heights).unwrap()
    }

    #[test]
    fn between_heights_the_ground_is_by_proportion() {
        let grid = grid([Some(0.0), Some(100.0), Some(200.0), Some(40.0), Some(140.0), Some(240.0)]);
        for (place, ft) in
            [(at(-30.0, 40.0), 0.0), (at(-29.75, 40.0), 50.0), (at(-29.25, 40.25), 170.0), (at(-29.0, 40.5), 240.0)]
        {
            assert_eq!(grid.at(place).map(Elevation::ft), Some(ft), "{place:?}");
        }
    }

    #[test]
    fn outside_and_beside_an_unknown_height_nothing_is_known() {
        let grid = grid([Some(0.0), None, Some(200.0), Some(40.0), Some(140.0), Some(240.0)]);
        for unknown in [at(-30.01, 40.0), at(-28.99, 40.2), at(-29.5, 40.51), at(-29.5, 40.0), at(-29.7, 40.2)] {
            assert_eq!(grid.at(unknown), None, "{unknown:?}");
        }
        assert_eq!(
            grid.at(at(-30.0, 40.0)).map(Elevation::ft),
            Some(0.0),
            "an unknown height without weight does not count"
        );
    }

    #[test]
    fn what_is_no_grid_is_refused() {
        let level = Elevation::from_ft(0.0).ok();
        let new =
            |step, columns, rows, count| ElevationGrid::new(at(-30.0, 40.0), step, columns, rows, vec![level; count]);
        assert_eq!(new(0.5, 1, 4, 4), Err(GridFault::Size));
        assert_eq!(new(0.5, usize::MAX, 2, 4), Err(GridFault::Size));
        assert_eq!(new(0.5, 2, 2, 3), Err(GridFault::Count));
        assert_eq!(new(0.5, 2, 2, 5), Err(GridFault::Count));
        for step in [0.0, -1.0, f64::NAN, 60.0] {
            assert_eq!(new(step, 2, 2, 4), Err(GridFault::Place), "{step}");
        }
    }
}
