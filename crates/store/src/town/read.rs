//! What the town holds, read out of the database by the code that reads it everywhere else. A row that no longer fits is read as why it does not.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_records::drill::{DrillUse, UsedKind};
use longlay_records::equipment_test::{EquipmentTest, Subject};
use longlay_records::flow_test::FlowTest;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;
use uuid::Uuid;

use super::Shelved;
use super::place::{DamagedHydrant, DamagedTest, Gauged, Place, Stored};
use super::shelf::{Drill, Kept, Read, TestsBySubject};
use crate::drill_rows::{self, kind_text};
use crate::equipment_tests::{self, Wanted};
use crate::error::{RecordKind, StoreError, fault};
use crate::references::version;
use crate::rows::Row;
use crate::{flow_tests, hydrants};

/// A flow test, and the hydrants that flowed in it.
pub(super) struct ReadTest {
    pub(super) gauged: Gauged,
    pub(super) flowed: Vec<AssetId>,
}

/// A piece of equipment with what is said of it.
pub(super) struct ReadEquipment<T> {
    pub(super) id: AssetId,
    /// None where it is retired.
    pub(super) kept: Option<Kept<T>>,
    pub(super) tests: Read<TestsBySubject>,
    pub(super) drills: Vec<Drill>,
}

/// A drill, where it stands, and what it used.
pub(super) struct ReadDrill {
    pub(super) id: String,
    pub(super) uses: Vec<DrillUse>,
    pub(super) drill: Option<Drill>,
}

/// A record out of one that was read, or why it is none; an error where the database itself fails.
fn contained<T>(read: Result<T, StoreError>) -> Result<Read<T>, StoreError> {
    match read {
        Ok(record) => Ok(Ok(Arc::new(record))),
        Err(damage @ StoreError::Corrupt(_)) => Ok(Err(Box::new(damage))),
        Err(error) => Err(error),
    }
}

