//! The lay question as it comes over HTTP.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::streams::StreamAsk;

/// What is asked of a lay: where the water comes from, over what, with which pumper.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayCalculation {
    /// The hydrant: a stored one, or a flow test's three numbers.
    #[serde(deserialize_with = "crate::object::one")]
    pub(crate) source: LaySource,
    /// A stored standard lay. Exactly one of this and `parts`.
    pub(crate) lay_profile_id: Option<String>,
    /// The lay part by part, hydrant to scene. Exactly one of this and `lay_profile_id`.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(max_items = 100)]
    pub(crate) parts: Option<Vec<LayPart>>,
    /// Hose laid, in place of all that the profile carries. Only with `lay_profile_id`.
    #[schema(minimum = 1, maximum = 100_000)]
    pub(crate) length_ft: Option<f64>,
    /// Ground at the scene above ground at the hydrant; a fall is negative. Not beside a `rise` part.
    #[schema(minimum = -5000, maximum = 5000)]
    pub(crate) rise_ft: Option<f64>,
    /// A pumper that joins at the hydrant valve, or at the hydrant where there is none. Not beside a `pumper` part.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    pub(crate) boost: Option<LayPumper>,
    /// Least pressure left in the main. Default the profile's, else 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) main_floor_psi: Option<f64>,
    /// Least pressure wanted at the scene intake. Default the profile's, else 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) scene_floor_psi: Option<f64>,
    /// The flow wanted at the scene. Not beside `streams`.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) target_flow_gpm: Option<f64>,
    /// The streams wanted at the scene: what they flow together is the flow wanted. Not beside `target_flow_gpm`.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(min_items = 1, max_items = 20)]
    pub(crate) streams: Option<Vec<StreamAsk>>,
    /// Flow at which the dry line is filled. Default what the hydrant alone delivers.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) fill_flow_gpm: Option<f64>,
    /// The scene pumper's tank while the line fills.
    #[serde(default, deserialize_with = "crate::object::maybe")]
    pub(crate) tank: Option<LayTank>,
    /// Answer for a hydrant that is out of service. Default false: it is refused.
    pub(crate) allow_out_of_service: Option<bool>,
}

/// The hydrant: `hydrant_id`, or the three numbers of a flow test.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LaySource {
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
}

/// One part of a lay. Its `kind` says which members go with it:
///
/// * `hose`: `length_ft`, `lines`?, and `hose_type_id` or `loss_coefficient` (C) with `diameter_in`?, `max_operating_psi`?, `service_test_psi`?
/// * `parallel`: `branches`, unequal lines side by side
/// * `appliance`: `appliance_id`, or `loss_coefficient` (k), or `fixed_loss_psi` with `at_or_above_gpm`; with the last two `max_operating_psi`?
/// * `hydrant_valve`: `hydrant_valve_id`, or `through_coefficient`, `to_pump_coefficient` and `from_pump_coefficient`
/// * `rise`: `feet`
/// * `pumper`, computed as written: `pumper_id`, or `rated_flow_gpm` with `intake_floor_psi`?, `max_discharge_psi`?
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayPart {
    /// What it is.
    pub(crate) kind: LayPartKind,
    /// A stored hose type.
    pub(crate) hose_type_id: Option<String>,
    /// Of hose C, psi per (100 gpm)² per 100 ft; of an appliance k, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 5000)]
    pub(crate) loss_coefficient: Option<f64>,
    /// Inside diameter, for the water that fills the hose.
    #[schema(minimum = 0.5, maximum = 24)]
    pub(crate) diameter_in: Option<f64>,
    /// Marked operating pressure.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) max_operating_psi: Option<f64>,
    /// Service-test pressure.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) service_test_psi: Option<f64>,
    /// Length of each line.
    #[schema(minimum = 1, maximum = 100_000)]
    pub(crate) length_ft: Option<f64>,
    /// Equal lines side by side. Default 1.
    #[schema(minimum = 1, maximum = 8)]
    pub(crate) lines: Option<u8>,
    /// The lines of a `parallel`, 2 to 8.
    #[serde(default, deserialize_with = "crate::object::maybe_many")]
    #[schema(min_items = 2, max_items = 8)]
    pub(crate) branches: Option<Vec<LayBranch>>,
    /// A stored appliance.
    pub(crate) appliance_id: Option<String>,
    /// A loss that stands from a flow on.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) fixed_loss_psi: Option<f64>,
    /// That flow.
    #[schema(minimum = 0, maximum = 50_000)]
    pub(crate) at_or_above_gpm: Option<f64>,
    /// A stored hydrant valve.
    pub(crate) hydrant_valve_id: Option<String>,
    /// Hydrant to supply line, unboosted, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) through_coefficient: Option<f64>,
    /// Hydrant to the pumper's intake, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) to_pump_coefficient: Option<f64>,
    /// Pumper to the supply line, psi per (100 gpm)².
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) from_pump_coefficient: Option<f64>,
    /// Height gained; a fall is negative.
    #[schema(minimum = -5000, maximum = 5000)]
    pub(crate) feet: Option<f64>,
    /// A stored pumper.
    pub(crate) pumper_id: Option<String>,
    /// Rated flow.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) rated_flow_gpm: Option<f64>,
    /// Least pressure at the pumper's intake. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) intake_floor_psi: Option<f64>,
    /// The department's ceiling on the pumper's discharge.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) max_discharge_psi: Option<f64>,
}

