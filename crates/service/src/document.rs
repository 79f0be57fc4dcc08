//! The API's description: what the types do not say by themselves is added here, in one place for every operation.

use std::collections::{BTreeMap, BTreeSet};

use axum::http::Method;
use longlay_records::key::Scope;
use serde_json::{Map, Value, json};
use utoipa::OpenApi;

use crate::problem::{self, FieldError, Problem, Slug, shortened};
use crate::routes::capabilities::CapabilitiesFormat;
use crate::routes::coverage_gaps::CoverageGapsFormat;
use crate::routes::exports::{ExportFormat, ExportKind};
use crate::routes::hydrant_list::ClassCode;
use crate::routes::imports::ImportKind;
use crate::scopes::{self, Access};

/// What stands above the operations.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Longlay",
        description = "What water a hydrant puts at the fire, over this lay, alone and boosted; why no more; and how good the data is.\n\n\
            A planning aid: gauges at the pump govern; local procedures and the water authority decide.\n\n\
            Every number's key carries its unit. Whatever goes wrong is an `application/problem+json` document whose `type` is a page \
            that says what to do.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    tags(
        (name = "hydrants", description = "Where a hydrant stands, what it opens, who owns it and whether it may be used."),
        (name = "flow-tests", description = "Readings taken once at a hydrant, never edited, voided with a reason."),
        (name = "hose-types", description = "Kinds of hose: the shipped library's and the department's own."),
        (name = "appliances", description = "Kinds of wye, siamese, manifold, intake valve and the like."),
        (name = "hydrant-valves", description = "Kinds of four-way hydrant valve."),
        (name = "pumpers", description = "Pumpers and the hose they carry."),
        (name = "lay-profiles", description = "Standard lays."),
        (name = "equipment-tests", description = "The department's own tests of hose, appliances, hydrant valves and pumpers: their figures stand in place of the handbook's."),
        (name = "lays", description = "What arrives at the fire over a lay, alone and boosted, and what stands in its way."),
        (name = "dispatch", description = "What to lay for this address now."),
        (name = "coverage", description = "Where the district comes up short, and what would change it: runs over every demand point, along the streets."),
        (name = "drills", description = "Lays that were really laid: what the gauges read beside what was predicted, and what that says of the figures."),
        (name = "other-sources", description = "Where the hydrant does not do: relays, open water and tankers."),
        (name = "formulas", description = "The formulas one by one: what each says, where it holds, who says so, and its answer to named inputs."),
        (name = "needed-flow", description = "How much water a building asks for, by the methods in use, and whether a lay brings it."),
        (name = "pump-panel", description = "What a pump operator works out at the panel: attack lines, and what the hydrant has left."),
        (name = "ground", description = "What coverage is reckoned over: what asks for water, along what hose is laid, by which areas is counted, how high the ground lies."),
        (name = "keys", description = "Who may ask the service, and for what."),
        (name = "audit", description = "Who changed what, when."),
        (name = "exchange", description = "Whole spreadsheets and map files, in and out."),
        (name = "problems", description = "What the problem types mean."),
        (name = "health", description = "Whether the service runs, whether it can serve, and what it counts.")
    ),
    // Types of query parameters and the problem that is added to every operation are not found by themselves.
    components(schemas(problem::ProblemDocument, ClassCode, CapabilitiesFormat, CoverageGapsFormat, ExportFormat, ExportKind, ImportKind))
)]
pub(crate) struct ApiDoc;

/// Unit suffixes of keys, with their UCUM codes.
const UNITS: &[(&str, &str)] = &[
    // Before feet, which they end on.
    ("_sq_ft", "[sft_i]"),
    ("_cu_ft", "[cft_i]"),
    ("_psi", "[psi]"),
    ("_gpm", "[gal_us]/min"),
    ("_ft", "[ft_i]"),
    ("_in", "[in_i]"),
    ("_gal", "[gal_us]"),
    ("_lbf", "[lbf_av]"),
    ("_percent", "%"),
    ("_min", "min"),
    ("_s", "s"),
    ("_min", "min"),
    ("_mi", "[mi_i]"),
    ("_days", "d"),
    ("_percent", "%"),
];
/// Whole keys that are quantities, with their UCUM codes.
const UNITS_OF_KEYS: &[(&str, &str)] = &[("lon", "deg"), ("lat", "deg"), ("feet", "[ft_i]")];

/// Keys and parameters that are a department's own number or id.
const ASSET_IDS: &[&str] = &[
    "hydrant_id",
    "demand_point_id",
    "hose_type_id",
    "appliance_id",
    "hydrant_valve_id",
    "pumper_id",
    "boost_pumper_id",
    "lay_profile_id",
    "flow_hydrant_ids",
    "scene_appliance_ids",
];
/// The form of such an id, as [`longlay_records::id::AssetId`] takes it.
const ASSET_ID_PATTERN: &str = "^[A-Za-z0-9_-]{1,64}$";

