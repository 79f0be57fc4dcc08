//! Opening, settings and closing: one connection writes, several read, and nothing is opened that could be harmed by it.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use sqlx::migrate::{MigrateError, Migrator};
use sqlx::pool::{PoolConnection, PoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection, Sqlite, SqliteConnection, SqlitePool, Transaction};

use crate::disk::Disk;
use crate::error::{OpenError, SQLITE_CANTOPEN, SQLITE_NOTADB, SQLITE_READONLY, StoreError, fault, primary_code};
use crate::folder;
use crate::gauges::{Use, Waits};
use crate::lock::Lock;
use crate::schema::newest_known;
use crate::town::Keeper;

/// Earlier versions can corrupt a write-ahead log when a checkpoint meets a writer.
const NEEDED_SQLITE: [u32; 3] = [3, 51, 3];
/// 'LONG', set by the first migration.
pub(crate) const APPLICATION_ID: i64 = 0x4C4F_4E47;
/// How long a statement waits for another process's lock, and a caller for a connection, before it is told `Busy`.
pub(crate) const PATIENCE: Duration = Duration::from_secs(5);
/// How long a write waits for those before it: as long as the largest import takes to be written, and less than an answer may take.
const WRITERS_PATIENCE: Duration = Duration::from_secs(8);
const READERS: u32 = 8;
/// Long reads at once. They have connections of their own: a caller that takes a town's records slowly must not keep a dispatcher waiting.
const LONG_READERS: u32 = 4;
/// Rows that SQLite's thread reads ahead for a long read: with few, two threads wake each other for every few rows.
const ROWS_AHEAD: usize = 2048;
/// 32 MiB, in negative KiB as SQLite has it: an import changes more pages than the 2 MiB that it would hold, and each that has to make room is
/// written to the log once more. Taken only as it is needed.
const WRITER_CACHE: &str = "-32768";

pub(crate) static MIGRATOR: Migrator = sqlx::migrate!("../../migrations");

/// How to open a database.
#[derive(Debug, Clone, Default)]
pub struct OpenOptions {
    /// Open it on a network, FUSE or VM-shared folder too.
    pub allow_network_folder: bool,
}

/// One department's records in one SQLite file. Cheap to clone; clones share the connections.
#[derive(Debug, Clone)]
pub struct Store {
    writer: SqlitePool,
    readers: SqlitePool,
    long_readers: SqlitePool,
    path: Arc<Path>,
    waits: Arc<Waits>,
    pub(crate) keeper: Arc<Keeper>,
    /// None where the database was opened for reading only.
    lock: Option<Arc<Lock>>,
}

impl Store {
    /// Opens the database to read and write, making the file when there is none and bringing its schema up to date. No other process can, until it is
    /// closed.
    ///
    /// # Errors
    /// See [`OpenError`].
    pub async fn open(path: &Path, options: &OpenOptions) -> Result<Self, OpenError> {
        sqlite_version().await?;
        folder::check(path, options.allow_network_folder)?;
        if path.exists() {
            // Before the lock: nothing is left beside another program's file, nor beside one that cannot be written.
            folder::check_writable(path)?;
            check_ours(path).await?;
        }
        let lock = Some(Arc::new(Lock::take(path)?));
        folder::create_private(path)?;
        // Behind the lock: a restore may have put another file there since.
        check_ours(path).await?;

        let writer = connect_writer(path).await?;
        MIGRATOR.run(&writer).await.map_err(migration_fault)?;
        check_wal(&writer).await?;
        let (readers, long_readers) = connect_readers(path).await?;
        Ok(Self {
            writer,
            readers,
            long_readers,
            path: path.into(),
            waits: Arc::default(),
            keeper: Arc::default(),
            lock,
        })
    }

    /// The same, of a database that is there.
    ///
    /// # Errors
    /// See [`OpenError`].
    pub async fn open_there(path: &Path, options: &OpenOptions) -> Result<Self, OpenError> {
        if path.exists() { Self::open(path, options).await } else { Err(OpenError::Missing { path: path.to_owned() }) }
    }

    /// Opens a database that is there for reading only, also beside a process that writes. Every write is refused.
    ///
    /// # Errors
    /// See [`OpenError`]: a schema of another version is refused too.
    pub async fn open_reading(path: &Path) -> Result<Self, OpenError> {
        sqlite_version().await?;
        if !path.is_file() {
            return Err(OpenError::Missing { path: path.to_owned() });
        }
        let (found, needed) = (check_ours(path).await?.unwrap_or(0), newest_known());
        if found < needed {
            return Err(OpenError::Older { path: path.to_owned(), found, needed });
        }
        let (readers, long_readers) = connect_readers(path).await?;
        Ok(Self {
            writer: readers.clone(),
            readers,
            long_readers,
            path: path.into(),
            waits: Arc::default(),
            keeper: Arc::default(),
            lock: None,
        })
    }

