//! The published cases reproduced through the library, topic by topic, and the field comparisons.
#![cfg(test)]

mod field_comparisons;
mod published_checks;
mod published_handbook;
mod published_pipes;

use std::collections::BTreeSet;

use longlay_hydraulics::bibliography::work;

use longlay_tests::cases::{Row, rows};

macro_rules! topics {
    ($($topic:ident)*) => {
        /// The topics the library answers, each with its check. A check gives the number of comparisons it made.
        const COVERED: &[(&str, fn(&Row) -> usize)] = &[$((stringify!($topic), published_checks::$topic)),*];

        #[expect(non_snake_case, reason = "a topic may be called by a formula's own letters")]
        mod topics {
            $(
                #[test]
                fn $topic() {
                    super::check_topic(stringify!($topic));
                }
            )*
        }
    };
}

topics! {
    flow_test projection_20psi supply_curve flow_test_pumper_outlet test_validity low_static_rule capacity_class
    friction_loss wye_lay_total max_length_at_pressure parallel_equal_length_coefficient parallel_unequal_split
    appliance_loss_measured appliance_flow_squared_check hose_loss_measured appliance_rule appliance_rule_wildland
    elevation atmospheric_lift pump_rating_point relay_min_pump relay_max_distance measured_hydrant_vs_relay
    supply_curve_check theoretical_discharge lay_hydrant_pressure_only lay_boosted
    nozzle_flow friction_loss_2Q2_plus_Q derive_coefficient hazen_williams hazen_williams_psi_form attainable_lift
    relay_pumpers gauge_drop_percentage gauge_drop_first_digit iowa nfa iso_dwelling_separation iso_hydrant_credit
    iso_nff nfpa1142 nfpa1142_floor tanker_rate tanker_rate_iso customary_nozzle_pressure nozzle_reaction rating_by_lift
    vacuum_lift altitude_lift_loss iso_dwelling_separation_2012 nfpa1142_delivery_rate fixed_orifice_scaling
    department_hand_rule_pdp darcy_pipe darcy_system pump_affinity npsh_available ifc_b105
}

fn check_topic(topic: &str) {
    let check = COVERED.iter().find(|(name, _)| *name == topic).unwrap().1;
    let rows: Vec<Row> = rows().into_iter().filter(|row| row.topic == topic).collect();
    assert!(!rows.is_empty(), "{topic} has no row");
    for row in rows {
        println!("{}", row.say(""));
        assert!(check(&row) > 0, "{} compared nothing", row.id);
    }
}

#[test]
fn no_row_and_no_topic_is_lost() {
    let rows = rows();
    let ids: BTreeSet<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    assert_eq!((rows.len(), ids.len()), (208, 208));
    let found: BTreeSet<&str> = rows.iter().map(|row| row.topic.as_str()).collect();
    let covered: BTreeSet<&str> = COVERED.iter().map(|(topic, _)| *topic).collect();
    assert_eq!(found, covered);
    assert_eq!(covered.len(), COVERED.len(), "a topic stands twice");
}

#[test]
fn every_row_cites_a_work_in_the_bibliography() {
    for row in rows() {
        assert!(work(&row.source_key).is_some(), "{} cites {:?}", row.id, row.source_key);
    }
}

#[test]
fn every_row_read_in_print_is_checked() {
    let all = rows();
    let read: Vec<&Row> = all.iter().filter(|row| row.seen == "READ").collect();
    let checked = read.iter().filter(|row| {
        let check = COVERED.iter().find(|(topic, _)| *topic == row.topic).unwrap().1;
        check(row) > 0
    });
    assert_eq!(checked.count(), read.len());
    // Counted in the file: a row that loses its mark is missed here.
    assert_eq!(read.len(), 140);
}
