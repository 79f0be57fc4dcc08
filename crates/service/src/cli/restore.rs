//! `longlay restore`: a copy in the place of the database.

use std::path::PathBuf;

use longlay_records::author::Author;
use longlay_store::Change;

use super::database::Database;
use super::{Failure, tell};
use crate::clock::Clock;
use crate::logs::{self, LogFormat};

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The copy.
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    // What it takes the place of.
    #[command(flatten)]
    database: Database,
}

pub(super) async fn run(arguments: &Args) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let change = Change::by(Author::command_line(), Clock::system().now());
    let database = arguments.database.path()?;
    let copied = longlay_store::restore(&arguments.from, &database, &change).await?;
    let sound = copied.sound;
    tell(&format!(
        "{}: restored, with {} hydrants and {} flow tests",
        database.display(),
        sound.hydrants,
        sound.flow_tests
    ));
    if copied.live_keys > 0 {
        tell("keys are as they were in the copy: any revoked since are live again, see `longlay keys list`");
    }
    if sound.schema < sound.newest_schema {
        tell("it is of an earlier version, and is brought up to this one when it is served");
    }
    if let Some(kept) = copied.kept {
        tell(&format!("what was there before is kept as {}", kept.display()));
    }
    Ok(())
}