    /// Folds the write-ahead log into the file, closes every connection and lets another process open it.
    pub async fn close(&self) {
        self.long_readers.close().await;
        self.readers.close().await;
        let Some(lock) = &self.lock else { return };
        if self.writer.is_closed() {
            return;
        }
        // What is not folded in now is at the next start: nothing is lost, so the fault is only told.
        if let Err(error) = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(&self.writer).await {
            tracing::warn!(%error, "the write-ahead log was not folded into the database at closing");
        }
        self.writer.close().await;
        lock.release();
    }

    /// Reads from the file, to know that it can be read.
    ///
    /// # Errors
    /// The file cannot be read, or no reader came free.
    pub async fn ping(&self) -> Result<(), StoreError> {
        sqlx::query_scalar!("SELECT COUNT(*) FROM hose_types").fetch_one(&self.readers).await.map_err(fault)?;
        Ok(())
    }

    /// How the connections are used, and how long work has waited for one.
    pub fn in_use(&self) -> Use {
        let busy = |pool: &SqlitePool| pool.size().saturating_sub(u32::try_from(pool.num_idle()).unwrap_or(u32::MAX));
        self.waits.told(busy(&self.readers), busy(&self.writer))
    }

    /// The state of its file and of the folder it lies in.
    ///
    /// # Errors
    /// The system does not tell.
    pub fn disk(&self) -> io::Result<Disk> {
        Disk::of(&self.path)
    }

    /// Whether the next write has somewhere to go, as far as that shows before it.
    ///
    /// # Errors
    /// The file or its folder cannot be written, or the disk is full.
    pub fn can_write(&self) -> Result<(), StoreError> {
        let disk = self.disk().map_err(|_| StoreError::ReadOnlyFile)?;
        if !disk.writable {
            return Err(StoreError::ReadOnlyFile);
        }
        if disk.is_full() { Err(StoreError::DiskFull) } else { Ok(()) }
    }

    /// Comes when the store closes. Whoever holds a [`crate::Snapshot`] gives it back then: closing waits for it.
    pub fn closing(&self) -> impl Future<Output = ()> + Send + use<> {
        self.long_readers.close_event()
    }

    /// One state of the database to read from bit by bit, beside the readers.
    pub(crate) async fn long_read(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        self.long_readers.begin_with("BEGIN").await.map_err(fault)
    }

    /// One state of the database to read from, given back on drop.
    pub(crate) async fn read(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        self.waits.reading(self.readers.begin_with("BEGIN")).await.map_err(fault)
    }

    /// Whether it was opened for reading only.
    pub(crate) const fn only_reads(&self) -> bool {
        self.lock.is_none()
    }

    /// The connection that writes, to keep others from it.
    pub(crate) async fn writer(&self) -> Result<PoolConnection<Sqlite>, StoreError> {
        self.writer.acquire().await.map_err(fault)
    }

    /// A unit of work that takes the write lock at once; undone on drop unless [`Store::commit`] ends it.
    pub(crate) async fn write(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        match self.waits.writing(self.writer.begin_with("BEGIN IMMEDIATE")).await.map_err(fault) {
            // A file that could not be written when the connection was made is open for reading only, and stays so when it can
            // be written again: only a new connection finds out.
            Err(StoreError::ReadOnlyFile) => {
                if let Ok(stale) = self.writer.acquire().await {
                    let _ = stale.close().await;
                }
                self.waits.writing(self.writer.begin_with("BEGIN IMMEDIATE")).await.map_err(fault)
            }
            begun => begun,
        }
    }
}

fn settings(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .foreign_keys(true)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(PATIENCE)
}

fn pool(connections: u32) -> PoolOptions<Sqlite> {
    PoolOptions::new()
        .max_connections(connections)
        .min_connections(1)
        .acquire_timeout(PATIENCE)
        .idle_timeout(None)
        .max_lifetime(None)
        // The connections are files of this process: there is no network that could have dropped them.
        .test_before_acquire(false)
        // When a disk fills or fails SQLite undoes the transaction itself; sqlx's own rollback then fails and it counts the
        // transaction as open for ever. Such a connection is replaced. A rollback is never still queued here: a pool answers
        // a ping before it takes a connection back.
        .before_acquire(|conn: &mut SqliteConnection, _| Box::pin(async move { Ok(!conn.is_in_transaction()) }))
}

