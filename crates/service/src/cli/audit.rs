//! `longlay audit export`: who changed what, from the file itself.

use std::io::{self, Write};

use clap::Subcommand;
use longlay_store::Store;

use super::Failure;
use super::database::Database;
use crate::audit_lines::page;

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Print every change that was ever kept, one JSON object a line, oldest first. Also beside a service that runs.
    Export {
        #[command(flatten)]
        database: Database,
        /// Only entries behind this number: the `seq` of the last one you have.
        #[arg(long, value_name = "SEQ", default_value_t = 0)]
        after_seq: u64,
    },
}

pub(super) async fn run(arguments: Args) -> Result<(), Failure> {
    let Command::Export { database, mut after_seq } = arguments.command;
    let store = Store::open_reading(&database.path()?).await?;
    let mut out = io::stdout();
    while let Some(lines) = page(&store, after_seq).await? {
        match out.write_all(&lines.text) {
            // Whoever reads it has enough.
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => break,
            written => written?,
        }
        after_seq = lines.last_seq;
    }
    store.close().await;
    Ok(())
}
