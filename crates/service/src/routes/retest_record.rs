//! What a new test of a hydrant would settle, as it goes out.

use longlay_hydraulics::caution::Caution;
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::formula;
use longlay_records::hydrant::Hydrant;
use longlay_records::retest::{Reason, Retest, Settles};
use longlay_records::supply::NoSupply;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote, FlowBand, TestRef};
use crate::lay::record_cautions;

/// A hydrant on the list of what to test next.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RetestRecord {
    /// The hydrant.
    hydrant_id: String,
    /// Whether it may be counted on.
    in_service: bool,
    /// What a new test would settle.
    settles: SettlesName,
    /// How much of the band's width a good test would take away, what the years and a fallen capacity leave in doubt included; null where the band has
    /// no end, or there is none.
    #[schema(required = true)]
    settles_gpm: Option<f64>,
    /// The test that stands now.
    #[schema(required = true)]
    flow_test: Option<TestRef>,
    /// Flow at `rated_at_psi` by that test; null without a test, or where it showed no drop.
    #[schema(required = true)]
    rated_flow_gpm: Option<f64>,
    /// How far that may be off now.
    #[schema(required = true)]
    band_now_gpm: Option<FlowBand>,
    /// How far it may be off after a good test that reads as the last one did.
    #[schema(required = true)]
    band_then_gpm: Option<FlowBand>,
    /// The pressure it is rated at.
    #[schema(required = true)]
    rated_at_psi: Option<f64>,
    /// What the test should flow, so that the gauge falls by a quarter of the static; null where no drop is known: flow more than the last test.
    #[schema(required = true)]
    target_flow_gpm: Option<f64>,
    /// Why, the weightiest first.
    reasons: Vec<ReasonNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// What a new test would settle.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum SettlesName {
    /// All: no usable test bears on the hydrant.
    Everything,
    /// How much it has over what was proved.
    HighEnd,
    /// Some of the band's width.
    Width,
}

/// Why a hydrant is on the list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReasonNote {
    /// Stable code: `out_of_service`, `untested`, `all_voided`, `none_usable`, `band_width`, or that of a finding.
    code: &'static str,
    /// The same in a sentence.
    message: String,
    /// The number that caused it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    value: Option<f64>,
    /// Unit of `value`, UCUM or as the trade writes it.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'static str,
}

impl RetestRecord {
    pub(crate) fn new(hydrant: &Hydrant, retest: &Retest) -> Self {
        let curve = retest.supply.as_ref().map(|supply| supply.curve);
        let (settles, settles_gpm) = match retest.settles {
            Settles::Everything => (SettlesName::Everything, None),
            Settles::HighEnd { .. } => (SettlesName::HighEnd, None),
            Settles::Width { gpm } => (SettlesName::Width, Some(gpm)),
        };
        let cautions = [Caution::MainFloor, Caution::OpenSlowly, Caution::LocalProcedures];
        let cautions = cautions.into_iter().chain(record_cautions(hydrant));
        Self {
            hydrant_id: retest.hydrant_id.to_string(),
            in_service: retest.in_service,
            settles,
            settles_gpm,
            flow_test: retest.supply.as_ref().map(TestRef::from),
            rated_flow_gpm: curve.and_then(|curve| curve.rated_flow_gpm()),
            band_now_gpm: retest.band_now.as_ref().map(FlowBand::from),
            band_then_gpm: retest.band_then.as_ref().map(FlowBand::from),
            rated_at_psi: curve.map(|curve| curve.rating_pressure_psi()),
            target_flow_gpm: retest.target_gpm,
            reasons: retest.reasons.iter().map(ReasonNote::from).collect(),
            cautions: cautions.map(CautionNote::from).collect(),
            basis: [formula::SUPPLY_CURVE, formula::RATED_FLOW, formula::FLOW_BAND]
                .iter()
                .map(BasisFormula::from)
                .collect(),
        }
    }
}

impl From<&Reason> for ReasonNote {
    fn from(reason: &Reason) -> Self {
        let plain = |code, message: String| Self { code, message, value: None, unit: "" };
        match reason {
            Reason::OutOfService => plain("out_of_service", "Out of service: test it when it comes back.".to_owned()),
            Reason::NoSupply(none) => {
                let code = match none {
                    NoSupply::NoTest => FindingCode::Untested.code(),
                    NoSupply::AllVoided => "all_voided",
                    NoSupply::NoneUsable => "none_usable",
                };
                let untested = FindingNote::from(&Finding::plain(FindingCode::Untested));
                plain(code, format!("{} [{none}]", untested.message))
            }
            Reason::Finding(finding) => {
                let note = FindingNote::from(finding);
                Self { code: note.code, message: note.message, value: note.value, unit: note.unit }
            }
            Reason::Width(gpm) => Self {
                code: "band_width",
                message: format!(
                    "A good test would take {gpm:.0} gpm from the width of what is known of its rated flow."
                ),
                value: Some(*gpm),
                unit: "gpm",
            },
        }
    }
}
