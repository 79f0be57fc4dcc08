//! What bears on a hydrant's supply: its own tests, those in which it flowed, and those gauged elsewhere on its main.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::id::AssetId;
use longlay_records::supply::{Evidence, GaugedTest};
use sqlx::SqliteConnection;

use crate::error::{StoreError, fault};
use crate::hydrant_query::{HydrantQuery, page};
use crate::hydrants::Retired;
use crate::open::Store;
use crate::rows::{Row, id_list};
use crate::{flow_tests, hydrants};

impl Store {
    /// A hydrant with the tests that bear on it; none where it does not exist or is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence(&self, id: &AssetId) -> Result<Option<Evidence>, StoreError> {
        let mut tx = self.read().await?;
        load(&mut tx, id).await
    }

    /// The same for a page of [`Store::hydrants`], in its order, from one state of the database.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn evidence_page(
        &self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Evidence>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, query, after, limit).await?;
        gather(&mut tx, &ids).await
    }
}

/// A live hydrant with the tests that bear on it.
pub(crate) async fn load(conn: &mut SqliteConnection, id: &AssetId) -> Result<Option<Evidence>, StoreError> {
    Ok(gather(conn, &BTreeSet::from([id.clone()])).await?.pop())
}

/// The same for a set, in order of id, in as many statements as for one.
async fn gather(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Evidence>, StoreError> {
    let asked = hydrants::load(&mut *conn, ids, Retired::Hidden).await?;
    let bearing = bearing(&mut *conn, ids).await?;
    let test_ids: BTreeSet<String> = bearing.values().flatten().cloned().collect();
    let tests = flow_tests::load(&mut *conn, &test_ids).await?;
    let gauge_ids = tests.values().map(|test| test.gauge_hydrant_id.clone()).collect();
    let gauges = hydrants::load(conn, &gauge_ids, Retired::Shown).await?;

    let gauged = |id: &String| {
        let test = tests.get(id)?.clone();
        let gauge = gauges.get(&test.gauge_hydrant_id)?.clone();
        Some(GaugedTest { test, gauge })
    };
    asked
        .into_values()
        .map(|hydrant| {
            let ids = bearing.get(hydrant.id.as_str()).into_iter().flatten();
            let tests = ids
                .map(|id| {
                    gauged(id)
                        .ok_or_else(|| Row::of("flow_tests", id).corrupt("the test or its gauge hydrant is missing"))
                })
                .collect::<Result<_, _>>()?;
            Ok(Evidence { hydrant, tests })
        })
        .collect()
}

/// By hydrant, the ids of the tests that bear on it, each once.
async fn bearing(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<String, Vec<String>>, StoreError> {
    let ids = id_list(ids);
    let rows = sqlx::query!(
        r#"SELECT h.id AS "hydrant_id!: String", t.id AS "test_id!: String"
           FROM hydrants h JOIN flow_tests t ON t.gauge_hydrant_id = h.id
           WHERE h.id IN (SELECT value FROM json_each(?1))
           UNION
           SELECT f.hydrant_id, f.flow_test_id FROM flow_test_flow_hydrants f
           WHERE f.hydrant_id IN (SELECT value FROM json_each(?1))
           UNION
           SELECT h.id, t.id
           FROM hydrants h JOIN hydrants g ON g.main_id = h.main_id JOIN flow_tests t ON t.gauge_hydrant_id = g.id
           WHERE h.id IN (SELECT value FROM json_each(?1))
           ORDER BY 1, 2"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    let mut bearing: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in rows {
        bearing.entry(row.hydrant_id).or_default().push(row.test_id);
    }
    Ok(bearing)
}
