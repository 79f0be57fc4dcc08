//! What can go wrong, free of SQL and of HTTP.

use std::fmt;
use std::path::PathBuf;

use thiserror::Error;

/// The kinds of record that can be asked for or referred to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RecordKind {
    /// A hydrant.
    Hydrant,
    /// A flow test.
    FlowTest,
    /// A test of equipment.
    EquipmentTest,
    /// A kind of hose.
    HoseType,
    /// A kind of appliance.
    Appliance,
    /// A kind of four-way hydrant valve.
    HydrantValve,
    /// A pumper.
    Pumper,
    /// A standard lay.
    LayProfile,
    /// A demand point.
    DemandPoint,
    /// A district.
    District,
    /// A drill.
    Drill,
    /// A key.
    Key,
    /// A coverage run.
    CoverageRun,
}

impl fmt::Display for RecordKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Hydrant => "hydrant",
            Self::FlowTest => "flow test",
            Self::EquipmentTest => "equipment test",
            Self::HoseType => "hose type",
            Self::Appliance => "appliance",
            Self::HydrantValve => "hydrant valve",
            Self::Pumper => "pumper",
            Self::LayProfile => "lay profile",
            Self::DemandPoint => "demand point",
            Self::District => "district",
            Self::Drill => "drill",
            Self::Key => "key",
            Self::CoverageRun => "coverage run",
        })
    }
}

/// Why a unit of work was not done. Nothing of it was kept.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum StoreError {
    /// A record refers to others that do not exist or are retired: each with its kind and id.
    #[error("there is no {}", .0.iter().map(|(kind, id)| format!("{kind} {id}")).collect::<Vec<_>>().join(", no "))]
    UnknownReferences(Vec<(RecordKind, String)>),
    /// The record came with the program and cannot be changed.
    #[error("the {kind} {id} came with the program and cannot be changed; keep your own under another id")]
    ReadOnly {
        /// Kind of the record.
        kind: RecordKind,
        /// Its id.
        id: String,
    },
    /// The record cannot be retired while others refer to it.
    #[error("the {kind} {id} is used by {}", used_by.join(", "))]
    InUse {
        /// Kind of the record.
        kind: RecordKind,
        /// Its id.
        id: String,
        /// What refers to it, each as its kind and id: `lay profile L-1`.
        used_by: Vec<String>,
    },
    /// A record stands there already, and it was not said that it may be overwritten.
    #[error("the {kind} {id} is there already, at version {version}: say which version is to be changed")]
    VersionNeeded {
        /// Kind of the record.
        kind: RecordKind,
        /// Its id.
        id: String,
        /// The version at which it stands.
        version: u64,
    },
    /// What stands there is not what the writer took it for.
    #[error("the {kind} {id} {}", standing(*.version))]
    ConditionFailed {
        /// Kind of the record.
        kind: RecordKind,
        /// Its id.
        id: String,
        /// The version at which it stands; none where there is none.
        version: Option<u64>,
    },
    /// The key of a request stood for another request before.
    #[error("the idempotency key {0} was used for another request")]
    KeyReused(String),
    /// No room left on the disk; reading still works.
    #[error("the disk is full")]
    DiskFull,
    /// The file or its folder cannot be written, or no longer opened.
    #[error("the database file or its folder cannot be written")]
    ReadOnlyFile,
    /// Another writer held the file for longer than the busy timeout, or no connection came free.
    #[error("the database is busy")]
    Busy,
    /// A stored row or the file itself is not what the program wrote: names the table and the id.
    #[error("the database holds something it should not: {0}")]
    Corrupt(String),
    /// Anything else.
    #[error("the database failed: {0}")]
    Other(String),
}

fn standing(version: Option<u64>) -> String {
    version.map_or_else(|| "does not exist".to_owned(), |version| format!("is at version {version}"))
}

