//! Many rows with one statement. Each statement is a trip to the connection's thread: a hundred thousand hydrants with a statement
//! a row take ten times as long.
//!
//! These statements are put together at run time and so are not checked when the program is built; every column they name is
//! written by a test.

use std::collections::BTreeMap;

use sqlx::sqlite::SqliteArguments;
use sqlx::types::Json;
use sqlx::{Arguments, AssertSqlSafe, Encode, Sqlite, SqliteConnection, Type};

use crate::audit::Action;
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::rows::time_text;

/// Rows of one statement: fifteen columns of them stay under the 32,766 values that one may bind.
const ROWS_AT_ONCE: usize = 500;

/// The values of a statement, row after row.
#[derive(Default)]
pub(super) struct Values {
    arguments: SqliteArguments,
    refused: Option<String>,
}

impl Values {
    /// The next value.
    pub(super) fn bind<'t, T: Encode<'t, Sqlite> + Type<Sqlite>>(&mut self, value: T) -> &mut Self {
        if let Err(error) = self.arguments.add(value) {
            self.refused = Some(error.to_string());
        }
        self
    }
}

/// Inserts rows; `behind` follows the values. While the database works on a statement, the values of the next are bound.
pub(super) async fn insert<T: Sync>(
    conn: &mut SqliteConnection,
    into: &'static str,
    rows: &[T],
    behind: &'static str,
    bind: impl Fn(&mut Values, &T) + Send + Sync,
) -> Result<(), StoreError> {
    let mut parts = rows.chunks(ROWS_AT_ONCE);
    let mut next = parts.next().map(|rows| (rows.len(), bound(rows, &bind)));
    while let Some((rows, values)) = next {
        let run = execute(&mut *conn, into, behind, rows, values);
        let (done, bound) = tokio::join!(run, async { parts.next().map(|rows| (rows.len(), bound(rows, &bind))) });
        done?;
        next = bound;
    }
    Ok(())
}

fn bound<T>(rows: &[T], bind: impl Fn(&mut Values, &T)) -> Values {
    let mut values = Values::default();
    for row in rows {
        bind(&mut values, row);
    }
    values
}

async fn execute(
    conn: &mut SqliteConnection,
    into: &'static str,
    behind: &'static str,
    rows: usize,
    values: Values,
) -> Result<(), StoreError> {
    let Values { arguments, refused } = values;
    if let Some(error) = refused {
        return Err(StoreError::Other(error));
    }
    let row = format!("({}?)", "?,".repeat((arguments.len() / rows).saturating_sub(1)));
    let statement = format!("{into} VALUES {}{row}{behind}", format!("{row},").repeat(rows - 1));
    // Its text is ours alone: the values are bound. Only the statement of a full count comes again.
    let statement = sqlx::query_with(AssertSqlSafe(statement), arguments).persistent(rows == ROWS_AT_ONCE);
    statement.execute(conn).await.map_err(fault)?;
    Ok(())
}

/// Notes that the same was done to each of these records, each with the version at which it stands since, where it has versions.
pub(super) async fn note(
    conn: &mut SqliteConnection,
    change: &Change,
    action: Action,
    kind: &'static str,
    records: &[(&str, Option<i64>)],
) -> Result<(), StoreError> {
    let (at, action) = (time_text(change.at), action.text());
    let key_id = change.author.key_id.map(|id| id.to_string());
    // Of many records that are new all have the same version: then their ids are the only list.
    let mut by_version: BTreeMap<Option<i64>, Vec<&str>> = BTreeMap::new();
    for (id, version) in records {
        by_version.entry(*version).or_default().push(id);
    }
    for (version, ids) in by_version {
        let ids = Json(ids);
        sqlx::query!(
            "INSERT INTO audit (at, author, key_id, request_id, action, kind, record_id, record_version)
             SELECT ?1, ?2, ?3, ?4, ?5, ?6, value, ?7 FROM json_each(?8)",
            at,
            change.author.name,
            key_id,
            change.request_id,
            action,
            kind,
            version,
            ids
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}
