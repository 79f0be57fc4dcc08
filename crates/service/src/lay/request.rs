//! The lay question as it comes over HTTP.

use serde::Deserialize;
use utoipa::ToSchema;

/// What is asked of a lay: where the water comes from, over what, with which pumper.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayCalculation {
    /// The hydrant: a stored one, or a flow test's three numbers.
    pub(crate) source: LaySource,
    /// A stored standard lay. Exactly one of this and `parts`.
    pub(crate) lay_profile_id: Option<String>,
    /// The lay part by part, hydrant to scene. Exactly one of this and `lay_profile_id`.
    #[schema(max_items = 100)]
    pub(crate) parts: Option<Vec<LayPart>>,
    /// Hose laid, in place of all that the profile carries. Only with `lay_profile_id`.
    #[schema(minimum = 1, maximum = 100_000)]
    pub(crate) length_ft: Option<f64>,
    /// Ground at the scene above ground at the hydrant; a fall is negative. Not beside a `rise` part.
    #[schema(minimum = -5000, maximum = 5000)]
    pub(crate) rise_ft: Option<f64>,
    /// A pumper that joins at the hydrant valve, or at the hydrant where there is none. Not beside a `pumper` part.
    pub(crate) boost: Option<LayPumper>,
    /// Least pressure left in the main. Default the profile's, else 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) main_floor_psi: Option<f64>,
    /// Least pressure wanted at the scene intake. Default the profile's, else 20.
    #[schema(minimum = 0, maximum = 1000)]
    pub(crate) scene_floor_psi: Option<f64>,
    /// The flow wanted at the scene.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) target_flow_gpm: Option<f64>,
    /// Flow at which the dry line is filled. Default what the hydrant alone delivers.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) fill_flow_gpm: Option<f64>,
    /// The scene pumper's tank while the line fills.
    pub(crate) tank: Option<LayTank>,
    /// Answer for a hydrant that is out of service. Default false: it is refused.
    pub(crate) allow_out_of_service: Option<bool>,
}

/// The hydrant: `hydrant_id`, or the three numbers of a flow test.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
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

/// One part of a lay.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum LayPart {
    /// One or more equal lines: `hose_type_id`, or a `loss_coefficient` with what is known of the hose.
    Hose {
        /// A stored hose type.
        hose_type_id: Option<String>,
        /// C, psi per (100 gpm)² per 100 ft.
        #[schema(minimum = 0.001, maximum = 5000)]
        loss_coefficient: Option<f64>,
        /// Inside diameter, for the water that fills it.
        #[schema(minimum = 0.5, maximum = 24)]
        diameter_in: Option<f64>,
        /// Marked operating pressure.
        #[schema(minimum = 0, maximum = 1000)]
        max_operating_psi: Option<f64>,
        /// Service-test pressure.
        #[schema(minimum = 0, maximum = 1000)]
        service_test_psi: Option<f64>,
        /// Length of each line.
        #[schema(minimum = 1, maximum = 100_000)]
        length_ft: f64,
        /// Equal lines side by side. Default 1.
        #[schema(minimum = 1, maximum = 8)]
        lines: Option<u8>,
    },
    /// Unequal lines side by side.
    Parallel {
        /// The lines, 2 to 8.
        #[schema(min_items = 2, max_items = 8)]
        branches: Vec<LayBranch>,
    },
    /// An appliance: `appliance_id`, a `loss_coefficient`, or a `fixed_loss_psi` with `at_or_above_gpm`.
    Appliance {
        /// A stored appliance.
        appliance_id: Option<String>,
        /// k, psi per (100 gpm)².
        #[schema(minimum = 0, maximum = 1000)]
        loss_coefficient: Option<f64>,
        /// A loss that stands from a flow on.
        #[schema(minimum = 0, maximum = 1000)]
        fixed_loss_psi: Option<f64>,
        /// That flow.
        #[schema(minimum = 0, maximum = 50_000)]
        at_or_above_gpm: Option<f64>,
        /// Marked operating pressure.
        #[schema(minimum = 0, maximum = 1000)]
        max_operating_psi: Option<f64>,
    },
    /// A four-way hydrant valve: `hydrant_valve_id`, or its three coefficients.
    HydrantValve {
        /// A stored valve.
        hydrant_valve_id: Option<String>,
        /// Hydrant to supply line, unboosted, psi per (100 gpm)².
        #[schema(minimum = 0, maximum = 1000)]
        through_coefficient: Option<f64>,
        /// Hydrant to the pumper's intake, psi per (100 gpm)².
        #[schema(minimum = 0, maximum = 1000)]
        to_pump_coefficient: Option<f64>,
        /// Pumper to the supply line, psi per (100 gpm)².
        #[schema(minimum = 0, maximum = 1000)]
        from_pump_coefficient: Option<f64>,
    },
    /// Ground that rises here; a fall is negative.
    Rise {
        /// Height gained.
        #[schema(minimum = -5000, maximum = 5000)]
        feet: f64,
    },
    /// A pumper in the line, computed as written: `pumper_id`, or its rated flow.
    Pumper {
        /// A stored pumper.
        pumper_id: Option<String>,
        /// Rated flow.
        #[schema(minimum = 1, maximum = 50_000)]
        rated_flow_gpm: Option<f64>,
        /// Least pressure at its intake. Default 20.
        #[schema(minimum = 0, maximum = 1000)]
        intake_floor_psi: Option<f64>,
        /// The department's ceiling on its discharge.
        #[schema(minimum = 0, maximum = 1000)]
        max_discharge_psi: Option<f64>,
    },
}

/// One of several lines side by side: hose and appliances only.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayBranch {
    /// Its parts, of kind `hose` or `appliance`.
    #[schema(min_items = 1, max_items = 100, no_recursion)]
    pub(crate) parts: Vec<LayPart>,
}

/// A pumper: `pumper_id`, or its rated flow.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
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
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct LayTank {
    /// Water in the tank.
    #[schema(minimum = 0, maximum = 1_000_000)]
    pub(crate) volume_gal: f64,
    /// What the attack lines take meanwhile.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(crate) attack_flow_gpm: f64,
}

impl LayPart {
    /// A stored kind of hose, and nothing said of it but its length and lines.
    pub(crate) const fn plain_hose(hose_type_id: String, length_ft: f64, lines: Option<u8>) -> Self {
        Self::Hose {
            hose_type_id: Some(hose_type_id),
            loss_coefficient: None,
            diameter_in: None,
            max_operating_psi: None,
            service_test_psi: None,
            length_ft,
            lines,
        }
    }
}
