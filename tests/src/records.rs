//! Records to begin with: whole and sound. A test changes what matters to it.

use serde_json::{Value, json};

/// A record with some members set to other values.
#[must_use]
pub fn with(mut record: Value, members: &Value) -> Value {
    for (key, value) in members.as_object().expect("members") {
        record[key] = value.clone();
    }
    record
}

/// A record with a member left out.
#[must_use]
pub fn without(mut record: Value, member: &str) -> Value {
    record.as_object_mut().expect("a record").remove(member).expect("a member to leave out");
    record
}

/// A public hydrant in service.
pub fn hydrant() -> Value {
    json!({
        "location": { "lon": -30.0, "lat": 40.0 },
        "elevation_ft": 100.0,
        "outlets": [
            { "kind": "pumper", "diameter_in": 4.5, "coefficient": 0.9 },
            { "kind": "hose", "diameter_in": 2.5, "coefficient": 0.9 }
        ],
        "body_loss_coefficient": 0.05,
        "main_id": "M-1",
        "main_diameter_in": 8.0,
        "pressure_zone": "low",
        "owner": "public",
        "potable": true,
        "seasonal": false,
        "in_service": true,
        "description": "Corner of two streets"
    })
}

/// That hydrant standing elsewhere.
pub fn hydrant_at(lon: f64, lat: f64) -> Value {
    with(hydrant(), &json!({ "location": { "lon": lon, "lat": lat } }))
}

/// A metered flow test: 60 psi static, 40 psi at 600 gpm.
pub fn flow_test() -> Value {
    json!({ "tested_on": "2025-05-14", "static_psi": 60.0, "residual_psi": 40.0, "flow_gpm": 600.0 })
}

/// The same pressures, with the flow read by pitot at one outlet.
pub fn pitot_test() -> Value {
    let outlet = json!({ "diameter_in": 2.5, "coefficient": 0.9, "pitot_psi": 16.0 });
    with(without(flow_test(), "flow_gpm"), &json!({ "outlets": [outlet] }))
}

/// 5 in supply hose.
pub fn hose_type() -> Value {
    json!({
        "name": "5-inch supply", "diameter_in": 5.0, "loss_coefficient": 0.07, "max_operating_psi": 185.0,
        "service_test_psi": 200.0, "source": "two-gauge test"
    })
}

/// A manifold that loses with the square of the flow.
pub fn appliance() -> Value {
    json!({ "name": "Manifold", "loss_coefficient": 0.06, "max_operating_psi": 200.0, "source": "two-gauge test" })
}

/// A four-way valve without hose of its own.
pub fn hydrant_valve() -> Value {
    json!({
        "name": "Four-way valve", "through_coefficient": 0.2, "to_pump_coefficient": 0.1, "from_pump_coefficient": 0.05,
        "source": "department test"
    })
}

/// A pumper with its own test points, carrying shipped hose.
pub fn pumper() -> Value {
    json!({
        "name": "Engine 1", "rated_flow_gpm": 1500.0, "intake_floor_psi": 20.0, "max_discharge_psi": 185.0,
        "points": [{ "flow_gpm": 750.0, "net_psi": 250.0 }, { "flow_gpm": 1500.0, "net_psi": 150.0 }],
        "tank_gal": 750.0, "hose": [{ "hose_type_id": "std-5in", "length_ft": 1000.0 }]
    })
}

/// A lay made of shipped equipment.
pub fn lay_profile() -> Value {
    json!({
        "name": "5-inch with valve", "hydrant_valve_id": "std-four-way", "hose_type_id": "std-5in", "lines": 1,
        "carried_ft": 1000.0, "scene_appliance_ids": ["std-intake-valve"], "scene_floor_psi": 20.0, "main_floor_psi": 20.0
    })
}
