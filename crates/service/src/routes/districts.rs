//! Districts, as features of a map.

use axum::extract::State;
use axum::response::Response;
use longlay_records::district::District;
use longlay_records::hydrant::Location;
use longlay_records::id::AssetId;
use longlay_records::shape::{Rings, Shape};
use longlay_store::RecordKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::{Faults, MAX_NAME_CHARS};
use crate::page::{ListUrl, Page, PageQuery};
use crate::precondition::{DeleteHeaders, GetHeaders, Known, Precondition, PutHeaders, Tagged};
use crate::problem::Problem;
use crate::reply::{Retired, Stored};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_districts)).routes(routes!(put_district, get_district, delete_district))
}

/// What a district is on a map.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
pub(crate) enum FeatureType {
    /// A feature, RFC 7946.
    Feature,
}

/// Longitude and latitude, WGS 84 degrees; a height behind them is passed over.
type Position = Vec<f64>;

/// An area, RFC 7946. A place lies in it by the even-odd rule: where a line from it crosses the rings of a polygon, holes among them, an odd number of
/// times. What lies over the antimeridian is given in two polygons.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(tag = "type", content = "coordinates", deny_unknown_fields)]
pub(crate) enum AreaGeometry {
    /// One polygon: its outer ring, then its holes; the last position of each ring is its first again.
    Polygon(Vec<Vec<Position>>),
    /// Several polygons.
    MultiPolygon(Vec<Vec<Vec<Position>>>),
}

/// What is said of a district.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DistrictProperties {
    /// What it is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(min_length = 1, max_length = 120)]
    name: Option<String>,
}

/// A district to record: a feature of a map. At most 1024 KiB, which is some 40,000 positions; simplify what is larger.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DistrictBody {
    /// A feature.
    #[serde(rename = "type")]
    kind: FeatureType,
    /// Its id again, as in the path: what was read can be put back as it is.
    id: Option<String>,
    /// What is said of it.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    properties: Option<DistrictProperties>,
    /// Where it is.
    #[serde(deserialize_with = "crate::object::one")]
    geometry: AreaGeometry,
}

impl DistrictBody {
    /// The district under this id, or every fault.
    pub(crate) fn district(self, id: AssetId) -> Result<District, Problem> {
        let FeatureType::Feature = self.kind;
        let mut faults = Faults::of_body();
        faults.same_id("/id", self.id.as_deref(), &id);
        let name = self.properties.unwrap_or_default().name;
        let name = faults.optional_text("/properties/name", name.as_deref(), MAX_NAME_CHARS);
        let shape = self.geometry.shape(&mut faults);
        let district = name.zip(shape).map(|(name, shape)| District { id, name, shape });
        faults.finish(district)
    }
}

impl AreaGeometry {
    fn shape(self, faults: &mut Faults) -> Option<Shape> {
        const POINTER: &str = "/geometry/coordinates";
        let polygons = match self {
            Self::Polygon(rings) => vec![rings],
            Self::MultiPolygon(polygons) => polygons,
        };
        let mut places = |ring: Vec<Position>| -> Option<Vec<Location>> {
            ring.iter().map(|position| place(position, POINTER, faults)).collect()
        };
        let polygons: Option<Vec<Rings>> =
            polygons.into_iter().map(|rings| rings.into_iter().map(&mut places).collect()).collect();
        match Shape::new(polygons?) {
            Ok(shape) => Some(shape),
            Err(fault) => faults.add(POINTER, "no_shape", fault.to_string()),
        }
    }
}

/// The first fault of a ring stands for all of them.
fn place(position: &Position, pointer: &str, faults: &mut Faults) -> Option<Location> {
    let [lon, lat, ..] = position.as_slice() else {
        return faults.add(pointer, "no_shape", "a position is longitude and latitude");
    };
    match Location::new(*lon, *lat) {
        Ok(place) => Some(place),
        Err(bad) => {
            let detail: Vec<_> = bad.iter().map(ToString::to_string).collect();
            faults.add(pointer, "out_of_bounds", detail.join(", "))
        }
    }
}

