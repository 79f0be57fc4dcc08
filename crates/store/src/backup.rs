//! Copies of the whole database: taken beside a running service, checked before they count, and put back in one step.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use sqlx::sqlite::SqliteJournalMode;
use sqlx::types::JsonValue;
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use thiserror::Error;

use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{OpenError, SQLITE_CANTOPEN, SQLITE_FULL, SQLITE_IOERR, StoreError, fault, primary_code};
use crate::lock::Lock;
use crate::partial::{Partial, cannot_write, companion, refuse_same, sync_folder};
use crate::soundness::{Sound, Unsound, explain, inspect, reader};

/// Why nothing was taken out of a database, or put back. What was there before is still there.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CopyError {
    /// The file to copy is not sound.
    #[error("{0}. Nothing was changed")]
    Unsound(#[from] Unsound),
    /// There is a file of that name.
    #[error("{} is there already. Give another name, or --force to replace it", .0.display())]
    Exists(PathBuf),
    /// Where the file is to lie there is no folder.
    #[error("the folder {} is not there: make it first", .0.display())]
    NoFolder(PathBuf),
    /// A process has the database open to write.
    #[error("{} is served, or being restored already. Stop the service, restore, and start it again. Nothing was changed", .0.display())]
    InUse(PathBuf),
    /// Both names are one file.
    #[error("{} is the database itself", .0.display())]
    Itself(PathBuf),
    /// The copy could not be written.
    #[error("cannot write {}: {reason}. Nothing was changed", path.display())]
    Write {
        /// What was to be written.
        path: PathBuf,
        /// What the system or SQLite said.
        reason: String,
    },
}

/// A copy that was made, or put back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// What it holds.
    pub sound: Sound,
    /// How large it is.
    pub bytes: u64,
    /// Where the database that stood there before is now.
    pub kept: Option<PathBuf>,
    /// Keys in it that are not revoked: of a copy that is put back, also those that were revoked since it was taken.
    pub live_keys: i64,
}

/// Copies one state of the database to a file, beside a running service too. The copy gets its name only once it is whole, checked and on the disk.
///
/// # Errors
/// See [`CopyError`].
pub async fn back_up(database: &Path, to: &Path, force: bool) -> Result<Copied, CopyError> {
    let copy = Partial::out_of(database, to, force)?;
    let (sound, live_keys) = fill(&copy, database).await?;
    let bytes = copy.finish()?;
    Ok(Copied { sound, bytes, kept: None, live_keys })
}

/// Puts a copy in the place of the database, which is kept under another name. Nothing may have the database open. What the restored one
/// holds is put down to the change in its own audit, before it is put in place.
///
/// # Errors
/// See [`CopyError`].
pub async fn restore(from: &Path, database: &Path, change: &Change) -> Result<Copied, CopyError> {
    refuse_same(database, from)?;
    // Held to the end, also where there is no database yet: no service starts on a file that is about to be put aside or put there.
    let _lock = lock(database)?;
    inspect(from).await?;
    let copy = Partial::beside(database, true)?;
    let (sound, live_keys) = fill(&copy, from).await?;
    note_restored(&copy, from, change).await?;
    let kept = if database.exists() { Some(set_aside(database, change.at).await?) } else { None };
    let bytes = copy.finish()?;
    Ok(Copied { sound, bytes, kept, live_keys })
}

fn lock(database: &Path) -> Result<Lock, CopyError> {
    Lock::take(database).map_err(|error| match error {
        OpenError::InUse { path } => CopyError::InUse(path),
        OpenError::CannotCreate { path, reason } => CopyError::Write { path, reason },
        error => CopyError::Write { path: database.to_owned(), reason: error.to_string() },
    })
}

