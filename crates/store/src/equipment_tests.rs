//! Tests of equipment: written once, never edited, voided with a reason.

use std::collections::BTreeSet;

use longlay_hydraulics::friction_test::TwoGaugeReading;
use longlay_hydraulics::pump_test::PumpReading;
use longlay_records::equipment_test::{EquipmentTest, Measured, Subject};
use longlay_records::flow_test::Voided;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;
use sqlx::types::Json;
use uuid::Uuid;

use crate::audit::Action;
use crate::change::Change;
use crate::equipment_test_rows::{StoredTest, TestRow, leg_name};
use crate::error::{RecordKind, StoreError, fault};
use crate::flow_tests::VoidOutcome;
use crate::open::Store;
use crate::references::{missing, note, refuse};
use crate::replay::{self, Recorded};
use crate::rows::{by_record, day_text, id_list, position, time_text};
use crate::town::Touched;

/// Which tests of equipment: all, or those of one piece of equipment.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum EquipmentTestQuery {
    /// Every one.
    #[default]
    All,
    /// Of one subject.
    Of(Subject),
    /// Of every leg of a kind of hydrant valve.
    OfValve(AssetId),
}

impl EquipmentTestQuery {
    const fn record(&self) -> Option<(RecordKind, &AssetId)> {
        match self {
            Self::All => None,
            Self::Of(subject) => Some(record(subject)),
            Self::OfValve(id) => Some((RecordKind::HydrantValve, id)),
        }
    }
}

/// The record that a test is of.
const fn record(subject: &Subject) -> (RecordKind, &AssetId) {
    match subject {
        Subject::Hose(id) => (RecordKind::HoseType, id),
        Subject::Appliance(id) => (RecordKind::Appliance, id),
        Subject::ValveLeg(id, _) => (RecordKind::HydrantValve, id),
        Subject::Pumper(id) => (RecordKind::Pumper, id),
    }
}

impl Store {
    /// Records a test. What it is of may be a shipped row.
    ///
    /// # Errors
    /// [`StoreError::UnknownReferences`] where what was tested does not exist or is retired; else see [`StoreError`].
    pub async fn add_equipment_test(&self, test: &EquipmentTest, change: &Change) -> Result<Recorded, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(Recorded::Before(first));
        }
        add(&mut tx, test, change).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::EquipmentTest(test.id.to_string())).await?;
        Ok(Recorded::Now)
    }

    /// Tests by ascending id, from behind `after`, at most `limit`; voided ones too.
    ///
    /// # Errors
    /// [`StoreError::UnknownReferences`] where what is asked about does not exist or is retired; else see [`StoreError`].
    pub async fn equipment_tests(
        &self,
        query: &EquipmentTestQuery,
        after: Option<Uuid>,
        limit: u32,
    ) -> Result<Vec<EquipmentTest>, StoreError> {
        let mut tx = self.read().await?;
        if let Some((kind, id)) = query.record() {
            refuse(missing(&mut tx, kind, [id]).await?)?;
        }
        let id = |wanted| query.record().filter(|(kind, _)| *kind == wanted).map(|(_, id)| id.as_str());
        let (hose, appliance) = (id(RecordKind::HoseType), id(RecordKind::Appliance));
        let (valve, pumper) = (id(RecordKind::HydrantValve), id(RecordKind::Pumper));
        let leg = match query {
            EquipmentTestQuery::Of(Subject::ValveLeg(_, leg)) => Some(leg_name(*leg)),
            _ => None,
        };
        let after = after.map(|id| id.to_string()).unwrap_or_default();
        let ids = sqlx::query_scalar!(
            "SELECT id FROM equipment_tests
             WHERE id > ?1 AND (?2 IS NULL OR hose_type_id = ?2) AND (?3 IS NULL OR appliance_id = ?3)
               AND (?4 IS NULL OR hydrant_valve_id = ?4) AND (?5 IS NULL OR leg = ?5) AND (?6 IS NULL OR pumper_id = ?6)
             ORDER BY id LIMIT ?7",
            after,
            hose,
            appliance,
            valve,
            leg,
            pumper,
            limit
        )
        .fetch_all(&mut *tx)
        .await
        .map_err(fault)?;
        load(&mut tx, &Wanted { tests: ids.into_iter().collect(), ..Wanted::default() }).await
    }

    /// One test.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn equipment_test(&self, id: Uuid) -> Result<Option<EquipmentTest>, StoreError> {
        let mut tx = self.read().await?;
        let wanted = Wanted { tests: BTreeSet::from([id.to_string()]), ..Wanted::default() };
        Ok(load(&mut tx, &wanted).await?.pop())
    }

    /// Voids a test.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn void_equipment_test(
        &self,
        id: Uuid,
        voided: &Voided,
        change: &Change,
    ) -> Result<VoidOutcome, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(VoidOutcome::Before(first));
        }
        let id = id.to_string();
        let before = sqlx::query_scalar!(
            r#"SELECT voided_at IS NOT NULL AS "voided!: bool" FROM equipment_tests WHERE id = ?1"#,
            id
        )
        .fetch_optional(&mut *tx)
        .await
        .map_err(fault)?;
        match before {
            None => return Ok(VoidOutcome::NotFound),
            Some(true) => return Ok(VoidOutcome::AlreadyVoided),
            Some(false) => {}
        }
        let at = time_text(voided.at);
        sqlx::query!(
            "UPDATE equipment_tests SET voided_at = ?2, void_reason = ?3 WHERE id = ?1",
            id,
            at,
            voided.reason
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        note(&mut tx, change, Action::Void, RecordKind::EquipmentTest, &id).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::EquipmentTest(id)).await?;
        Ok(VoidOutcome::Voided)
    }
}

