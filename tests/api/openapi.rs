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

#[test]
fn what_a_write_depends_on_is_described() {
    let paths = &longlay_service::app::openapi()["paths"];
    let names = |operation: &Value| -> Vec<String> {
        let parameters = operation["parameters"].as_array().unwrap().iter();
        let headers = parameters.filter(|parameter| parameter["in"] == "header");
        headers.map(|parameter| parameter["name"].as_str().unwrap().to_owned()).collect()
    };
    let mut puts = 0;
    for (path, item) in paths.as_object().unwrap() {
        if let Some(put) = item.get("put") {
            puts += 1;
            assert_eq!(names(put), ["If-Match", "If-None-Match"], "{path}");
            assert_eq!(names(&item["delete"]), ["If-Match"], "{path}");
            for operation in [put, &item["delete"]] {
                assert!(
                    operation["responses"]["412"].is_object() && operation["responses"]["428"].is_object(),
                    "{path}"
                );
            }
            for response in [&put["responses"]["200"], &put["responses"]["201"], &item["get"]["responses"]["200"]] {
                assert!(response["headers"]["ETag"].is_object(), "{path}");
            }
        }
    }
    assert_eq!(puts, 8);
    let hydrant = &paths["/v1/hydrants/{hydrant_id}"];
    assert!(hydrant["get"]["responses"]["304"].is_object() && hydrant["put"]["responses"]["408"].is_object());
    for path in
        ["/v1/drills", "/v1/drills/{drill_id}/void", "/v1/equipment-tests", "/v1/hydrants/{hydrant_id}/flow-tests"]
    {
        assert_eq!(names(&paths[path]["post"]), ["Idempotency-Key"], "{path}");
    }
    let body = &longlay_service::app::openapi()["components"]["schemas"]["PumperBody"]["properties"];
    assert_eq!(body["in_use"]["readOnly"], true);
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
