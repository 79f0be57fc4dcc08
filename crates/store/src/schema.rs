//! Whether a database has the schema that the program of its version made: the same migrations, and of them the same tables, indices, triggers and views.

use std::collections::BTreeMap;

use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions, SqliteConnection};

use crate::open::MIGRATOR;

/// The newest migration that this program knows; 0 before any.
pub(crate) fn newest_known() -> i64 {
    MIGRATOR.iter().map(|migration| migration.version).max().unwrap_or(0)
}

/// The newest migration in a database: all before it are in it too, each in the wording of this program, and what they made is there unchanged. Else
/// what is wrong with it.
pub(crate) async fn newest_in(conn: &mut SqliteConnection) -> Result<i64, String> {
    let applied: Vec<(i64, bool, Vec<u8>)> =
        sqlx::query_as("SELECT version, success, checksum FROM _sqlx_migrations ORDER BY version")
            .fetch_all(&mut *conn)
            .await
            .map_err(|error| error.to_string())?;
    for (nth, (version, success, checksum)) in applied.iter().enumerate() {
        let Some(known) = MIGRATOR.iter().nth(nth) else {
            return Err(format!("it is of a newer version (schema {version}); run that version, or a later one"));
        };
        if known.version != *version || !success || known.checksum.as_ref() != checksum.as_slice() {
            return Err(format!("migration {version} in it is not the one this version knows"));
        }
    }
    let (newest, ..) = applied.last().ok_or_else(|| "it holds no schema".to_owned())?;
    let differing = differences(conn, applied.len()).await.map_err(|error| error.to_string())?;
    if differing.is_empty() {
        return Ok(*newest);
    }
    Err(format!("its schema is not what its version made: {}", differing.join("; ")))
}

/// How it differs from what this many of the migrations make of nothing.
async fn differences(conn: &mut SqliteConnection, migrations: usize) -> Result<Vec<String>, sqlx::Error> {
    let mut fresh = SqliteConnectOptions::new().in_memory(true).connect().await?;
    let earlier = MIGRATOR.iter().take(migrations).cloned().collect();
    Migrator::with_migrations(earlier).run(&mut fresh).await?;
    let (made, mut found) = (objects(&mut fresh).await?, objects(conn).await?);
    let mut differing = Vec::new();
    for (name, sql) in made {
        match found.remove(&name) {
            None => differing.push(format!("{name} is missing")),
            Some(other) if other != sql => differing.push(format!("{name} was changed")),
            Some(_) => {}
        }
    }
    differing.extend(found.into_keys().map(|name| format!("{name} is not of this program")));
    Ok(differing)
}

/// Everything that a statement made, with that statement. What SQLite keeps for itself is its own, and the migrations' table that of their library.
async fn objects(conn: &mut SqliteConnection) -> Result<BTreeMap<String, String>, sqlx::Error> {
    let objects: Vec<(String, String)> = sqlx::query_as(
        "SELECT type || ' ' || name, sql FROM sqlite_schema
         WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite~_%' ESCAPE '~' AND tbl_name <> '_sqlx_migrations'",
    )
    .fetch_all(conn)
    .await?;
    Ok(objects.into_iter().collect())
}