/// The write without its transaction.
pub(crate) async fn add(conn: &mut SqliteConnection, test: &EquipmentTest, change: &Change) -> Result<(), StoreError> {
    let subject = test.measured.subject();
    let (kind, id) = record(&subject);
    refuse(missing(&mut *conn, kind, [id]).await?)?;
    // The triggers take no reading of a test that is recorded already, so the readings go first.
    insert_readings(&mut *conn, test).await?;
    insert(&mut *conn, test).await?;
    note(conn, change, Action::Record, RecordKind::EquipmentTest, &test.id.to_string()).await
}

async fn insert_readings(conn: &mut SqliteConnection, test: &EquipmentTest) -> Result<(), StoreError> {
    let id = test.id.to_string();
    let of_gauges = |reading: &TwoGaugeReading| (reading.flow, reading.upstream.psi(), reading.downstream.psi());
    let of_pump = |reading: &PumpReading| (reading.flow, reading.intake.psi(), reading.discharge.psi());
    let readings: Vec<_> = match &test.measured {
        Measured::Hose { gauges, .. } | Measured::Appliance { gauges, .. } | Measured::ValveLeg { gauges, .. } => {
            gauges.readings.iter().map(of_gauges).collect()
        }
        Measured::Pumper { readings, .. } => readings.iter().map(of_pump).collect(),
    };
    for (i, (flow, upstream_psi, downstream_psi)) in readings.into_iter().enumerate() {
        let (position, flow_gpm) = (position(i)?, flow.gpm());
        sqlx::query!(
            "INSERT INTO equipment_test_readings (equipment_test_id, position, flow_gpm, upstream_psi, downstream_psi)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            id,
            position,
            flow_gpm,
            upstream_psi,
            downstream_psi
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}

async fn insert(conn: &mut SqliteConnection, test: &EquipmentTest) -> Result<(), StoreError> {
    let (id, subject) = (test.id.to_string(), test.measured.subject());
    let (kind, record_id) = record(&subject);
    let is = |wanted| (kind == wanted).then_some(record_id.as_str());
    let (hose, appliance) = (is(RecordKind::HoseType), is(RecordKind::Appliance));
    let (valve, pumper) = (is(RecordKind::HydrantValve), is(RecordKind::Pumper));
    let (length_ft, gauges) = match &test.measured {
        Measured::Hose { length, gauges, .. } => (Some(length.ft()), Some(gauges)),
        Measured::Appliance { gauges, .. } | Measured::ValveLeg { gauges, .. } => (None, Some(gauges)),
        Measured::Pumper { .. } => (None, None),
    };
    let leg = match &subject {
        Subject::ValveLeg(_, leg) => Some(leg_name(*leg)),
        _ => None,
    };
    let (rise_ft, meter) = (gauges.map(|gauges| gauges.rise.ft()), gauges.map(|gauges| gauges.meter.percent()));
    let (tested_on, recorded_at) = (day_text(test.tested_on), time_text(test.recorded_at));
    let voided_at = test.voided.as_ref().map(|voided| time_text(voided.at));
    let void_reason = test.voided.as_ref().map(|voided| voided.reason.as_str());
    sqlx::query!(
        "INSERT INTO equipment_tests (id, hose_type_id, appliance_id, hydrant_valve_id, pumper_id, leg, tested_on, method,
           length_ft, rise_ft, meter_uncertainty_percent, notes, recorded_at, voided_at, void_reason)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
        id,
        hose,
        appliance,
        valve,
        pumper,
        leg,
        tested_on,
        test.method,
        length_ft,
        rise_ft,
        meter,
        test.notes,
        recorded_at,
        voided_at,
        void_reason
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

/// Tests by their ids, or by what they are of.
#[derive(Default)]
pub(crate) struct Wanted {
    pub(crate) tests: BTreeSet<String>,
    pub(crate) hose_types: BTreeSet<AssetId>,
    pub(crate) appliances: BTreeSet<AssetId>,
    pub(crate) hydrant_valves: BTreeSet<AssetId>,
    pub(crate) pumpers: BTreeSet<AssetId>,
}

impl Wanted {
    fn is_empty(&self) -> bool {
        let records = [&self.hose_types, &self.appliances, &self.hydrant_valves, &self.pumpers];
        self.tests.is_empty() && records.iter().all(|ids| ids.is_empty())
    }
}

/// Those wanted by ascending id, in one statement.
pub(crate) async fn load(conn: &mut SqliteConnection, wanted: &Wanted) -> Result<Vec<EquipmentTest>, StoreError> {
    if wanted.is_empty() {
        return Ok(Vec::new());
    }
    let tests = Json(&wanted.tests);
    let (hose, appliances) = (id_list(&wanted.hose_types), id_list(&wanted.appliances));
    let (valves, pumpers) = (id_list(&wanted.hydrant_valves), id_list(&wanted.pumpers));
    let rows = sqlx::query_as!(
        TestRow,
        r#"SELECT t.id, t.hose_type_id, t.appliance_id, t.hydrant_valve_id, t.pumper_id, t.leg, t.tested_on, t.method, t.length_ft,
                  t.rise_ft, t.meter_uncertainty_percent, t.notes, t.recorded_at, t.voided_at, t.void_reason,
                  r.flow_gpm AS "flow_gpm?", r.upstream_psi AS "upstream_psi?", r.downstream_psi AS "downstream_psi?"
           FROM equipment_tests t LEFT JOIN equipment_test_readings r ON r.equipment_test_id = t.id
           WHERE t.id IN (
             SELECT value FROM json_each(?1)
             UNION ALL SELECT id FROM equipment_tests WHERE hose_type_id IN (SELECT value FROM json_each(?2))
             UNION ALL SELECT id FROM equipment_tests WHERE appliance_id IN (SELECT value FROM json_each(?3))
             UNION ALL SELECT id FROM equipment_tests WHERE hydrant_valve_id IN (SELECT value FROM json_each(?4))
             UNION ALL SELECT id FROM equipment_tests WHERE pumper_id IN (SELECT value FROM json_each(?5))
           ) ORDER BY t.id, r.position"#,
        tests,
        hose,
        appliances,
        valves,
        pumpers
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    by_record(&rows, |row| &row.id).map(|(row, readings)| StoredTest { row, readings }.test()).collect()
}
