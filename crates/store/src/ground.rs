//! The ground that coverage is reckoned over, read whole out of one state of the database.

use longlay_records::demand::DemandPoint;
use longlay_records::district::District;
use longlay_records::street::{Barrier, Street};
use longlay_records::terrain::ElevationGrid;

use crate::error::{RecordKind, StoreError, fault};
use crate::imports::{StreetNetwork, standing};
use crate::open::Store;
use crate::references::page;
use crate::rows::Row;
use crate::snapshot::Snapshot;
use crate::{demand_points, districts, elevation_grid, shapes};

/// Rows read at a time: what is held beside what is kept of them.
const AT_ONCE: u32 = 5000;

/// All that coverage is reckoned over but for hydrants and their tests.
#[derive(Debug, Clone, PartialEq)]
pub struct CoverageGround {
    /// What the streets are together; none before the first import.
    pub network: Option<StreetNetwork>,
    /// The streets, by ascending id.
    pub streets: Vec<Street>,
    /// The demand points, by ascending id.
    pub demand_points: Vec<DemandPoint>,
    /// The districts, by ascending id.
    pub districts: Vec<District>,
    /// Heights of the ground for what has none of its own.
    pub heights: Option<ElevationGrid>,
}

impl Store {
    /// All of it, as it stands in one state of the database. Who keeps less of each row reads them one by one out of a [`Snapshot`].
    ///
    /// # Errors
    /// [`StoreError::Busy`] where too many snapshots are open already; else see [`StoreError`].
    pub async fn coverage_ground(&self) -> Result<CoverageGround, StoreError> {
        let mut snapshot = self.snapshot().await?;
        let (mut streets, mut demand_points) = (Vec::new(), Vec::new());
        snapshot.each_street(|street| streets.push(street)).await?;
        snapshot.each_demand_point(|point| demand_points.push(point)).await?;
        Ok(CoverageGround {
            network: snapshot.street_network().await?,
            streets,
            demand_points,
            districts: snapshot.all_districts().await?,
            heights: snapshot.elevation_grid().await?,
        })
    }
}

impl Snapshot {
    /// Each street, by ascending id.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn each_street(&mut self, mut take: impl FnMut(Street) + Send) -> Result<(), StoreError> {
        let mut after = String::new();
        loop {
            let rows = sqlx::query_as!(
                StreetRow,
                "SELECT id, name, line, from_level, to_level, barrier FROM streets WHERE id > ?1 ORDER BY id LIMIT ?2",
                after,
                AT_ONCE
            )
            .fetch_all(self.connection())
            .await
            .map_err(fault)?;
            let Some(last) = rows.last() else { return Ok(()) };
            after.clone_from(&last.id);
            for row in rows {
                take(row.street()?);
            }
        }
    }

    /// Each live demand point, by ascending id.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn each_demand_point(&mut self, mut take: impl FnMut(DemandPoint) + Send) -> Result<(), StoreError> {
        let mut after = None;
        loop {
            let points = demand_points::page(self.connection(), after.as_ref(), AT_ONCE).await?;
            let Some(last) = points.last() else { return Ok(()) };
            after = Some(last.id.clone());
            points.into_iter().for_each(&mut take);
        }
    }

    /// Every live district, by ascending id.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn all_districts(&mut self) -> Result<Vec<District>, StoreError> {
        let conn = self.connection();
        let ids = page(conn, RecordKind::District, None, u32::MAX).await?;
        Ok(districts::load(conn, &ids).await?.into_values().collect())
    }

    /// What the streets are together; none before the first import.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn street_network(&mut self) -> Result<Option<StreetNetwork>, StoreError> {
        standing(self.connection()).await
    }

    /// The heights of the ground; none before the first import.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn elevation_grid(&mut self) -> Result<Option<ElevationGrid>, StoreError> {
        elevation_grid::load(self.connection()).await
    }
}

struct StreetRow {
    id: String,
    name: Option<String>,
    line: Vec<u8>,
    from_level: i64,
    to_level: i64,
    barrier: Option<String>,
}

impl StreetRow {
    fn street(self) -> Result<Street, StoreError> {
        let row = Row::of("streets", &self.id);
        let barrier = |name: String| Barrier::of_name(&name).ok_or(format!("{name} is no barrier"));
        let (line, from_level) = (row.good(shapes::line(&self.line))?, row.good(i16::try_from(self.from_level))?);
        let to_level = row.good(i16::try_from(self.to_level))?;
        let barrier = row.maybe(self.barrier.clone(), barrier)?;
        Ok(Street { line, from_level, to_level, barrier, name: self.name, id: self.id })
    }
}