/// Hydrants, retired ones too, without their tests.
pub(super) async fn places(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Place>, StoreError> {
    let found = match hydrants::load_stored(&mut *conn, ids).await {
        Ok(found) => found,
        Err(StoreError::Corrupt(_)) => return damaged_places(conn, ids).await,
        Err(error) => return Err(error),
    };
    let place = |found: hydrants::Stored| Place::new(Stored::Sound(Arc::new(found.hydrant)), found.retired);
    Ok(found.into_values().map(place).collect())
}

/// The same one by one, where one of them is damaged.
async fn damaged_places(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Place>, StoreError> {
    let mut found = Vec::with_capacity(ids.len());
    for id in ids {
        let text = id.as_str();
        let row = sqlx::query!(
            r#"SELECT main_id, retired_at IS NOT NULL AS "retired!: bool" FROM hydrants WHERE id = ?1"#,
            text
        )
        .fetch_optional(&mut *conn)
        .await
        .map_err(fault)?;
        let Some(row) = row else { continue };
        let read = hydrants::load_stored(&mut *conn, &BTreeSet::from([id.clone()])).await;
        let missing = || Row::of("hydrants", text).corrupt("it is not found again");
        let stored = match read.and_then(|mut found| found.remove(id).ok_or_else(missing)) {
            Ok(sound) => Stored::Sound(Arc::new(sound.hydrant)),
            Err(damage @ StoreError::Corrupt(_)) => {
                Stored::Damaged(Arc::new(DamagedHydrant { id: id.clone(), main_id: row.main_id, damage }))
            }
            Err(error) => return Err(error),
        };
        found.push(Place::new(stored, row.retired));
    }
    Ok(found)
}

/// Flow tests.
pub(super) async fn tests(conn: &mut SqliteConnection, ids: &BTreeSet<String>) -> Result<Vec<ReadTest>, StoreError> {
    let found = match flow_tests::load(&mut *conn, ids).await {
        Ok(found) => found,
        Err(StoreError::Corrupt(_)) => return damaged_tests(conn, ids).await,
        Err(error) => return Err(error),
    };
    let read =
        |test: FlowTest| ReadTest { flowed: test.flow_hydrant_ids.clone(), gauged: Gauged::Sound(Arc::new(test)) };
    Ok(found.into_values().map(read).collect())
}

/// The same one by one, where one of them is damaged.
async fn damaged_tests(conn: &mut SqliteConnection, ids: &BTreeSet<String>) -> Result<Vec<ReadTest>, StoreError> {
    let mut found = Vec::with_capacity(ids.len());
    for id in ids {
        let gauge = sqlx::query_scalar!("SELECT gauge_hydrant_id FROM flow_tests WHERE id = ?1", id)
            .fetch_optional(&mut *conn)
            .await
            .map_err(fault)?;
        let Some(gauge) = gauge else { continue };
        let flowed = sqlx::query_scalar!("SELECT hydrant_id FROM flow_test_flow_hydrants WHERE flow_test_id = ?1", id)
            .fetch_all(&mut *conn)
            .await
            .map_err(fault)?;
        let read = flow_tests::load(&mut *conn, &BTreeSet::from([id.clone()])).await;
        let missing = || Row::of("flow_tests", id).corrupt("it is not found again");
        let gauged = match read.and_then(|mut tests| tests.remove(id).ok_or_else(missing)) {
            Ok(test) => Gauged::Sound(Arc::new(test)),
            Err(damage @ StoreError::Corrupt(_)) => Gauged::Damaged(Arc::new(DamagedTest {
                id: Uuid::try_parse(id).unwrap_or_default(),
                gauge_hydrant_id: Row::of("flow_tests", id).asset_id(&gauge)?,
                damage,
            })),
            Err(error) => return Err(error),
        };
        // What is no id is no hydrant's, and nobody asks by it.
        let flowed = flowed.into_iter().filter_map(|id| AssetId::new(id).ok()).collect();
        found.push(ReadTest { gauged, flowed });
    }
    Ok(found)
}

/// A piece of equipment, live or retired.
pub(super) async fn equipment<T: Shelved>(
    conn: &mut SqliteConnection,
    id: &AssetId,
) -> Result<ReadEquipment<T>, StoreError> {
    let one = BTreeSet::from([id.clone()]);
    let mut kept = None;
    if let Some(version) = version(&mut *conn, T::KIND, id).await? {
        let read = T::load(&mut *conn, &one).await.map(|mut found| found.remove(id));
        kept = match read {
            Ok(None) => None,
            Ok(Some(record)) => Some(Ok(Arc::new(record))),
            Err(error) => Some(contained(Err(error))?),
        }
        .map(|record| Kept { id: id.clone(), version, record });
    }
    let mut wanted = Wanted::default();
    T::want_tests(&mut wanted, one);
    let tests = contained(equipment_tests::load(&mut *conn, &wanted).await.map(by_subject))?;
    let drills = match T::USED_AS {
        Some(kind) => drills_with(conn, kind, id).await?,
        None => Vec::new(),
    };
    Ok(ReadEquipment { id: id.clone(), kept, tests, drills })
}

fn by_subject(tests: Vec<EquipmentTest>) -> TestsBySubject {
    let mut found: BTreeMap<Subject, Vec<EquipmentTest>> = BTreeMap::new();
    for test in tests {
        found.entry(test.measured.subject()).or_default().push(test);
    }
    found.into_iter().map(|(subject, tests)| (subject, Arc::new(tests))).collect()
}

/// What a test of equipment is of.
pub(super) async fn subject(conn: &mut SqliteConnection, id: &str) -> Result<(RecordKind, AssetId), StoreError> {
    let test = sqlx::query!(
        "SELECT hose_type_id, appliance_id, hydrant_valve_id, pumper_id FROM equipment_tests WHERE id = ?1",
        id
    )
    .fetch_one(conn)
    .await
    .map_err(fault)?;
    let subjects = [
        (RecordKind::HoseType, test.hose_type_id),
        (RecordKind::Appliance, test.appliance_id),
        (RecordKind::HydrantValve, test.hydrant_valve_id),
        (RecordKind::Pumper, test.pumper_id),
    ];
    let row = Row::of("equipment_tests", id);
    let found = subjects.into_iter().find_map(|(kind, subject)| Some((kind, subject?)));
    let (kind, subject) = found.ok_or_else(|| row.corrupt("a test of nothing, or of several things"))?;
    Ok((kind, row.asset_id(&subject)?))
}

async fn drills_with(conn: &mut SqliteConnection, kind: UsedKind, id: &AssetId) -> Result<Vec<Drill>, StoreError> {
    let (kind, id) = (kind_text(kind), id.as_str());
    let ids = sqlx::query_scalar!("SELECT drill_id FROM drill_uses WHERE kind = ?1 AND asset_id = ?2", kind, id)
        .fetch_all(&mut *conn)
        .await
        .map_err(fault)?;
    drill_rows::standing(conn, &ids.into_iter().collect()).await
}

/// A drill.
pub(super) async fn drill(conn: &mut SqliteConnection, id: String) -> Result<ReadDrill, StoreError> {
    let uses = drill_rows::uses(&mut *conn, &id).await?;
    let drill = drill_rows::standing(conn, &BTreeSet::from([id.clone()])).await?.pop();
    Ok(ReadDrill { id, uses, drill })
}
