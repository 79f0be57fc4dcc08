//! Who changed what: one entry for each record changed, written with the change and never edited.

use chrono::{DateTime, Utc};
use longlay_records::author::Author;
use sqlx::SqliteConnection;

use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::open::Store;
use crate::rows::{Row, time_text};

/// What was done to a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Action {
    /// It is new.
    Create,
    /// It was replaced.
    Replace,
    /// It was retired, and came back; or the whole database was, from a copy.
    Restore,
    /// It was retired.
    Retire,
    /// A test or a drill was recorded.
    Record,
    /// A test or a drill was voided.
    Void,
    /// A key was revoked.
    Revoke,
    /// A file was brought in.
    Import,
}

impl Action {
    pub(crate) const fn text(self) -> &'static str {
        match self {
            Self::Create => "create",
            Self::Replace => "replace",
            Self::Restore => "restore",
            Self::Retire => "retire",
            Self::Record => "record",
            Self::Void => "void",
            Self::Revoke => "revoke",
            Self::Import => "import",
        }
    }
}

/// One thing done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditEntry {
    /// Its number: later ones are higher.
    pub seq: u64,
    /// When.
    pub at: DateTime<Utc>,
    /// By whom.
    pub author: Author,
    /// The request it came with.
    pub request_id: Option<String>,
    /// What was done.
    pub action: String,
    /// The kind of record.
    pub kind: String,
    /// The record.
    pub record_id: Option<String>,
    /// The version at which the record stands since, where it has versions.
    pub record_version: Option<u64>,
    /// What else there is to say, as JSON.
    pub detail: Option<String>,
}

impl Store {
    /// Entries in their order, from behind `after_seq`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn audit(&self, after_seq: u64, limit: u32) -> Result<Vec<AuditEntry>, StoreError> {
        let mut tx = self.read().await?;
        let after = i64::try_from(after_seq).unwrap_or(i64::MAX);
        let rows = sqlx::query_as!(
            EntryRow,
            "SELECT seq, at, author, key_id, request_id, action, kind, record_id, record_version, detail
             FROM audit WHERE seq > ?1 ORDER BY seq LIMIT ?2",
            after,
            limit
        )
        .fetch_all(&mut *tx)
        .await
        .map_err(fault)?;
        rows.into_iter().map(EntryRow::entry).collect()
    }
}

/// The number of the last entry; 0 before any.
pub(crate) async fn newest(conn: &mut SqliteConnection) -> Result<u64, StoreError> {
    let seq =
        sqlx::query_scalar!(r#"SELECT MAX(seq) AS "seq?: i64" FROM audit"#).fetch_one(conn).await.map_err(fault)?;
    Row::of("audit", "newest").count(seq.unwrap_or(0))
}

/// Puts a change down to its author. `detail` is JSON.
pub(crate) async fn note(
    conn: &mut SqliteConnection,
    change: &Change,
    action: Action,
    kind: &str,
    id: Option<&str>,
    version: Option<u64>,
    detail: Option<&str>,
) -> Result<(), StoreError> {
    let (at, action) = (time_text(change.at), action.text());
    let key_id = change.author.key_id.map(|id| id.to_string());
    let version = version.map(stored_version).transpose()?;
    sqlx::query!(
        "INSERT INTO audit (at, author, key_id, request_id, action, kind, record_id, record_version, detail)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        at,
        change.author.name,
        key_id,
        change.request_id,
        action,
        kind,
        id,
        version,
        detail
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

fn stored_version(version: u64) -> Result<i64, StoreError> {
    i64::try_from(version).map_err(|_| StoreError::Other(format!("version {version}")))
}

struct EntryRow {
    seq: i64,
    at: String,
    author: String,
    key_id: Option<String>,
    request_id: Option<String>,
    action: String,
    kind: String,
    record_id: Option<String>,
    record_version: Option<i64>,
    detail: Option<String>,
}

impl EntryRow {
    fn entry(self) -> Result<AuditEntry, StoreError> {
        let seq = self.seq.to_string();
        let row = Row::of("audit", &seq);
        Ok(AuditEntry {
            seq: row.count(self.seq)?,
            at: row.time(&self.at)?,
            author: Author { name: self.author, key_id: self.key_id.map(|id| row.uuid(&id)).transpose()? },
            request_id: self.request_id,
            action: self.action,
            kind: self.kind,
            record_id: self.record_id,
            record_version: self.record_version.map(|version| row.count(version)).transpose()?,
            detail: self.detail,
        })
    }
}