async fn connect_writer(path: &Path) -> Result<SqlitePool, OpenError> {
    let explain = |error: sqlx::Error| match primary_code(&error) {
        Some(SQLITE_CANTOPEN | SQLITE_READONLY) => {
            OpenError::CannotCreate { path: path.to_owned(), reason: error.to_string() }
        }
        _ => OpenError::Other(error.to_string()),
    };
    let settings = settings(path).journal_mode(SqliteJournalMode::Wal).pragma("cache_size", WRITER_CACHE);
    pool(1).acquire_timeout(WRITERS_PATIENCE).connect_with(settings).await.map_err(explain)
}

/// Those that read in a moment, and those that read for long.
async fn connect_readers(path: &Path) -> Result<(SqlitePool, SqlitePool), OpenError> {
    let reading = settings(path).pragma("query_only", "ON");
    let readers = pool(READERS).connect_with(reading.clone()).await;
    let readers = readers.map_err(|error| OpenError::Other(error.to_string()))?;
    let reading = reading.row_buffer_size(ROWS_AHEAD);
    Ok((readers, pool(LONG_READERS).min_connections(0).connect_lazy_with(reading)))
}

/// The version of SQLite linked in.
///
/// # Errors
/// It is too old.
pub async fn sqlite_version() -> Result<String, OpenError> {
    let other = |error: sqlx::Error| OpenError::Other(error.to_string());
    let mut conn = SqliteConnectOptions::new().in_memory(true).connect().await.map_err(other)?;
    let found: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(&mut conn).await.map_err(other)?;
    new_enough(&found)?;
    Ok(found)
}

fn new_enough(found: &str) -> Result<(), OpenError> {
    let parts: Option<Vec<u32>> = found.split('.').map(|part| part.parse().ok()).collect();
    if parts.is_some_and(|parts| parts.as_slice() >= NEEDED_SQLITE.as_slice()) {
        return Ok(());
    }
    let needed = NEEDED_SQLITE.map(|part| part.to_string()).join(".");
    Err(OpenError::SqliteTooOld { found: found.to_owned(), needed })
}

/// Looks at the file read-only, so that another program's database is left as it was. The newest migration in it; none in a fresh file.
async fn check_ours(path: &Path) -> Result<Option<i64>, OpenError> {
    let explain = |error: sqlx::Error| match primary_code(&error) {
        Some(SQLITE_NOTADB) => OpenError::NotADatabase { path: path.to_owned() },
        Some(SQLITE_CANTOPEN) => OpenError::CannotCreate { path: path.to_owned(), reason: error.to_string() },
        _ => OpenError::Other(error.to_string()),
    };
    let look = SqliteConnectOptions::new().filename(path).read_only(true).busy_timeout(PATIENCE);
    let mut conn = look.connect().await.map_err(explain)?;
    let application: i64 = sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut conn).await.map_err(explain)?;
    // A first start that was cut short leaves the migrations' own table and no application id: still a fresh file.
    let foreign: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM sqlite_schema WHERE tbl_name <> '_sqlx_migrations'")
        .fetch_one(&mut conn)
        .await
        .map_err(explain)?;
    let ours = application == APPLICATION_ID;
    if !ours && (application != 0 || foreign > 0) {
        return Err(OpenError::NotOurs { path: path.to_owned() });
    }
    let applied = if ours { applied(&mut conn).await.map_err(explain)? } else { Vec::new() };
    if let Some(found) = applied.iter().copied().rfind(|version| !MIGRATOR.version_exists(*version)) {
        return Err(OpenError::Newer { path: path.to_owned(), found, known: newest_known() });
    }
    conn.close().await.map_err(explain)?;
    Ok(applied.last().copied())
}

/// The migrations that made the file what it is, oldest first. One that this program does not know is a newer program's.
async fn applied(conn: &mut SqliteConnection) -> Result<Vec<i64>, sqlx::Error> {
    sqlx::query_scalar("SELECT version FROM _sqlx_migrations ORDER BY version").fetch_all(conn).await
}

fn migration_fault(error: MigrateError) -> OpenError {
    match error {
        MigrateError::VersionMismatch(version) => OpenError::Other(format!(
            "migration {version} was applied to it in another wording than this version of Longlay has. Run the version that \
             made it, or restore a backup"
        )),
        other => OpenError::Other(other.to_string()),
    }
}

