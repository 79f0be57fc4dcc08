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
