//! Answers kept, so that a request which is sent again is answered again and not done again.

use chrono::TimeDelta;
use longlay_records::author::Author;
use sqlx::SqliteConnection;

use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::open::Store;
use crate::rows::{Row, time_text};

/// How long an answer is kept at least; a later one that is kept clears the older away.
const KEPT: TimeDelta = TimeDelta::hours(24);

/// An answer of success.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// Its HTTP status.
    pub status: u16,
    /// The address of what was made.
    pub location: Option<String>,
    /// Its body, byte for byte.
    pub body: Vec<u8>,
}

/// A request that may be sent again, and the answer to keep for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replay {
    /// The key its author chose for it.
    pub key: String,
    /// A digest of all that was asked: the same key must not stand for something else.
    pub request: [u8; 32],
    /// The answer.
    pub answer: Answer,
}

/// What came of something to be recorded once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Recorded {
    /// It is recorded.
    Now,
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

impl Store {
    /// The answer that this author's request was given before.
    ///
    /// # Errors
    /// [`StoreError::KeyReused`] where the key stood for another request; else see [`StoreError`].
    pub async fn kept_answer(
        &self,
        author: &Author,
        key: &str,
        request: &[u8; 32],
    ) -> Result<Option<Answer>, StoreError> {
        let mut tx = self.read().await?;
        find(&mut tx, author, key, request).await
    }
}

/// The answer given before to the request that a change came with. First in the transaction of every write that keeps its answer.
pub(crate) async fn before(conn: &mut SqliteConnection, change: &Change) -> Result<Option<Answer>, StoreError> {
    match &change.replay {
        Some(replay) => find(conn, &change.author, &replay.key, &replay.request).await,
        None => Ok(None),
    }
}

async fn find(
    conn: &mut SqliteConnection,
    author: &Author,
    key: &str,
    request: &[u8; 32],
) -> Result<Option<Answer>, StoreError> {
    let author = stored_author(author);
    let row = sqlx::query!(
        "SELECT request, status, location, body FROM kept_answers WHERE author = ?1 AND idempotency_key = ?2",
        author,
        key
    )
    .fetch_optional(conn)
    .await
    .map_err(fault)?;
    let Some(row) = row else { return Ok(None) };
    if row.request != request {
        return Err(StoreError::KeyReused(key.to_owned()));
    }
    let status = Row::of("kept_answers", key).good(u16::try_from(row.status))?;
    Ok(Some(Answer { status, location: row.location, body: row.body }))
}

/// Keeps the answer to a change in the change's own transaction, and clears away what has been kept long enough.
pub(crate) async fn keep(conn: &mut SqliteConnection, change: &Change) -> Result<(), StoreError> {
    let Some(Replay { key, request, answer }) = &change.replay else { return Ok(()) };
    let old = time_text(change.at - KEPT);
    sqlx::query!("DELETE FROM kept_answers WHERE answered_at < ?1", old).execute(&mut *conn).await.map_err(fault)?;
    let (author, at, request) = (stored_author(&change.author), time_text(change.at), request.as_slice());
    sqlx::query!(
        "INSERT INTO kept_answers (author, idempotency_key, request, status, location, body, answered_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        author,
        key,
        request,
        answer.status,
        answer.location,
        answer.body,
        at
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

fn stored_author(author: &Author) -> String {
    author.key_id.map_or_else(|| author.name.clone(), |id| id.to_string())
}
