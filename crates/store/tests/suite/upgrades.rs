use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_records::flow_test::FlowTest;
use longlay_store::{EquipmentTestQuery, OpenOptions, Store, inspect, restore};
use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection, SqliteConnection};

use crate::support::{change, id, test_id};

static MIGRATOR: Migrator = sqlx::migrate!("../../migrations");

/// What a department had recorded by the first schema, as its program wrote it.
const FIRST: &str = "
INSERT INTO hydrants (id, lon_deg, lat_deg, owner, potable, seasonal, in_service, description, version, updated_at)
VALUES ('H-1', -30.01, 40.02, 'public', 1, 0, 1, 'by the mill', 3, '2026-01-02T03:04:05.000000000Z');
INSERT INTO hydrant_outlets VALUES ('H-1', 0, 'pumper', 4.5, 0.9), ('H-1', 1, 'hose', 2.5, 0.8);
INSERT INTO hydrants (id, lon_deg, lat_deg, owner, potable, seasonal, in_service, version, updated_at, retired_at)
VALUES ('H-2', -30.02, 40.02, 'private', 1, 0, 1, 2, '2026-01-02T03:04:05.000000000Z', '2026-01-03T00:00:00.000000000Z');
INSERT INTO flow_test_outlets (flow_test_id, position, diameter_in, coefficient, pitot_psi)
VALUES ('018bcfe5-6be8-7000-8000-000000000000', 0, 2.5, 0.9, 16);
INSERT INTO flow_tests (id, gauge_hydrant_id, tested_on, static_psi, residual_psi, recorded_at)
VALUES ('018bcfe5-6be8-7000-8000-000000000000', 'H-1', '2025-05-01', 72, 51, '2025-05-02T00:00:00.000000000Z');
INSERT INTO flow_tests
    (id, gauge_hydrant_id, tested_on, static_psi, residual_psi, metered_flow_gpm, recorded_at, voided_at, void_reason)
VALUES ('018bcfe5-6fd0-7000-8000-000000000000', 'H-1', '2025-06-01', 70, 50, 900, '2025-06-02T00:00:00.000000000Z',
    '2025-06-03T00:00:00.000000000Z', 'gauge read high');";
/// What the second had shipped, and a department added.
const SECOND: &str = "
INSERT INTO hose_types (id, name, diameter_in, coefficient_psi_per_100gpm2_100ft, source, origin, updated_at)
VALUES ('ours-5in', 'Yellow', 5, 0.07, 'own test', 'department', '2026-01-02T03:04:05.000000000Z');
INSERT INTO pumpers (id, name, rated_flow_gpm, updated_at)
VALUES ('engine-7', 'Engine 7', 1500, '2026-01-02T03:04:05.000000000Z');
INSERT INTO pumper_hose VALUES ('engine-7', 0, 'ours-5in', 1000);
INSERT INTO lay_profiles (id, name, hydrant_valve_id, hose_type_id, lines, carried_ft, updated_at)
VALUES ('forward', 'Forward', 'std-four-way', 'ours-5in', 1, 1000, '2026-01-02T03:04:05.000000000Z');";
const THIRD: &str = "
INSERT INTO flow_tests (id, gauge_hydrant_id, tested_on, static_psi, residual_psi, metered_flow_gpm, second_residual_psi,
    second_metered_flow_gpm, recorded_at)
VALUES ('018bcfe5-73b8-7000-8000-000000000000', 'H-1', '2026-05-01', 72, 51, 1000, 60, 700, '2026-05-02T00:00:00.000000000Z');";
const FOURTH: &str = "
INSERT INTO equipment_test_readings VALUES ('018bcfe5-77a0-7000-8000-000000000000', 0, 500, 60, 40);
INSERT INTO equipment_tests
    (id, hose_type_id, tested_on, method, length_ft, rise_ft, meter_uncertainty_percent, recorded_at)
VALUES ('018bcfe5-77a0-7000-8000-000000000000', 'ours-5in', '2026-05-01', 'two gauges', 1000, 0, 2, '2026-05-02T00:00:00.000000000Z');";
const FIFTH: &str = "
INSERT INTO drill_gauges VALUES ('018bcfe5-7b88-7000-8000-000000000000', 0, 'scene', 0, 40, 38);
INSERT INTO drill_uses VALUES ('018bcfe5-7b88-7000-8000-000000000000', 'hydrant', 'H-1');
INSERT INTO drills (id, drilled_on, lay, flow_gpm, flow_uncertainty_percent, pumped, readings, recorded_at)
VALUES ('018bcfe5-7b88-7000-8000-000000000000', '2026-06-01', '{}', 600, 3, 0, 1, '2026-06-02T00:00:00.000000000Z');";
/// By schema. A schema that is not here adds nothing that an earlier department could have recorded.
const RECORDED: [&str; 5] = [FIRST, SECOND, THIRD, FOURTH, FIFTH];

