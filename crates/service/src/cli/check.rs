//! `longlay check`: whether a database is sound, beside a running service too.

use longlay_store::Store;

use super::database::Database;
use super::{Failure, tell};
use crate::logs::{self, LogFormat};

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    database: Database,
}

pub(super) async fn run(arguments: &Args) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let database = arguments.database.path()?;
    let sound = longlay_store::inspect(&database).await?;
    tell(&format!("ok    pages, indexes and references; schema {}", sound.schema));
    if sound.schema < sound.newest_schema {
        tell("warn  it is of an earlier version: its records are checked once it has been served by this one");
        return Ok(());
    }
    let store = Store::open_reading(&database).await?;
    let read = store.read_everything().await;
    store.close().await;
    let records = read.map_err(Failure::Unreadable)?;
    tell(&format!("ok    {records} records and tests, each read"));
    Ok(())
}
