//! What bears on a hydrant's supply: its own tests, those in which it flowed, and those gauged elsewhere on its main.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_records::hydrant::Hydrant;
use longlay_records::id::AssetId;
use longlay_records::supply::{Evidence, GaugedTest};
use sqlx::SqliteConnection;

use crate::error::{StoreError, fault};
use crate::hydrant_query::{HydrantQuery, page};
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
pub(crate) async fn gather(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Evidence>, StoreError> {
    let bearing = bearing(&mut *conn, ids).await?;
    let (mut hydrant_ids, mut test_ids) = (ids.clone(), BTreeSet::new());
    for one in &bearing {
        test_ids.insert(one.test_id.clone());
        hydrant_ids.extend(Row::of("flow_tests", &one.test_id).maybe(one.gauged_at.as_deref(), AssetId::new)?);
    }
    let hydrants: BTreeMap<_, _> = hydrants::load_stored(&mut *conn, &hydrant_ids)
        .await?
        .into_iter()
        .map(|(id, found)| (id, (Arc::new(found.hydrant), found.retired)))
        .collect();
    let tests: BTreeMap<_, _> =
        flow_tests::load(conn, &test_ids).await?.into_iter().map(|(id, test)| (id, Arc::new(test))).collect();

    let gauged = |one: &Bearing| {
        let test = Arc::clone(tests.get(&one.test_id)?);
        let gauge = Arc::clone(&hydrants.get(&test.gauge_hydrant_id)?.0);
        Some(GaugedTest { test, gauge })
    };
    let mut by_cause: BTreeMap<Cause<'_>, BTreeMap<&str, GaugedTest>> = BTreeMap::new();
    for one in &bearing {
        let test = gauged(one)
            .ok_or_else(|| Row::of("flow_tests", &one.test_id).corrupt("the test or its gauge hydrant is missing"))?;
        by_cause.entry(one.cause()).or_default().insert(&one.test_id, test);
    }
    let none = BTreeMap::new();
    let caused = |cause| by_cause.get(&cause).unwrap_or(&none);
    let asked = ids.iter().filter_map(|id| hydrants.get(id).filter(|(_, retired)| !retired));
    Ok(asked
        .map(|(hydrant, _)| {
            let own = caused(Cause::Hydrant(hydrant.id.as_str()));
            let on_main = hydrant.main_id.as_deref().map_or(&none, |main| caused(Cause::Main(main)));
            let others = own.iter().filter(|(id, _)| !on_main.contains_key(*id));
            let mut tests: Vec<_> = on_main.iter().chain(others).collect();
            tests.sort_unstable_by_key(|(id, _)| **id);
            let tests = tests.into_iter().map(|(_, test)| test.clone()).collect();
            Evidence { hydrant: Hydrant::clone(hydrant), tests }
        })
        .collect())
}

/// Whom a test bears on: a hydrant that carried the gauge or flowed, or all that stand on a main.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Cause<'a> {
    Hydrant(&'a str),
    Main(&'a str),
}

/// A test, and on whom it bears. It is gauged nowhere only where the test itself is missing.
struct Bearing {
    hydrant_id: Option<String>,
    main_id: Option<String>,
    test_id: String,
    gauged_at: Option<String>,
}

impl Bearing {
    fn cause(&self) -> Cause<'_> {
        match &self.hydrant_id {
            Some(id) => Cause::Hydrant(id),
            None => Cause::Main(self.main_id.as_deref().unwrap_or_default()),
        }
    }
}

/// The tests that bear on these hydrants or on their mains. A main's come once, and not once for each hydrant on it.
async fn bearing(conn: &mut SqliteConnection, ids: &BTreeSet<AssetId>) -> Result<Vec<Bearing>, StoreError> {
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let ids = id_list(ids);
    sqlx::query_as!(
        Bearing,
        r#"SELECT gauge_hydrant_id AS "hydrant_id?: String", NULL AS "main_id?: String", id AS "test_id!: String",
                  gauge_hydrant_id AS "gauged_at?: String"
           FROM flow_tests WHERE gauge_hydrant_id IN (SELECT value FROM json_each(?1))
           UNION ALL
           SELECT f.hydrant_id, NULL, f.flow_test_id, t.gauge_hydrant_id
           FROM flow_test_flow_hydrants f LEFT JOIN flow_tests t ON t.id = f.flow_test_id
           WHERE f.hydrant_id IN (SELECT value FROM json_each(?1))
           UNION ALL
           SELECT NULL, g.main_id, t.id, t.gauge_hydrant_id
           FROM hydrants g JOIN flow_tests t ON t.gauge_hydrant_id = g.id
           WHERE g.main_id IN (SELECT h.main_id FROM hydrants h WHERE h.id IN (SELECT value FROM json_each(?1)))"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)
}
