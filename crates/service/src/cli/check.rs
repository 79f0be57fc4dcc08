//! `longlay check`: whether a database is sound, beside a running service too.

use std::path::PathBuf;

use longlay_store::Store;

use super::{Failure, tell};
use crate::logs::{self, LogFormat};

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The database, or a copy of it.
    #[arg(long, value_name = "FILE")]
    database: PathBuf,
}

pub(super) async fn run(arguments: &Args) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let sound = longlay_store::inspect(&arguments.database).await?;
    tell(&format!("ok    pages, indexes and references; schema {}", sound.schema));
    if sound.schema < sound.newest_schema {
        tell("warn  it is of an earlier version: its records are checked once it has been served by this one");
        return Ok(());
    }
    let store = Store::open_reading(&arguments.database).await?;
    let read = store.read_everything().await;
    store.close().await;
    let records = read.map_err(Failure::Unreadable)?;
    tell(&format!("ok    {records} records and tests, each read"));
    Ok(())
}
