//! The relay question as it comes over HTTP.

use serde::Deserialize;
use utoipa::ToSchema;

use crate::lay::{LayPart, LayPumper, LaySource};

/// What is asked of a relay: from which water, with what hose and pumpers, how far and how much.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RelayQuestion {
    /// The water. The first pumper stands there.
    #[serde(deserialize_with = "crate::object::one")]
    pub(crate) source: RelayWater,
    /// The hose, the same all the way.
    #[serde(deserialize_with = "crate::object::one")]
    pub(crate) hose: RelayHose,
    /// From the source to the scene, along the hose.
    #[schema(minimum = 1, maximum = 100_000)]
    pub(crate) distance_ft: f64,
    /// Ground at the scene above ground at the source, taken as one even slope; a fall is negative. Exactly one of this and `ground`.
    #[schema(minimum = -5000, maximum = 5000)]
    pub(crate) rise_ft: Option<f64>,
    /// The ground by its points, the first at 0 ft and the last at `distance_ft`. Exactly one of this and `rise_ft`.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(min_items = 2, max_items = 200)]
    pub(crate) ground: Option<Vec<RelayGroundPoint>>,
    /// The flow wanted at the scene.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) target_flow_gpm: f64,
    /// How the pumpers are placed. There is no default.
    pub(crate) method: RelayMethod,
    /// What everyone discharges. Only with `constant_pressure`; exactly one of this and `customary_discharge`.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) constant_discharge_psi: Option<f64>,
    /// True for the customary 175 psi. Only with `constant_pressure`.
    pub(crate) customary_discharge: Option<bool>,
    /// The pumpers there are, source first, the attack pumper left out. Exactly one of this and `typical_pumper`.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(min_items = 1, max_items = 24)]
    pub(crate) pumpers: Option<Vec<LayPumper>>,
    /// One that stands for as many as are needed. Exactly one of this and `pumpers`.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    pub(crate) typical_pumper: Option<LayPumper>,
    /// Least pressure left in the main. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) main_floor_psi: Option<f64>,
    /// Least pressure wanted at the attack pumper's intake. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) scene_floor_psi: Option<f64>,
    /// Answer for a hydrant that is out of service. Default false: it is refused.
    pub(crate) allow_out_of_service: Option<bool>,
}

/// How the pumpers are placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum RelayMethod {
    /// Each as far as the one before it can push.
    MaximumDistance,
    /// Equal spacing, and all at one discharge.
    ConstantPressure,
}

/// The water: `hydrant_id`, a flow test's three numbers, or `draft`.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RelayWater {
    /// A stored hydrant.
    pub(crate) hydrant_id: Option<String>,
    /// Static pressure.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) static_psi: Option<f64>,
    /// Residual pressure at `flow_gpm`.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) residual_psi: Option<f64>,
    /// The flow of the test.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) flow_gpm: Option<f64>,
    /// Loss of the hydrant's body and outlet, psi per (100 gpm)². None counted unless given.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) body_loss_coefficient: Option<f64>,
    /// Open water.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    pub(crate) draft: Option<DraftPlace>,
}

impl RelayWater {
    /// The hydrant, where it is one.
    pub(crate) fn main(&self) -> LaySource {
        LaySource {
            hydrant_id: self.hydrant_id.clone(),
            static_psi: self.static_psi,
            residual_psi: self.residual_psi,
            flow_gpm: self.flow_gpm,
            body_loss_coefficient: self.body_loss_coefficient,
        }
    }

    /// Whether anything of a hydrant is given.
    pub(crate) const fn names_a_main(&self) -> bool {
        self.hydrant_id.is_some()
            || self.static_psi.is_some()
            || self.residual_psi.is_some()
            || self.flow_gpm.is_some()
            || self.body_loss_coefficient.is_some()
    }
}

/// A pumper's place at open water.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct DraftPlace {
    /// Height of the pump above the water.
    #[schema(minimum = 0, maximum = 40)]
    pub(crate) lift_ft: f64,
    /// Height of the ground above sea level. Sea level, with a finding, unless given.
    #[schema(minimum = 0, maximum = 15_000)]
    pub(crate) altitude_ft: Option<f64>,
    /// Loss of suction hose and strainer by your own test, psi per (100 gpm)². None counted, with a finding, unless given.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) suction_loss_coefficient: Option<f64>,
}

/// The hose: `hose_type_id`, or `loss_coefficient` with its markings.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RelayHose {
    /// A stored hose type.
    pub(crate) hose_type_id: Option<String>,
    /// C, psi per (100 gpm)² per 100 ft.
    #[schema(minimum = 0.001, maximum = 5000)]
    pub(crate) loss_coefficient: Option<f64>,
    /// Marked operating pressure.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) max_operating_psi: Option<f64>,
    /// Service-test pressure.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) service_test_psi: Option<f64>,
    /// Equal lines side by side. Default 1.
    #[schema(minimum = 1, maximum = 8)]
    pub(crate) lines: Option<u8>,
}

impl RelayHose {
    /// The same as a part of a lay.
    pub(crate) fn part(&self, length_ft: f64) -> LayPart {
        LayPart {
            hose_type_id: self.hose_type_id.clone(),
            loss_coefficient: self.loss_coefficient,
            max_operating_psi: self.max_operating_psi,
            service_test_psi: self.service_test_psi,
            ..LayPart::hose(String::new(), Some(length_ft), self.lines)
        }
    }
}

/// A point of the ground.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RelayGroundPoint {
    /// How far from the source.
    #[schema(minimum = 0, maximum = 100_000)]
    pub(crate) distance_ft: f64,
    /// Height of the ground, above the same level for all points.
    #[schema(minimum = -1500, maximum = 30_000)]
    pub(crate) elevation_ft: f64,
}
