//! What keeps the house in order: floors, licences, formulas' documentation, the API's description. Each failure says what to do.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail as tests do")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use longlay_hydraulics::bibliography;
use serde_json::{Map, Value};

/// Each crate with those of ours it may use: what lies below it.
const FLOORS: [(&str, &[&str]); 7] = [
    ("longlay-hydraulics", &[]),
    ("longlay-records", &["longlay-hydraulics"]),
    ("longlay-coverage", &["longlay-hydraulics"]),
    ("longlay-exchange", &["longlay-hydraulics", "longlay-records"]),
    ("longlay-store", &["longlay-hydraulics", "longlay-records", "longlay-coverage"]),
    (
        "longlay-service",
        &["longlay-hydraulics", "longlay-records", "longlay-coverage", "longlay-exchange", "longlay-store"],
    ),
    (
        "longlay-tests",
        &["longlay-hydraulics", "longlay-records", "longlay-exchange", "longlay-store", "longlay-service"],
    ),
];

/// Libraries that belong to one floor, with the crates that may name them.
const KEPT_TO: [(&str, &[&str]); 5] = [
    ("sqlx", &["longlay-store"]),
    ("axum", &["longlay-service", "longlay-tests"]),
    ("utoipa", &["longlay-service"]),
    ("serde", &["longlay-service", "longlay-exchange"]),
    ("clap", &["longlay-service"]),
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Each crate of the workspace with what its Cargo.toml names, for tests too.
fn dependencies() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--no-deps", "--offline", "--format-version", "1"])
        .current_dir(root())
        .output()
        .unwrap();
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let name = |value: &Value| value["name"].as_str().unwrap().to_owned();
    let packages = metadata["packages"].as_array().unwrap().iter();
    packages
        .map(|package| (name(package), package["dependencies"].as_array().unwrap().iter().map(name).collect()))
        .collect()
}

/// Everything that is built in, ours and others', as Cargo.lock has it.
fn built_in() -> Vec<Value> {
    // For the image's platform: what only others need was never fetched.
    let platform = format!("{}-unknown-linux-gnu", std::env::consts::ARCH);
    let arguments = ["metadata", "--locked", "--format-version", "1", "--filter-platform", &platform];
    let output = Command::new(env!("CARGO")).args(arguments).current_dir(root()).output().unwrap();
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    metadata["packages"].as_array().unwrap().clone()
}

/// The lines of a list in `.cargo/deny.toml`, which begins with this.
fn denied(list: &str) -> String {
    let text = fs::read_to_string(root().join(".cargo/deny.toml")).unwrap();
    let (_, after) = text.split_once(&format!("\n{list} = [")).unwrap();
    after.split("\n]").next().unwrap_or_default().split("]\n").next().unwrap_or_default().to_owned()
}

/// Whether a licence expression can be met with these alone: one side of each `OR`, both of each `AND`.
fn can_be_met(expression: &str, allowed: &[&str]) -> bool {
    // The older `/` is an `OR`. No expression met so far nests deeper than this.
    let plain = expression.replace('/', " OR ").replace(['(', ')'], " ");
    let one = |side: &str| side.split_whitespace().collect::<Vec<_>>().join(" ");
    plain.split(" AND ").all(|part| part.split(" OR ").any(|side| allowed.contains(&one(side).as_str())))
}

#[test]
fn every_library_comes_from_the_registry_under_an_allowed_licence() {
    let list = denied("allow");
    let allowed: Vec<_> = list.split('"').skip(1).step_by(2).collect();
    assert!(allowed.contains(&"MIT") && !allowed.contains(&"GPL-3.0"), "{allowed:?}");
    let packages = built_in();
    for package in &packages {
        let (name, licence) = (&package["name"], package["license"].as_str().unwrap_or_default());
        assert!(can_be_met(licence, &allowed), "{name}: {licence:?} is not allowed by .cargo/deny.toml");
        if let Some(source) = package["source"].as_str() {
            assert_eq!(source, "registry+https://github.com/rust-lang/crates.io-index", "{name}");
        }
    }
    assert!(packages.len() > 100, "only {} packages found: is the scan still right?", packages.len());
}

#[test]
fn what_must_be_there_once_or_not_at_all_is() {
    let list = denied("deny");
    let packages = built_in();
    let mut rows = 0;
    for row in list.lines().filter(|line| line.contains("crate = ")) {
        let name = row.split('"').nth(1).unwrap();
        let most = usize::from(row.contains("deny-multiple-versions = true"));
        let found = packages.iter().filter(|package| package["name"] == name).count();
        assert!(found <= most, "{name} is built in {found} times: {row}");
        rows += 1;
    }
    assert!(rows >= 5, "only {rows} rows found: is the scan still right?");
}

