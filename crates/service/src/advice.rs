//! What goes with every answer: findings about the data, cautions for the people, the formulas it rests on, the test behind it.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::LazyLock;

use chrono::NaiveDate;
use longlay_hydraulics::band::{Band, Effect};
use longlay_hydraulics::bibliography::{self, Seen};
use longlay_hydraulics::caution::Caution;
use longlay_hydraulics::finding::{Detail, Finding, FindingCode, Floor, Severity};
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::needed_flow::MethodCaution;
use longlay_hydraulics::spread::LEVEL;
use longlay_records::supply::Supply;
use serde::Serialize;
use serde_json::value::RawValue;
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};
use uuid::Uuid;

/// What is weak about the data behind an answer.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct FindingNote {
    /// Stable code.
    pub(crate) code: &'static str,
    /// How much it weighs.
    severity: SeverityName,
    /// What it says, with the number that caused it.
    pub(crate) message: String,
    /// The number that caused it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) value: Option<f64>,
    /// Unit of `value`, UCUM or as the trade writes it.
    #[serde(skip_serializing_if = "str::is_empty")]
    pub(crate) unit: &'static str,
    /// The part of the lay it is about, counted from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    part_index: Option<usize>,
    /// Key of the source.
    source: &'static str,
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum SeverityName {
    /// Good to know.
    Note,
    /// The figure may be off.
    Weak,
    /// Do not plan on the figure as it stands.
    Serious,
}

impl From<&Finding> for FindingNote {
    fn from(finding: &Finding) -> Self {
        let severity = match finding.code.severity() {
            Severity::Note => SeverityName::Note,
            Severity::Weak => SeverityName::Weak,
            Severity::Serious => SeverityName::Serious,
        };
        Self {
            code: finding.code.code(),
            severity,
            message: worded(finding),
            value: finding.value,
            unit: finding.code.unit(),
            part_index: finding.part,
            source: finding.code.source(),
        }
    }
}

/// The finding's text, after what it is about and before the number that caused it.
fn worded(finding: &Finding) -> String {
    let about = match (finding.code, finding.part) {
        (FindingCode::AssumedLoss, None) => "Hydrant body: ".to_owned(),
        (_, Some(part)) => format!("Part {part}: "),
        _ => String::new(),
    };
    let floor = match finding.detail {
        Some(Detail::Floor(Floor::Main)) => "Main floor: ",
        Some(Detail::Floor(Floor::Scene)) => "Scene floor: ",
        Some(Detail::Floor(Floor::Intake)) => "A pumper's intake floor: ",
        _ => "",
    };
    let number =
        finding.value.map_or_else(String::new, |value| format!(" [{}{}]", told(finding.code, value), held(finding)));
    format!("{about}{floor}{}{number}", finding.code.text())
}

/// A number with its unit as it is said.
fn told(code: FindingCode, value: f64) -> String {
    match (code, code.unit()) {
        (FindingCode::LongExtrapolation, _) => format!("{value:.2} times"),
        (FindingCode::FittedCurve | FindingCode::SecondPointUnfit, _) => format!("exponent {value:.2}"),
        (_, "a") => format!("{value:.1} years"),
        (_, "") => format!("{value:.2}"),
        (_, unit) => format!("{value:.2} {unit}"),
    }
}

/// What another test has in the number's place.
fn held(finding: &Finding) -> String {
    let Some(Detail::OtherTest { value, day }) = finding.detail else { return String::new() };
    let day = NaiveDate::from_num_days_from_ce_opt(day).map_or_else(String::new, |day| format!(" of {day}"));
    format!(", and {} in the test{day}", told(finding.code, value))
}

/// What the people at the hydrant and the pump must know.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct CautionNote {
    /// Stable code.
    pub(crate) code: &'static str,
    /// What it says.
    message: &'static str,
}

impl From<Caution> for CautionNote {
    fn from(caution: Caution) -> Self {
        Self { code: caution.code(), message: caution.text() }
    }
}

impl From<MethodCaution> for CautionNote {
    fn from(caution: MethodCaution) -> Self {
        Self { code: caution.code(), message: caution.text() }
    }
}

/// A formula an answer rests on.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = BasisFormula)]
struct FormulaRecord {
    /// Stable id.
    id: &'static str,
    /// The formula.
    formula: &'static str,
    /// Units of what goes in and comes out.
    units: &'static str,
    /// Where it holds.
    range: &'static str,
    /// Who says so.
    sources: Vec<SourceNote>,
}

