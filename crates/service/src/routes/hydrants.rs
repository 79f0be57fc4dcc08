//! Hydrants.

use axum::extract::State;
use axum::response::Response;
use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter, OutletCoefficient};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, MAX_OUTLETS, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use longlay_store::RecordKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::extract::{Json, Path};
use crate::faults::{Faults, MAX_NAME_CHARS, MAX_NOTE_CHARS};
use crate::precondition::{DeleteHeaders, GetHeaders, Known, Precondition, PutHeaders, Tagged};
use crate::problem::Problem;
use crate::reply::{Retired, Stored};
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(put_hydrant, get_hydrant, delete_hydrant))
}

/// A point on the ground, WGS 84.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Point {
    /// Degrees east.
    #[schema(minimum = -180, maximum = 180)]
    lon: f64,
    /// Degrees north.
    #[schema(minimum = -90, maximum = 90)]
    lat: f64,
}

/// What an outlet couples to.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum OutletKindName {
    /// A hose outlet, nominally 2-1/2 in.
    Hose,
    /// A pumper outlet (steamer), 4 in and over.
    Pumper,
}

/// One outlet of a hydrant.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Outlet {
    /// What it couples to.
    kind: OutletKindName,
    /// Inside diameter.
    #[schema(minimum = 0.5, maximum = 24)]
    diameter_in: f64,
    /// Coefficient of discharge: 0.9 smooth, 0.8 square, 0.7 projecting.
    #[schema(minimum = 0.3, maximum = 1)]
    coefficient: f64,
}

/// Who owns a hydrant.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum OwnerName {
    /// The water authority or the town.
    Public,
    /// Somebody else.
    Private,
}

/// A hydrant to record.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HydrantBody {
    /// Its number again, as in the path: what was read can be put back as it is.
    hydrant_id: Option<String>,
    /// Where it stands.
    #[serde(deserialize_with = "crate::object::one")]
    location: Point,
    /// Height of the ground there, above the department's datum.
    #[schema(minimum = -1500, maximum = 30_000)]
    elevation_ft: Option<f64>,
    /// Its outlets.
    #[schema(max_items = 6)]
    #[serde(deserialize_with = "crate::object::many")]
    outlets: Vec<Outlet>,
    /// Loss of its own body and outlet where it was tested, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    body_loss_coefficient: Option<f64>,
    /// The main it stands on. A hydrant without a test borrows one from its main.
    #[schema(min_length = 1, max_length = 120)]
    main_id: Option<String>,
    /// Inside diameter of that main.
    #[schema(minimum = 0.5, maximum = 24)]
    main_diameter_in: Option<f64>,
    /// The pressure zone it belongs to.
    #[schema(min_length = 1, max_length = 120)]
    pressure_zone: Option<String>,
    /// Who owns it.
    owner: OwnerName,
    /// Whether its water is fit to drink.
    potable: bool,
    /// Whether it is shut for part of the year. Default false.
    seasonal: Option<bool>,
    /// Whether it may be counted on.
    in_service: bool,
    /// Why not, where it is out of service.
    #[schema(min_length = 1, max_length = 2000)]
    out_of_service_reason: Option<String>,
    /// Anything else.
    #[schema(min_length = 1, max_length = 2000)]
    description: Option<String>,
}

impl HydrantBody {
    /// The hydrant under this number, or every fault.
    pub(crate) fn hydrant(&self, id: AssetId) -> Result<Hydrant, Problem> {
        let mut faults = Faults::of_body();
        let hydrant = self.converted(id, &mut faults);
        faults.finish(hydrant)
    }