#[test]
fn a_licence_is_met_by_one_side_of_each_choice() {
    let allowed = ["MIT", "Unicode-3.0"];
    for good in ["MIT", "MIT/Apache-2.0", "Apache-2.0 OR MIT", "(MIT OR Apache-2.0) AND Unicode-3.0"] {
        assert!(can_be_met(good, &allowed), "{good}");
    }
    for bad in ["", "GPL-3.0", "MIT AND GPL-3.0", "(MIT OR Apache-2.0) AND GPL-3.0", "Apache-2.0 WITH LLVM-exception"] {
        assert!(!can_be_met(bad, &allowed), "{bad}");
    }
}

fn rust_files(folder: &str) -> Vec<(PathBuf, String)> {
    let mut folders = vec![root().join(folder)];
    let mut files = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                files.push((path.clone(), fs::read_to_string(&path).unwrap()));
            }
        }
    }
    assert!(!files.is_empty(), "{folder}");
    files
}

#[test]
fn no_floor_is_jumped() {
    let floors = BTreeMap::from(FLOORS);
    for (name, uses) in dependencies() {
        let below = floors.get(name.as_str()).unwrap_or_else(|| panic!("{name} has no floor: give it one in FLOORS"));
        for ours in uses.iter().filter(|used| floors.contains_key(used.as_str())) {
            assert!(below.contains(&ours.as_str()), "{name} uses {ours}, which does not lie below it");
        }
    }
}

#[test]
fn each_library_stays_on_its_floor() {
    for (library, allowed) in KEPT_TO {
        for (name, uses) in dependencies() {
            assert!(!uses.contains(library) || allowed.contains(&name.as_str()), "{name} names {library}");
        }
    }
}

/// Each run of `///` lines, with the line after it that is no attribute.
fn documented(source: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut doc = String::new();
    for line in source.lines().map(str::trim) {
        if let Some(text) = line.strip_prefix("///") {
            doc.push_str(text.trim());
            doc.push('\n');
        } else if !doc.is_empty() && !line.starts_with("#[") {
            found.push((std::mem::take(&mut doc), line.to_owned()));
        }
    }
    found
}

/// The text under a heading, up to the next.
fn section<'a>(doc: &'a str, heading: &str) -> Option<&'a str> {
    let (_, after) = doc.split_once(&format!("# {heading}\n"))?;
    Some(after.split("# ").next().unwrap_or(after).trim())
}

#[test]
fn every_formula_says_its_units_its_range_and_its_source() {
    let mut formulas = 0;
    for (path, source) in rust_files("crates/hydraulics/src") {
        for (doc, item) in documented(&source) {
            if section(&doc, "Formula").is_none() {
                continue;
            }
            formulas += 1;
            for heading in ["Formula", "Units", "Range", "Source"] {
                let text = section(&doc, heading).unwrap_or_default();
                assert!(!text.is_empty(), "{}: `{item}` has a formula and no `# {heading}`", path.display());
            }
        }
    }
    assert!(formulas >= 10, "only {formulas} formulas found: is the scan still right?");
}

/// Words in backticks behind `# Source` or `Source:`, up to a blank line.
fn cited(doc: &str) -> Vec<&str> {
    let mut keys = Vec::new();
    for mark in ["# Source\n", "Source: "] {
        for after in doc.split(mark).skip(1) {
            let text = after.split("\n\n").next().unwrap_or(after);
            keys.extend(text.split('`').skip(1).step_by(2));
        }
    }
    keys
}

#[test]
fn every_source_cited_is_in_the_bibliography() {
    let mut keys = BTreeSet::new();
    for folder in ["crates/hydraulics/src", "crates/records/src"] {
        for (path, source) in rust_files(folder) {
            for (doc, item) in documented(&source) {
                for key in cited(&doc) {
                    assert!(
                        bibliography::work(key).is_some(),
                        "{}: `{item}` cites `{key}`: not in the bibliography",
                        path.display()
                    );
                    keys.insert(key.to_owned());
                }
            }
        }
    }
    assert!(keys.len() >= 5, "only {keys:?} found: is the scan still right?");
}

/// The names under which types stand in the description.
fn schema_names(source: &str) -> Vec<String> {
    let mut names = Vec::new();
    let mut renamed = None;
    let mut derived = false;
    for line in source.lines().map(str::trim) {
        if line.starts_with("#[derive(") && line.contains("ToSchema") {
            derived = true;
        } else if let Some(name) = line.strip_prefix("#[schema(as = ").filter(|_| derived) {
            renamed = Some(name.split([')', ',']).next().unwrap_or_default().to_owned());
        } else if derived && !line.starts_with("#[") && (line.contains("struct ") || line.contains("enum ")) {
            let after = line.split_once("struct ").or_else(|| line.split_once("enum ")).map(|(_, after)| after);
            let own = after.unwrap_or_default().split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default();
            names.push(renamed.take().unwrap_or_else(|| own.to_owned()));
            derived = false;
        }
    }
    names
}

#[test]
fn no_two_types_share_a_name_in_the_description() {
    let mut seen = BTreeMap::new();
    for (path, source) in rust_files("crates/service/src") {
        for name in schema_names(&source) {
            if let Some(other) = seen.insert(name.clone(), path.clone()) {
                panic!("{name} stands in {} and in {}: the last would silently win", other.display(), path.display());
            }
        }
    }
    assert!(seen.len() >= 20, "only {} types found: is the scan still right?", seen.len());
}