/// A formula an answer rests on, written out: they are the half of many an answer, and the same in each.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct BasisFormula(&'static RawValue);

/// Every formula as answers have it.
static WRITTEN: LazyLock<HashMap<&'static str, Box<RawValue>>> = LazyLock::new(|| {
    let written = |formula: &&'static Formula| {
        let record = FormulaRecord {
            id: formula.id,
            formula: formula.formula,
            units: formula.units,
            range: formula.range,
            sources: sources(formula),
        };
        serde_json::value::to_raw_value(&record).ok().map(|written| (formula.id, written))
    };
    formula::FORMULAS.iter().filter_map(written).collect()
});

impl From<&Formula> for BasisFormula {
    fn from(formula: &Formula) -> Self {
        // Every formula stands in the list, and a record of plain text can be written.
        Self(WRITTEN.get(formula.id).map_or(RawValue::NULL, |written| written))
    }
}

impl PartialSchema for BasisFormula {
    fn schema() -> RefOr<Schema> {
        FormulaRecord::schema()
    }
}

impl ToSchema for BasisFormula {
    fn name() -> Cow<'static, str> {
        FormulaRecord::name()
    }

    fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
        FormulaRecord::schemas(schemas);
    }
}

/// A source.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct SourceNote {
    /// Its key.
    key: &'static str,
    /// The work.
    citation: &'static str,
    /// How the figure came here.
    seen: SeenName,
}

/// How a figure came here.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum SeenName {
    /// Read in a copy or an excerpt.
    Read,
    /// From memory: confirm it against the edition in use.
    Memory,
    /// Customary in the trade, or own arithmetic.
    Custom,
}

/// Who says so.
pub(crate) fn sources(formula: &Formula) -> Vec<SourceNote> {
    let sources = formula.sources.iter().filter_map(|key| bibliography::work(key)).map(|work| SourceNote {
        key: work.key,
        citation: work.citation,
        seen: match work.seen {
            Seen::Read => SeenName::Read,
            Seen::Memory => SeenName::Memory,
            Seen::Custom => SeenName::Custom,
        },
    });
    sources.collect()
}

/// The flow test behind an answer.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct TestRef {
    /// Its id.
    pub(crate) id: Uuid,
    /// Its day.
    pub(crate) tested_on: NaiveDate,
    /// Days since.
    pub(crate) age_days: i64,
    /// The gauge hydrant, where it is another than the one asked about.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) borrowed_from: Option<String>,
}

impl From<&Supply> for TestRef {
    fn from(supply: &Supply) -> Self {
        Self {
            id: supply.test_id,
            tested_on: supply.tested_on,
            age_days: supply.age_days,
            borrowed_from: supply.borrowed_from.as_ref().map(ToString::to_string),
        }
    }
}

/// A 90 % band: under its low end once in twenty, over its high end once in twenty.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FlowBand {
    /// Its low end.
    pub(crate) low: f64,
    /// Its high end; null where the data set none.
    #[schema(required = true)]
    pub(crate) high: Option<f64>,
    /// The share of cases inside it.
    level: f64,
}

impl From<&Band> for FlowBand {
    fn from(band: &Band) -> Self {
        Self { low: band.low, high: band.high, level: LEVEL }
    }
}

/// What one uncertain reading or coefficient does to a flow.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Uncertainty {
    /// Which: `static_gauge`, `test_drop`, `near_drop`, `swing`, `pitot`, `outlet_coefficient`, `test_flow`, `hose`, `losses`.
    pub(crate) input: &'static str,
    /// What that is.
    message: &'static str,
    /// The flow with this input alone against us.
    low_gpm: f64,
    /// The flow with this input alone for us; null where nothing bounds it.
    #[schema(required = true)]
    high_gpm: Option<f64>,
    /// Its share of the band's width, as squares add up.
    share: f64,
    /// What to do to know it better.
    measure: &'static str,
}

impl Uncertainty {
    /// Every input of a band, the one that matters most first.
    pub(crate) fn of(band: &Band) -> Vec<Self> {
        band.effects.iter().map(Self::from).collect()
    }
}

impl From<&Effect> for Uncertainty {
    fn from(effect: &Effect) -> Self {
        Self {
            input: effect.input.code(),
            message: effect.input.text(),
            low_gpm: effect.low,
            high_gpm: effect.high,
            share: effect.share,
            measure: effect.input.measure(),
        }
    }
}
