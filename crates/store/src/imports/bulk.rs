//! Many rows with one statement. Each statement is a trip to the connection's thread: a hundred thousand hydrants with a statement
//! a row take ten times as long.
//!
//! These statements are put together at run time and so are not checked when the program is built; every column they name is
//! written by a test.

use sqlx::query_builder::Separated;
use sqlx::{QueryBuilder, Sqlite, SqliteConnection};

use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::rows::time_text;

/// Rows of one statement: fifteen columns of them stay far under the 32,766 values that one may bind.
const ROWS_AT_ONCE: usize = 100;

/// One row to be bound.
pub(super) type Values<'a> = Separated<'a, Sqlite, &'static str>;

/// Inserts rows; `behind` follows the values.
pub(super) async fn insert<T: Sync>(
    conn: &mut SqliteConnection,
    into: &'static str,
    rows: &[T],
    behind: &'static str,
    bind: impl Fn(&mut Values<'_>, &T) + Send + Sync,
) -> Result<(), StoreError> {
    for rows in rows.chunks(ROWS_AT_ONCE) {
        let mut statement = QueryBuilder::<Sqlite>::new(into);
        statement.push_values(rows, |mut values, row| bind(&mut values, row));
        statement.push(behind);
        // Only the statement of a full hundred comes again.
        let is_kept = rows.len() == ROWS_AT_ONCE;
        statement.build().persistent(is_kept).execute(&mut *conn).await.map_err(fault)?;
    }
    Ok(())
}

/// One entry of the audit.
pub(super) struct Entry<'a> {
    pub(super) action: Action,
    pub(super) id: &'a str,
    pub(super) version: Option<i64>,
}

/// Notes what was done to each record.
pub(super) async fn note(
    conn: &mut SqliteConnection,
    change: &Change,
    kind: &'static str,
    entries: &[Entry<'_>],
) -> Result<(), StoreError> {
    let at = time_text(change.at);
    let key_id = change.author.key_id.map(|id| id.to_string());
    insert(conn, audit::INTO, entries, "", |values, entry| {
        values.push_bind(at.as_str()).push_bind(change.author.name.as_str()).push_bind(key_id.as_deref());
        values.push_bind(change.request_id.as_deref()).push_bind(entry.action.text()).push_bind(kind);
        values.push_bind(entry.id).push_bind(entry.version);
    })
    .await
}