/// Why a database could not be opened. Each says what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum OpenError {
    /// The file cannot be made, or is there and cannot be written.
    #[error("cannot create or write {}: {reason}. Give a path in a folder that exists and can be written", path.display())]
    CannotCreate {
        /// The path asked for.
        path: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// The file is something else than a SQLite database.
    #[error("{} is not a SQLite database. Give the path of a Longlay database, or of a file that does not exist yet", path.display())]
    NotADatabase {
        /// The path asked for.
        path: PathBuf,
    },
    /// A SQLite database of another program.
    #[error("{} is the database of another program. Give the path of a Longlay database, or of a file that does not exist yet", path.display())]
    NotOurs {
        /// The path asked for.
        path: PathBuf,
    },
    /// A newer program has changed the schema.
    #[error("{} was written by a newer version of Longlay (schema {found}, this version knows {known}). Run that version, or a later one", path.display())]
    Newer {
        /// The path asked for.
        path: PathBuf,
        /// Newest migration in the file.
        found: i64,
        /// Newest migration this program knows.
        known: i64,
    },
    /// An older program made it, and whoever only reads does not bring it up to date.
    #[error("{} has the schema of an older version of Longlay ({found}, this version needs {needed}). Start `longlay serve` on it once", path.display())]
    Older {
        /// The path asked for.
        path: PathBuf,
        /// Newest migration in the file; 0 where there is none.
        found: i64,
        /// Newest migration this program knows.
        needed: i64,
    },
    /// There is nothing to read.
    #[error("there is no database {}. Give the path of a Longlay database", path.display())]
    Missing {
        /// The path asked for.
        path: PathBuf,
    },
    /// Another process, or another part of this one, has it open to write.
    #[error("{} is in use by another process. Stop that one first, or ask it over HTTP: POST /v1/imports/{{kind}}, GET /v1/exports/{{kind}}, /v1/keys, GET /v1/audit", path.display())]
    InUse {
        /// The path asked for.
        path: PathBuf,
    },
    /// The file that keeps a second process out cannot be opened, as where another user made it.
    #[error("the lock file {} cannot be opened: {reason}. Give it to the user that serves, as the database is", path.display())]
    LockFile {
        /// The lock file.
        path: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// A write-ahead log on a shared folder corrupts sooner or later.
    #[error("{} is on {file_system}, where SQLite's write-ahead log can corrupt the database. Keep it on a local disk", path.display())]
    NetworkFolder {
        /// The path asked for.
        path: PathBuf,
        /// The file system found.
        file_system: String,
    },
    /// The SQLite linked in has a known corruption bug.
    #[error("SQLite {found} is linked in, and write-ahead logs need {needed} or later. Build with the bundled SQLite")]
    SqliteTooOld {
        /// Version linked in.
        found: String,
        /// Least version accepted.
        needed: String,
    },
    /// Anything else.
    #[error("cannot open the database: {0}")]
    Other(String),
}

/// The primary result code of a SQLite error, <https://sqlite.org/rescode.html>; the extended one says more than is needed here.
pub(crate) fn primary_code(error: &sqlx::Error) -> Option<i32> {
    let extended: i32 = error.as_database_error()?.code()?.parse().ok()?;
    Some(extended & 0xff)
}

pub(crate) const SQLITE_READONLY: i32 = 8;
pub(crate) const SQLITE_IOERR: i32 = 10;
pub(crate) const SQLITE_CORRUPT: i32 = 11;
pub(crate) const SQLITE_FULL: i32 = 13;
pub(crate) const SQLITE_CANTOPEN: i32 = 14;
pub(crate) const SQLITE_NOTADB: i32 = 26;

/// What a database error means to the caller.
#[expect(clippy::needless_pass_by_value, reason = "it stands in map_err, which gives the error away")]
pub(crate) fn fault(error: sqlx::Error) -> StoreError {
    const SQLITE_BUSY: i32 = 5;
    const SQLITE_LOCKED: i32 = 6;
    match (&error, primary_code(&error)) {
        (sqlx::Error::PoolTimedOut, _) | (_, Some(SQLITE_BUSY | SQLITE_LOCKED)) => StoreError::Busy,
        (_, Some(SQLITE_FULL)) => StoreError::DiskFull,
        (_, Some(SQLITE_READONLY | SQLITE_CANTOPEN)) => StoreError::ReadOnlyFile,
        // So is told of a file that was open before its disk turned read-only. It passes when the disk does; the caller is told to wait.
        (_, Some(SQLITE_IOERR)) => {
            tracing::error!(%error, "the disk under the database fails");
            StoreError::ReadOnlyFile
        }
        (sqlx::Error::ColumnDecode { .. }, _) | (_, Some(SQLITE_CORRUPT | SQLITE_NOTADB)) => {
            StoreError::Corrupt(error.to_string())
        }
        _ => StoreError::Other(error.to_string()),
    }
}
