//! What the database refuses whoever asks, and what the store makes of rows that got in all the same.

use longlay_records::flow_test::FlowTest;
use longlay_store::{HydrantQuery, StoreError};
use sqlx::SqliteConnection;

use crate::support::{
    Fresh, change, flow_test, fresh, full_hydrant, hydrant, id, lay_profile, pitot, pumper, test_id, valve, voided,
};

async fn with_test() -> Fresh {
    let db = fresh().await;
    db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
    db.store.put_hydrant(&hydrant("H-2"), &change()).await.unwrap();
    let test = FlowTest { flow: pitot(&[(2.5, 0.9, 18.0)]), flow_hydrant_ids: vec![id("H-1")], ..flow_test(1, "H-1") };
    db.store.add_flow_test(&test, &change()).await.unwrap();
    db
}

async fn refusal(conn: &mut SqliteConnection, sql: &'static str) -> String {
    sqlx::raw_sql(sql).execute(conn).await.expect_err(sql).to_string()
}

#[tokio::test]
async fn a_flow_test_is_append_only() {
    let db = with_test().await;
    let before = db.store.flow_test(&id("H-1"), test_id(1)).await.unwrap().unwrap();
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE flow_tests SET static_psi = 99",
        "UPDATE flow_tests SET tested_on = '2027-01-01'",
        "UPDATE flow_tests SET gauge_hydrant_id = 'H-2'",
        "UPDATE flow_tests SET metered_flow_gpm = 5000",
        "UPDATE flow_tests SET notes = 'better'",
        "UPDATE flow_tests SET second_residual_psi = 30, second_metered_flow_gpm = 900, voided_at = 'x', void_reason = 'y'",
        "UPDATE flow_tests SET residual_psi = 60, voided_at = 'x', void_reason = 'y'",
        "DELETE FROM flow_tests",
        "INSERT OR REPLACE INTO flow_tests SELECT id, gauge_hydrant_id, tested_on, 99, residual_psi, NULL, NULL, recorded_at,
           NULL, NULL, NULL, NULL FROM flow_tests",
        "UPDATE flow_test_outlets SET pitot_psi = 60",
        "DELETE FROM flow_test_outlets",
        "INSERT OR REPLACE INTO flow_test_outlets SELECT flow_test_id, position, diameter_in, coefficient, 60, 1 FROM flow_test_outlets",
        "INSERT INTO flow_test_outlets SELECT id, 7, 2.5, 0.9, 60, 1 FROM flow_tests",
        "UPDATE flow_test_flow_hydrants SET hydrant_id = 'H-2'",
        "DELETE FROM flow_test_flow_hydrants",
        "INSERT INTO flow_test_flow_hydrants SELECT id, 7, 'H-2' FROM flow_tests",
    ] {
        let said = refusal(&mut conn, sql).await;
        assert!(said.contains("a flow test is never"), "{sql}: {said}");
    }
    assert_eq!(db.store.flow_test(&id("H-1"), test_id(1)).await, Ok(Some(before)));
}

#[tokio::test]
async fn a_voided_test_is_not_voided_again_nor_restored() {
    let db = with_test().await;
    db.store.void_flow_test(&id("H-1"), test_id(1), &voided(), &change()).await.unwrap();
    let mut conn = db.raw().await;
    for sql in
        ["UPDATE flow_tests SET voided_at = NULL, void_reason = NULL", "UPDATE flow_tests SET void_reason = 'another'"]
    {
        assert!(refusal(&mut conn, sql).await.contains("a flow test is never edited"), "{sql}");
    }
}

#[tokio::test]
async fn library_rows_are_immutable_whoever_writes() {
    let db = fresh().await;
    let mut conn = db.raw().await;
    for sql in [
        "UPDATE hose_types SET coefficient_psi_per_100gpm2_100ft = 0.04 WHERE id = 'std-5in'",
        "UPDATE hose_types SET retired_at = updated_at WHERE id = 'std-5in'",
        "DELETE FROM hose_types WHERE id = 'std-6in'",
        "INSERT OR REPLACE INTO hose_types (id, name, diameter_in, coefficient_psi_per_100gpm2_100ft, source, origin, updated_at)
           VALUES ('std-5in', 'x', 5, 0.01, 'x', 'department', 'x')",
        "UPDATE appliances SET fixed_loss_psi = 0 WHERE id = 'std-wye'",
        "DELETE FROM appliances WHERE id = 'std-wye'",
        "INSERT OR REPLACE INTO appliances (id, name, loss_psi_per_100gpm2, source, origin, updated_at)
           VALUES ('std-wye', 'x', 0, 'x', 'department', 'x')",
        "UPDATE hydrant_valves SET to_pump_psi_per_100gpm2 = 0",
        "DELETE FROM hydrant_valves",
        "INSERT OR REPLACE INTO hydrant_valves (id, name, through_psi_per_100gpm2, to_pump_psi_per_100gpm2,
           from_pump_psi_per_100gpm2, source, origin, updated_at) VALUES ('std-four-way', 'x', 0, 0, 0, 'x', 'department', 'x')",
    ] {
        let said = refusal(&mut conn, sql).await;
        assert!(said.contains("library rows are read-only"), "{sql}: {said}");
    }
}

