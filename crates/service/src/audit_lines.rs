//! The audit as it goes out, over HTTP and on the command line: one JSON object a line, oldest first.

use chrono::{DateTime, Utc};
use longlay_store::{AuditEntry, Store, StoreError};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

/// Entries read at once: the database is not held while a slow reader takes them.
const PAGE: u32 = 200;

/// One change: a line of the audit.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AuditLine {
    /// Its number: later ones are higher.
    seq: u64,
    /// When.
    at: DateTime<Utc>,
    /// By whom: the name of the key, as it was then, or the part of the program that wrote by itself.
    author: String,
    /// The key that the author came with.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    key_id: Option<Uuid>,
    /// The `x-request-id` of the request it came with.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    request_id: Option<String>,
    /// What was done: `create`, `replace`, `retire`, `restore`, `record`, `void` and the like.
    action: String,
    /// The kind of record.
    kind: String,
    /// The record.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    record_id: Option<String>,
    /// The version at which the record stood then; absent where it has no versions.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    record_version: Option<u64>,
    /// What else there is to say.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Object)]
    detail: Option<Value>,
}

impl TryFrom<AuditEntry> for AuditLine {
    type Error = StoreError;

    fn try_from(entry: AuditEntry) -> Result<Self, StoreError> {
        let read = |text: String| {
            serde_json::from_str(&text).map_err(|error| StoreError::Corrupt(format!("audit {}: {error}", entry.seq)))
        };
        Ok(Self {
            detail: entry.detail.map(read).transpose()?,
            seq: entry.seq,
            at: entry.at,
            author: entry.author.name,
            key_id: entry.author.key_id,
            request_id: entry.request_id,
            action: entry.action,
            kind: entry.kind,
            record_id: entry.record_id,
            record_version: entry.record_version,
        })
    }
}

/// Some lines, and the number of the last.
#[derive(Debug)]
pub(crate) struct AuditPage {
    /// As they go out.
    pub(crate) text: Vec<u8>,
    /// Where to go on.
    pub(crate) last_seq: u64,
}

/// The lines from behind this number; none at the end.
pub(crate) async fn page(store: &Store, after_seq: u64) -> Result<Option<AuditPage>, StoreError> {
    let entries = store.audit(after_seq, PAGE).await?;
    let Some(last_seq) = entries.last().map(|entry| entry.seq) else { return Ok(None) };
    let mut text = Vec::new();
    for entry in entries {
        let line = serde_json::to_vec(&AuditLine::try_from(entry)?);
        text.extend(line.map_err(|error| StoreError::Other(error.to_string()))?);
        text.push(b'\n');
    }
    Ok(Some(AuditPage { text, last_seq }))
}
