//! Every published case that was read in print, asked over HTTP.

use longlay_tests::Service;
use longlay_tests::cases::{Row, rows};
use serde_json::{Value, json};

/// Rows that are not asked, each with its reason.
const NOT_ASKED: [(&str, &str); 2] = [
    (
        "MS04",
        "its main has to be worked back from two measured flows: compared with the library, in the field comparisons",
    ),
    ("MS05", "as MS04"),
];

/// The service, and what it answered.
struct Asked(Value);

impl Asked {
    fn named(&self, list: &str, name: &str) -> &Value {
        let items = self.0[list].as_array().unwrap();
        items.iter().find(|item| item["name"] == name).unwrap()
    }

    fn number(&self, name: &str) -> f64 {
        self.named("values", name)["value"].as_f64().unwrap()
    }

    fn text(&self, name: &str) -> &str {
        self.named("values", name)["text"].as_str().unwrap()
    }

    fn step(&self, name: &str) -> f64 {
        self.named("working", name)["value"].as_f64().unwrap()
    }
}

async fn ask(service: &Service, id: &str, inputs: Value) -> Asked {
    let answer = service.post(&format!("/v1/formulas/{id}"), &json!({ "inputs": inputs })).await.ok();
    // What is answered was announced, with its unit.
    let announced = service.get(&format!("/v1/formulas/{id}")).await.ok();
    let outputs = announced["outputs"].as_array().unwrap();
    for value in answer["values"].as_array().unwrap() {
        let known = outputs.iter().find(|output| output["name"] == value["name"]);
        assert_eq!(known.map(|output| &output["unit"]), Some(&value["unit"]), "{id}: {value}");
    }
    Asked(answer)
}

fn outlet(row: &Row, c: &str, pitot: &str) -> Value {
    json!({ "outlets": [{ "diameter_in": row.input("/d_in"), "coefficient": row.input(c), "pitot_psi": row.input(pitot) }] })
}

async fn flow_test(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "flow_test" | "flow_test_pumper_outlet" => {
            let found = ask(service, "outlet_discharge", outlet(row, "/c", "/pitot_psi")).await;
            row.agrees("/gpm", found.number("flow_gpm"))
        }
        "theoretical_discharge" => {
            // A nozzle that runs full: without the factor for large hydrant outlets, which do not.
            let pitot = json!({ "pitot_psi": row.input("/p_psi") });
            let factor = ask(service, "pumper_outlet_factor", pitot).await.number("factor");
            let full = if row.input("/d_in") < 3.5 { 1.0 } else { factor };
            let found = ask(service, "outlet_discharge", outlet(row, "/C", "/p_psi")).await;
            row.agrees("/gpm", found.number("flow_gpm") / full)
        }
        "capacity_class" => {
            let rated = json!({ "rated_flow_gpm": row.input("/gpm_at_20psi") });
            let found = ask(service, "capacity_class", rated).await;
            row.is("/class_", found.text("class")) + row.is("/colour", found.text("marking"))
        }
        "supply_curve_check" => {
            let test = json!({ "static_psi": row.input("/static_psi"), "residual_psi": row.input("/p1_psi"),
                "flow_gpm": row.input("/q1_gpm"), "at_gpm": row.input("/q2_gpm") });
            row.agrees("/psi", ask(service, "supply_curve", test).await.number("pressure_psi"))
        }
        _ => curve(service, row).await,
    }
}

async fn curve(service: &Service, row: &Row) -> usize {
    let flow = if row.topic == "gauge_drop_percentage" { "/flow_gpm" } else { "/qf_gpm" };
    let mut test = json!({ "static_psi": row.input("/static_psi"), "residual_psi": row.input("/residual_psi"),
        "flow_gpm": row.input(flow) });
    match row.topic.as_str() {
        "projection_20psi" => {
            test["at_psi"] = row.input("/target_psi").into();
            row.agrees("/gpm", ask(service, "supply_curve", test).await.number("flow_gpm"))
        }
        "supply_curve" => {
            test["at_gpm"] = row.input("/at_gpm").into();
            row.agrees("/psi", ask(service, "supply_curve", test).await.number("pressure_psi"))
        }
        "gauge_drop_percentage" => {
            test["rule"] = "percentage".into();
            test["floor_psi"] = 20.into();
            let found = ask(service, "gauge_rules", test).await;
            row.agrees("/percent", found.number("drop_percent"))
                + row.agrees("/more_multiple", found.number("more_volumes"))
                + row.agrees("/more_gpm", found.number("promised_gpm"))
                + row.agrees("/flow_at_20psi", row.input("/flow_gpm") + found.number("allowed_gpm"))
        }
        _ => 0,
    }
}

