//! The formulas by themselves: what each says, is asked with and answers.

use longlay_hydraulics::caution::ALWAYS;
use longlay_hydraulics::formula::{FORMULAS, Formula};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{CautionNote, FindingNote, SourceNote, sources};
use crate::app::AppState;
use crate::extract::{Json, Path};
use crate::faults::Faults;
use crate::formulas::{self, Answer, Found, Input, Kind, Named, Output, Reader};
use crate::problem::{Problem, ProblemDocument, Slug};

/// Every formula.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaList {
    /// The formulas.
    items: Vec<FormulaDescription>,
    /// Always null: the list is one page.
    #[schema(required = true)]
    next: Option<String>,
}

/// A formula, and how it is asked.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaDescription {
    /// Stable id.
    id: &'static str,
    /// What it gives.
    gives: &'static str,
    /// The formula.
    formula: &'static str,
    /// Units of what goes in and comes out.
    units: &'static str,
    /// Where it holds.
    range: &'static str,
    /// Who says so.
    sources: Vec<SourceNote>,
    /// What it is asked with.
    inputs: Vec<FormulaInput>,
    /// What it answers. What is not known, or not asked, is left out of an answer.
    outputs: Vec<FormulaOutput>,
    /// Where to POST the inputs; null where it means something for a whole lay only.
    #[schema(required = true)]
    calculate: Option<String>,
    /// The operation that answers it, where it cannot be asked by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    answered_by: Option<&'static str>,
}

/// What an input is.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FormulaInputKind {
    /// A number.
    Number,
    /// One of `choices`.
    Text,
    /// True or false.
    Flag,
    /// A list of objects whose members are `items`.
    List,
}

/// An input.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaInput {
    /// Its name in `inputs`.
    name: &'static str,
    /// What it is.
    kind: FormulaInputKind,
    /// Its unit.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'static str,
    /// Whether it must be given. Where it need not, `description` or `formula` says what then holds, or which other input takes its place.
    required: bool,
    /// What it means.
    description: &'static str,
    /// Least number accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    minimum: Option<f64>,
    /// Greatest number accepted.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    maximum: Option<f64>,
    /// Whether the number must be whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    whole: Option<bool>,
    /// The texts accepted.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    choices: &'static [&'static str],
    /// Members of each object of a list.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(no_recursion)]
    items: Vec<FormulaInput>,
}

/// What a formula answers.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaOutput {
    /// Its name in `values`.
    name: &'static str,
    /// Its unit; absent for a text and for true or false.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'static str,
}

/// What a formula is asked.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FormulaAsk {
    /// The inputs by name, as the formula's description lists them.
    #[serde(deserialize_with = "formulas::given")]
    #[schema(value_type = Object)]
    inputs: Map<String, Value>,
}

/// An answer, or a step on the way to it: one of `value`, `text` and `flag`.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaValue {
    /// Its name.
    name: &'static str,
    /// The number.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    value: Option<f64>,
    /// The text.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    text: Option<&'static str>,
    /// True or false.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    flag: Option<bool>,
    /// Unit of `value`.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'static str,
    /// Which item of the list it is of, counted from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    index: Option<usize>,
}

/// What a formula answered.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FormulaAnswer {
    /// The formula's id.
    id: &'static str,
    /// The answers. What is not known is left out.
    values: Vec<FormulaValue>,
    /// How they came about, as far as there are steps.
    working: Vec<FormulaValue>,
    /// What is weak about what went in.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formula.
    formula: &'static str,
    /// Units of what goes in and comes out.
    units: &'static str,
    /// Where it holds.
    range: &'static str,
    /// Who says so.
    sources: Vec<SourceNote>,
}

/// List the formulas
///
/// What each gives, its units, range and sources, and what it is asked with. All in one page.
#[utoipa::path(get, path = "/v1/formulas", tag = "formulas",
    responses((status = 200, description = "The formulas", body = FormulaList)))]
pub(crate) async fn list_formulas() -> Json<FormulaList> {
    let items = FORMULAS.iter().map(|formula| FormulaDescription::of(formula)).collect();
    Json(FormulaList { items, next: None })
}

/// Describe a formula
///
/// What it gives, its units, range and sources, and what it is asked with.
#[utoipa::path(get, path = "/v1/formulas/{formula_id}", tag = "formulas",
    params(("formula_id" = String, Path, description = "Id of the formula")),
    responses((status = 200, description = "The formula", body = FormulaDescription)))]
pub(crate) async fn get_formula(Path(id): Path<String>) -> Result<Json<FormulaDescription>, Problem> {
    known(&id).map(|formula| Json(FormulaDescription::of(formula)))
}

