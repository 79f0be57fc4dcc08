//! The file, its companions and its folder as the system sees them: sizes, rights, room left.

use std::fs;
use std::io;
use std::path::Path;

use crate::folder;

/// Under this much room a write is as good as refused: the log grows by megabytes before it is folded in.
const NEEDED_BYTES: u64 = 16 * 1024 * 1024;

/// The state of a database's file and folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Disk {
    /// What shares the folder with other machines; none for a local disk.
    pub shared_by: Option<&'static str>,
    /// Room left for this user.
    pub free_bytes: u64,
    /// Size of the database.
    pub database_bytes: u64,
    /// Size of its write-ahead log.
    pub log_bytes: u64,
    /// Whether the file and its folder can be written.
    pub writable: bool,
    /// Rights of the file, as in `chmod`; none where there are no such rights.
    pub mode: Option<u32>,
}

impl Disk {
    /// Looks at the file of this path, and at its folder.
    ///
    /// # Errors
    /// The system does not tell, as of a file that is not there.
    pub fn of(path: &Path) -> io::Result<Self> {
        let mut log = path.as_os_str().to_owned();
        log.push("-wal");
        let file = fs::metadata(path)?;
        let (free_bytes, writable) = room(path)?;
        Ok(Self {
            shared_by: folder::shared_by(path)?,
            free_bytes,
            database_bytes: file.len(),
            log_bytes: fs::metadata(log).map_or(0, |log| log.len()),
            writable,
            mode: mode(&file),
        })
    }

    /// Whether there is too little room left to write.
    pub const fn is_full(&self) -> bool {
        self.free_bytes < NEEDED_BYTES
    }
}

#[cfg(unix)]
fn mode(file: &fs::Metadata) -> Option<u32> {
    use std::os::unix::fs::PermissionsExt;
    Some(file.permissions().mode() & 0o777)
}

#[cfg(not(unix))]
fn mode(_file: &fs::Metadata) -> Option<u32> {
    None
}

#[cfg(unix)]
fn room(path: &Path) -> io::Result<(u64, bool)> {
    use rustix::fs::{Access, access, statvfs};
    let folder = folder::of(path);
    let found = statvfs(folder)?;
    let writable = access(folder, Access::WRITE_OK).is_ok() && access(path, Access::WRITE_OK).is_ok();
    Ok((found.f_bavail.saturating_mul(found.f_frsize), writable))
}

/// Elsewhere the room is not told; the first write that finds none is.
#[cfg(not(unix))]
fn room(path: &Path) -> io::Result<(u64, bool)> {
    Ok((u64::MAX, !fs::metadata(path)?.permissions().readonly()))
}
