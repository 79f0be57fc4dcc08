//! The whole town out of the database.

use std::time::{Duration, Instant};

use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::change::AT_ONCE;
use super::read;
use super::shelved::Shelved;
use super::state::Town;
use crate::error::{StoreError, fault};
use crate::references::stored_kind;
use crate::rows::Row;

/// How often whoever waits is told how far it is.
const TOLD_EVERY: Duration = Duration::from_secs(1);

/// Everything, from one state of the database.
pub(super) async fn load(conn: &mut SqliteConnection) -> Result<Town, StoreError> {
    let (began, mut told) = (Instant::now(), Instant::now());
    let mut tell = |hydrants: usize, flow_tests: usize| {
        if told.elapsed() >= TOLD_EVERY {
            told = Instant::now();
            tracing::info!(hydrants, flow_tests, "reading the records into memory");
        }
    };
    let mut town = Town::default();
    let ids = sqlx::query_scalar!("SELECT id FROM hydrants ORDER BY id").fetch_all(&mut *conn).await.map_err(fault)?;
    let mut hydrants = 0;
    for part in ids.chunks(AT_ONCE) {
        let part = part.iter().map(|id| Row::of("hydrants", id).asset_id(id)).collect::<Result<_, _>>()?;
        for place in read::places(&mut *conn, &part).await? {
            town.put_hydrant(place);
        }
        hydrants += part.len();
        tell(hydrants, 0);
    }
    let ids =
        sqlx::query_scalar!("SELECT id FROM flow_tests ORDER BY id").fetch_all(&mut *conn).await.map_err(fault)?;
    let mut flow_tests = 0;
    for part in ids.chunks(AT_ONCE) {
        let part = part.iter().cloned().collect();
        for test in read::tests(&mut *conn, &part).await? {
            town.put_test(test);
        }
        flow_tests += part.len();
        tell(hydrants, flow_tests);
    }
    equipment::<HoseType>(&mut *conn, &mut town).await?;
    equipment::<ApplianceType>(&mut *conn, &mut town).await?;
    equipment::<HydrantValveType>(&mut *conn, &mut town).await?;
    equipment::<Pumper>(&mut *conn, &mut town).await?;
    equipment::<LayProfile>(&mut *conn, &mut town).await?;
    let duration_ms = u64::try_from(began.elapsed().as_millis()).unwrap_or(u64::MAX);
    tracing::info!(hydrants, flow_tests, duration_ms, "the records are in memory");
    Ok(town)
}

async fn equipment<T: Shelved>(conn: &mut SqliteConnection, town: &mut Town) -> Result<(), StoreError> {
    let kind = stored_kind(T::KIND);
    let ids = sqlx::query_scalar!(r#"SELECT id AS "id!: String" FROM record_standing WHERE kind = ?1"#, kind)
        .fetch_all(&mut *conn)
        .await
        .map_err(fault)?;
    for id in ids {
        let id: AssetId = Row::of(kind, &id).asset_id(&id)?;
        town.put_equipment(read::equipment::<T>(&mut *conn, &id).await?);
    }
    Ok(())
}