/// A kind of part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum LayPartKind {
    /// One or more equal lines.
    #[default]
    Hose,
    /// Unequal lines side by side.
    Parallel,
    /// An appliance.
    Appliance,
    /// A four-way hydrant valve; at most one.
    HydrantValve,
    /// Ground that rises or falls here.
    Rise,
    /// A pumper in the line.
    Pumper,
}

impl LayPartKind {
    /// The members that go with it.
    const fn members(self) -> &'static [&'static str] {
        match self {
            Self::Hose => &[
                "hose_type_id",
                "loss_coefficient",
                "diameter_in",
                "max_operating_psi",
                "service_test_psi",
                "length_ft",
                "lines",
            ],
            Self::Parallel => &["branches"],
            Self::Appliance => {
                &["appliance_id", "loss_coefficient", "fixed_loss_psi", "at_or_above_gpm", "max_operating_psi"]
            }
            Self::HydrantValve => {
                &["hydrant_valve_id", "through_coefficient", "to_pump_coefficient", "from_pump_coefficient"]
            }
            Self::Rise => &["feet"],
            Self::Pumper => &["pumper_id", "rated_flow_gpm", "intake_floor_psi", "max_discharge_psi"],
        }
    }
}

impl LayPart {
    /// The members given that do not go with its kind.
    pub(crate) fn out_of_place(&self) -> Vec<&'static str> {
        let given = [
            ("hose_type_id", self.hose_type_id.is_some()),
            ("loss_coefficient", self.loss_coefficient.is_some()),
            ("diameter_in", self.diameter_in.is_some()),
            ("max_operating_psi", self.max_operating_psi.is_some()),
            ("service_test_psi", self.service_test_psi.is_some()),
            ("length_ft", self.length_ft.is_some()),
            ("lines", self.lines.is_some()),
            ("branches", self.branches.is_some()),
            ("appliance_id", self.appliance_id.is_some()),
            ("fixed_loss_psi", self.fixed_loss_psi.is_some()),
            ("at_or_above_gpm", self.at_or_above_gpm.is_some()),
            ("hydrant_valve_id", self.hydrant_valve_id.is_some()),
            ("through_coefficient", self.through_coefficient.is_some()),
            ("to_pump_coefficient", self.to_pump_coefficient.is_some()),
            ("from_pump_coefficient", self.from_pump_coefficient.is_some()),
            ("feet", self.feet.is_some()),
            ("pumper_id", self.pumper_id.is_some()),
            ("rated_flow_gpm", self.rated_flow_gpm.is_some()),
            ("intake_floor_psi", self.intake_floor_psi.is_some()),
            ("max_discharge_psi", self.max_discharge_psi.is_some()),
        ];
        let out = |(name, given): (&'static str, bool)| (given && !self.kind.members().contains(&name)).then_some(name);
        given.into_iter().filter_map(out).collect()
    }

    /// The stored equipment it is of, whatever its kind.
    pub(crate) fn stored_id(&self) -> Option<&str> {
        let ids = [&self.hose_type_id, &self.appliance_id, &self.hydrant_valve_id, &self.pumper_id];
        ids.into_iter().flatten().next().map(String::as_str)
    }

    /// A length of stored hose.
    pub(crate) fn hose(hose_type_id: String, length_ft: Option<f64>, lines: Option<u8>) -> Self {
        Self { kind: LayPartKind::Hose, hose_type_id: Some(hose_type_id), length_ft, lines, ..Self::default() }
    }

    /// The pumper it is.
    pub(crate) fn pumper(&self) -> LayPumper {
        LayPumper {
            pumper_id: self.pumper_id.clone(),
            rated_flow_gpm: self.rated_flow_gpm,
            intake_floor_psi: self.intake_floor_psi,
            max_discharge_psi: self.max_discharge_psi,
        }
    }
}

/// One of several lines side by side: hose and appliances only.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayBranch {
    /// Its parts, of kind `hose` or `appliance`.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(min_items = 1, max_items = 100, no_recursion)]
    pub(crate) parts: Vec<LayPart>,
}

/// A pumper: `pumper_id`, or its rated flow.
#[derive(Debug, Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayPumper {
    /// A stored pumper.
    pub(crate) pumper_id: Option<String>,
    /// Rated flow.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) rated_flow_gpm: Option<f64>,
    /// Least pressure at its intake. Default 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) intake_floor_psi: Option<f64>,
    /// The department's ceiling on its discharge.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) max_discharge_psi: Option<f64>,
}

/// The tank that must last until the line is filled.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayTank {
    /// Water in the tank.
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub(crate) volume_gal: f64,
    /// What the attack lines take meanwhile.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) attack_flow_gpm: f64,
}
