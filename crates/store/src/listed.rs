//! Whole kinds of record, page by page out of a snapshot: what the department itself keeps, by ascending id.

use longlay_records::demand::DemandPoint;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::{Hydrant, Location};
use sqlx::SqliteConnection;

use crate::error::{RecordKind, StoreError, fault};
use crate::hydrant_query::{HydrantQuery, page};
use crate::references::{own_count, own_page};
use crate::snapshot::Snapshot;
use crate::{appliances, demand_points, flow_tests, hose_types, hydrant_valves, hydrants, lay_profiles, pumpers};

/// A record, and where it stands where that is told beside it: a flow test stands at its gauge hydrant.
pub type Placed<T> = (T, Option<Location>);

/// A kind of record that is read whole: live, and the department's own. The shipped library is the same everywhere and is not among them.
pub trait Listed: Sized + Send + Sync + 'static {
    /// Records by ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    fn page(
        snapshot: &mut Snapshot,
        after: Option<&Self>,
        limit: u32,
    ) -> impl Future<Output = Result<Vec<Placed<Self>>, StoreError>> + Send;

    /// How many there are.
    ///
    /// # Errors
    /// See [`StoreError`].
    fn count(snapshot: &mut Snapshot) -> impl Future<Output = Result<u64, StoreError>> + Send;
}

impl Listed for Hydrant {
    async fn page(snapshot: &mut Snapshot, after: Option<&Self>, limit: u32) -> Result<Vec<Placed<Self>>, StoreError> {
        let conn = snapshot.connection();
        let ids = page(conn, &HydrantQuery::default(), after.map(|last| &last.id), limit).await?;
        let found = hydrants::load_stored(conn, &ids).await?;
        Ok(found.into_values().map(|stored| (stored.hydrant, None)).collect())
    }

    async fn count(snapshot: &mut Snapshot) -> Result<u64, StoreError> {
        own_count(snapshot.connection(), RecordKind::Hydrant).await
    }
}

/// Voided ones too. Those of which a hydrant is retired are history that no live record refers to, and are left out.
impl Listed for FlowTest {
    async fn page(snapshot: &mut Snapshot, after: Option<&Self>, limit: u32) -> Result<Vec<Placed<Self>>, StoreError> {
        let conn = snapshot.connection();
        let after = after.map(|last| last.id.to_string()).unwrap_or_default();
        let ids = test_ids(conn, &after, limit).await?.into_iter().collect();
        let found = flow_tests::load(conn, &ids).await?;
        let gauges = found.values().map(|test| test.gauge_hydrant_id.clone()).collect();
        let gauges = hydrants::load_stored(conn, &gauges).await?;
        let place = |test: &Self| gauges.get(&test.gauge_hydrant_id).map(|stored| stored.hydrant.location);
        Ok(found.into_values().map(|test| (place(&test), test)).map(|(place, test)| (test, place)).collect())
    }

    async fn count(snapshot: &mut Snapshot) -> Result<u64, StoreError> {
        let counted = sqlx::query_scalar!(
            r#"SELECT COUNT(*) AS "count!: u64" FROM flow_tests t
               JOIN hydrants g ON g.id = t.gauge_hydrant_id AND g.retired_at IS NULL
               WHERE NOT EXISTS (
                 SELECT 1 FROM flow_test_flow_hydrants f JOIN hydrants h ON h.id = f.hydrant_id
                 WHERE f.flow_test_id = t.id AND h.retired_at IS NOT NULL)"#
        );
        counted.fetch_one(snapshot.connection()).await.map_err(fault)
    }
}

impl Listed for DemandPoint {
    async fn page(snapshot: &mut Snapshot, after: Option<&Self>, limit: u32) -> Result<Vec<Placed<Self>>, StoreError> {
        let points = demand_points::page(snapshot.connection(), after.map(|last| &last.id), limit).await?;
        Ok(points.into_iter().map(|point| (point, None)).collect())
    }

    async fn count(snapshot: &mut Snapshot) -> Result<u64, StoreError> {
        demand_points::count(snapshot.connection()).await
    }
}

async fn test_ids(conn: &mut SqliteConnection, after: &str, limit: u32) -> Result<Vec<String>, StoreError> {
    sqlx::query_scalar!(
        "SELECT t.id FROM flow_tests t JOIN hydrants g ON g.id = t.gauge_hydrant_id AND g.retired_at IS NULL
         WHERE t.id > ?1 AND NOT EXISTS (
           SELECT 1 FROM flow_test_flow_hydrants f JOIN hydrants h ON h.id = f.hydrant_id
           WHERE f.flow_test_id = t.id AND h.retired_at IS NOT NULL)
         ORDER BY t.id LIMIT ?2",
        after,
        limit
    )
    .fetch_all(conn)
    .await
    .map_err(fault)
}

/// Equipment is read in the same two steps, whatever its kind.
macro_rules! equipment {
    ($($record:ty, $kind:ident, $module:ident;)*) => {$(
        impl Listed for $record {
            async fn page(
                snapshot: &mut Snapshot,
                after: Option<&Self>,
                limit: u32,
            ) -> Result<Vec<Placed<Self>>, StoreError> {
                let conn = snapshot.connection();
                let ids = own_page(conn, RecordKind::$kind, after.map(|last| &last.id), limit).await?;
                Ok($module::load(conn, &ids).await?.into_values().map(|found| (found, None)).collect())
            }

            async fn count(snapshot: &mut Snapshot) -> Result<u64, StoreError> {
                own_count(snapshot.connection(), RecordKind::$kind).await
            }
        }
    )*};
}

equipment! {
    HoseType, HoseType, hose_types;
    ApplianceType, Appliance, appliances;
    HydrantValveType, HydrantValve, hydrant_valves;
    Pumper, Pumper, pumpers;
    LayProfile, LayProfile, lay_profiles;
}
