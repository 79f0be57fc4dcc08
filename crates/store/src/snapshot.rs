//! One state of the database, read bit by bit: what is too long to be held at once.

use sqlx::{Sqlite, SqliteConnection, Transaction};

use crate::error::StoreError;
use crate::hydrant_query::{HydrantQuery, page};
use crate::open::Store;

/// One state of the database, whatever is written meanwhile. It has a connection of its own until it is dropped.
///
/// While it lives the write-ahead log grows with every write: hold it no longer than the reading takes.
#[derive(Debug)]
pub struct Snapshot {
    tx: Transaction<'static, Sqlite>,
}

impl Store {
    /// The database as it stands now, to be read bit by bit.
    ///
    /// # Errors
    /// [`StoreError::Busy`] where too many are open already; else see [`StoreError`].
    pub async fn snapshot(&self) -> Result<Snapshot, StoreError> {
        let mut tx = self.long_read().await?;
        // SQLite settles on a state with the first read, not with BEGIN.
        page(&mut tx, &HydrantQuery::default(), None, 1).await?;
        Ok(Snapshot { tx })
    }
}

impl Snapshot {
    pub(crate) fn connection(&mut self) -> &mut SqliteConnection {
        &mut self.tx
    }
}
