//! `longlay backup`: a checked copy, taken beside a running service too.

use std::path::PathBuf;

use super::database::Database;
use super::{Failure, tell};
use crate::logs::{self, LogFormat};

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    database: Database,
    /// Where the copy goes; better on another disk.
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Replace a file that is there.
    #[arg(long)]
    force: bool,
}

pub(super) async fn run(arguments: &Args) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let copied = longlay_store::back_up(&arguments.database.path()?, &arguments.to, arguments.force).await?;
    let (sound, to) = (copied.sound, arguments.to.display());
    tell(&format!(
        "{to}: {} bytes, checked: schema {}, {} hydrants, {} flow tests",
        copied.bytes, sound.schema, sound.hydrants, sound.flow_tests
    ));
    Ok(())
}
