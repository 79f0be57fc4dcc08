//! What stands where a database is to go: of another program's nothing is touched, of ours nothing is lost, and nothing is left that SQLite would
//! play back onto the file that comes.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use sqlx::{ConnectOptions, Connection};

use crate::backup::CopyError;
use crate::error::{SQLITE_CORRUPT, SQLITE_IOERR, SQLITE_NOTADB, primary_code};
use crate::open::APPLICATION_ID;
use crate::partial::{cannot_write, companion, sync_folder};
use crate::soundness::reader;

/// The ends of the names under which SQLite looks for what it plays back onto a file, whichever file has come there since.
const PLAYED_BACK: [&str; 2] = ["-wal", "-journal"];
/// What SQLite makes anew from the log.
const INDEX_OF_LOG: &str = "-shm";

/// The name of the file itself where this one is a link: replacing the link would leave the file that it led to unused, and unkept.
pub(crate) fn where_it_leads(database: &Path) -> Result<PathBuf, CopyError> {
    if !fs::symlink_metadata(database).is_ok_and(|found| found.is_symlink()) {
        return Ok(database.to_owned());
    }
    fs::canonicalize(database).map_err(|error| CopyError::Write {
        path: database.to_owned(),
        reason: format!("it is a link that leads to no file ({error}); give the name of the file itself"),
    })
}

/// Refuses a file that is not known for one of ours. A damaged one is replaced, if SQLite still knows it for a database.
pub(crate) async fn refuse_others(database: &Path) -> Result<(), CopyError> {
    if !database.exists() {
        return Ok(());
    }
    match is_ours(database).await {
        Ok(true) => Ok(()),
        Ok(false) => Err(CopyError::NotOurs(database.to_owned())),
        Err(error) => match primary_code(&error) {
            Some(SQLITE_NOTADB) => Err(CopyError::NotOurs(database.to_owned())),
            Some(SQLITE_CORRUPT | SQLITE_IOERR) => Ok(()),
            _ => Err(CopyError::Write { path: database.to_owned(), reason: error.to_string() }),
        },
    }
}

async fn is_ours(database: &Path) -> Result<bool, sqlx::Error> {
    let mut conn = reader(database).connect().await?;
    let application: i64 = sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut conn).await?;
    // A first start that was cut short leaves a file with no mark, and nothing in it but the migrations' own table.
    let others = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE tbl_name <> '_sqlx_migrations')";
    let is_ours = match application {
        APPLICATION_ID => true,
        0 => !sqlx::query_scalar::<_, bool>(others).fetch_one(&mut conn).await?,
        _ => false,
    };
    // The file was only read: closing badly loses nothing.
    let _ = conn.close().await;
    Ok(is_ours)
}

/// What would be replaced, or played back, were a file put there: the file of that name, or what lies beside it.
pub(crate) fn standing(to: &Path) -> Option<PathBuf> {
    let beside = PLAYED_BACK.map(|suffix| companion(to, suffix));
    [to.to_owned()].into_iter().chain(beside).find(|path| path.exists())
}

/// Leaves nothing beside a name that SQLite would play back onto the file that is about to get it.
pub(crate) fn discard_beside(to: &Path) -> Result<(), CopyError> {
    for suffix in PLAYED_BACK.into_iter().chain([INDEX_OF_LOG]) {
        let beside = companion(to, suffix);
        remove(&beside).map_err(cannot_write(&beside))?;
    }
    sync_folder(to).map_err(cannot_write(to))
}

/// Gives the database a second name, which is told, and takes along what lies beside it, also where that is all there is. Until the file comes that
/// takes its place, the database stands where it stood, whole: its log is folded in first.
pub(crate) async fn set_aside(database: &Path, now: DateTime<Utc>) -> Result<Option<PathBuf>, CopyError> {
    let kept = companion(database, &format!(".before-restore-{}", now.format("%Y%m%dT%H%M%SZ")));
    let failed = cannot_write(&kept);
    if let Some(there) = standing(&kept) {
        return Err(CopyError::Exists(there));
    }
    let is_there = database.exists();
    if is_there {
        fold_log(database).await;
        fs::hard_link(database, &kept).or_else(|_| fs::copy(database, &kept).map(|_| ())).map_err(&failed)?;
    }
    for suffix in PLAYED_BACK {
        let (beside, log) = (companion(database, suffix), companion(&kept, suffix));
        match fs::metadata(&beside) {
            // What could not be folded in goes with the old file, under the name SQLite looks for.
            Ok(found) if found.len() > 0 => fs::rename(&beside, &log).map_err(&failed)?,
            Ok(_) => fs::remove_file(&beside).map_err(&failed)?,
            Err(_) => {}
        }
        if !is_there && log.exists() {
            let kept = log.display();
            tracing::warn!(%kept, "a database that is not there left this behind: the last of its records may be in it");
        }
    }
    remove(&companion(database, INDEX_OF_LOG)).map_err(&failed)?;
    sync_folder(database).map_err(&failed)?;
    Ok(is_there.then_some(kept))
}

fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
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
