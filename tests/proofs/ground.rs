//! What a proof stands on: how much is to be tried, from which seed, and with which binary.

use std::env;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

/// How much to try, and from which seed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ground {
    long: bool,
    /// Where the drawing starts; printed with every proof, set by `PROOF_SEED`.
    pub(crate) seed: u64,
}

impl Ground {
    /// As the environment says: `PROOF_LONG=1` for the long sizes, `PROOF_SEED` for a run to be seen again.
    pub(crate) fn of_environment() -> Self {
        let long = env::var("PROOF_LONG").is_ok_and(|value| value == "1");
        let chosen = env::var("PROOF_SEED").ok();
        let clock = longlay_service::clock::Clock::system().now().timestamp_micros();
        let seed = match chosen {
            Some(seed) => seed.parse().expect("PROOF_SEED is a whole number"),
            None => u64::try_from(clock).expect("a time after 1970"),
        };
        Self { long, seed }
    }

    /// The one size or the other.
    pub(crate) const fn size(self, short: u64, long: u64) -> u64 {
        if self.long { long } else { short }
    }
}

/// The program under proof: `LONGLAY_BIN`, or the one built beside this one.
pub(crate) fn binary() -> PathBuf {
    let beside = || env::current_exe().expect("a path").with_file_name("longlay");
    let path = env::var_os("LONGLAY_BIN").map_or_else(beside, PathBuf::from);
    assert!(path.is_file(), "{} is not there: cargo build --package longlay-service", path.display());
    path
}

/// A folder in memory where there is one: for what has nothing to do with the disk.
pub(crate) fn memory_folder() -> TempDir {
    let memory = Path::new("/dev/shm");
    let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    folder.expect("a temporary folder")
}