fn hose_inputs(row: &Row, c: &str) -> Value {
    json!({ "loss_coefficient": row.input(c), "length_ft": row.input("/length_ft"), "flow_gpm": row.input("/gpm") })
}

async fn hose(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "friction_loss" => {
            row.agrees("/psi", ask(service, "hose_friction", hose_inputs(row, "/C")).await.number("loss_psi"))
        }
        "hose_loss_measured" => {
            row.agrees("/psi", ask(service, "hose_friction", hose_inputs(row, "/C_book")).await.number("loss_psi"))
        }
        "friction_loss_2Q2_plus_Q" => {
            let flow = json!({ "flow_gpm": row.input("/gpm") });
            row.agrees("/psi", ask(service, "older_friction", flow).await.number("loss_per_100ft_psi"))
        }
        "wye_lay_total" => {
            let supply =
                json!({ "loss_coefficient": row.input("/supply/C"), "length_ft": row.input("/supply/length_ft") });
            let attack = json!({ "loss_coefficient": row.input("/branch/C"), "length_ft": row.input("/branch/length_ft"),
                "lines": 2 });
            let line = json!({ "flow_gpm": row.input("/supply/gpm"), "nozzle_psi": 100, "hoses": [supply, attack] });
            row.agrees("/psi", ask(service, "attack_line", line).await.step("hose"))
        }
        "max_length_at_pressure" => {
            let mut relay = json!({ "discharge_psi": row.input("/pdp_psi"), "residual_psi": row.input("/end_psi"),
                "loss_coefficient": row.input("/C"), "flow_gpm": row.input("/gpm") });
            let longest = ask(service, "relay_distance", relay.clone()).await.number("max_distance_ft");
            relay["residual_psi"] = 20.into();
            let with_intake = ask(service, "relay_distance", relay).await.number("max_distance_ft");
            row.agrees("/length_ft", longest) + row.agrees("/length_ft_20psi_intake", with_intake)
        }
        "derive_coefficient" => {
            let reading =
                json!({ "flow_gpm": row.input("/gpm"), "upstream_psi": row.input("/loss_psi"), "downstream_psi": 0 });
            let test = json!({ "length_ft": row.input("/length_ft"), "rise_ft": 0, "meter_percent": 2, "readings": [reading] });
            row.agrees("/C", ask(service, "friction_test", test).await.number("loss_coefficient"))
        }
        _ => 0,
    }
}

async fn appliances(service: &Service, row: &Row) -> usize {
    let squared = |k: f64| json!({ "loss_coefficient": k, "flow_gpm": row.input("/gpm") });
    match row.topic.as_str() {
        "appliance_loss_measured" => {
            let k = row.number("/k_psi_per_100gpm2");
            row.agrees("/valve_psi", ask(service, "appliance_loss", squared(k)).await.number("loss_psi"))
        }
        "appliance_flow_squared_check" => {
            row.agrees("/psi", ask(service, "appliance_loss", squared(row.input("/k"))).await.number("loss_psi"))
        }
        "appliance_rule" => {
            // The rules as the records give them: 10 psi from 350 gpm for a wye, 25 at any flow for a master stream.
            let rule = match row.id.as_str() {
                "AP08" => json!({ "fixed_loss_psi": 25, "at_or_above_gpm": 0, "flow_gpm": 1 }),
                _ => json!({ "fixed_loss_psi": 10, "at_or_above_gpm": 350, "flow_gpm": row.input("/gpm") }),
            };
            row.agrees("/psi", ask(service, "appliance_loss", rule).await.number("loss_psi"))
        }
        "appliance_rule_wildland" => {
            let five = vec![json!({ "fixed_loss_psi": 5, "at_or_above_gpm": 0 }); 5];
            let hose = json!({ "loss_coefficient": 2, "length_ft": 100 });
            let line = json!({ "flow_gpm": 100, "nozzle_psi": 100, "hoses": [hose], "appliances": five });
            assert_eq!(row.input("/appliances"), 5.0);
            row.agrees("/psi", ask(service, "attack_line", line).await.step("appliances"))
        }
        "elevation" if row.id == "EL02" => {
            let held = ask(service, "elevation", json!({ "pressure_psi": row.input("/psi") })).await;
            row.agrees("/ft", held.number("height_ft"))
        }
        "elevation" => {
            let rise = ask(service, "elevation", json!({ "rise_ft": row.input("/height_ft") })).await;
            row.agrees("/psi", rise.number("pressure_psi"))
        }
        "atmospheric_lift" => {
            let held = ask(service, "elevation", json!({ "pressure_psi": row.input("/psi") })).await;
            row.agrees("/ft", held.number("height_ft"))
        }
        _ => 0,
    }
}

