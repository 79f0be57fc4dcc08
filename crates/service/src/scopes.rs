//! Who may ask what: each operation with the scopes of which any one is enough. The description says it and the guard holds it, both
//! out of this one table; an operation that is not in it is open to nobody but an admin.

use longlay_records::key::Scope::{
    self, Admin, DispatchRead, FieldWrite, GisExport, GisRead, LayCalculate, RecordsRead,
};

/// Who may ask for an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Access {
    /// Anyone, without a key.
    Public,
    /// Whoever has a key, whatever its scopes.
    AnyKey,
    /// A key with any one of these; an admin's has them all.
    AnyOf(&'static [Scope]),
}

/// Hydrants one by one: whoever stands at one, plans with it or draws it.
const HYDRANTS: Access = Access::AnyOf(&[RecordsRead, GisRead, FieldWrite]);
/// The rest of what is kept.
const RECORDS: Access = Access::AnyOf(&[RecordsRead]);
/// The evidence that a person with a gauge looks up before adding to it.
const EVIDENCE: Access = Access::AnyOf(&[RecordsRead, FieldWrite]);
/// Equipment that a lay can be put together from.
const LIBRARY: Access = Access::AnyOf(&[RecordsRead, LayCalculate]);
/// Equipment that dispatch chooses among.
const STANDING: Access = Access::AnyOf(&[RecordsRead, LayCalculate, DispatchRead]);
/// What a hydrant gives by itself.
const CAPABILITY: Access = Access::AnyOf(&[RecordsRead, GisRead, DispatchRead]);
/// Where the district comes up short: for whoever draws it or plans by it.
const COVERAGE: Access = Access::AnyOf(&[RecordsRead, GisRead]);
/// What coverage is reckoned over: whoever plans with it or draws it.
const GROUND: Access = Access::AnyOf(&[RecordsRead, GisRead]);
const CALCULATION: Access = Access::AnyOf(&[LayCalculate]);
const FIELD: Access = Access::AnyOf(&[FieldWrite]);
const ADMIN: Access = Access::AnyOf(&[Admin]);