/// The document as it is served and committed.
pub(crate) fn finished(openapi: &utoipa::openapi::OpenApi) -> Value {
    // Writing a document made of plain data does not fail; a document of nothing would fail the comparison with the committed one.
    let mut document = serde_json::to_value(openapi).unwrap_or_default();
    name_by_name(&mut document);
    mark_unread(&mut document);
    for operation in operations_mut(&mut document) {
        let id = operation.get("operationId").and_then(Value::as_str).unwrap_or_default();
        let access = scopes::access(id);
        add_problems(operation, access);
        add_security(operation, access);
        add_headers(operation);
    }
    document["components"]["securitySchemes"] = security_schemes();
    document
}

fn operations_mut(document: &mut Value) -> impl Iterator<Item = &mut Map<String, Value>> {
    let paths = document["paths"].as_object_mut().into_iter().flat_map(Map::values_mut);
    paths.filter_map(Value::as_object_mut).flat_map(Map::values_mut).filter_map(Value::as_object_mut)
}

fn ucum(key: &str) -> Option<&'static str> {
    let whole = UNITS_OF_KEYS.iter().find(|(name, _)| *name == key);
    whole.or_else(|| UNITS.iter().find(|(suffix, _)| key.ends_with(suffix))).map(|(_, code)| *code)
}

/// What is worked out for answers is taken in a body, so that what was read can be put back, and not looked at.
fn mark_unread(document: &mut Value) {
    let schemas = document["components"]["schemas"].as_object_mut().into_iter().flatten();
    for (_, schema) in schemas.filter(|(name, _)| name.ends_with("Body")) {
        if let Some(in_use) = schema["properties"].get_mut("in_use") {
            in_use["readOnly"] = true.into();
        }
    }
}

/// What follows from the name of a member or a parameter, in schemas and in operations.
fn name_by_name(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(name_by_name),
        Value::Object(object) => {
            if let Some(properties) = object.get_mut("properties").and_then(Value::as_object_mut) {
                properties.iter_mut().for_each(|(key, schema)| complete(key, schema));
            }
            if let Some(name) = object.get("name").and_then(Value::as_str).map(str::to_owned)
                && let Some(schema) = object.get_mut("schema")
            {
                complete(&name, schema);
            }
            object.values_mut().for_each(name_by_name);
        }
        _ => {}
    }
}

/// `x-ogc-unit` on a number whose key carries its unit, and the form of an id.
fn complete(key: &str, schema: &mut Value) {
    if (is(schema, "number") || is(schema, "integer"))
        && let Some(code) = ucum(key)
    {
        schema["x-ogc-unit"] = code.into();
    }
    if ASSET_IDS.contains(&key) {
        let id = if is(schema, "array") { &mut schema["items"] } else { schema };
        id["pattern"] = ASSET_ID_PATTERN.into();
    }
}

fn is(schema: &Value, kind: &str) -> bool {
    match &schema["type"] {
        Value::Array(kinds) => kinds.iter().any(|own| own == kind),
        own => own == kind,
    }
}

/// How a key is shown.
fn security_schemes() -> Value {
    json!({
        "bearer": { "type": "http", "scheme": "bearer", "description": "`Authorization: Bearer KEY`" },
        "api_key": { "type": "apiKey", "in": "header", "name": "X-API-Key", "description": "`X-API-Key: KEY`; goes before `Authorization`" },
        "basic": { "type": "http", "scheme": "basic", "description": "The key for the password, and any user: for desktop programs" }
    })
}

/// Which keys it asks for. Scopes belong to no scheme but OAuth's in the description's own words: they stand in a member of ours.
fn add_security(operation: &mut Map<String, Value>, access: Access) {
    let schemes =
        if access == Access::Public { json!([]) } else { json!([{"bearer": []}, {"api_key": []}, {"basic": []}]) };
    operation.insert("security".to_owned(), schemes);
    if let Access::AnyOf(_) = access {
        let scopes: Vec<_> = access.scopes().into_iter().map(Scope::as_str).collect();
        operation.insert("x-any-scope-of".to_owned(), json!(scopes));
    }
}

/// The problems that follow from an operation's form: what it takes, what it does, and who may ask for it.
fn add_problems(operation: &mut Map<String, Value>, access: Access) {
    let takes_path = operation
        .get("parameters")
        .and_then(Value::as_array)
        .is_some_and(|parameters| parameters.iter().any(|parameter| parameter["in"] == "path"));
    let takes_body = operation.contains_key("requestBody");
    let takes_version = takes_header(operation, "If-Match");
    let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) else { return };
    let writes = ["201", "204"].iter().any(|status| responses.contains_key(*status));
    let follows = |slug: Slug| match slug {
        Slug::KeyRequired => access != Access::Public,
        Slug::ScopeMissing => matches!(access, Access::AnyOf(_)),
        Slug::InvalidQuery | Slug::AddressTooLong | Slug::Internal | Slug::Overloaded => true,
        Slug::NotFound => takes_path,
        Slug::RequestTimeout | Slug::BodyTooLarge | Slug::UnsupportedMediaType | Slug::InvalidBodyShape => takes_body,
        Slug::PreconditionRequired | Slug::PreconditionFailed => takes_version,
        Slug::StorageFull => writes,
        _ => false,
    };
    for slug in Slug::ALL.iter().copied().filter(|slug| follows(*slug)) {
        responses.entry(slug.status().as_str()).or_insert_with(|| {
            json!({
                "description": describe(slug, access),
                "content": { problem::MEDIA_TYPE: { "schema": { "$ref": "#/components/schemas/Problem" } } }
            })
        });
    }
}