async fn streams(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "nozzle_flow" => {
            let stream = json!({ "tip_in": row.input("/tip_in"), "nozzle_psi": row.input("/np_psi") });
            row.agrees("/gpm", ask(service, "smooth_bore_flow", stream).await.number("flow_gpm"))
        }
        "customary_nozzle_pressure" => {
            let nozzle = match row.text("/nozzle").as_str() {
                "smooth bore, hand line" => "smooth_bore_hand_line",
                "smooth bore, master stream" => "smooth_bore_master_stream",
                "fog" => "fog_100",
                "fog, middle pressure" => "fog_75",
                _ => "fog_50",
            };
            let found = ask(service, "customary_nozzle_pressure", json!({ "nozzle": nozzle })).await;
            row.agrees("/psi", found.number("nozzle_psi"))
        }
        "department_hand_rule_pdp" => {
            let hose = if row.input("/hose_in") == 2.0 { "2" } else { "1-3/4" };
            // The cards of 2-inch hose show no nozzle pressure.
            let nozzle = if hose == "2" { 0.0 } else { row.input("/nozzle_psi") };
            let line = json!({ "hose": hose, "flow_gpm": row.input("/gpm"), "length_ft": row.input("/length_ft"),
                "nozzle_psi": nozzle });
            row.agrees("/pdp_psi", ask(service, "hand_rule", line).await.number("pump_psi"))
        }
        _ => 0,
    }
}

async fn pumping(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "relay_min_pump" => {
            let pump = json!({ "rated_flow_gpm": row.input("/rated_gpm"), "net_psi": row.input("/pdp_psi"),
                "flow_gpm": row.input("/flow_gpm") });
            let found = ask(service, "relay_pump_size", pump).await;
            assert_eq!(found.number("share"), row.input("/derate"), "{}", row.id);
            row.is("/ok", found.named("values", "enough")["flag"].as_bool().unwrap())
        }
        "rating_by_lift" => {
            let lift = json!({ "lift_ft": row.input("/lift_ft") });
            row.agrees("/share", ask(service, "rating_by_lift", lift).await.number("share"))
        }
        "attainable_lift" => {
            row.agrees("/ft", ask(service, "lift", json!({ "altitude_ft": 0 })).await.number("attainable_ft"))
        }
        "altitude_lift_loss" => {
            let low = ask(service, "lift", json!({ "altitude_ft": 0 })).await.number("theoretical_ft");
            let up = json!({ "altitude_ft": row.input("/altitude_ft") });
            row.agrees("/ft", low - ask(service, "lift", up).await.number("theoretical_ft"))
        }
        "vacuum_lift" => {
            let vacuum = json!({ "vacuum_inhg": row.input("/in_hg") });
            row.agrees("/ft", ask(service, "lift", vacuum).await.number("lift_ft"))
        }
        "tanker_rate" => {
            let round = json!({ "tank_gal": row.input("/tank_gal"), "cycle_min": row.input("/cycle_min") });
            row.agrees("/gpm", ask(service, "tanker_rate", round).await.number("flow_gpm"))
        }
        "tanker_rate_iso" => {
            let half = row.input("/handling_min") / 2.0;
            let round = json!({ "tank_gal": row.input("/tank_gal"), "fill_min": half, "dump_min": half,
                "round_trip_mi": row.input("/distance_mi") });
            row.agrees("/gpm", ask(service, "tanker_rate", round).await.number("flow_gpm"))
        }
        "pump_affinity" => {
            let point = json!({ "speed_rpm": row.input("/rpm1"), "flow_gpm": row.input("/q1_gpm"),
                "head_ft": row.input("/h1_ft"), "power_hp": row.input("/bhp1"), "other_speed_rpm": row.input("/rpm2") });
            let found = ask(service, "pump_affinity", point).await;
            row.agrees("/gpm", found.number("flow_gpm"))
                + row.agrees("/ft", found.number("head_ft"))
                + row.agrees("/bhp", found.number("power_hp"))
        }
        "npsh_available" => {
            let suction = json!({ "surface_psia": row.input("/tank_psig") + 14.7, "vapour_psia": row.input("/psat_psia"),
                "density_lb_per_cu_ft": row.input("/rho_lb_ft3"), "lift_ft": row.input("/lift_ft"),
                "losses_ft": row.input("/loss_ft") });
            row.agrees("/npsha_ft", ask(service, "npsh_available", suction).await.number("head_available_ft"))
        }
        _ => 0,
    }
}

