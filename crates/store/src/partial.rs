//! Files that get their name only once they are whole and on the disk.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use crate::backup::CopyError;
use crate::folder;

/// A file that is not finished, gone when it is dropped.
#[derive(Debug)]
pub struct Partial {
    at: PathBuf,
    to: PathBuf,
    replaces: bool,
}

impl Partial {
    /// What is taken out of a database, beside the name that it is to get. A file of that name is refused unless it is to be replaced, and the database
    /// itself always.
    ///
    /// # Errors
    /// See [`CopyError`].
    pub fn out_of(database: &Path, to: &Path, replaces: bool) -> Result<Self, CopyError> {
        refuse_same(database, to)?;
        refuse_there(to, replaces)?;
        Self::beside(to, replaces)
    }

    pub(crate) fn beside(to: &Path, replaces: bool) -> Result<Self, CopyError> {
        let folder = folder::of(to);
        if !folder.exists() {
            return Err(CopyError::NoFolder(folder.to_owned()));
        }
        let at = companion(to, &format!(".partial-{}", std::process::id()));
        // Left by a process of the same number that was killed.
        let _ = fs::remove_file(&at);
        folder::new_private(&at).map_err(cannot_write(&at))?;
        Ok(Self { at, to: to.to_owned(), replaces })
    }

    /// Where it is until it is finished.
    pub fn path(&self) -> &Path {
        &self.at
    }

    /// To write it; nobody but its owner may read it.
    ///
    /// # Errors
    /// See [`CopyError`].
    pub fn open(&self) -> Result<File, CopyError> {
        fs::OpenOptions::new().write(true).open(&self.at).map_err(cannot_write(&self.at))
    }

    /// Gives the file its name, once it is on the disk: how large it is.
    ///
    /// # Errors
    /// See [`CopyError`].
    pub fn finish(self) -> Result<u64, CopyError> {
        refuse_there(&self.to, self.replaces)?;
        let failed = cannot_write(&self.to);
        let file = File::open(&self.at).map_err(&failed)?;
        file.sync_all().map_err(&failed)?;
        let bytes = file.metadata().map_err(&failed)?.len();
        fs::rename(&self.at, &self.to).map_err(&failed)?;
        sync_folder(&self.to).map_err(&failed)?;
        Ok(bytes)
    }
}

impl Drop for Partial {
    fn drop(&mut self) {
        // Gone already where it got its name.
        let _ = fs::remove_file(&self.at);
    }
}

/// Refuses two names of one file.
pub(crate) fn refuse_same(database: &Path, other: &Path) -> Result<(), CopyError> {
    match (fs::canonicalize(database), fs::canonicalize(other)) {
        (Ok(database), Ok(other)) if database == other => Err(CopyError::Itself(other)),
        _ => Ok(()),
    }
}

fn refuse_there(to: &Path, replaces: bool) -> Result<(), CopyError> {
    if to.exists() && !replaces { Err(CopyError::Exists(to.to_owned())) } else { Ok(()) }
}

pub(crate) fn cannot_write(path: &Path) -> impl Fn(io::Error) -> CopyError + use<> {
    let path = path.to_owned();
    move |error| CopyError::Write { path: path.clone(), reason: error.to_string() }
}

/// The name of a companion: `town.db-wal` of `town.db`.
pub(crate) fn companion(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// A new name is on the disk only once its folder is.
pub(crate) fn sync_folder(path: &Path) -> io::Result<()> {
    File::open(folder::of(path))?.sync_all()
}

#[cfg(test)]
mod tests {
    use std::io::Write as _;

    use super::*;

    /// The names in a folder.
    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> =
            fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_has_its_name_only_once_it_is_finished_and_one_that_is_dropped_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let (database, to) = (folder.path().join("town.db"), folder.path().join("hydrants.csv"));
        let partial = Partial::out_of(&database, &to, false).unwrap();
        partial.open().unwrap().write_all(b"half").unwrap();
        assert!(!to.exists() && names(folder.path()).len() == 1);
        drop(partial);
        assert!(names(folder.path()).is_empty());
        let partial = Partial::out_of(&database, &to, false).unwrap();
        partial.open().unwrap().write_all(b"whole").unwrap();
        assert_eq!(partial.finish(), Ok(5));
        assert_eq!(
            (names(folder.path()), fs::read(&to).unwrap()),
            (vec!["hydrants.csv".to_owned()], b"whole".to_vec())
        );
    }

    #[test]
    fn a_file_that_came_meanwhile_stays_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("hydrants.csv");
        let partial = Partial::out_of(&folder.path().join("town.db"), &to, false).unwrap();
        fs::write(&to, "another's").unwrap();
        assert_eq!(partial.finish(), Err(CopyError::Exists(to.clone())));
        assert_eq!((fs::read(&to).unwrap(), names(folder.path()).len()), (b"another's".to_vec(), 1));
    }

    #[test]
    fn the_database_is_never_replaced_by_what_is_taken_out_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let (database, link) = (folder.path().join("town.db"), folder.path().join("hydrants.csv"));
        fs::write(&database, "records").unwrap();
        std::os::unix::fs::symlink(&database, &link).unwrap();
        for to in [&database, &link] {
            assert!(matches!(Partial::out_of(&database, to, true), Err(CopyError::Itself(_))), "{}", to.display());
        }
    }
}