const TABLE: &[(&str, Access)] = &[
    ("get_liveness", Access::Public),
    ("get_readiness", Access::Public),
    ("get_metrics", Access::AnyKey),
    ("list_problem_types", Access::Public),
    ("get_problem_type", Access::Public),
    ("list_hydrants", HYDRANTS),
    ("get_hydrant", HYDRANTS),
    ("put_hydrant", FIELD),
    ("delete_hydrant", ADMIN),
    ("list_flow_tests", EVIDENCE),
    ("get_flow_test", EVIDENCE),
    ("get_test_history", EVIDENCE),
    ("create_flow_test", FIELD),
    ("void_flow_test", FIELD),
    ("list_equipment_tests", EVIDENCE),
    ("get_equipment_test", EVIDENCE),
    ("create_equipment_test", FIELD),
    ("void_equipment_test", FIELD),
    ("list_drills", EVIDENCE),
    ("get_drill", EVIDENCE),
    ("create_drill", FIELD),
    ("void_drill", FIELD),
    ("list_drill_estimates", RECORDS),
    ("list_retests", HYDRANTS),
    ("list_capabilities", Access::AnyOf(&[RecordsRead, GisRead])),
    ("get_hydrant_capability", CAPABILITY),
    ("list_supply_options", Access::AnyOf(&[DispatchRead, LayCalculate])),
    ("get_deliverable_flow", Access::AnyOf(&[LayCalculate, DispatchRead])),
    ("create_lay_calculation", CALCULATION),
    ("create_combined_supply", CALCULATION),
    ("create_relay", CALCULATION),
    ("create_draft", CALCULATION),
    ("create_shuttle", CALCULATION),
    ("create_needed_flow", CALCULATION),
    ("create_attack_lines", CALCULATION),
    ("create_gauge_reading", CALCULATION),
    ("calculate_formula", CALCULATION),
    ("list_formulas", Access::AnyKey),
    ("get_formula", Access::AnyKey),
    ("list_hose_types", LIBRARY),
    ("get_hose_type", LIBRARY),
    ("put_hose_type", ADMIN),
    ("delete_hose_type", ADMIN),
    ("list_appliances", LIBRARY),
    ("get_appliance", LIBRARY),
    ("put_appliance", ADMIN),
    ("delete_appliance", ADMIN),
    ("list_hydrant_valves", LIBRARY),
    ("get_hydrant_valve", LIBRARY),
    ("put_hydrant_valve", ADMIN),
    ("delete_hydrant_valve", ADMIN),
    ("list_pumpers", STANDING),
    ("get_pumper", STANDING),
    ("put_pumper", ADMIN),
    ("delete_pumper", ADMIN),
    ("list_lay_profiles", STANDING),
    ("get_lay_profile", STANDING),
    ("put_lay_profile", ADMIN),
    ("delete_lay_profile", ADMIN),
    ("list_demand_points", GROUND),
    ("get_demand_point", GROUND),
    ("put_demand_point", ADMIN),
    ("delete_demand_point", ADMIN),
    ("get_street_summary", GROUND),
    ("list_districts", GROUND),
    ("get_district", GROUND),
    ("put_district", ADMIN),
    ("delete_district", ADMIN),
    ("get_elevation_grid", GROUND),
    // Each as the records one by one.
    ("create_demand_point_import", ADMIN),
    ("create_street_import", ADMIN),
    ("create_elevation_grid_import", ADMIN),
    ("create_hydrant_import", FIELD),
    ("create_flow_test_import", FIELD),
    ("create_equipment_import", ADMIN),
    ("export_records", Access::AnyOf(&[RecordsRead, GisExport])),
    ("create_coverage_run", Access::AnyOf(&[GisRead])),
    ("cancel_coverage_run", Access::AnyOf(&[GisRead])),
    ("list_coverage_runs", COVERAGE),
    ("get_coverage_run", COVERAGE),
    ("list_coverage_gaps", COVERAGE),
    ("get_coverage_remedies", COVERAGE),
    ("get_coverage_changes", COVERAGE),
    ("delete_coverage_run", ADMIN),
    ("list_keys", ADMIN),
    ("create_key", ADMIN),
    ("list_audit", ADMIN),
    ("get_key", ADMIN),
    ("delete_key", ADMIN),
];

/// Who may ask for the operation of this id.
pub(crate) fn access(operation_id: &str) -> Access {
    TABLE.iter().find(|(id, _)| *id == operation_id).map_or(ADMIN, |(_, access)| *access)
}

impl Access {
    /// The scopes of which one is enough, an admin's among them; none where a key is not asked for, or any will do.
    pub(crate) fn scopes(self) -> Vec<Scope> {
        let Self::AnyOf(scopes) = self else { return Vec::new() };
        scopes.iter().copied().filter(|scope| *scope != Admin).chain([Admin]).collect()
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn the_table_and_the_description_name_the_same_operations() {
        let document = crate::app::openapi();
        let items = document["paths"].as_object().unwrap().values();
        let operations = items.flat_map(|item| item.as_object().unwrap().values());
        let described: BTreeSet<_> = operations.map(|operation| operation["operationId"].as_str().unwrap()).collect();
        let listed: BTreeSet<_> = TABLE.iter().map(|(id, _)| *id).collect();
        let missing: Vec<_> = described.difference(&listed).collect();
        let spare: Vec<_> = listed.difference(&described).collect();
        assert!(missing.is_empty(), "give these a line in scopes.rs: {missing:?}");
        assert!(spare.is_empty(), "these lines of scopes.rs name no operation: {spare:?}");
        assert_eq!(listed.len(), TABLE.len(), "an operation stands in the table twice");
    }

    #[test]
    fn an_operation_that_is_not_in_the_table_is_an_admins() {
        assert_eq!(access("something_new"), ADMIN);
    }
}