const L_PER_GAL: f64 = 3.785_411_784;
const FT_PER_M: f64 = 1.0 / 0.3048;

async fn pipes(service: &Service, row: &Row) -> usize {
    // Sizes, fittings and water as the check through the library has them.
    let steel = |bore: f64, feet: f64, k: f64| json!({ "diameter_in": bore, "length_ft": feet, "roughness_in": 0.0018, "fittings": k });
    match row.id.as_str() {
        "DW01" => {
            let pipe = json!({ "diameter_in": row.input("/D_m") / 0.0254, "length_ft": 20.0 * FT_PER_M, "roughness_in": 0,
                "viscosity_cst": 0.8 / 0.9956, "flow_gpm": row.input("/Q_L_min") / L_PER_GAL });
            let found = ask(service, "darcy_pipe", pipe).await;
            row.agrees("/Re", found.number("reynolds")) + row.agrees("/fd", found.number("friction_factor"))
        }
        "DW02" => {
            let beta = 2.067_f64 / 3.068;
            let pipes = [steel(3.068, 10.0, 0.5 + 68.0 * 0.0172), steel(2.067, 20.0, 0.5 * (1.0 - beta * beta) + 1.0)];
            let system = json!({ "pipes": pipes, "viscosity_cst": 1.1 / 0.998_98, "head_ft": 11.5 });
            row.agrees("/gpm", ask(service, "darcy_system", system).await.number("flow_gpm"))
        }
        "DW04" => {
            let pipes = [
                steel(102.26 / 25.4, 34.0 * FT_PER_M, 14.0 * 0.017),
                steel(128.2 / 25.4, 67.0 * FT_PER_M, 14.0 * 0.016),
            ];
            let system = json!({ "pipes": pipes, "viscosity_cst": 1.14, "flow_gpm": 1500.0 / L_PER_GAL });
            let lost = ask(service, "darcy_system", system).await.number("loss_psi");
            let risen = json!({ "rise_ft": 22.0 * FT_PER_M });
            let risen = ask(service, "elevation", risen).await.number("pressure_psi");
            row.agrees("/dP_bar", (lost + risen) * 0.068_947_6)
        }
        "DW05" => {
            let pipe = json!({ "diameter_in": 77.92 / 25.4, "length_ft": 60.0 * FT_PER_M, "friction_factor": 0.017,
                "fittings": 0.5 + 6.0 * 30.0 * 0.017 + 0.574 + 1.0 });
            let system = json!({ "pipes": [pipe], "viscosity_cst": 1.14, "head_ft": 7.0 * FT_PER_M });
            row.agrees("/L_min", ask(service, "darcy_system", system).await.number("flow_gpm") * L_PER_GAL)
        }
        _ => {
            let pipe = json!({ "flow_gpm": row.input("/gpm"), "diameter_in": row.input("/d_in"), "coefficient": row.input("/C") });
            let loss = ask(service, "hazen_williams_ft", pipe).await.number("loss_per_100ft_ft");
            match row.id.as_str() {
                "HW01" => row.agrees("/ft_per_100ft", loss),
                _ => row.agrees("/ft", loss * row.input("/length_ft") / 100.0),
            }
        }
    }
}

