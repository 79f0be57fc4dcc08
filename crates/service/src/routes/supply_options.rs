//! What to lay for this address now.

use axum::extract::State;
use longlay_hydraulics::quantity::PositiveFlow;
use longlay_records::hydrant::{Elevation, Location};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Query};
use crate::faults::Faults;
use crate::problem::Problem;
use crate::supply_options::{Asked, SupplyOptions, answer};

/// Options told where the caller names no number, and most of them.
const OPTIONS: (usize, usize) = (5, 20);
/// Most hose that is searched with, ft.
const MAX_LAY_FT: f64 = 10_000.0;

/// The place, the lay and the flow wanted.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query, style = Form)]
pub(crate) struct SupplyOptionsQuery {
    /// Longitude of the place.
    #[param(minimum = -180, maximum = 180)]
    lon: f64,
    /// Latitude of the place.
    #[param(minimum = -90, maximum = 90)]
    lat: f64,
    /// Ground at the place. Default that of the imported heights; not known where there are none.
    #[param(minimum = -1500, maximum = 30_000)]
    elevation_ft: Option<f64>,
    /// A stored lay.
    lay_profile_id: String,
    /// A stored pumper that may be sent to the hydrant.
    boost_pumper_id: Option<String>,
    /// The flow wanted at the place.
    #[param(minimum = 1, maximum = 50_000)]
    needed_flow_gpm: Option<f64>,
    /// The hose carried. Default what the profile carries.
    #[param(minimum = 1, maximum = 10_000)]
    max_lay_ft: Option<f64>,
    /// Longitude of where the engine comes from, for the direction of the lay. With `from_lat`.
    #[param(minimum = -180, maximum = 180)]
    from_lon: Option<f64>,
    /// Latitude of where the engine comes from.
    #[param(minimum = -90, maximum = 90)]
    from_lat: Option<f64>,
    /// Most options told.
    #[param(minimum = 1, maximum = 20, default = 5)]
    limit: Option<u32>,
}

/// What to lay for this address
///
/// Hydrants along the streets with what each brings over the hose carried, alone, with one more line, boosted, and two together; ranked by whether the low
/// end of the band brings what is wanted, and by what it takes. Worked of the records in memory, which every write brings up to date before it is
/// acknowledged: a hydrant put out of service is out of the next answer. Nothing is stored.
#[utoipa::path(get, path = "/v1/supply-options", tag = "dispatch", params(SupplyOptionsQuery),
    responses((status = 200, description = "The options; empty where nothing that is known can be laid, and `radio` says why", body = SupplyOptions)))]
pub(crate) async fn list_supply_options(
    State(app): State<AppState>,
    Query(query): Query<SupplyOptionsQuery>,
) -> Result<Json<SupplyOptions>, Problem> {
    answer(&app, &query.asked()?).await.map(Json)
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_supply_options))
}

impl SupplyOptionsQuery {
    fn asked(&self) -> Result<Asked, Problem> {
        let mut faults = Faults::of_query();
        let place = at(["/lon", "/lat"], self.lon, self.lat, &mut faults);
        let from = match (self.from_lon, self.from_lat) {
            (Some(lon), Some(lat)) => at(["/from_lon", "/from_lat"], lon, lat, &mut faults).map(Some),
            (None, None) => Some(None),
            (lon, _) => {
                faults.add(if lon.is_some() { "/from_lat" } else { "/from_lon" }, "required", "must be given too")
            }
        };
        let elevation = faults.optional("/elevation_ft", self.elevation_ft, Elevation::from_ft);
        let needed = faults.optional("/needed_flow_gpm", self.needed_flow_gpm, PositiveFlow::from_gpm);
        let profile = faults.id("/lay_profile_id", &self.lay_profile_id);
        let pumper = faults.optional_id("/boost_pumper_id", self.boost_pumper_id.as_deref());
        if self.max_lay_ft.is_some_and(|ft| !(1.0..=MAX_LAY_FT).contains(&ft)) {
            faults.note("/max_lay_ft", "out_of_bounds", format!("must be from 1 to {MAX_LAY_FT} ft"));
        }
        let most = self.limit.map_or(OPTIONS.0, |limit| limit as usize);
        if !(1..=OPTIONS.1).contains(&most) {
            faults.note("/limit", "out_of_bounds", format!("must be from 1 to {}", OPTIONS.1));
        }
        let asked = (|| {
            Some(Asked {
                place: place?,
                elevation_ft: elevation?.map(Elevation::ft),
                from: from?,
                needed: needed?,
                max_lay_ft: self.max_lay_ft,
                lay_profile_id: profile?,
                boost_pumper_id: pumper?,
                most,
            })
        })();
        faults.finish(asked)
    }
}

fn at([lon_at, lat_at]: [&str; 2], lon: f64, lat: f64, faults: &mut Faults) -> Option<Location> {
    match Location::new(lon, lat) {
        Ok(place) => Some(place),
        Err(wrong) => {
            for fault in wrong {
                let pointer = if fault.quantity == "longitude" { lon_at } else { lat_at };
                faults.note(pointer, "out_of_bounds", fault.to_string());
            }
            None
        }
    }
}
