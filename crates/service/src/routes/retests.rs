//! What is to be tested next.
//!
//! The order must be worked out of every hydrant, so each page goes once through all of them, and keeps no more places than fill it; what is said of those
//! is worked out at the end. A cursor holds the day that the first page was worked out for: a list read over midnight keeps its order.

use std::fmt;

use axum::extract::State;
use chrono::NaiveDate;
use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_records::retest::{Place, Retest, retest};
use longlay_store::{HydrantQuery, StoreError, Town};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{PathParam, Query};
use crate::faults::Faults;
use crate::page::{Limit, ListUrl, Page, Start};
use crate::pools::off_thread;
use crate::problem::Problem;
use crate::routes::hydrant_list::bbox;
use crate::routes::retest_record::RetestRecord;

/// Places held beside those that fill a page, until they are sorted.
const HYDRANTS_AT_ONCE: usize = 1000;

/// Which hydrants to look at.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct RetestsQuery {
    /// Standing in this box: west, south, east, north in degrees. West greater than east crosses the antimeridian.
    #[param(value_type = Option<Vec<f64>>, style = Form, explode = false, min_items = 4, max_items = 4)]
    bbox: Option<String>,
    /// Only hydrants in service, or only those out of it.
    in_service: Option<bool>,
    /// Most items of a page; more than 1000 counts as 1000.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque.
    cursor: Option<String>,
}

impl RetestsQuery {
    fn filter(&self) -> Result<HydrantQuery, Problem> {
        let mut faults = Faults::of_query();
        let boxed = self.bbox.as_deref().map(|text| bbox(text, &mut faults));
        let filter = HydrantQuery { bbox: boxed.flatten(), in_service: self.in_service, tested_before: None };
        faults.finish(Some(filter))
    }
}

/// What to test next
///
/// Every hydrant, in the order of what a new test would settle: untested ones first, then those of which no end of the band is known, the least proved
/// first, then by how much of the band's width a good test would take away. Age past five years and a fallen capacity widen the band for this. Hydrants out of
/// service come last. Each says why, and what the test should flow.
#[utoipa::path(get, path = "/v1/retests", tag = "flow-tests", params(RetestsQuery),
    responses((status = 200, description = "A page of the list", body = Page<RetestRecord>)))]
pub(crate) async fn list_retests(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<RetestsQuery>,
) -> Result<Page<RetestRecord>, Problem> {
    let filter = query.filter()?;
    let start: Start<Spot> = Start::new(query.limit, query.cursor.as_deref())?;
    let day = start.after.as_ref().map_or_else(|| app.clock.today(), |spot| spot.day);
    let first = First { behind: start.after.as_ref().map(|spot| spot.place.clone()), count: start.probe() as usize };
    let town = app.store.town().await?;
    let kept = off_thread(move || first.of(&town, &filter, day)).await??;
    let key = |kept: &Kept| Spot { day, place: kept.place.clone() }.to_string();
    Ok(url.page(kept, start.limit, key, |kept| RetestRecord::new(&kept.hydrant, &kept.retest)))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_retests))
}

/// A hydrant on its place in the list.
struct Kept {
    place: Place,
    hydrant: Hydrant,
    retest: Retest,
}

/// So many hydrants of the list, from behind a place.
struct First {
    behind: Option<Place>,
    count: usize,
}

impl First {
    fn of(self, town: &Town, filter: &HydrantQuery, day: NaiveDate) -> Result<Vec<Kept>, StoreError> {
        let mut first: Vec<Place> = Vec::new();
        for sketch in town.sketches(filter) {
            let sketch = sketch?;
            let place = match sketch.place(day) {
                Some(place) => place,
                // It has no test of its own that tells: others may, and only its whole evidence does.
                None => match town.evidence(sketch.hydrant_id())? {
                    Some(evidence) => retest(&evidence, day).place(),
                    None => continue,
                },
            };
            if self.behind.as_ref().is_none_or(|behind| place > *behind) {
                first.push(place);
            }
            if first.len() >= self.count.saturating_add(HYDRANTS_AT_ONCE) {
                self.keep(&mut first);
            }
        }
        self.keep(&mut first);
        let kept = |place: Place| {
            let evidence = town.evidence(&place.hydrant_id).transpose()?;
            Some(evidence.map(|evidence| Kept { place, retest: retest(&evidence, day), hydrant: evidence.hydrant }))
        };
        first.into_iter().filter_map(kept).collect()
    }

    /// The first places of those met so far, in order.
    fn keep(&self, first: &mut Vec<Place>) {
        first.sort_unstable();
        first.truncate(self.count);
    }
}

/// A place in the list of a day, as a cursor holds it.
#[derive(Debug, PartialEq)]
struct Spot {
    day: NaiveDate,
    place: Place,
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Place { part, within, hydrant_id } = &self.place;
        write!(f, "{}.{part}.{:016x}.{hydrant_id}", self.day, within.to_bits())
    }
}

impl PathParam for Spot {
    fn read(text: &str) -> Result<Self, String> {
        let mut parts = text.split('.');
        let spot = (|| {
            let day = parts.next()?.parse().ok()?;
            let part = parts.next()?.parse().ok()?;
            let within = f64::from_bits(u64::from_str_radix(parts.next()?, 16).ok()?);
            let hydrant_id = AssetId::new(parts.next()?).ok()?;
            Some(Self { day, place: Place { part, within, hydrant_id } })
        })();
        spot.filter(|_| parts.next().is_none()).ok_or_else(|| "no place in the list".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_is_read_back_to_the_last_bit() {
        for within in [0.0, -0.0, 0.1 + 0.2, -1_234.567_891_234_5, f64::MAX] {
            let place = Place { part: 4, within, hydrant_id: AssetId::new("H-1_x").unwrap() };
            let spot = Spot { day: "2026-11-25".parse().unwrap(), place };
            let back = Spot::read(&spot.to_string()).unwrap();
            assert_eq!((back.place.within.to_bits(), &back), (within.to_bits(), &spot));
        }
        for bad in
            ["", "2026-11-25", "2026-11-25.1.0.H-1.x", "2026-13-25.1.0.H-1", "2026-11-25.x.0.H-1", "2026-11-25.1.0."]
        {
            assert!(Spot::read(bad).is_err(), "{bad}");
        }
    }
}
