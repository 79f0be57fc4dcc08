//! Whether a database file is sound: its pages, its references, its schema, and whether every record still reads.

use std::path::{Path, PathBuf};

use longlay_records::id::AssetId;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use thiserror::Error;

use crate::equipment_tests::EquipmentTestQuery;
use crate::error::{SQLITE_CORRUPT, SQLITE_NOTADB, StoreError, fault, primary_code};
use crate::open::{APPLICATION_ID, PATIENCE, Store};
use crate::rows::Row;
use crate::{flow_tests, hydrants, keys, schema};

/// Faults of one kind told; a broken file has thousands.
const MOST_FAULTS: usize = 20;
/// Records read at a time.
const PAGE: u32 = 500;

/// Why a file is no sound database of this program.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Unsound {
    /// There is no file, or it cannot be read.
    #[error("{} cannot be read: {reason}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system or SQLite said.
        reason: String,
    },
    /// It is something else.
    #[error("{} is no Longlay database", .0.display())]
    NotOurs(PathBuf),
    /// There is nothing in it.
    #[error(
        "{} is empty: it holds no tables. So is a file that was copied by hand while the service ran, because what was recorded \
         lay in the -wal beside it: take copies with `longlay backup`",
        .0.display()
    )]
    Empty(PathBuf),
    /// Pages, indexes or constraints are broken.
    #[error("{} is damaged: {}", path.display(), faults.join("; "))]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What SQLite found, the first of it.
        faults: Vec<String>,
    },
    /// Its schema is not one that a version up to this one made.
    #[error("{}: {reason}", path.display())]
    Schema {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
}

/// What a sound file holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sound {
    /// Newest migration in it.
    pub schema: i64,
    /// Newest migration this program knows: a file behind it is brought up to it when it is served.
    pub newest_schema: i64,
    /// Hydrants, retired ones too.
    pub hydrants: i64,
    /// Flow tests, voided ones too.
    pub flow_tests: i64,
}

/// Looks at a file without changing it: the pages and indexes, the references, whose schema it has, and the keys. Works beside a running service.
///
/// # Errors
/// See [`Unsound`].
pub async fn inspect(path: &Path) -> Result<Sound, Unsound> {
    let unreadable = |reason: String| Unsound::Unreadable { path: path.to_owned(), reason };
    std::fs::metadata(path).map_err(|error| unreadable(error.to_string()))?;
    let mut conn = reader(path).connect().await.map_err(|error| explain(path, &error))?;
    let found = inspect_open(path, &mut conn).await;
    // The file was only read: closing badly loses nothing.
    let _ = conn.close().await;
    found
}

/// How a file is opened to be looked at.
pub(crate) fn reader(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new().filename(path).read_only(true).busy_timeout(PATIENCE)
}

pub(crate) fn explain(path: &Path, error: &sqlx::Error) -> Unsound {
    let path = path.to_owned();
    match primary_code(error) {
        Some(SQLITE_NOTADB) => Unsound::NotOurs(path),
        Some(SQLITE_CORRUPT) => Unsound::Damaged { path, faults: vec![error.to_string()] },
        _ => Unsound::Unreadable { path, reason: error.to_string() },
    }
}

async fn inspect_open(path: &Path, conn: &mut SqliteConnection) -> Result<Sound, Unsound> {
    let failed = |error: sqlx::Error| explain(path, &error);
    let tables: i64 =
        sqlx::query_scalar("SELECT COUNT(*) FROM sqlite_schema").fetch_one(&mut *conn).await.map_err(failed)?;
    if tables == 0 {
        return Err(Unsound::Empty(path.to_owned()));
    }
    let application: i64 = sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut *conn).await.map_err(failed)?;
    if application != APPLICATION_ID {
        return Err(Unsound::NotOurs(path.to_owned()));
    }
    let mut faults: Vec<String> =
        sqlx::query_scalar("PRAGMA integrity_check(20)").fetch_all(&mut *conn).await.map_err(failed)?;
    faults.retain(|fault| fault != "ok");
    let broken: Vec<String> = sqlx::query_scalar(
        r#"SELECT "table" || ' row ' || ifnull(rowid, '?') || ' refers to no ' || parent FROM pragma_foreign_key_check LIMIT 20"#,
    )
    .fetch_all(&mut *conn)
    .await
    .map_err(failed)?;
    faults.extend(broken);
    faults.truncate(MOST_FAULTS);
    if !faults.is_empty() {
        return Err(Unsound::Damaged { path: path.to_owned(), faults });
    }
    let schema = schema::newest_in(conn).await.map_err(|reason| Unsound::Schema { path: path.to_owned(), reason })?;
    check_keys(path, conn).await?;
    let count = async |conn: &mut SqliteConnection, query: &'static str| -> Result<i64, Unsound> {
        sqlx::query_scalar(query).fetch_one(conn).await.map_err(failed)
    };
    Ok(Sound {
        schema,
        newest_schema: schema::newest_known(),
        hydrants: count(conn, "SELECT COUNT(*) FROM hydrants").await?,
        flow_tests: count(conn, "SELECT COUNT(*) FROM flow_tests").await?,
    })
}