    fn converted(&self, id: AssetId, faults: &mut Faults) -> Option<Hydrant> {
        faults.same_id("/hydrant_id", self.hydrant_id.as_deref(), &id);
        let location = self.location.location("/location", faults);
        let elevation = faults.optional("/elevation_ft", self.elevation_ft, Elevation::from_ft);
        let outlets = faults.list("/outlets", &self.outlets, MAX_OUTLETS, Outlet::outlet);
        let coefficient = ApplianceCoefficient::from_psi_per_100gpm2;
        let body_loss = faults.optional("/body_loss_coefficient", self.body_loss_coefficient, coefficient);
        let main_id = faults.optional_text("/main_id", self.main_id.as_deref(), MAX_NAME_CHARS);
        let main_diameter = faults.optional("/main_diameter_in", self.main_diameter_in, Diameter::from_in);
        let pressure_zone = faults.optional_text("/pressure_zone", self.pressure_zone.as_deref(), MAX_NAME_CHARS);
        let status = self.status(faults);
        let description = faults.optional_text("/description", self.description.as_deref(), MAX_NOTE_CHARS);
        Some(Hydrant {
            id,
            location: location?,
            elevation: elevation?,
            outlets: outlets?,
            body_loss: body_loss?,
            main_id: main_id?,
            main_diameter: main_diameter?,
            pressure_zone: pressure_zone?,
            owner: match self.owner {
                OwnerName::Public => Owner::Public,
                OwnerName::Private => Owner::Private,
            },
            potable: self.potable,
            seasonal: self.seasonal.unwrap_or(false),
            status: status?,
            description: description?,
        })
    }

    fn status(&self, faults: &mut Faults) -> Option<Status> {
        let pointer = "/out_of_service_reason";
        let reason = faults.optional_text(pointer, self.out_of_service_reason.as_deref(), MAX_NOTE_CHARS)?;
        match (self.in_service, reason) {
            (true, None) => Some(Status::InService),
            (true, Some(_)) => faults.add(pointer, "not_with", "goes with `in_service` false only"),
            (false, reason) => Some(Status::OutOfService { reason }),
        }
    }
}

impl From<Location> for Point {
    fn from(place: Location) -> Self {
        Self { lon: place.lon(), lat: place.lat() }
    }
}

impl Point {
    pub(super) fn location(self, pointer: &str, faults: &mut Faults) -> Option<Location> {
        match Location::new(self.lon, self.lat) {
            Ok(location) => Some(location),
            Err(bad) => {
                for fault in bad {
                    let member = if fault.quantity == "longitude" { "lon" } else { "lat" };
                    faults.note(&format!("{pointer}/{member}"), "out_of_bounds", fault.to_string());
                }
                None
            }
        }
    }
}

impl Outlet {
    fn outlet(faults: &mut Faults, at: &str, outlet: &Self) -> Option<HydrantOutlet> {
        let diameter = faults.good(&format!("{at}/diameter_in"), Diameter::from_in(outlet.diameter_in));
        let coefficient = OutletCoefficient::from_number(outlet.coefficient);
        let coefficient = faults.good(&format!("{at}/coefficient"), coefficient);
        let kind = match outlet.kind {
            OutletKindName::Hose => OutletKind::Hose,
            OutletKindName::Pumper => OutletKind::Pumper,
        };
        Some(HydrantOutlet { kind, diameter: diameter?, coefficient: coefficient? })
    }
}

/// A hydrant as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HydrantRecord {
    /// The department's number.
    hydrant_id: String,
    /// Where it stands.
    location: Point,
    /// Height of the ground there, above the department's datum.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    elevation_ft: Option<f64>,
    /// Its outlets.
    outlets: Vec<Outlet>,
    /// Loss of its own body and outlet where it was tested, psi per (100 gpm)².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    body_loss_coefficient: Option<f64>,
    /// The main it stands on.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    main_id: Option<String>,
    /// Inside diameter of that main.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    main_diameter_in: Option<f64>,
    /// The pressure zone it belongs to.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pressure_zone: Option<String>,
    /// Who owns it.
    owner: OwnerName,
    /// Whether its water is fit to drink.
    potable: bool,
    /// Whether it is shut for part of the year.
    seasonal: bool,
    /// Whether it may be counted on.
    in_service: bool,
    /// Why not, if that was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    out_of_service_reason: Option<String>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    description: Option<String>,
}

