use std::collections::BTreeSet;

use serde_json::Value;

#[test]
fn the_committed_description_is_the_generated_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/longlay.json");
    let committed: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(
        committed == longlay_service::app::openapi(),
        "openapi/longlay.json is stale: `cargo run -- openapi > openapi/longlay.json`"
    );
}

#[test]
fn numbers_with_a_unit_in_their_name_carry_its_ucum_code() {
    let schemas = &longlay_service::app::openapi()["components"]["schemas"];
    let unit = |schema: &str, member: &str| schemas[schema]["properties"][member]["x-ogc-unit"].clone();
    assert_eq!(unit("FlowTestBody", "static_psi"), "[psi]");
    assert_eq!(unit("FlowTestRecord", "rated_flow_gpm"), "[gal_us]/min");
    assert_eq!(unit("HydrantBody", "elevation_ft"), "[ft_i]");
    assert_eq!(unit("HydrantBody", "main_diameter_in"), "[in_i]");
    assert_eq!(unit("PumperBody", "tank_gal"), "[gal_us]");
    assert_eq!(unit("Point", "lon"), "deg");
    assert_eq!(unit("HoseTypeBody", "loss_coefficient"), Value::Null);
}

#[test]
fn ids_have_their_form_in_the_description() {
    let description = longlay_service::app::openapi();
    let form = "^[A-Za-z0-9_-]{1,64}$";
    let schemas = &description["components"]["schemas"];
    assert_eq!(schemas["LayProfileBody"]["properties"]["hose_type_id"]["pattern"], form);
    assert_eq!(schemas["FlowTestBody"]["properties"]["flow_hydrant_ids"]["items"]["pattern"], form);
    assert_eq!(description["paths"]["/v1/hydrants/{hydrant_id}"]["get"]["parameters"][0]["schema"]["pattern"], form);
    assert_eq!(schemas["HydrantBody"]["properties"]["main_id"]["pattern"], Value::Null);
}

/// The names of the schemas that this refers to, at any depth.
fn named_by(document: &Value, value: &Value, names: &mut BTreeSet<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| named_by(document, item, names)),
        Value::Object(object) => {
            let name = object.get("$ref").and_then(Value::as_str).and_then(|target| target.rsplit('/').next());
            if let Some(name) = name
                && names.insert(name.to_owned())
            {
                named_by(document, &document["components"]["schemas"][name], names);
            }
            object.values().for_each(|value| named_by(document, value, names));
        }
        _ => {}
    }
}

fn may_be_null(schema: &Value) -> bool {
    let null = |kind: &Value| kind == "null" || kind["type"] == "null";
    ["type", "oneOf", "anyOf"].iter().any(|key| schema[key].as_array().is_some_and(|kinds| kinds.iter().any(null)))
}

#[test]
fn a_member_of_an_answer_may_be_null_or_absent_and_never_both() {
    let document = longlay_service::app::openapi();
    let mut asked = BTreeSet::new();
    for item in document["paths"].as_object().unwrap().values() {
        for operation in item.as_object().unwrap().values() {
            named_by(&document, &operation["requestBody"], &mut asked);
        }
    }
    let schemas = document["components"]["schemas"].as_object().unwrap();
    let answers = schemas.iter().filter(|(name, schema)| !asked.contains(*name) && schema["properties"].is_object());
    let mut both = Vec::new();
    for (name, schema) in answers {
        let required = schema["required"].as_array().map(Vec::as_slice).unwrap_or_default();
        let members = schema["properties"].as_object().unwrap().iter();
        let bad = members.filter(|(key, member)| may_be_null(member) && !required.iter().any(|one| one == *key));
        both.extend(bad.map(|(key, _)| format!("{name}.{key}")));
    }
    assert_eq!(both, Vec::<String>::new());
}

#[test]
fn what_is_null_without_data_is_always_there() {
    let schemas = &longlay_service::app::openapi()["components"]["schemas"];
    for (schema, member) in [
        ("HydrantCapability", "flow_test"),
        ("HydrantCapability", "rated_flow_gpm"),
        ("HydrantCapability", "class"),
        ("FlowTestRecord", "rated_flow_gpm"),
        ("LimitFlow", "flow_gpm"),
    ] {
        let required = schemas[schema]["required"].as_array().unwrap();
        assert!(required.iter().any(|one| one == member), "{schema}.{member}");
        assert!(may_be_null(&schemas[schema]["properties"][member]), "{schema}.{member}");
    }
}
