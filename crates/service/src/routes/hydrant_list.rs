//! The list of hydrants, and what it can be narrowed to. The store narrows to what it knows; what must be worked out first, a distance or a
//! class, is sifted here.

use axum::extract::State;
use longlay_hydraulics::quantity::Length;
use longlay_hydraulics::rating::CapacityClass;
use longlay_records::hydrant::{Hydrant, Location};
use longlay_records::id::AssetId;
use longlay_store::{Bbox, HydrantQuery, StoreError, Supplied};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::day::Day;
use crate::extract::Query;
use crate::faults::Faults;
use crate::page::{Limit, ListUrl, Page, Start};
use crate::problem::Problem;
use crate::routes::hydrants::HydrantRecord;
use crate::routes::near::Near;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_hydrants))
}

/// Which hydrants to list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct HydrantListQuery {
    /// Standing in this box: west, south, east, north in degrees. West greater than east crosses the antimeridian.
    #[param(value_type = Option<Vec<f64>>, style = Form, explode = false, min_items = 4, max_items = 4)]
    bbox: Option<String>,
    /// Standing near this point: longitude, latitude in degrees. With `within_ft`, and not beside `bbox`.
    #[param(value_type = Option<Vec<f64>>, style = Form, explode = false, min_items = 2, max_items = 2)]
    near: Option<String>,
    /// Distance from `near`, in a straight line.
    #[param(minimum = 1, maximum = 100_000)]
    within_ft: Option<f64>,
    /// In service, or out of it.
    in_service: Option<bool>,
    /// Of this capacity class, by the newest usable test, a borrowed one included. Untested hydrants have none.
    class: Option<ClassCode>,
    /// Whose newest own test that counts is older than this day, or who have none.
    #[param(value_type = Option<chrono::NaiveDate>)]
    tested_before: Option<Day>,
    /// Most items of a page; more than 1000 counts as 1000.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque.
    cursor: Option<String>,
}

/// A capacity class by its code.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "UPPERCASE")]
pub(crate) enum ClassCode {
    /// 1500 gpm and over.
    Aa,
    /// 1000 to 1499 gpm.
    A,
    /// 500 to 999 gpm.
    B,
    /// Under 500 gpm.
    C,
}

impl From<ClassCode> for CapacityClass {
    fn from(code: ClassCode) -> Self {
        match code {
            ClassCode::Aa => Self::Aa,
            ClassCode::A => Self::A,
            ClassCode::B => Self::B,
            ClassCode::C => Self::C,
        }
    }
}

/// What a list asks for: the store's part, and what is sifted afterwards.
struct Wanted {
    query: HydrantQuery,
    near: Option<Near>,
    class: Option<CapacityClass>,
}

impl HydrantListQuery {
    fn wanted(&self) -> Result<Wanted, Problem> {
        let mut faults = Faults::of_query();
        let wanted = self.converted(&mut faults);
        faults.finish(wanted)
    }

    fn converted(&self, faults: &mut Faults) -> Option<Wanted> {
        let bbox = self.bbox.as_deref().map(|text| bbox(text, faults));
        let near = self.near(faults)?;
        let tested_before = self.tested_before.map(|day| faults.day("/tested_before", day.0));
        if bbox.is_some() && near.is_some() {
            return faults.add("/bbox", "not_with", "give bbox or near, not both");
        }
        let bbox = match bbox {
            Some(bbox) => Some(bbox?),
            None => near.map(|near| near.bbox()),
        };
        let tested_before = match tested_before {
            Some(day) => Some(day?),
            None => None,
        };
        let query = HydrantQuery { bbox, in_service: self.in_service, tested_before };
        Some(Wanted { query, near, class: self.class.map(CapacityClass::from) })
    }

    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one a circle not asked for")]
    fn near(&self, faults: &mut Faults) -> Option<Option<Near>> {
        let (text, within) = match (self.near.as_deref(), self.within_ft) {
            (None, None) => return Some(None),
            (None, Some(_)) => return faults.add("/within_ft", "not_with", "within_ft goes with near only"),
            (Some(text), within) => (text, within),
        };
        let within = match within {
            Some(within) => faults.good("/within_ft", Length::from_ft(within)),
            None => faults.add("/within_ft", "required", "within_ft must be given with near"),
        };
        let Some([lon, lat]) = numbers(text) else {
            return faults.add("/near", "invalid_form", "near is two numbers: longitude,latitude");
        };
        let centre = match Location::new(lon, lat) {
            Ok(centre) => centre,
            Err(bad) => {
                for fault in bad {
                    faults.note("/near", "out_of_bounds", fault.to_string());
                }
                return None;
            }
        };
        Some(Some(Near { centre, within: within? }))
    }
}

