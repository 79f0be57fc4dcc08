//! `longlay config`: the settings in force.

use std::env;

use super::{Failure, tell};
use crate::config::{Given, Settings, table};
use crate::limits;

#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    given: Given,
    /// Print the README's table of settings instead.
    #[arg(long, hide = true)]
    table: bool,
    /// Print the developers' table of limits instead.
    #[arg(long, hide = true)]
    limits: bool,
}

pub(super) fn run(arguments: &Args) -> Result<(), Failure> {
    if arguments.table {
        tell(table().trim_end());
    } else if arguments.limits {
        tell(limits::table().trim_end());
    } else {
        let settings = Settings::settle(&arguments.given, |name| env::var(name).ok())?;
        settings.check()?;
        tell(&settings.listed());
    }
    Ok(())
}
