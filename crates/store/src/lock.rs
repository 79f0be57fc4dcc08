//! One process writes: whoever opens the database to write holds a lock until it closes it.

use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use crate::error::OpenError;
use crate::folder;

/// The lock, given up when it is dropped or released, and by the system when the process dies.
#[derive(Debug)]
pub(crate) struct Lock(File);

impl Lock {
    /// Takes the lock of a database, which need not be there yet, or says that another has it.
    pub(crate) fn take(path: &Path) -> Result<Self, OpenError> {
        let cannot = |error: io::Error| OpenError::CannotCreate { path: path.to_owned(), reason: error.to_string() };
        let lock = lock_path(path).map_err(cannot)?;
        let file = open_private(&lock).map_err(|error| match fs::exists(&lock) {
            Ok(true) => OpenError::LockFile { path: lock.clone(), reason: error.to_string() },
            _ => cannot(error),
        })?;
        folder::give_to_owner_of(path, &lock);
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

/// Whether a process has the database open to write. Asking makes no file, and keeps nobody out for longer than it takes.
///
/// # Errors
/// It cannot be told, as where the lock is another user's: names the lock.
pub fn is_served(database: &Path) -> io::Result<bool> {
    let lock = match lock_path(database) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(false),
        lock => lock?,
    };
    let named = |error: io::Error| io::Error::new(error.kind(), format!("{}: {error}", lock.display()));
    let file = match File::open(&lock) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(false),
        file => file.map_err(named)?,
    };
    match file.try_lock_shared() {
        Ok(()) => Ok(false),
        Err(TryLockError::WouldBlock) => Ok(true),
        Err(TryLockError::Error(error)) => Err(named(error)),
    }
}

/// A file of its own: closing any handle on the database file itself would drop the locks that SQLite has on it. Links are followed first, so that
/// two names of one database are one lock; of a database that is not there yet, those that lead to its folder.
fn lock_path(path: &Path) -> io::Result<PathBuf> {
    let place = match (fs::canonicalize(path), path.file_name()) {
        (Err(error), Some(name)) if error.kind() == io::ErrorKind::NotFound => {
            fs::canonicalize(folder::of(path))?.join(name)
        }
        (place, _) => place?,
    };
    let mut name: OsString = place.into_os_string();
    name.push(".lock");
    Ok(name.into())
}

fn open_private(path: &Path) -> io::Result<File> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}
