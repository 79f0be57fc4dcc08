//! Where the file lies: refuses folders that corrupt a write-ahead log, and makes the file for its owner's eyes only.

use std::fs;
use std::io;
use std::path::Path;

use crate::error::OpenError;

/// Refuses a path whose folder is missing or shared with other machines.
pub(crate) fn check(path: &Path, allow_network_folder: bool) -> Result<(), OpenError> {
    let cannot = |reason: String| OpenError::CannotCreate { path: path.to_owned(), reason };
    if path.is_dir() {
        return Err(cannot("it is a folder".to_owned()));
    }
    let file_system = shared_by(path).map_err(|error| cannot(error.to_string()))?;
    refuse_shared(path, file_system, allow_network_folder)
}

/// The folder that a file lies in.
pub(crate) fn of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What shares the file, or the folder it would be made in, with other machines.
pub(crate) fn shared_by(path: &Path) -> io::Result<Option<&'static str>> {
    // A link in the last place may lead elsewhere: where there is a file, its own file system counts.
    shared_file_system(if path.exists() { path } else { of(path) })
}

fn refuse_shared(path: &Path, file_system: Option<&'static str>, allow_network_folder: bool) -> Result<(), OpenError> {
    let Some(file_system) = file_system else {
        return Ok(());
    };
    if allow_network_folder {
        tracing::warn!(path = %path.display(), file_system, "the database is on a shared folder and can be corrupted there");
        return Ok(());
    }
    Err(OpenError::NetworkFolder { path: path.to_owned(), file_system: file_system.to_owned() })
}

/// Makes the file with no rights for others; SQLite gives its companion files the same rights. A file that is there is left alone, but it and its
/// folder, where those companions are made, must be writable: better told now than at the first record.
pub(crate) fn create_private(path: &Path) -> Result<(), OpenError> {
    let cannot = |reason: String| OpenError::CannotCreate { path: path.to_owned(), reason };
    match new_private(path) {
        Ok(()) => return Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
        Err(error) => return Err(cannot(error.to_string())),
    }
    check_writable(path)
}

/// Refuses a file that is there and cannot be written, or whose folder cannot. To be known before SQLite looks at it, which would leave companions
/// of the same rights beside it.
pub(crate) fn check_writable(path: &Path) -> Result<(), OpenError> {
    let cannot = |reason: String| OpenError::CannotCreate { path: path.to_owned(), reason };
    fs::OpenOptions::new().write(true).open(path).map_err(|error| cannot(error.to_string()))?;
    #[cfg(unix)]
    {
        rustix::fs::access(of(path), rustix::fs::Access::WRITE_OK)
            .map_err(|error| cannot(format!("its folder: {error}")))?;
    }
    Ok(())
}

/// Makes a file that was not there, with no rights for others.
pub(crate) fn new_private(path: &Path) -> io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(|_| ())
}

/// Gives what root made for a database that is another user's to that user, who could not open it else. Whoever is not root makes what is his own.
#[cfg(unix)]
pub(crate) fn give_to_owner_of(database: &Path, made: &Path) {
    use std::os::unix::fs::{MetadataExt, chown};
    let (Ok(owned), Ok(own)) = (fs::metadata(database), fs::metadata(made)) else { return };
    if own.uid() != 0 || (owned.uid(), owned.gid()) == (own.uid(), own.gid()) {
        return;
    }
    if let Err(error) = chown(made, Some(owned.uid()), Some(owned.gid())) {
        tracing::warn!(%error, path = %made.display(), "it could not be given to the user whose the database is");
    }
}

/// Elsewhere there is no such owner.
#[cfg(not(unix))]
pub(crate) fn give_to_owner_of(_: &Path, _: &Path) {}

/// File systems whose locks or shared memory do not hold between machines, by the magic number of statfs(2).
const SHARED_FILE_SYSTEMS: [(u32, &str); 19] = [
    (0x0000_6969, "a network folder (NFS)"),
    (0x0000_517B, "a network folder (SMB)"),
    (0xFE53_4D42, "a network folder (SMB)"),
    (0xFF53_4D42, "a network folder (CIFS)"),
    (0x0000_564C, "a network folder (NCP)"),
    (0x5346_414F, "a network folder (AFS)"),
    (0x6B41_4653, "a network folder (AFS)"),
    (0x7375_7245, "a network folder (Coda)"),
    (0x00C3_6400, "a cluster folder (Ceph)"),
    (0x7461_636F, "a cluster folder (OCFS2)"),
    (0x0116_1970, "a cluster folder (GFS2)"),
    (0x4750_4653, "a cluster folder (GPFS)"),
    (0x0BD0_0BD0, "a cluster folder (Lustre)"),
    (0x1983_0326, "a cluster folder (BeeGFS)"),
    (0x6573_5546, "a FUSE folder"),
    (0x0102_1997, "a folder shared with a virtual machine (9p)"),
    (0x786F_4256, "a folder shared with a virtual machine (vboxsf)"),
    (0xBACB_ACBC, "a folder shared with a virtual machine (vmhgfs)"),
    (0x7C7C_6673, "a folder shared with a virtual machine (prl_fs)"),
];

fn shared_name(magic: u32) -> Option<&'static str> {
    SHARED_FILE_SYSTEMS.iter().find(|(known, _)| *known == magic).map(|(_, name)| *name)
}

#[cfg(target_os = "linux")]
fn shared_file_system(path: &Path) -> io::Result<Option<&'static str>> {
    let found = rustix::fs::statfs(path)?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the magic number is 32 bits, in a field whose width and sign differ by machine"
    )]
    let magic = found.f_type as u32;
    Ok(shared_name(magic))
}

/// Elsewhere the kind of folder has no such number; the folder only has to be there.
#[cfg(not(target_os = "linux"))]
fn shared_file_system(path: &Path) -> io::Result<Option<&'static str>> {
    fs::metadata(path).map(|_| None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shared_file_systems_are_known_and_local_ones_are_not() {
        for shared in [0x6969, 0xFF53_4D42, 0x6573_5546, 0x0102_1997] {
            assert!(shared_name(shared).is_some(), "{shared:x}");
        }
        for (local, name) in [(0xEF53, "ext4"), (0x5846_5342, "xfs"), (0x9123_683E, "btrfs"), (0x0102_1994, "tmpfs")] {
            assert_eq!(shared_name(local), None, "{name}");
        }
    }

    #[test]
    fn a_shared_folder_is_refused_unless_allowed() {
        let path = Path::new("/mnt/a.db");
        let refused = OpenError::NetworkFolder { path: path.to_owned(), file_system: "a FUSE folder".to_owned() };
        assert_eq!(refuse_shared(path, shared_name(0x6573_5546), false), Err(refused));
        assert_eq!(refuse_shared(path, shared_name(0x6573_5546), true), Ok(()));
        assert_eq!(refuse_shared(path, None, false), Ok(()));
    }

    #[test]
    fn no_file_system_is_listed_twice() {
        for (i, (magic, _)) in SHARED_FILE_SYSTEMS.iter().enumerate() {
            assert!(SHARED_FILE_SYSTEMS[..i].iter().all(|(earlier, _)| earlier != magic), "{magic:x}");
        }
    }
}