/// Ask a formula
///
/// Its named inputs in; values, working, cautions and sources out. Every fault of the inputs is told at once. Nothing is stored.
#[utoipa::path(post, path = "/v1/formulas/{formula_id}", tag = "formulas",
    params(("formula_id" = String, Path, description = "Id of the formula")),
    request_body(content = FormulaAsk, description = "The inputs"),
    responses(
        (status = 200, description = "The answer", body = FormulaAnswer),
        (status = 404, description = "`not-found`: no such formula, or one that another operation answers", body = ProblemDocument,
            content_type = "application/problem+json")
    ))]
pub(crate) async fn calculate_formula(
    Path(id): Path<String>,
    Json(ask): Json<FormulaAsk>,
) -> Result<Json<FormulaAnswer>, Problem> {
    let formula = known(&id)?;
    let entry = formulas::entry(formula.id).ok_or_else(|| elsewhere(formula))?;
    let mut faults = Faults::of_body();
    let found = (entry.evaluate)(&mut Reader::new("/inputs".to_owned(), entry.inputs, &ask.inputs, &mut faults));
    faults.finish(found).map(|found| Json(FormulaAnswer::new(formula, &found)))
}

/// The routes.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_formulas)).routes(routes!(get_formula, calculate_formula))
}

fn known(id: &str) -> Result<&'static Formula, Problem> {
    let none = || Problem::new(Slug::NotFound, format!("there is no formula {id}; see /v1/formulas"));
    formulas::formula(id).ok_or_else(none)
}

fn elsewhere(formula: &Formula) -> Problem {
    let path = formulas::answered_by(formula.id).unwrap_or("another operation");
    Problem::new(Slug::NotFound, format!("{} is not asked by itself: {path} answers it", formula.id))
}

impl FormulaDescription {
    fn of(formula: &Formula) -> Self {
        let entry = formulas::entry(formula.id);
        let inputs = entry.map_or(&[][..], |entry| entry.inputs);
        let outputs = entry.map_or(&[][..], |entry| entry.outputs);
        Self {
            id: formula.id,
            gives: formula.gives,
            formula: formula.formula,
            units: formula.units,
            range: formula.range,
            sources: sources(formula),
            inputs: inputs.iter().map(FormulaInput::from).collect(),
            outputs: outputs.iter().map(FormulaOutput::from).collect(),
            calculate: entry.map(|_| format!("/v1/formulas/{}", formula.id)),
            answered_by: formulas::answered_by(formula.id),
        }
    }
}

impl From<&Input> for FormulaInput {
    fn from(input: &Input) -> Self {
        let plain = |kind| Self {
            name: input.name,
            kind,
            unit: input.unit,
            required: input.required,
            description: input.about,
            minimum: None,
            maximum: None,
            whole: None,
            choices: &[],
            items: Vec::new(),
        };
        let number = plain(FormulaInputKind::Number);
        match input.kind {
            Kind::Number(bound) => Self { minimum: Some(bound.min), maximum: Some(bound.max), ..number },
            Kind::Whole(least, most) => {
                Self { minimum: Some(least.into()), maximum: Some(most.into()), whole: Some(true), ..number }
            }
            Kind::Text(choices) => Self { choices, ..plain(FormulaInputKind::Text) },
            Kind::Flag => plain(FormulaInputKind::Flag),
            Kind::List(items) => {
                Self { items: items.iter().map(Self::from).collect(), ..plain(FormulaInputKind::List) }
            }
        }
    }
}

impl From<&Output> for FormulaOutput {
    fn from(output: &Output) -> Self {
        Self { name: output.name, unit: output.unit }
    }
}

impl From<&Named> for FormulaValue {
    fn from(named: &Named) -> Self {
        let (value, text, flag) = match named.answer {
            Answer::Number(value) => (Some(value), None, None),
            Answer::Text(text) => (None, Some(text), None),
            Answer::Flag(flag) => (None, None, Some(flag)),
        };
        Self { name: named.name, value, text, flag, unit: named.unit, index: named.index }
    }
}

impl FormulaAnswer {
    fn new(formula: &Formula, found: &Found) -> Self {
        let always = ALWAYS.into_iter().map(CautionNote::from);
        let of_method = found.cautions.iter().copied().map(CautionNote::from);
        Self {
            id: formula.id,
            values: found.values.iter().map(FormulaValue::from).collect(),
            working: found.working.iter().map(FormulaValue::from).collect(),
            findings: found.findings.iter().map(FindingNote::from).collect(),
            cautions: always.chain(of_method).collect(),
            formula: formula.formula,
            units: formula.units,
            range: formula.range,
            sources: sources(formula),
        }
    }
}