fn numbers<const N: usize>(text: &str) -> Option<[f64; N]> {
    let numbers: Vec<f64> = text.split(',').map(|number| number.trim().parse().ok()).collect::<Option<_>>()?;
    numbers.try_into().ok()
}

/// A box out of four numbers.
pub(crate) fn bbox(text: &str, faults: &mut Faults) -> Option<Bbox> {
    let Some([west, south, east, north]) = numbers(text) else {
        return faults.add("/bbox", "invalid_form", "bbox is four numbers: west,south,east,north");
    };
    let corners = [Location::new(west, south), Location::new(east, north)];
    let bad: Vec<_> = corners.into_iter().filter_map(Result::err).flatten().collect();
    for fault in &bad {
        faults.note("/bbox", "out_of_bounds", fault.to_string());
    }
    if south > north {
        return faults.add("/bbox", "out_of_bounds", "the south of bbox must not lie north of its north");
    }
    bad.is_empty().then_some(Bbox { west, south, east, north })
}

/// Rows taken from the store at once where they are sifted here: small pages must not mean a query for every few rows.
const SIFTED_AT_ONCE: u32 = 500;

/// A page of what is wanted and more, if there is. What is sifted away is made up for out of the store's next rows.
async fn load(app: &AppState, wanted: &Wanted, start: &Start<AssetId>) -> Result<Vec<Hydrant>, StoreError> {
    let probe = start.probe();
    let sifted = wanted.near.is_some() || wanted.class.is_some();
    let at_once = if sifted { probe.max(SIFTED_AT_ONCE) } else { probe };
    let mut after = start.after.clone();
    let mut kept = Vec::new();
    loop {
        let (rows, read, last) = batch(app, wanted, after.as_ref(), at_once).await?;
        kept.extend(rows.into_iter().filter(|hydrant| wanted.near.is_none_or(|near| near.holds(&hydrant.location))));
        if read < at_once as usize || kept.len() >= probe as usize {
            return Ok(kept);
        }
        after = last;
    }
}

/// Hydrants of the class wanted among the store's next rows; how many rows that were, and the last of them.
async fn batch(
    app: &AppState,
    wanted: &Wanted,
    after: Option<&AssetId>,
    at_once: u32,
) -> Result<(Vec<Hydrant>, usize, Option<AssetId>), StoreError> {
    let Some(class) = wanted.class else {
        let rows = app.store.hydrants(&wanted.query, after, at_once).await?;
        let (read, last) = (rows.len(), rows.last().map(|hydrant| hydrant.id.clone()));
        return Ok((rows, read, last));
    };
    let town = app.store.town().await?;
    let rows = town.supplies(&wanted.query, after, app.clock.today()).take(at_once as usize);
    let rows = rows.collect::<Result<Vec<_>, _>>()?;
    let (read, last) = (rows.len(), rows.last().map(|supplied| supplied.hydrant.id.clone()));
    let of_class =
        |supplied: &Supplied| supplied.supply.as_ref().is_ok_and(|supply| supply.capability(None).class == Some(class));
    let rows = rows.into_iter().filter(of_class).map(|supplied| Hydrant::clone(&supplied.hydrant)).collect();
    Ok((rows, read, last))
}

/// List hydrants
///
/// By ascending number, a page at a time; retired ones are left out.
#[utoipa::path(
    get, path = "/v1/hydrants", tag = "hydrants", params(HydrantListQuery),
    responses((status = 200, description = "A page of hydrants", body = Page<HydrantRecord>))
)]
pub(crate) async fn list_hydrants(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<HydrantListQuery>,
) -> Result<Page<HydrantRecord>, Problem> {
    let wanted = query.wanted()?;
    let start = Start::new(query.limit, query.cursor.as_deref())?;
    let rows = load(&app, &wanted, &start).await?;
    Ok(url.page(rows, start.limit, |hydrant| hydrant.id.to_string(), HydrantRecord::from))
}