/// Copies the state that the database is in now, and checks the copy: what it holds, and how many live keys.
async fn fill(copy: &Partial, database: &Path) -> Result<(Sound, i64), CopyError> {
    let refused = |error: &sqlx::Error| CopyError::Unsound(explain(database, error));
    fs::metadata(database).map_err(|error| refused(&sqlx::Error::Io(error)))?;
    let mut conn = reader(database).connect().await.map_err(|error| refused(&error))?;
    let target = copy.path().to_string_lossy().into_owned();
    let written = sqlx::query("VACUUM INTO ?1").bind(target).execute(&mut conn).await;
    // The database was only read: closing badly loses nothing.
    let _ = conn.close().await;
    written.map_err(|error| match primary_code(&error) {
        Some(SQLITE_FULL | SQLITE_IOERR | SQLITE_CANTOPEN) => {
            CopyError::Write { path: copy.path().to_owned(), reason: error.to_string() }
        }
        _ => refused(&error),
    })?;
    let sound = inspect(copy.path()).await?;
    let live_keys = live_keys(copy.path()).await.map_err(|error| CopyError::Unsound(explain(copy.path(), &error)))?;
    Ok((sound, live_keys))
}

async fn live_keys(path: &Path) -> Result<i64, sqlx::Error> {
    let mut conn = reader(path).connect().await?;
    let count = if has_table(&mut conn, "keys").await? {
        sqlx::query_scalar("SELECT COUNT(*) FROM keys WHERE revoked_at IS NULL").fetch_one(&mut conn).await?
    } else {
        0
    };
    conn.close().await?;
    Ok(count)
}

/// A copy of an earlier version may lack it.
async fn has_table(conn: &mut SqliteConnection, name: &str) -> Result<bool, sqlx::Error> {
    let query = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = ?1)";
    sqlx::query_scalar(query).bind(name).fetch_one(conn).await
}

/// Puts down in the copy's own audit that it was restored, and from which file.
async fn note_restored(copy: &Partial, from: &Path, change: &Change) -> Result<(), CopyError> {
    let failed = |reason: String| CopyError::Write { path: copy.path().to_owned(), reason };
    // Not in a log of its own: the copy is one file, which gets its name by one rename.
    let options = reader(copy.path()).read_only(false).journal_mode(SqliteJournalMode::Delete);
    let mut conn = options.connect().await.map_err(|error| failed(error.to_string()))?;
    let noted = noted(&mut conn, from, change).await;
    let closed = conn.close().await;
    noted.map_err(|error| failed(error.to_string()))?;
    closed.map_err(|error| failed(error.to_string()))
}

async fn noted(conn: &mut SqliteConnection, from: &Path, change: &Change) -> Result<(), StoreError> {
    if !has_table(conn, "audit").await.map_err(fault)? {
        tracing::warn!("the copy is of a version that kept no audit: nothing in it says that it was restored");
        return Ok(());
    }
    let name = from.file_name().unwrap_or_default().to_string_lossy();
    let detail = JsonValue::from_iter([("from", name)]).to_string();
    audit::note(conn, change, Action::Restore, "database", None, None, Some(&detail)).await
}

/// Gives the database a second name, and leaves nothing beside it that SQLite would play back onto the file that comes in its place. Until that file
/// comes, the database stands where it stood, whole: its log is folded in first.
async fn set_aside(database: &Path, now: DateTime<Utc>) -> Result<PathBuf, CopyError> {
    let kept = companion(database, &format!(".before-restore-{}", now.format("%Y%m%dT%H%M%SZ")));
    let failed = cannot_write(&kept);
    if kept.exists() {
        return Err(CopyError::Exists(kept));
    }
    fold_log(database).await;
    fs::hard_link(database, &kept).or_else(|_| fs::copy(database, &kept).map(|_| ())).map_err(&failed)?;
    for suffix in ["-wal", "-journal"] {
        let beside = companion(database, suffix);
        match fs::metadata(&beside) {
            // What could not be folded in goes with the old file, under the name SQLite looks for.
            Ok(found) if found.len() > 0 => fs::rename(&beside, companion(&kept, suffix)).map_err(&failed)?,
            Ok(_) => fs::remove_file(&beside).map_err(&failed)?,
            Err(_) => {}
        }
    }
    match fs::remove_file(companion(database, "-shm")) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(failed(error)),
        _ => {}
    }
    sync_folder(database).map_err(&failed)?;
    Ok(kept)
}

/// Folds the log into the file where that goes. A damaged database may be why it is to be replaced: then its log is kept beside it as it is.
async fn fold_log(database: &Path) {
    let options = reader(database).read_only(false);
    let Ok(mut conn) = options.connect().await else { return };
    if let Err(error) = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(&mut conn).await {
        tracing::warn!(%error, "the log of the database to be replaced could not be folded in; it is kept beside it");
    }
    let _ = conn.close().await;
}