/// A district as recorded: a feature of a map.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DistrictRecord {
    /// A feature.
    #[serde(rename = "type")]
    kind: FeatureType,
    /// Its id.
    id: String,
    /// What is said of it.
    properties: DistrictProperties,
    /// Where it is.
    geometry: AreaGeometry,
}

impl From<District> for DistrictRecord {
    fn from(district: District) -> Self {
        Self {
            kind: FeatureType::Feature,
            id: district.id.to_string(),
            properties: DistrictProperties { name: district.name },
            geometry: AreaGeometry::from(&district.shape),
        }
    }
}

impl From<&Shape> for AreaGeometry {
    fn from(shape: &Shape) -> Self {
        let ring = |ring: &Vec<Location>| ring.iter().map(|place| vec![place.lon(), place.lat()]).collect();
        let rings = |rings: &Rings| rings.iter().map(ring).collect::<Vec<Vec<Position>>>();
        match shape.polygons() {
            [one] => Self::Polygon(rings(one)),
            several => Self::MultiPolygon(several.iter().map(rings).collect()),
        }
    }
}

/// A district in a list: without its area, which is long.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DistrictLine {
    /// Its id.
    id: String,
    /// What it is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    name: Option<String>,
    /// Its polygons.
    polygons: usize,
    /// Positions of all its rings.
    positions: usize,
}

impl From<District> for DistrictLine {
    fn from(district: District) -> Self {
        let (polygons, positions) = (district.shape.polygons().len(), district.shape.vertices());
        Self { id: district.id.to_string(), name: district.name, polygons, positions }
    }
}

/// Most districts of a page: each is read with its area.
const MOST_OF_PAGE: u32 = 100;

/// List districts
///
/// By ascending id, a page of at most 100 at a time, without their areas; retired ones are left out.
#[utoipa::path(
    get, path = "/v1/districts", tag = "ground", params(PageQuery),
    responses((status = 200, description = "A page of districts", body = Page<DistrictLine>))
)]
pub(crate) async fn list_districts(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<DistrictLine>, Problem> {
    let start = query.start::<AssetId>()?;
    let limit = start.limit.min(MOST_OF_PAGE);
    let rows = app.store.districts(start.after.as_ref(), limit + 1).await?;
    Ok(url.page(rows, limit, |row| row.id.to_string(), DistrictLine::from))
}

/// Record a district
///
/// Creates it under the department's id, or replaces the whole of it. A retired one comes back. Districts may overlap: what lies in several counts in each.
#[utoipa::path(
    put, path = "/v1/districts/{id}", tag = "ground",
    params(("id" = String, Path, description = "The department's id"), PutHeaders),
    request_body(content = DistrictBody, description = "The whole district, a GeoJSON feature", content_type = "application/json"),
    responses(
        (status = 201, description = "Recorded, and new", body = DistrictRecord),
        (status = 200, description = "Replaced", body = DistrictRecord),
    )
)]
pub(crate) async fn put_district(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<DistrictBody>,
) -> Result<Stored<DistrictRecord>, Problem> {
    let district = body.district(id)?;
    let put = app.store.put_district(&district, &writer.change(app.clock.now()).on(condition)).await?;
    Ok(Stored(put, district.into()))
}

/// Look up a district
///
/// As it was last recorded, with its area; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/districts/{id}", tag = "ground",
    params(("id" = String, Path, description = "The department's id"), GetHeaders),
    responses((status = 200, description = "The district", body = DistrictRecord))
)]
pub(crate) async fn get_district(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    known: Known,
) -> Result<Response, Problem> {
    let found = app.store.versioned_district(&id).await?.ok_or_else(|| Problem::no_such(RecordKind::District, &id))?;
    Ok(known.or_send(Tagged { version: found.version, record: DistrictRecord::from(found.read) }))
}

/// Retire a district
///
/// It is hidden from lists, and no coverage is counted by it.
#[utoipa::path(
    delete, path = "/v1/districts/{id}", tag = "ground",
    params(("id" = String, Path, description = "The department's id"), DeleteHeaders),
    responses((status = 204, description = "Retired"))
)]
pub(crate) async fn delete_district(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_district(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::District, &id)) }
}
