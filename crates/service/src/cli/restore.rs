//! `longlay restore`: a copy in the place of the database.

use std::path::PathBuf;

use longlay_records::author::Author;
use longlay_store::Change;

use super::{Failure, tell};
use crate::clock::Clock;
use crate::logs::{self, LogFormat};

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The copy.
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    /// The database that it takes the place of.
    #[arg(long, value_name = "FILE")]
    database: PathBuf,
}

pub(super) async fn run(arguments: &Args) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let change = Change::by(Author::command_line(), Clock::system().now());
    let copied = longlay_store::restore(&arguments.from, &arguments.database, &change).await?;
    let (sound, database) = (copied.sound, arguments.database.display());
    tell(&format!("{database}: restored, with {} hydrants and {} flow tests", sound.hydrants, sound.flow_tests));
    if sound.schema < sound.newest_schema {
        tell("it is of an earlier version, and is brought up to this one when it is served");
    }
    if let Some(kept) = copied.kept {
        tell(&format!("what was there before is kept as {}", kept.display()));
    }
    Ok(())
}
