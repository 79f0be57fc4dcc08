//! One process writes: whoever opens the database to write holds a lock until it closes it.

use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use crate::error::OpenError;

/// The lock, given up when it is dropped or released, and by the system when the process dies.
#[derive(Debug)]
pub(crate) struct Lock(File);

impl Lock {
    /// Takes the lock of a database that is there, or says that another has it.
    pub(crate) fn take(path: &Path) -> Result<Self, OpenError> {
        let cannot =
            |error: std::io::Error| OpenError::CannotCreate { path: path.to_owned(), reason: error.to_string() };
        let file = open_private(&lock_path(path).map_err(cannot)?).map_err(cannot)?;
        match file.try_lock() {
            Ok(()) => Ok(Self(file)),
            Err(TryLockError::WouldBlock) => Err(OpenError::InUse { path: path.to_owned() }),
            Err(TryLockError::Error(error)) => Err(cannot(error)),
        }
    }

    /// Gives it up, whoever else still holds the store.
    pub(crate) fn release(&self) {
        if let Err(error) = self.0.unlock() {
            tracing::warn!(%error, "the database's lock was not given up");
        }
    }
}

/// A file of its own: closing any handle on the database file itself would drop the locks that SQLite has on it. Links are followed first, so that
/// two names of one database are one lock.
fn lock_path(path: &Path) -> std::io::Result<PathBuf> {
    let mut name: OsString = fs::canonicalize(path)?.into_os_string();
    name.push(".lock");
    Ok(name.into())
}

fn open_private(path: &Path) -> std::io::Result<File> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}