/// A file system without shared memory leaves the journal as it was, and says nothing.
async fn check_wal(writer: &SqlitePool) -> Result<(), OpenError> {
    let mode: String = sqlx::query_scalar("PRAGMA journal_mode")
        .fetch_one(writer)
        .await
        .map_err(|error| OpenError::Other(error.to_string()))?;
    if mode == "wal" {
        return Ok(());
    }
    Err(OpenError::Other(format!(
        "its folder does not support a write-ahead log (journal mode {mode}). Keep the database on a local disk"
    )))
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use longlay_records::author::Author;
    use longlay_records::hydrant::{Hydrant, Location, Owner, Status};
    use longlay_records::id::AssetId;

    use super::*;
    use crate::change::{Change, Put};
    use crate::hydrant_query::HydrantQuery;

    async fn setting(pool: &SqlitePool, pragma: &'static str) -> String {
        let row = sqlx::query(pragma).fetch_one(pool).await.unwrap();
        let number: Result<i64, _> = sqlx::Row::try_get(&row, 0);
        number.map_or_else(|_| sqlx::Row::get(&row, 0), |number| number.to_string())
    }

    #[tokio::test]
    async fn the_settings_are_in_force_on_both_pools() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("a.db"), &OpenOptions::default()).await.unwrap();
        for (pool, query_only) in [(&store.writer, "0"), (&store.readers, "1")] {
            assert_eq!(setting(pool, "PRAGMA journal_mode").await, "wal");
            assert_eq!(setting(pool, "PRAGMA synchronous").await, "2", "FULL");
            assert_eq!(setting(pool, "PRAGMA foreign_keys").await, "1");
            assert_eq!(setting(pool, "PRAGMA busy_timeout").await, "5000");
            assert_eq!(setting(pool, "PRAGMA query_only").await, query_only);
        }
        assert_eq!(setting(&store.writer, "PRAGMA application_id").await, APPLICATION_ID.to_string());
        assert_eq!(store.writer.options().get_max_connections(), 1);
    }

    #[tokio::test]
    async fn a_reader_cannot_write() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("a.db"), &OpenOptions::default()).await.unwrap();
        let mut tx = store.read().await.unwrap();
        let refused = sqlx::query("DELETE FROM hydrants").execute(&mut *tx).await.map_err(fault).unwrap_err();
        assert_eq!(refused, StoreError::ReadOnlyFile);
    }

    #[tokio::test]
    async fn a_full_disk_is_told_and_passes_without_a_restart() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("a.db"), &OpenOptions::default()).await.unwrap();
        let hydrant = |n: u32| Hydrant {
            id: AssetId::new(format!("H-{n}")).unwrap(),
            location: Location::new(-90.0, 40.0).unwrap(),
            elevation: None,
            outlets: Vec::new(),
            body_loss: None,
            main_id: None,
            main_diameter: None,
            pressure_zone: None,
            owner: Owner::Public,
            potable: true,
            seasonal: false,
            status: Status::InService,
            description: Some("x".repeat(3000)),
        };
        let change = Change::by(Author::command_line(), DateTime::UNIX_EPOCH);
        store.town().await.unwrap();
        // SQLite answers a file that may not grow as it does a disk with no room.
        setting(&store.writer, "PRAGMA max_page_count = 1").await;
        let mut put = Ok(Put::Created(1));
        let mut kept = 0;
        while put.is_ok() && kept < 100 {
            put = store.put_hydrant(&hydrant(kept), &change).await;
            kept += u32::from(put.is_ok());
        }
        assert_eq!(put, Err(StoreError::DiskFull));
        assert_eq!(store.hydrants(&HydrantQuery::default(), None, 1000).await.unwrap().len(), kept as usize);
        let anew = Store::open_reading(&folder.path().join("a.db")).await.unwrap().town().await.unwrap();
        assert_eq!(*store.town().await.unwrap(), *anew, "what was not written is not in memory either");
        // The limit is the connection's: the next one has none, as if room had been made.
        assert_eq!(store.put_hydrant(&hydrant(kept), &change).await, Ok(Put::Created(1)));
    }

    #[test]
    fn versions_are_compared_by_number() {
        assert_eq!(new_enough("3.51.3"), Ok(()));
        assert_eq!(new_enough("3.100.0"), Ok(()));
        for old in ["3.51.2", "3.9.9", "3", "", "three"] {
            let refused = OpenError::SqliteTooOld { found: old.to_owned(), needed: "3.51.3".to_owned() };
            assert_eq!(new_enough(old), Err(refused));
        }
    }
}