async fn needed_flow(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "iowa" => {
            let room =
                json!({ "length_ft": row.input("/L"), "width_ft": row.input("/W"), "height_ft": row.input("/H") });
            row.agrees("/gpm", ask(service, "iowa", room).await.number("needed_flow_gpm"))
        }
        "nfa" => {
            let building = json!({ "length_ft": row.input("/L"), "width_ft": row.input("/W"), "floors": row.input("/floors"),
                "involvement": row.input("/involvement"), "exposures": 0, "exposure_order": "after_involvement" });
            row.agrees("/gpm", ask(service, "national_fire_academy", building).await.number("needed_flow_gpm"))
        }
        "iso_dwelling_separation" => {
            let band = row.text("/distance_ft");
            let far: f64 = band.rsplit('-').next().unwrap().trim_end_matches(" or less").parse().unwrap();
            let apart = json!({ "edition": "before_2012", "separation_ft": far });
            row.agrees("/gpm", ask(service, "iso_dwelling", apart).await.number("needed_flow_gpm"))
        }
        "iso_hydrant_credit" => {
            let lay = json!({ "hose_lay_ft": row.input("/hose_lay_ft") });
            row.agrees("/gpm", ask(service, "iso_hydrant_credit", lay).await.number("credit_gpm"))
        }
        "ifc_b105" => {
            let dwelling = row.id == "FF17";
            let (kind, sprinklers) =
                if dwelling { ("V-B".to_owned(), "residential") } else { (row.text("/type"), "none") };
            let building = json!({ "edition": "before_2015", "building_type": kind, "area_sq_ft": row.input("/area_sf"),
                "dwelling": dwelling, "sprinklers": sprinklers });
            row.agrees("/gpm", ask(service, "ifc_b105", building).await.number("needed_flow_gpm"))
        }
        _ => 0,
    }
}

/// A measured boost at its hose's marking, as a lay: the main and the pumper do not bind.
async fn measured(service: &Service, row: &Row) -> usize {
    let deliverable = async |c: f64, scene_floor: f64| {
        let pumper =
            json!({ "kind": "pumper", "rated_flow_gpm": 6000, "intake_floor_psi": 20, "max_discharge_psi": 185 });
        let hose = json!({ "kind": "hose", "loss_coefficient": c, "length_ft": row.input("/length_ft"), "lines": 1 });
        let source = json!({ "static_psi": 80, "residual_psi": 80, "flow_gpm": 50_000 });
        let lay =
            json!({ "source": source, "parts": [pumper, hose], "scene_floor_psi": scene_floor, "main_floor_psi": 20 });
        service.post("/v1/lay-calculations", &lay).await.ok()["deliverable_flow_gpm"].as_f64().unwrap()
    };
    let boosted = row.number("/relay_gpm");
    if row.id == "MS03" {
        let most = deliverable(row.number("/implied_C_upper"), 0.0).await;
        assert!((most - boosted).abs() < 1.0, "{}: {most}", row.id);
    } else {
        let (least, most) = (deliverable(0.08, 20.0).await, deliverable(0.08, 0.0).await);
        assert!((least..=most).contains(&boosted), "{}: {least} to {most}", row.id);
    }
    1
}

/// Comparisons made for a row.
async fn compared(service: &Service, row: &Row) -> usize {
    match row.topic.as_str() {
        "measured_hydrant_vs_relay" => measured(service, row).await,
        "darcy_pipe" | "darcy_system" | "hazen_williams" => pipes(service, row).await,
        "iowa" | "nfa" | "iso_dwelling_separation" | "iso_hydrant_credit" | "ifc_b105" => {
            needed_flow(service, row).await
        }
        "flow_test"
        | "flow_test_pumper_outlet"
        | "theoretical_discharge"
        | "capacity_class"
        | "supply_curve_check"
        | "projection_20psi"
        | "supply_curve"
        | "gauge_drop_percentage" => flow_test(service, row).await,
        "nozzle_flow" | "customary_nozzle_pressure" | "department_hand_rule_pdp" => streams(service, row).await,
        _ => hose(service, row).await + appliances(service, row).await + pumping(service, row).await,
    }
}

#[tokio::test]
async fn every_case_read_in_print_is_answered_over_http() {
    let service = Service::start().await;
    let mut asked = 0;
    for row in rows().iter().filter(|row| row.seen == "READ") {
        if NOT_ASKED.iter().any(|(id, _)| *id == row.id) {
            continue;
        }
        assert!(compared(&service, row).await > 0, "{} ({}) was not asked, and no reason is given", row.id, row.topic);
        asked += 1;
    }
    assert_eq!(asked + NOT_ASKED.len(), 140);
}
