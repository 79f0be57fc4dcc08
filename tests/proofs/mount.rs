//! A small file system of its own, that fills without harm to the machine.

use std::path::PathBuf;
use std::process::Command;

use tempfile::TempDir;

/// Mounted until dropped.
pub(crate) struct Mount(TempDir);

impl Mount {
    /// One in memory of this size; none where it is not permitted.
    pub(crate) fn of(size: &str) -> Result<Self, String> {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let words = ["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"];
        let mounted = Command::new("mount").args(words).arg(folder.path()).output();
        let output = mounted.map_err(|error| error.to_string())?;
        if output.status.success() {
            return Ok(Self(folder));
        }
        Err(String::from_utf8_lossy(&output.stderr).trim().to_owned())
    }

    /// A file on it.
    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
}

impl Drop for Mount {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(self.0.path()).status();
    }
}
