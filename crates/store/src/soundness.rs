//! Whether a database file is sound: its pages, its references, its schema, and whether every record still reads.

use std::path::{Path, PathBuf};

use longlay_records::id::AssetId;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use thiserror::Error;

use crate::equipment_tests::EquipmentTestQuery;
use crate::error::{SQLITE_CORRUPT, SQLITE_NOTADB, StoreError, primary_code};
use crate::hydrant_query::HydrantQuery;
use crate::open::{APPLICATION_ID, MIGRATOR, PATIENCE, Store};

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

/// Looks at a file without changing it: the pages and indexes, the references, and whose schema it has. Works beside a running service.
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
    let schema = schema(path, conn).await?;
    let count = async |conn: &mut SqliteConnection, query: &'static str| -> Result<i64, Unsound> {
        sqlx::query_scalar(query).fetch_one(conn).await.map_err(failed)
    };
    Ok(Sound {
        schema,
        newest_schema: newest_known(),
        hydrants: count(conn, "SELECT COUNT(*) FROM hydrants").await?,
        flow_tests: count(conn, "SELECT COUNT(*) FROM flow_tests").await?,
    })
}

fn newest_known() -> i64 {
    MIGRATOR.iter().map(|migration| migration.version).max().unwrap_or(0)
}

/// The newest migration in it: all before it are in it too, each in the wording of this program.
async fn schema(path: &Path, conn: &mut SqliteConnection) -> Result<i64, Unsound> {
    let wrong = |reason: String| Unsound::Schema { path: path.to_owned(), reason };
    let applied: Vec<(i64, bool, Vec<u8>)> =
        sqlx::query_as("SELECT version, success, checksum FROM _sqlx_migrations ORDER BY version")
            .fetch_all(&mut *conn)
            .await
            .map_err(|error| wrong(error.to_string()))?;
    for (nth, (version, success, checksum)) in applied.iter().enumerate() {
        let Some(known) = MIGRATOR.iter().nth(nth) else {
            return Err(wrong(format!(
                "it is of a newer version (schema {version}); run that version, or a later one"
            )));
        };
        if known.version != *version || !success || known.checksum.as_ref() != checksum.as_slice() {
            return Err(wrong(format!("migration {version} in it is not the one this version knows")));
        }
    }
    applied.last().map(|(version, ..)| *version).ok_or_else(|| wrong("it holds no schema".to_owned()))
}

impl Store {
    /// Reads every live record and every test and drill, each through its type, and counts them.
    ///
    /// # Errors
    /// The first that no longer fits, or what kept it from being read.
    pub async fn read_everything(&self) -> Result<u64, StoreError> {
        Ok(self.read_hydrants().await? + self.read_equipment().await? + self.read_evidence_of_equipment().await?)
    }

    async fn read_hydrants(&self) -> Result<u64, StoreError> {
        let mut count = 0;
        let mut after: Option<AssetId> = None;
        loop {
            let page = self.hydrants(&HydrantQuery::default(), after.as_ref(), PAGE).await?;
            for hydrant in &page {
                let mut last = None;
                loop {
                    let tests = self.flow_tests(&hydrant.id, last, PAGE).await?;
                    count += tests.len() as u64;
                    last = tests.last().map(|test| test.id);
                    if tests.len() < PAGE as usize {
                        break;
                    }
                }
            }
            count += page.len() as u64;
            after = page.last().map(|hydrant| hydrant.id.clone());
            if page.len() < PAGE as usize {
                return Ok(count);
            }
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
        Ok(all!(hose_types appliances hydrant_valves pumpers lay_profiles))
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