/// Each key reads: a service starts with all of them or not at all. Earlier versions kept none.
async fn check_keys(path: &Path, conn: &mut SqliteConnection) -> Result<(), Unsound> {
    let kept = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'keys')";
    if !sqlx::query_scalar(kept).fetch_one(&mut *conn).await.map_err(|error| explain(path, &error))? {
        return Ok(());
    }
    match keys::load(conn, None, u32::MAX).await {
        Ok(_) => Ok(()),
        Err(StoreError::Corrupt(fault)) => Err(Unsound::Damaged { path: path.to_owned(), faults: vec![fault] }),
        Err(error) => Err(Unsound::Unreadable { path: path.to_owned(), reason: error.to_string() }),
    }
}

impl Store {
    /// Reads every hydrant, every live record else, every test and drill, the streets and the heights, each through its type, and counts them; and all of
    /// the audit.
    ///
    /// # Errors
    /// The first that no longer fits, or what kept it from being read.
    pub async fn read_everything(&self) -> Result<u64, StoreError> {
        self.read_audit().await?;
        let records = self.read_hydrants().await? + self.read_equipment().await?;
        Ok(records + self.read_evidence_of_equipment().await? + self.read_ground().await?)
    }

    /// Retired ones too, and every flow test, of whichever hydrant.
    async fn read_hydrants(&self) -> Result<u64, StoreError> {
        let mut count = 0;
        let mut after = String::new();
        loop {
            let mut tx = self.read().await?;
            let ids = ids(&mut tx, "SELECT id FROM hydrants WHERE id > ?1 ORDER BY id LIMIT ?2", &after).await?;
            let Some(last) = ids.last() else { break };
            after.clone_from(last);
            let ids = ids.iter().map(|id| Row::of("hydrants", id).asset_id(id)).collect::<Result<_, _>>()?;
            count += hydrants::load_stored(&mut tx, &ids).await?.len() as u64;
        }
        after.clear();
        loop {
            let mut tx = self.read().await?;
            let ids = ids(&mut tx, "SELECT id FROM flow_tests WHERE id > ?1 ORDER BY id LIMIT ?2", &after).await?;
            let Some(last) = ids.last() else { return Ok(count) };
            after.clone_from(last);
            count += flow_tests::load(&mut tx, &ids.into_iter().collect()).await?.len() as u64;
        }
    }

    /// Entries are numbered without a gap, and never deleted: a number that is missing is one that was.
    async fn read_audit(&self) -> Result<(), StoreError> {
        let mut last = 0;
        loop {
            let entries = self.audit(last, PAGE).await?;
            for entry in &entries {
                if entry.seq != last + 1 {
                    let gone = format!("audit: the entries from {} to {} are gone", last + 1, entry.seq - 1);
                    return Err(StoreError::Corrupt(gone));
                }
                last = entry.seq;
            }
            if entries.is_empty() {
                break;
            }
        }
        let numbered = "SELECT seq FROM sqlite_sequence WHERE name = 'audit'";
        let mut tx = self.read().await?;
        let numbered: Option<i64> = sqlx::query_scalar(numbered).fetch_optional(&mut *tx).await.map_err(fault)?;
        match numbered.and_then(|numbered| u64::try_from(numbered).ok()) {
            Some(numbered) if numbered > last => {
                Err(StoreError::Corrupt(format!("audit: the entries from {} to {numbered} are gone", last + 1)))
            }
            _ => Ok(()),
        }
    }

    async fn read_equipment(&self) -> Result<u64, StoreError> {
        macro_rules! all {
            ($($list:ident)*) => {{
                let mut count = 0;
                $({
                    let mut after: Option<AssetId> = None;
                    loop {
                        let page = self.$list(after.as_ref(), PAGE).await?;
                        count += page.len() as u64;
                        after = page.last().map(|row| row.id.clone());
                        if page.len() < PAGE as usize {
                            break;
                        }
                    }
                })*
                count
            }};
        }
        Ok(all!(hose_types appliances hydrant_valves pumpers lay_profiles districts))
    }

    /// The grid of heights counts as one.
    async fn read_ground(&self) -> Result<u64, StoreError> {
        let mut snapshot = self.snapshot().await?;
        let mut count = 0;
        snapshot.each_demand_point(|_| count += 1).await?;
        let mut streets = 0;
        snapshot.each_street(|_| streets += 1).await?;
        let network = snapshot.street_network().await?.map_or(0, |network| network.streets);
        if streets != network {
            return Err(StoreError::Corrupt(format!(
                "street_network: {streets} streets are there, and it tells of {network}"
            )));
        }
        Ok(count + streets + u64::from(snapshot.elevation_grid().await?.is_some()))
    }

    async fn read_evidence_of_equipment(&self) -> Result<u64, StoreError> {
        let mut count = 0;
        let mut after = None;
        loop {
            let tests = self.equipment_tests(&EquipmentTestQuery::All, after, PAGE).await?;
            count += tests.len() as u64;
            after = tests.last().map(|test| test.id);
            if tests.len() < PAGE as usize {
                break;
            }
        }
        let mut after = None;
        loop {
            let drills = self.drills(&[], after, PAGE).await?;
            count += drills.len() as u64;
            after = drills.last().map(|drill| drill.id);
            if drills.len() < PAGE as usize {
                return Ok(count);
            }
        }
    }
}

async fn ids(conn: &mut SqliteConnection, statement: &'static str, after: &str) -> Result<Vec<String>, StoreError> {
    sqlx::query_scalar(statement).bind(after).bind(PAGE).fetch_all(conn).await.map_err(fault)
}
