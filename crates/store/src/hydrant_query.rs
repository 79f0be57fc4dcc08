//! Which hydrants to list, and pages of their ids.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use longlay_records::hydrant::{Location, Status};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::error::{StoreError, fault};
use crate::rows::{Row, day_text};
use crate::town::Place;

/// A box of ground, WGS 84 degrees, edges included. West greater than east crosses the antimeridian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bbox {
    /// Western edge.
    pub west: f64,
    /// Southern edge.
    pub south: f64,
    /// Eastern edge.
    pub east: f64,
    /// Northern edge.
    pub north: f64,
}

/// Which hydrants to list; the default is all that are not retired.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct HydrantQuery {
    /// Standing in this box.
    pub bbox: Option<Bbox>,
    /// In service, or out of it.
    pub in_service: Option<bool>,
    /// Whose newest unvoided own test is older than this day, or who have none.
    pub tested_before: Option<NaiveDate>,
}

impl Bbox {
    fn holds(&self, location: &Location) -> bool {
        let (lon, lat) = (location.lon(), location.lat());
        let across = if self.west <= self.east {
            (self.west..=self.east).contains(&lon)
        } else {
            // Not where an edge is no number: such a box holds nothing.
            self.west > self.east && (lon >= self.west || lon <= self.east)
        };
        across && (self.south..=self.north).contains(&lat)
    }
}

impl HydrantQuery {
    /// Whether a hydrant answers it. A damaged one does, so that whoever asked is told.
    pub(crate) fn holds(&self, place: &Place) -> bool {
        let Ok(hydrant) = place.hydrant() else { return true };
        let tested_since = |day: NaiveDate| {
            let own = place.gauged.iter().filter_map(|gauged| gauged.test().ok());
            own.filter(|test| test.voided.is_none()).any(|test| test.tested_on >= day)
        };
        self.bbox.is_none_or(|bbox| bbox.holds(&hydrant.location))
            && self.in_service.is_none_or(|wanted| wanted == (hydrant.status == Status::InService))
            && self.tested_before.is_none_or(|day| !tested_since(day))
    }
}

/// Ids of live hydrants that answer the query, ascending, from behind `after`.
pub(crate) async fn page(
    conn: &mut SqliteConnection,
    query: &HydrantQuery,
    after: Option<&AssetId>,
    limit: u32,
) -> Result<BTreeSet<AssetId>, StoreError> {
    let after = after.map_or("", AssetId::as_str);
    // Whether there is a box goes beside its edges: an edge that is no number becomes NULL, and must find nothing, not everything.
    let boxed = query.bbox.is_some();
    let Bbox { west, south, east, north } = query.bbox.unwrap_or(Bbox { west: 0.0, south: 0.0, east: 0.0, north: 0.0 });
    let tested_before = query.tested_before.map(day_text);
    let ids = sqlx::query_scalar!(
        "SELECT id FROM hydrants
         WHERE retired_at IS NULL AND id > ?1
           AND (NOT ?2 OR (lat_deg BETWEEN ?4 AND ?6
             AND ((?3 <= ?5 AND lon_deg BETWEEN ?3 AND ?5) OR (?3 > ?5 AND (lon_deg >= ?3 OR lon_deg <= ?5)))))
           AND (?7 IS NULL OR in_service = ?7)
           AND (?8 IS NULL OR NOT EXISTS (SELECT 1 FROM flow_tests t
             WHERE t.gauge_hydrant_id = hydrants.id AND t.voided_at IS NULL AND t.tested_on >= ?8))
         ORDER BY id LIMIT ?9",
        after,
        boxed,
        west,
        south,
        east,
        north,
        query.in_service,
        tested_before,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    ids.iter().map(|id| Row::of("hydrants", id).asset_id(id)).collect()
}
