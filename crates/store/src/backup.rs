//! Copies of the whole database: taken beside a running service, checked before they count, and put back in one step.

use std::fs;
use std::path::{Path, PathBuf};

use sqlx::sqlite::SqliteJournalMode;
use sqlx::types::JsonValue;
use sqlx::{ConnectOptions, Connection, SqliteConnection};
use thiserror::Error;

use crate::aside::{discard_beside, refuse_others, set_aside, standing, where_it_leads};
use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{OpenError, SQLITE_CANTOPEN, SQLITE_FULL, SQLITE_IOERR, StoreError, fault, primary_code};
use crate::folder::give_to_owner_of;
use crate::lock::Lock;
use crate::partial::{Partial, refuse_same};
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
    #[error("{} is served, or being restored already. Stop the service first. Nothing was changed", .0.display())]
    InUse(PathBuf),
    /// What stands in its place was not made by this program.
    #[error("{} is not a Longlay database, or so damaged that it cannot be known for one. Nothing was changed. Give another path, or move it away first", .0.display())]
    NotOurs(PathBuf),
    /// Under its name it is not what was checked before it got it.
    #[error(
        "{0}. It was sound before it got its name: look for what else writes there, and at the disk. What a restore found there is kept beside it"
    )]
    Spoiled(Unsound),
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
    let _lock = claim(to, force)?;
    let (sound, live_keys) = fill(&copy, database).await?;
    discard_beside(to)?;
    let bytes = copy.finish()?;
    stands(to, &sound).await?;
    Ok(Copied { sound, bytes, kept: None, live_keys })
}

/// Puts a copy in the place of the database, which is kept under another name. Nothing may have the database open. What the restored one
/// holds is put down to the change in its own audit, before it is put in place.
///
/// # Errors
/// See [`CopyError`].
pub async fn restore(from: &Path, database: &Path, change: &Change) -> Result<Copied, CopyError> {
    let database = &where_it_leads(database)?;
    refuse_same(database, from)?;
    // Before the lock: nothing is left beside another program's file.
    refuse_others(database).await?;
    // Held to the end, also where there is no database yet: no service starts on a file that is about to be put aside or put there.
    let _lock = lock(database)?;
    inspect(from).await?;
    let copy = Partial::beside(database, true)?;
    let (sound, live_keys) = fill(&copy, from).await?;
    note_restored(&copy, from, change).await?;
    as_before(&copy, database);
    let kept = set_aside(database, change.at).await?;
    let bytes = copy.finish()?;
    stands(database, &sound).await?;
    Ok(Copied { sound, bytes, kept, live_keys })
}

/// Run by root, it gives the copy the owner and the rights of what it replaces: whoever served that is to serve this.
#[cfg(unix)]
fn as_before(copy: &Partial, database: &Path) {
    use std::os::unix::fs::MetadataExt;
    let by_root = fs::metadata(copy.path()).is_ok_and(|made| made.uid() == 0);
    let Ok(before) = fs::metadata(database) else { return };
    if !by_root {
        return;
    }
    if let Err(error) = fs::set_permissions(copy.path(), before.permissions()) {
        tracing::warn!(%error, "the restored file could not be given the rights of the one it replaces");
    }
    give_to_owner_of(database, copy.path());
}

/// Elsewhere there is no such owner.
#[cfg(not(unix))]
fn as_before(_: &Partial, _: &Path) {}

/// Whether what was checked before it got its name is what is read under it: SQLite reads what lies beside it too.
async fn stands(path: &Path, sound: &Sound) -> Result<(), CopyError> {
    let found = inspect(path).await.map_err(CopyError::Spoiled)?;
    if found == *sound {
        return Ok(());
    }
    let faults = vec!["it holds other records than were copied".to_owned()];
    Err(CopyError::Spoiled(Unsound::Damaged { path: path.to_owned(), faults }))
}

/// Keeps a service off the name that a copy is to get, where there is something that it could have open.
fn claim(to: &Path, force: bool) -> Result<Option<Lock>, CopyError> {
    match standing(to) {
        None => Ok(None),
        Some(found) if !force => Err(CopyError::Exists(found)),
        Some(_) => lock(to).map(Some),
    }
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
