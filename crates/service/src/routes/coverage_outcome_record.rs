//! What came out for a demand point, as it goes out: a feature of a map, or a row of a table.

use longlay_store::{Delivered, PointOutcome};
use serde::Serialize;
use utoipa::ToSchema;

use crate::coverage::causes::CauseName;

/// A demand point on a map, with what came out for it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageFeature {
    /// Always `Feature`.
    #[serde(rename = "type")]
    kind: FeatureKind,
    /// The demand point.
    id: String,
    /// Where it is.
    geometry: PointGeometry,
    /// What came out.
    properties: CoverageProperties,
}

/// What a feature is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
enum FeatureKind {
    /// A thing with a place.
    Feature,
}

/// A place, as GeoJSON (RFC 7946) writes it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PointGeometry {
    /// Always `Point`.
    #[serde(rename = "type")]
    kind: GeometryKind,
    /// Longitude and latitude.
    #[schema(min_items = 2, max_items = 2)]
    coordinates: Vec<f64>,
}

/// What a geometry is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
enum GeometryKind {
    /// One position.
    Point,
}

/// What came out for a demand point.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoverageProperties {
    /// The demand point.
    demand_point_id: String,
    /// What it is called.
    #[schema(required = true)]
    name: Option<String>,
    /// The districts it lies in.
    district_ids: Vec<String>,
    /// What it asks for; null where nobody knows.
    #[schema(required = true)]
    needed_flow_gpm: Option<f64>,
    /// Why it is covered, or is not: of several causes the one whose cure costs least.
    cause: CauseName,
    /// What is missing at the low end of the best; null without a need.
    #[schema(required = true)]
    shortfall_gpm: Option<f64>,
    /// The hydrant that the cause is about: that serves it, or would.
    #[schema(required = true)]
    hydrant: Option<CauseHydrant>,
    /// The best from one hydrant alone; null where no tested hydrant in service is within reach.
    #[schema(required = true)]
    alone: Option<DeliveredRecord>,
    /// The best with the pumper; null without one.
    #[schema(required = true)]
    boosted: Option<DeliveredRecord>,
    /// The best from two hydrants; looked for only where one does not do, and told only where two bring more than one. On their own pressure, as one pumper stands at
    /// one hydrant, or with the second pumper that was asked for.
    #[schema(required = true)]
    combined: Option<DeliveredRecord>,
    /// Whether the ground here, or at a hydrant told of here, is not known: the rise is left out then, and the bands are wider.
    ground_unknown: bool,
}

/// The hydrant that a cause is about.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CauseHydrant {
    /// Which.
    hydrant_id: String,
    /// The lay from it.
    lay_ft: f64,
    /// How much of that is more than the hose carried.
    extra_hose_ft: f64,
    /// The low end of what it brings, or would bring; null where nobody tested it.
    #[schema(required = true)]
    low_flow_gpm: Option<f64>,
}

/// What arrives.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeliveredRecord {
    /// From where, over how much hose.
    lays: Vec<LaidFrom>,
    /// What arrives by the figures as read.
    flow_gpm: f64,
    /// The low end of its 90 % band: what to plan on.
    low_flow_gpm: f64,
}

/// A hydrant laid from.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LaidFrom {
    /// Which.
    hydrant_id: String,
    /// The lay from it.
    lay_ft: f64,
}

impl From<&Delivered> for DeliveredRecord {
    fn from(delivered: &Delivered) -> Self {
        let laid =
            |(id, ft): &(longlay_records::id::AssetId, f64)| LaidFrom { hydrant_id: id.to_string(), lay_ft: *ft };
        Self {
            lays: delivered.lays.iter().map(laid).collect(),
            flow_gpm: delivered.flow_gpm,
            low_flow_gpm: delivered.low_gpm,
        }
    }
}

impl From<PointOutcome> for CoverageFeature {
    fn from(outcome: PointOutcome) -> Self {
        let named = outcome.named.map(|named| CauseHydrant {
            hydrant_id: named.hydrant_id.to_string(),
            lay_ft: named.lay_ft,
            extra_hose_ft: named.extra_ft,
            low_flow_gpm: named.low_gpm,
        });
        let id = outcome.demand_point_id.to_string();
        Self {
            kind: FeatureKind::Feature,
            id: id.clone(),
            geometry: PointGeometry {
                kind: GeometryKind::Point,
                coordinates: vec![outcome.location.lon(), outcome.location.lat()],
            },
            properties: CoverageProperties {
                demand_point_id: id,
                name: outcome.name,
                district_ids: outcome.district_ids.iter().map(ToString::to_string).collect(),
                needed_flow_gpm: outcome.need_gpm,
                cause: outcome.cause.into(),
                shortfall_gpm: outcome.shortfall_gpm,
                hydrant: named,
                alone: outcome.alone.as_ref().map(DeliveredRecord::from),
                boosted: outcome.boosted.as_ref().map(DeliveredRecord::from),
                combined: outcome.combined.as_ref().map(DeliveredRecord::from),
                ground_unknown: outcome.ground_unknown,
            },
        }
    }
}

/// The columns of the table. What stands in them is ids, codes and numbers: nothing that would have to be quoted.
pub(crate) const HEADINGS: [&str; 19] = [
    "demand_point_id",
    "lon",
    "lat",
    "district_ids",
    "needed_flow_gpm",
    "cause",
    "shortfall_gpm",
    "hydrant_id",
    "lay_ft",
    "extra_hose_ft",
    "alone_hydrant_id",
    "alone_lay_ft",
    "alone_low_flow_gpm",
    "boosted_hydrant_id",
    "boosted_lay_ft",
    "boosted_low_flow_gpm",
    "combined_hydrant_ids",
    "combined_low_flow_gpm",
    "ground_unknown",
];

/// A row of the table.
pub(crate) fn cells(outcome: &PointOutcome) -> [String; HEADINGS.len()] {
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let named = outcome.named.as_ref();
    let hydrants = |delivered: &Option<Delivered>| {
        let lays = delivered.iter().flat_map(|delivered| &delivered.lays);
        lays.map(|(id, _)| id.to_string()).collect::<Vec<_>>().join("; ")
    };
    let lay_ft = |delivered: &Option<Delivered>| Some(delivered.as_ref()?.lays.first()?.1);
    let low = |delivered: &Option<Delivered>| number(delivered.as_ref().map(|delivered| delivered.low_gpm));
    [
        outcome.demand_point_id.to_string(),
        outcome.location.lon().to_string(),
        outcome.location.lat().to_string(),
        outcome.district_ids.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
        number(outcome.need_gpm),
        outcome.cause.code().to_owned(),
        number(outcome.shortfall_gpm),
        named.map(|named| named.hydrant_id.to_string()).unwrap_or_default(),
        number(named.map(|named| named.lay_ft)),
        number(named.map(|named| named.extra_ft)),
        hydrants(&outcome.alone),
        number(lay_ft(&outcome.alone)),
        low(&outcome.alone),
        hydrants(&outcome.boosted),
        number(lay_ft(&outcome.boosted)),
        low(&outcome.boosted),
        hydrants(&outcome.combined),
        low(&outcome.combined),
        if outcome.ground_unknown { "yes" } else { "no" }.to_owned(),
    ]
}
