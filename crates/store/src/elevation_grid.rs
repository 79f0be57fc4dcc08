//! The grid of heights.

use chrono::{DateTime, Utc};
use longlay_records::hydrant::{Elevation, Location};
use longlay_records::terrain::ElevationGrid;
use sqlx::SqliteConnection;

use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::hydrant_query::Bbox;
use crate::open::Store;
use crate::replay::{self, Recorded};
use crate::rows::{Row, hex_text, time_text};
use crate::town::Touched;

/// A grid as the audit names it.
const KIND: &str = "elevation_grid";
/// Stands where no height is known.
const UNKNOWN: f32 = f32::MIN;

/// What a grid is as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct GridSummary {
    /// Heights from west to east.
    pub columns: u64,
    /// Heights from south to north.
    pub rows: u64,
    /// How many of them are known.
    pub known: u64,
    /// From one to the next, degrees.
    pub step_deg: f64,
    /// From the south-western height to the north-eastern.
    pub bbox: Bbox,
    /// When it came in.
    pub imported_at: DateTime<Utc>,
    /// SHA-256 of the file it came in.
    pub sha256: [u8; 32],
}

impl GridSummary {
    /// Of a grid.
    pub fn of(grid: &ElevationGrid, sha256: [u8; 32], imported_at: DateTime<Utc>) -> Self {
        let (columns, rows) = (grid.columns() as u64, grid.rows() as u64);
        let (west, south) = grid.south_west();
        let end = |from: f64, count: u64| from + grid.step_deg() * u32::try_from(count - 1).map_or(0.0, f64::from);
        Self {
            columns,
            rows,
            known: grid.heights().flatten().count() as u64,
            step_deg: grid.step_deg(),
            bbox: Bbox { west, south, east: end(west, columns), north: end(south, rows) },
            imported_at,
            sha256,
        }
    }
}

impl Store {
    /// What the grid is as a whole; none before the first import.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn elevation_grid_summary(&self) -> Result<Option<GridSummary>, StoreError> {
        let mut tx = self.read().await?;
        let found = sqlx::query!(
            "SELECT imported_at, sha256, west_deg, south_deg, step_deg, columns, row_count, known FROM elevation_grid"
        )
        .fetch_optional(&mut *tx)
        .await
        .map_err(fault)?;
        let Some(found) = found else { return Ok(None) };
        let row = Row::of("elevation_grid", "1");
        let (columns, rows) = (row.count(found.columns)?, row.count(found.row_count)?);
        let end = |from: f64, count: u64| {
            from + found.step_deg * u32::try_from(count.saturating_sub(1)).map_or(0.0, f64::from)
        };
        let (west, south) = (found.west_deg, found.south_deg);
        Ok(Some(GridSummary {
            columns,
            rows,
            known: row.count(found.known)?,
            step_deg: found.step_deg,
            bbox: Bbox { west, south, east: end(west, columns), north: end(south, rows) },
            imported_at: row.time(&found.imported_at)?,
            sha256: row.good(<[u8; 32]>::try_from(found.sha256.as_slice()))?,
        }))
    }

    /// Puts a grid in place of the one that is there. `summary` is what it is as a whole.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn replace_elevation_grid(
        &self,
        grid: &ElevationGrid,
        summary: &GridSummary,
        change: &Change,
    ) -> Result<Recorded, StoreError> {
        let heights: Vec<u8> = grid.heights().flat_map(|height| stored(height).to_le_bytes()).collect();
        let mut tx = self.write().await?;
        if let Some(answer) = replay::before(&mut tx, change).await? {
            return Ok(Recorded::Before(answer));
        }
        let count = |count: u64| i64::try_from(count).map_err(|_| StoreError::Other(format!("{count} heights")));
        let (columns, rows, known) = (count(summary.columns)?, count(summary.rows)?, count(summary.known)?);
        let (now, sha256, step_deg) = (time_text(summary.imported_at), &summary.sha256[..], grid.step_deg());
        let (west, south) = grid.south_west();
        sqlx::query!(
            "INSERT OR REPLACE INTO elevation_grid (
               only, imported_at, sha256, west_deg, south_deg, step_deg, columns, row_count, known, heights
             ) VALUES (1, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            now,
            sha256,
            west,
            south,
            step_deg,
            columns,
            rows,
            known,
            heights
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        let digest = hex_text(&summary.sha256);
        let detail = format!(r#"{{"sha256":"{digest}","heights":{known}}}"#);
        audit::note(&mut tx, change, Action::Import, KIND, None, None, Some(&detail)).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::Ground).await?;
        Ok(Recorded::Now)
    }
}

#[expect(clippy::cast_possible_truncation, reason = "heights to a hundredth of a foot are enough")]
fn stored(height: Option<Elevation>) -> f32 {
    height.map_or(UNKNOWN, |height| height.ft() as f32)
}

/// The grid that is there.
pub(crate) async fn load(conn: &mut SqliteConnection) -> Result<Option<ElevationGrid>, StoreError> {
    let found = sqlx::query!("SELECT west_deg, south_deg, step_deg, columns, row_count, heights FROM elevation_grid")
        .fetch_optional(conn)
        .await
        .map_err(fault)?;
    let Some(found) = found else { return Ok(None) };
    let row = Row::of("elevation_grid", "1");
    let south_west = Location::new(found.west_deg, found.south_deg)
        .map_err(|_| row.corrupt("its corner is no place on the ground"))?;
    let (columns, rows) = (row.good(usize::try_from(found.columns))?, row.good(usize::try_from(found.row_count))?);
    let (heights, _) = found.heights.as_chunks::<4>();
    let height = |bytes: &[u8; 4]| Elevation::from_ft(f64::from(f32::from_le_bytes(*bytes))).ok();
    row.good(ElevationGrid::new(south_west, found.step_deg, columns, rows, heights.iter().map(height))).map(Some)
}
