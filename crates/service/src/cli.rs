//! The command line, a command a file.

mod audit;
mod backup;
mod check;
mod config;
mod demo;
mod doctor;
mod restore;
mod serve;

use std::io::{self, Write};
use std::net::SocketAddr;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use longlay_store::{CopyError, OpenError, Store, StoreError, Unsound};
use thiserror::Error;
use tokio::net::TcpListener;

use crate::app::{self, AppState};
use crate::clock::{Clock, Ids};
use crate::config::{Given, Unusable, address as settled_address};
use crate::demo::Unloadable;

/// What water a hydrant puts at the fire: an HTTP service for a fire department.
#[derive(Debug, Parser)]
#[command(
    name = "longlay",
    version,
    after_help = "Exit codes: 0 stopped when told to; 1 failed; 2 wrong arguments; 3 the address cannot be listened on; \
        4 the file cannot be made or written there; 5 the file is no sound database of this program, or of a newer version; \
        6 another process has it open; 7 a copy that is not sound was refused."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve a department's records. Each setting is an argument, a variable of the environment, or a key of the file.
    Serve(Given),
    /// Print the settings that `serve` would have with the same arguments, and where each comes from.
    Config(config::Args),
    /// Serve an invented town from a fresh temporary database, forgotten at the end.
    Demo {
        /// Address and port on this machine; port 0 takes a free one.
        #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = settled_address)]
        listen: SocketAddr,
    },
    /// Copy the database to a file, beside a running service too.
    Backup(backup::Args),
    /// Put a copy in the place of the database, which is kept under another name.
    Restore(restore::Args),
    /// Check the file, its schema, and that every record can be read.
    Check(check::Args),
    /// Look at everything around the database that can go wrong, and say what to do.
    Doctor(doctor::Args),
    /// Read who changed what.
    Audit(audit::Args),
    /// Print the description of the API, OpenAPI 3.1.
    Openapi,
}

#[derive(Debug, Error)]
enum Failure {
    #[error("{0} is not an address of this machine alone. There are no keys yet: listen on 127.0.0.1 or [::1]")]
    NotLoopback(SocketAddr),
    #[error("{0}")]
    Settings(#[from] Unusable),
    #[error("cannot listen on {address}: {error}. Stop what listens there, or choose another --listen address")]
    Listen { address: SocketAddr, error: io::Error },
    #[error("{0}")]
    Open(#[from] OpenError),
    #[error("{0}")]
    Copy(#[from] CopyError),
    #[error("{0}")]
    Unsound(#[from] Unsound),
    #[error("{0}")]
    Unreadable(StoreError),
    #[error("{0} of what was looked at must be put right")]
    Unwell(usize),
    #[error("the demo town cannot be loaded: {0}")]
    Demo(#[from] Unloadable),
    #[error("{0}")]
    Store(#[from] StoreError),
    #[error("{0}")]
    Io(#[from] io::Error),
}

impl Failure {
    const fn exit_code(&self) -> u8 {
        match self {
            Self::NotLoopback(_) | Self::Settings(_) | Self::Copy(CopyError::Exists(_) | CopyError::Itself(_)) => 2,
            Self::Listen { .. } => 3,
            Self::Open(OpenError::CannotCreate { .. } | OpenError::NetworkFolder { .. })
            | Self::Copy(CopyError::Write { .. }) => 4,
            Self::Unsound(_)
            | Self::Unreadable(_)
            | Self::Open(
                OpenError::NotADatabase { .. }
                | OpenError::NotOurs { .. }
                | OpenError::Newer { .. }
                | OpenError::Older { .. }
                | OpenError::Missing { .. },
            ) => 5,
            Self::Open(OpenError::InUse { .. }) | Self::Copy(CopyError::InUse(_)) => 6,
            Self::Copy(CopyError::Unsound(_)) => 7,
            Self::Open(_) | Self::Demo(_) | Self::Store(_) | Self::Io(_) | Self::Unwell(_) => 1,
        }
    }
}

/// Runs the command line that this process was started with.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let done = tokio::runtime::Runtime::new().map_err(Failure::from).and_then(|runtime| {
        let done = runtime.block_on(execute(arguments.command));
        // What still computes for a caller that was dropped is not waited for.
        runtime.shutdown_background();
        done
    });
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let _ = writeln!(io::stderr(), "longlay: {failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}

async fn execute(command: Command) -> Result<(), Failure> {
    match command {
        Command::Serve(given) => serve::run(&given).await,
        Command::Config(arguments) => config::run(&arguments),
        Command::Demo { listen } => demo::run(listen).await,
        Command::Backup(arguments) => backup::run(&arguments).await,
        Command::Restore(arguments) => restore::run(&arguments).await,
        Command::Check(arguments) => check::run(&arguments).await,
        Command::Doctor(arguments) => doctor::run(&arguments).await,
        Command::Audit(arguments) => audit::run(arguments).await,
        Command::Openapi => {
            print(&format!("{:#}", app::openapi()));
            Ok(())
        }
    }
}

/// To standard output. Whoever reads it may have closed it: that is no failure of ours.
fn print(text: &str) {
    let _ = writeln!(io::stdout(), "{text}");
}

async fn bind(address: SocketAddr) -> Result<TcpListener, Failure> {
    if !address.ip().is_loopback() {
        return Err(Failure::NotLoopback(address));
    }
    TcpListener::bind(address).await.map_err(|error| Failure::Listen { address, error })
}

fn state(store: Store, listener: &TcpListener, public_url: Option<String>) -> Result<AppState, Failure> {
    let public_url = match public_url {
        Some(url) => url,
        None => format!("http://{}", listener.local_addr()?),
    };
    Ok(AppState::new(store, Clock::system(), Ids::random(), &public_url))
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;

    #[test]
    fn the_arguments_are_sound() {
        use clap::CommandFactory;
        Arguments::command().debug_assert();
    }

    #[test]
    fn what_is_wrong_with_a_database_can_be_told_by_the_exit_code() {
        let path = PathBuf::from("town.db");
        let of = |error: OpenError| Failure::from(error).exit_code();
        assert_eq!(of(OpenError::CannotCreate { path: path.clone(), reason: "x".into() }), 4);
        assert_eq!(of(OpenError::NetworkFolder { path: path.clone(), file_system: "nfs".into() }), 4);
        assert_eq!(of(OpenError::NotADatabase { path: path.clone() }), 5);
        assert_eq!(of(OpenError::NotOurs { path: path.clone() }), 5);
        assert_eq!(of(OpenError::Newer { path: path.clone(), found: 9, known: 2 }), 5);
        assert_eq!(of(OpenError::Older { path: path.clone(), found: 2, needed: 9 }), 5);
        assert_eq!(of(OpenError::Missing { path: path.clone() }), 5);
        assert_eq!(of(OpenError::InUse { path }), 6);
    }
}