fn description() -> Value {
    serde_json::from_str(&fs::read_to_string(root().join("openapi/longlay.json")).unwrap()).unwrap()
}

/// Each operation as `METHOD path`, with what the description says of it.
fn operations(description: &Value) -> Vec<(String, &Map<String, Value>)> {
    let paths = description["paths"].as_object().unwrap().iter();
    let of_path = |(path, item): (&String, &'_ Value)| -> Vec<_> {
        item.as_object().into_iter().flatten().map(|(method, _)| format!("{} {path}", method.to_uppercase())).collect()
    };
    let names: Vec<_> = paths.flat_map(of_path).collect();
    let operation = |name: String| {
        let (method, path) = name.split_once(' ').unwrap();
        let found = description["paths"][path][method.to_lowercase()].as_object().unwrap();
        (name.clone(), found)
    };
    names.into_iter().map(operation).collect()
}

fn said(value: Option<&Value>) -> bool {
    value.and_then(Value::as_str).is_some_and(|text| !text.trim().is_empty())
}

#[test]
fn every_operation_has_an_id_that_is_its_handlers_name_and_no_others() {
    let handlers: String = rust_files("crates/service/src/routes").into_iter().map(|(_, source)| source).collect();
    let description = description();
    let mut seen = BTreeSet::new();
    for (name, operation) in operations(&description) {
        let id = operation["operationId"].as_str().unwrap_or_else(|| panic!("{name} has no operationId"));
        assert!(id.contains('_'), "{name}: {id} is not <verb>_<resource>");
        assert!(handlers.contains(&format!("async fn {id}(")), "{name}: no handler is called {id}");
        assert!(seen.insert(id), "{name}: {id} is taken");
    }
    assert!(seen.len() >= 30, "{seen:?}");
}

#[test]
fn every_operation_says_what_it_is_and_does() {
    let description = description();
    let tags: Vec<_> = description["tags"].as_array().unwrap().iter().map(|tag| &tag["name"]).collect();
    for (name, operation) in operations(&description) {
        let own = operation.get("tags").and_then(Value::as_array).unwrap_or_else(|| panic!("{name} has no tag"));
        assert!(own.len() == 1 && tags.contains(&&own[0]), "{name}: {own:?} is no tag described in ApiDoc");
        assert!(said(operation.get("summary")), "{name} has no summary: the first line of the handler's doc");
        assert!(
            said(operation.get("description")),
            "{name} has no description: the second paragraph of the handler's doc"
        );
        for parameter in operation.get("parameters").and_then(Value::as_array).into_iter().flatten() {
            assert!(said(parameter.get("description")), "{name}: parameter {} has no description", parameter["name"]);
        }
        if let Some(body) = operation.get("requestBody") {
            assert!(said(body.get("description")), "{name}: the body has no description");
        }
    }
}

#[test]
fn every_response_has_a_description_and_every_refusal_is_a_problem() {
    let description = description();
    for (name, operation) in operations(&description) {
        let responses = operation["responses"].as_object().unwrap();
        assert!(responses.keys().any(|status| status.starts_with('2')), "{name} never goes well");
        for status in ["400", "500", "503"] {
            assert!(responses.contains_key(status), "{name} does not say what {status} is");
        }
        for (status, response) in responses {
            assert!(said(response.get("description")), "{name} {status} has no description");
            if status.starts_with(['4', '5']) {
                let content =
                    response["content"].as_object().unwrap_or_else(|| panic!("{name} {status} has no content"));
                let media_types: Vec<_> = content.keys().collect();
                assert_eq!(media_types, ["application/problem+json"], "{name} {status}");
            }
        }
    }
}

#[test]
fn every_reference_of_the_description_leads_somewhere() {
    fn walk(value: &Value, whole: &Value) {
        match value {
            Value::Array(items) => items.iter().for_each(|item| walk(item, whole)),
            Value::Object(members) => {
                if let Some(target) = members.get("$ref").and_then(Value::as_str) {
                    let pointer = target.strip_prefix('#').unwrap_or_else(|| panic!("{target} leads outside"));
                    assert!(whole.pointer(pointer).is_some(), "{target} leads nowhere");
                }
                members.values().for_each(|member| walk(member, whole));
            }
            _ => {}
        }
    }
    let description = description();
    walk(&description, &description);
}

#[test]
fn every_member_of_a_schema_is_described() {
    let description = description();
    for (name, schema) in description["components"]["schemas"].as_object().unwrap() {
        for (member, own) in schema["properties"].as_object().into_iter().flatten() {
            // One that may be null says it beside its reference.
            let variants = own.get("oneOf").and_then(Value::as_array);
            let described = std::iter::once(own).chain(variants.into_iter().flatten());
            assert!(
                described.into_iter().any(|part| said(part.get("description"))),
                "{name}.{member} has no description"
            );
        }
    }
}