/// A database as the program of this schema left it.
async fn of_schema(path: &std::path::Path, schema: usize) {
    let options = SqliteConnectOptions::new().filename(path).create_if_missing(true).foreign_keys(true);
    let mut conn: SqliteConnection = options.connect().await.unwrap();
    let earlier: Vec<_> = MIGRATOR.iter().take(schema).cloned().collect();
    Migrator::with_migrations(earlier).run(&mut conn).await.unwrap();
    for recorded in RECORDED.iter().take(schema) {
        let unit = format!("BEGIN; {recorded} COMMIT;");
        sqlx::raw_sql(sqlx::AssertSqlSafe(unit)).execute(&mut conn).await.unwrap();
    }
    conn.close().await.unwrap();
}

fn gpm(test: &FlowTest) -> f64 {
    match &test.flow {
        MeasuredFlow::Metered(flow) => flow.gpm(),
        MeasuredFlow::Pitot(outlets) => outlets[0].pitot.psi(),
    }
}

#[tokio::test]
async fn a_database_of_every_earlier_schema_opens_with_its_records_as_they_were() {
    let newest = MIGRATOR.iter().count();
    assert!(newest >= 5, "the migrations are found");
    for schema in 1..=newest {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("town.db");
        of_schema(&path, schema).await;
        let before = inspect(&path).await.unwrap();
        assert_eq!((before.schema, before.hydrants), (MIGRATOR.iter().nth(schema - 1).unwrap().version, 2));

        let store = Store::open(&path, &OpenOptions::default()).await.unwrap();
        let hydrant = store.hydrant(&id("H-1")).await.unwrap().unwrap();
        assert_eq!(
            (hydrant.outlets.len(), hydrant.description.as_deref()),
            (2, Some("by the mill")),
            "schema {schema}"
        );
        assert_eq!(store.hydrant(&id("H-2")).await.unwrap(), None, "it was retired");
        let tests = store.flow_tests(&id("H-1"), None, 10).await.unwrap();
        let expected = [(16.0, None), (900.0, Some("gauge read high")), (1000.0, None)];
        let found: Vec<_> =
            tests.iter().map(|test| (gpm(test), test.voided.as_ref().map(|v| v.reason.as_str()))).collect();
        assert_eq!(found, expected[..2 + usize::from(schema >= 3)], "schema {schema}");
        assert!(tests.get(2).is_none_or(|test| test.second_point.is_some()));
        if schema >= 2 {
            assert_eq!(store.pumper(&id("engine-7")).await.unwrap().unwrap().hose[0].length.ft(), 1000.0);
            assert_eq!(store.lay_profile(&id("forward")).await.unwrap().unwrap().hose_type_id, id("ours-5in"));
        }
        let equipment = store.equipment_tests(&EquipmentTestQuery::All, None, 10).await.unwrap();
        assert_eq!(equipment.len(), usize::from(schema >= 4), "schema {schema}");
        assert_eq!(store.drills(&[], None, 10).await.unwrap().len(), usize::from(schema >= 5), "schema {schema}");
        store.read_everything().await.unwrap();
        store.close().await;
        let after = inspect(&path).await.unwrap();
        assert_eq!((after.schema, after.flow_tests), (after.newest_schema, before.flow_tests), "schema {schema}");
    }
    assert_eq!(test_id(0).to_string(), "018bcfe5-6800-7000-8000-000000000000", "the ids above are of the same form");
}

#[tokio::test]
async fn a_copy_of_a_version_that_kept_no_audit_is_restored_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (copy, path) = (folder.path().join("copy.db"), folder.path().join("town.db"));
    of_schema(&copy, 5).await;
    let copied = restore(&copy, &path, &change()).await.unwrap();
    assert_eq!((copied.sound.schema, copied.sound.hydrants), (5, 2));
    let store = Store::open(&path, &OpenOptions::default()).await.unwrap();
    assert_eq!(store.audit(0, 10).await, Ok(Vec::new()));
}