#[tokio::test]
async fn a_parts_reference_to_nothing_is_refused_at_commit() {
    let db = with_test().await;
    let mut conn = db.raw().await;
    let orphan = "INSERT INTO flow_test_outlets VALUES ('00000000-0000-7000-8000-000000000000', 0, 2.5, 0.9, 20, 1)";
    assert!(refusal(&mut conn, orphan).await.contains("FOREIGN KEY"));
    assert!(refusal(&mut conn, "DELETE FROM hydrants WHERE id = 'H-1'").await.contains("FOREIGN KEY"));
}

/// Writes what the checks would refuse, as a damaged disk or another program might.
async fn damage(db: &Fresh, sql: &'static str) {
    let mut conn = db.raw().await;
    sqlx::raw_sql("PRAGMA ignore_check_constraints = ON").execute(&mut conn).await.unwrap();
    sqlx::raw_sql(sql).execute(&mut conn).await.unwrap();
}

fn corrupt<T: std::fmt::Debug>(answer: Result<T, StoreError>, table: &str, id: &str) {
    match answer {
        Err(StoreError::Corrupt(what)) => {
            assert!(what.starts_with(&format!("{table} {id}: ")), "{what}");
        }
        other => panic!("{table} {id}: {other:?}"),
    }
}

#[tokio::test]
async fn a_hydrant_out_of_bounds_is_corrupt_and_named() {
    for (sql, table) in [
        ("UPDATE hydrants SET lat_deg = 91", "hydrants"),
        ("UPDATE hydrants SET lon_deg = 9e999", "hydrants"),
        ("UPDATE hydrants SET elevation_ft = 1e6", "hydrants"),
        ("UPDATE hydrants SET main_diameter_in = 240", "hydrants"),
        ("UPDATE hydrants SET owner = 'nobody'", "hydrants"),
        ("UPDATE hydrant_outlets SET kind = 'tap'", "hydrant_outlets"),
        ("UPDATE hydrant_outlets SET coefficient = 9", "hydrant_outlets"),
    ] {
        let db = fresh().await;
        db.store.put_hydrant(&full_hydrant("H-1"), &change()).await.unwrap();
        damage(&db, sql).await;
        corrupt(db.store.hydrant(&id("H-1")).await, table, "H-1");
        corrupt(db.store.hydrants(&HydrantQuery::default(), None, 10).await, table, "H-1");
        corrupt(db.store.evidence(&id("H-1")).await, table, "H-1");
    }
}

#[tokio::test]
async fn a_flow_test_out_of_bounds_is_corrupt_and_named() {
    for (sql, table) in [
        ("UPDATE flow_tests SET static_psi = 1e9", "flow_tests"),
        ("UPDATE flow_tests SET metered_flow_gpm = 1e9", "flow_tests"),
        ("UPDATE flow_tests SET tested_on = '2026-02-30'", "flow_tests"),
        ("UPDATE flow_tests SET recorded_at = 'noon'", "flow_tests"),
        ("UPDATE flow_tests SET voided_at = recorded_at", "flow_tests"),
        ("UPDATE flow_test_outlets SET pitot_psi = 0", "flow_test_outlets"),
        ("UPDATE flow_test_flow_hydrants SET hydrant_id = 'é'", "flow_test_flow_hydrants"),
    ] {
        let db = with_test().await;
        damage(
            &db,
            "PRAGMA foreign_keys = OFF; DROP TRIGGER flow_tests_only_voided; DROP TRIGGER flow_test_outlets_never_edited;
             DROP TRIGGER flow_test_flow_hydrants_never_edited",
        )
        .await;
        let mut conn = db.raw().await;
        let unguarded = "PRAGMA ignore_check_constraints = ON; PRAGMA foreign_keys = OFF";
        sqlx::raw_sql(unguarded).execute(&mut conn).await.unwrap();
        sqlx::raw_sql(sql).execute(&mut conn).await.unwrap();
        let test = test_id(1).to_string();
        corrupt(db.store.flow_test(&id("H-1"), test_id(1)).await, table, &test);
        corrupt(db.store.flow_tests(&id("H-1"), None, 10).await, table, &test);
        corrupt(db.store.evidence(&id("H-1")).await, table, &test);
    }
}

#[tokio::test]
async fn equipment_out_of_bounds_is_corrupt_and_named() {
    let db = fresh().await;
    db.store.put_hydrant_valve(&valve("v"), &change()).await.unwrap();
    db.store.put_pumper(&pumper("p"), &change()).await.unwrap();
    db.store.put_lay_profile(&lay_profile("l"), &change()).await.unwrap();
    damage(&db, "UPDATE hydrant_valves SET to_pump_hose_ft = 5 WHERE id = 'v'").await;
    damage(&db, "UPDATE pump_points SET net_psi = 1e6").await;
    damage(&db, "UPDATE lay_profiles SET lines = 300").await;
    corrupt(db.store.hydrant_valve(&id("v")).await, "hydrant_valves", "v");
    corrupt(db.store.pumper(&id("p")).await, "pump_points", "p");
    corrupt(db.store.lay_profile(&id("l")).await, "lay_profiles", "l");
}