impl From<Hydrant> for HydrantRecord {
    fn from(hydrant: Hydrant) -> Self {
        let (in_service, out_of_service_reason) = match hydrant.status {
            Status::InService => (true, None),
            Status::OutOfService { reason } => (false, reason),
        };
        Self {
            hydrant_id: hydrant.id.to_string(),
            location: hydrant.location.into(),
            elevation_ft: hydrant.elevation.map(Elevation::ft),
            outlets: hydrant.outlets.iter().map(Outlet::from).collect(),
            body_loss_coefficient: hydrant.body_loss.map(ApplianceCoefficient::psi_per_100gpm2),
            main_id: hydrant.main_id,
            main_diameter_in: hydrant.main_diameter.map(Diameter::inches),
            pressure_zone: hydrant.pressure_zone,
            owner: match hydrant.owner {
                Owner::Public => OwnerName::Public,
                Owner::Private => OwnerName::Private,
            },
            potable: hydrant.potable,
            seasonal: hydrant.seasonal,
            in_service,
            out_of_service_reason,
            description: hydrant.description,
        }
    }
}

impl From<&HydrantOutlet> for Outlet {
    fn from(outlet: &HydrantOutlet) -> Self {
        Self {
            kind: match outlet.kind {
                OutletKind::Hose => OutletKindName::Hose,
                OutletKind::Pumper => OutletKindName::Pumper,
            },
            diameter_in: outlet.diameter.inches(),
            coefficient: outlet.coefficient.number(),
        }
    }
}

/// Record a hydrant
///
/// Creates it under the department's number, or replaces the whole of it. A retired one comes back.
#[utoipa::path(
    put, path = "/v1/hydrants/{hydrant_id}", tag = "hydrants",
    params(("hydrant_id" = String, Path, description = "The department's number"), PutHeaders),
    request_body(content = HydrantBody, description = "The whole hydrant"),
    responses(
        (status = 201, description = "Recorded, and new", body = HydrantRecord),
        (status = 200, description = "Replaced", body = HydrantRecord),
    )
)]
pub(crate) async fn put_hydrant(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
    Json(body): Json<HydrantBody>,
) -> Result<Stored<HydrantRecord>, Problem> {
    let hydrant = body.hydrant(id)?;
    let put = app.store.put_hydrant(&hydrant, &writer.change(app.clock.now()).on(condition)).await?;
    Ok(Stored(put, hydrant.into()))
}

/// Look up a hydrant
///
/// As it was last recorded; a retired one is not found.
#[utoipa::path(
    get, path = "/v1/hydrants/{hydrant_id}", tag = "hydrants",
    params(("hydrant_id" = String, Path, description = "The department's number"), GetHeaders),
    responses((status = 200, description = "The hydrant", body = HydrantRecord))
)]
pub(crate) async fn get_hydrant(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    known: Known,
) -> Result<Response, Problem> {
    let found = app.store.versioned_hydrant(&id).await?.ok_or_else(|| Problem::no_such(RecordKind::Hydrant, &id))?;
    Ok(known.or_send(Tagged { version: found.version, record: HydrantRecord::from(found.read) }))
}

/// Retire a hydrant
///
/// It is hidden from lists and answers; its flow tests are kept, and still lend their curve to its main.
#[utoipa::path(
    delete, path = "/v1/hydrants/{hydrant_id}", tag = "hydrants",
    params(("hydrant_id" = String, Path, description = "The department's number"), DeleteHeaders),
    responses((status = 204, description = "Retired"))
)]
pub(crate) async fn delete_hydrant(
    State(app): State<AppState>,
    Path(id): Path<AssetId>,
    writer: Writer,
    Precondition(condition): Precondition,
) -> Result<Retired, Problem> {
    let retired = app.store.retire_hydrant(&id, &writer.change(app.clock.now()).on(condition)).await?;
    if retired { Ok(Retired) } else { Err(Problem::no_such(RecordKind::Hydrant, &id)) }
}
