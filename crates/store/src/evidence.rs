//! What bears on a hydrant's supply: its own tests, those in which it flowed, and those gauged elsewhere on its main.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::id::AssetId;
use longlay_records::supply::{Evidence, GaugedTest};
use sqlx::SqliteConnection;

use crate::error::{StoreError, fault};
use crate::hydrant_query::{HydrantQuery, page};
use crate::open::Store;
use crate::rows::{Row, by_record, id_list};
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
pub(crate) async fn gather(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Evidence>, StoreError> {
    let bearing = bearing(&mut *conn, ids).await?;
    let (mut hydrant_ids, mut test_ids) = (ids.clone(), BTreeSet::new());
    for one in &bearing {
        test_ids.insert(one.test_id.clone());
        hydrant_ids.extend(Row::of("flow_tests", &one.test_id).maybe(one.gauged_at.as_deref(), AssetId::new)?);
    }
    let hydrants = hydrants::load_stored(&mut *conn, &hydrant_ids).await?;
    let tests = flow_tests::load(conn, &test_ids).await?;

    let gauged = |one: &Bearing| {
        let test = tests.get(&one.test_id)?.clone();
        let gauge = hydrants.get(&test.gauge_hydrant_id)?.hydrant.clone();
        Some(GaugedTest { test, gauge })
    };
    let missing =
        |one: &Bearing| Row::of("flow_tests", &one.test_id).corrupt("the test or its gauge hydrant is missing");
    let bearing: BTreeMap<_, _> =
        by_record(&bearing, |one| &one.hydrant_id).map(|(first, all)| (first.hydrant_id.as_str(), all)).collect();
    ids.iter()
        .filter_map(|id| hydrants.get(id).filter(|asked| !asked.retired))
        .map(|asked| {
            let bearing = bearing.get(asked.hydrant.id.as_str()).copied().unwrap_or_default();
            let tests = bearing.iter().map(|one| gauged(one).ok_or_else(|| missing(one))).collect::<Result<_, _>>()?;
            Ok(Evidence { hydrant: asked.hydrant.clone(), tests })
        })
        .collect()
}

/// A test that bears on a hydrant. It is gauged nowhere only where the test itself is missing.
struct Bearing {
    hydrant_id: String,
    test_id: String,
    gauged_at: Option<String>,
}

/// By hydrant, the tests that bear on it, each once.
async fn bearing(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Bearing>, StoreError> {
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let ids = id_list(ids);
    sqlx::query_as!(
        Bearing,
        r#"SELECT b.hydrant_id AS "hydrant_id!: String", b.test_id AS "test_id!: String",
                  t.gauge_hydrant_id AS "gauged_at?: String"
           FROM (
             SELECT gauge_hydrant_id AS hydrant_id, id AS test_id FROM flow_tests
             WHERE gauge_hydrant_id IN (SELECT value FROM json_each(?1))
             UNION
             SELECT hydrant_id, flow_test_id FROM flow_test_flow_hydrants
             WHERE hydrant_id IN (SELECT value FROM json_each(?1))
             UNION
             SELECT h.id, t.id
             FROM hydrants h JOIN hydrants g ON g.main_id = h.main_id JOIN flow_tests t ON t.gauge_hydrant_id = g.id
             WHERE h.id IN (SELECT value FROM json_each(?1))
           ) b LEFT JOIN flow_tests t ON t.id = b.test_id
           ORDER BY b.hydrant_id, b.test_id"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)
}
