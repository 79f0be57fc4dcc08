//! Opening, settings and closing.

use std::path::Path;

use crate::error::{OpenError, StoreError};

/// How to open a database.
#[derive(Debug, Clone, Default)]
pub struct OpenOptions {
    /// Open it on a network, FUSE or VM-shared folder too.
    pub allow_network_folder: bool,
}

/// Whether a put made a record or replaced one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// No live record had the id.
    Created,
    /// The record was replaced.
    Replaced,
}

/// One department's records in one SQLite file. Cheap to clone; clones share the connections.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) writer: sqlx::SqlitePool,
    pub(crate) readers: sqlx::SqlitePool,
}

impl Store {
    /// Opens the database, making the file when there is none and bringing its schema up to date.
    ///
    /// # Errors
    /// See [`OpenError`].
    pub async fn open(path: &Path, options: &OpenOptions) -> Result<Self, OpenError> {
        todo!()
    }

    /// Folds the write-ahead log into the file and closes every connection.
    pub async fn close(&self) {
        todo!()
    }

    /// Reads from the file, to know that it can be read.
    ///
    /// # Errors
    /// The file cannot be read, or no reader came free.
    pub async fn ping(&self) -> Result<(), StoreError> {
        todo!()
    }
}