fn takes_header(operation: &Map<String, Value>, name: &str) -> bool {
    let parameters = operation.get("parameters").and_then(Value::as_array).into_iter().flatten();
    parameters.into_iter().any(|parameter| parameter["in"] == "header" && parameter["name"] == name)
}

/// What answers carry where a request takes a header: the version of what it depends on, and whether it is answered again.
fn add_headers(operation: &mut Map<String, Value>) {
    let (etag, replayed) = (
        ("ETag", "The version of the record: send it as `If-Match` to change it."),
        ("Idempotency-Replayed", "`true` where this is the answer that the same request was given before."),
    );
    let reads = takes_header(operation, "If-None-Match") && !takes_header(operation, "If-Match");
    let carried =
        [(etag, takes_header(operation, "If-None-Match")), (replayed, takes_header(operation, "Idempotency-Key"))];
    let Some(responses) = operation.get_mut("responses").and_then(Value::as_object_mut) else { return };
    if reads {
        responses.insert("304".to_owned(), json!({ "description": "It is what the caller has already" }));
    }
    let went_well = |status: &str| status.starts_with('2') || status == "304";
    for (_, response) in responses.iter_mut().filter(|(status, _)| went_well(status)) {
        for ((name, description), _) in carried.iter().filter(|(_, carries)| *carries) {
            response["headers"][*name] = json!({ "description": description, "schema": { "type": "string" } });
        }
    }
}

/// All that goes out with the status of this problem.
fn describe(slug: Slug, access: Access) -> String {
    let same: Vec<_> =
        Slug::ALL.iter().filter(|other| other.status() == slug.status()).map(|slug| slug.slug()).collect();
    match slug {
        Slug::ScopeMissing => {
            let scopes: Vec<_> = access.scopes().into_iter().map(Scope::as_str).collect();
            format!("The key has none of `{}` (`{}`)", scopes.join("`, `"), slug.slug())
        }
        // The conflicts of one operation are few: it says itself which.
        _ if same.len() == 1 => format!("{} (`{}`)", slug.title(), slug.slug()),
        _ => format!("`{}`", same.join("`, `")),
    }
}

/// Longest name of a parameter that is thrown back; our own are shorter.
const MAX_NAME_CHARS: usize = 64;

/// Which query parameters each operation takes, by path and method, read off the description.
#[derive(Debug)]
pub(crate) struct QueryParameters(BTreeMap<String, BTreeMap<String, BTreeSet<String>>>);

impl QueryParameters {
    /// Out of the finished document.
    pub(crate) fn of(document: &Value) -> Self {
        let mut known: BTreeMap<String, BTreeMap<String, BTreeSet<String>>> = BTreeMap::new();
        for (path, item) in document["paths"].as_object().into_iter().flatten() {
            for (method, operation) in item.as_object().into_iter().flatten() {
                let parameters = operation["parameters"].as_array().into_iter().flatten();
                let of_query = parameters.filter(|parameter| parameter["in"] == "query");
                let names = of_query.filter_map(|parameter| parameter["name"].as_str()).map(str::to_owned);
                known.entry(path.clone()).or_default().insert(method.to_uppercase(), names.collect());
            }
        }
        Self(known)
    }

    /// Refuses a query with a parameter that is unknown or given twice, naming every one.
    pub(crate) fn check(&self, method: &Method, path: &str, query: &str) -> Result<(), Problem> {
        let method = if method == Method::HEAD { &Method::GET } else { method };
        let Some(known) = self.0.get(path).and_then(|known| known.get(method.as_str())) else { return Ok(()) };
        let mut seen = BTreeSet::new();
        let mut errors = Vec::new();
        for (name, _) in form_urlencoded::parse(query.as_bytes()) {
            if !known.contains(name.as_ref()) {
                let name = shortened(&name, MAX_NAME_CHARS);
                let known: Vec<_> = known.iter().map(String::as_str).collect();
                let takes = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
                let detail = format!("unknown query parameter {name}; this operation takes {takes}");
                errors.push(FieldError::in_query(name, "unknown_parameter", detail));
            } else if !seen.insert(name.clone()) {
                let detail = format!("query parameter {name} is given twice");
                errors.push(FieldError::in_query(name.as_ref(), "given_twice", detail));
            }
        }
        if errors.is_empty() { Ok(()) } else { Err(Problem::with_errors(Slug::InvalidQuery, errors)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_read_off_the_end_of_the_key() {
        assert_eq!(ucum("residual_psi"), Some("[psi]"));
        assert_eq!(ucum("rated_flow_gpm"), Some("[gal_us]/min"));
        assert_eq!(ucum("loss_coefficient"), None);
        assert_eq!(ucum("lon"), Some("deg"));
    }
}
