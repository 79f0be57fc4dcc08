//! The command line, one command a file.

mod audit;
mod backup;
mod bar;
mod check;
mod config;
mod coverage;
mod database;
mod demo;
mod doctor;
mod export;
mod health;
mod import;
mod keys;
mod restore;
mod serve;

use std::io::{self, Write};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use longlay_exchange::fault::Faults;
use longlay_exchange::kind::Kind;
use longlay_records::key::InvalidKeyName;
use longlay_store::{CopyError, OpenError, StoreError, Unsound};
use thiserror::Error;
use tokio::net::TcpListener;
use uuid::Uuid;

use crate::app;
use crate::config::{Given, Unusable, address as settled_address};
use crate::demo::Unloadable;
use crate::tls::TlsError;

/// What water a hydrant puts at the fire: an HTTP service for a fire department.
#[derive(Debug, Parser)]
#[command(
    name = "longlay",
    version,
    after_help = "Exit codes: 0 done, or a service stopped when told to; 1 failed, or broken off; 2 wrong arguments; 3 the address cannot be listened on; \
        4 the file cannot be made or written there; 5 the file is no sound database of this program, or of another version; \
        6 another process has it open; 7 what was to be taken in is not sound, and was refused."
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
    /// Bring in a spreadsheet or a map file, the whole of it or nothing.
    Import(import::ImportArgs),
    /// Write records of one kind to a file or to standard output, beside a running service too.
    Export(export::ExportArgs),
    /// Where the district comes up short: what every demand point gets, and why no more. Beside a running service too.
    Coverage(coverage::CoverageArgs),
    /// Make, list and revoke keys while nothing serves the database.
    Keys(keys::KeysArgs),
    /// Copy the database to a file, beside a running service too.
    Backup(backup::Args),
    /// Put a copy in the place of the database, which is kept under another name.
    Restore(restore::Args),
    /// Check the file, its schema, and that every record can be read.
    Check(check::Args),
    /// Look at everything around the service that can go wrong, and say what to do. It takes the settings of `serve`.
    Doctor(Given),
    /// Ask a running service whether it can serve: exit code 0 where it can, 1 where not.
    Health(health::Args),
    /// Read who changed what.
    Audit(audit::Args),
    /// Print the description of the API, OpenAPI 3.1.
    Openapi,
}

#[derive(Debug, Error)]
enum Failure {
    #[error("{0} is not an address of this machine alone, and the demo asks for no keys: listen on 127.0.0.1 or [::1]")]
    DemoForOthers(SocketAddr),
    #[error(
        "{0} can be reached by other machines, and without TLS keys and records can be read on the way. Give --tls-cert and \
         --tls-key, or --allow-plain-http where a proxy does TLS"
    )]
    PlainHttp(SocketAddr),
    #[error("{0}")]
    Tls(#[from] TlsError),
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
    KeyName(#[from] InvalidKeyName),
    #[error("there is no key {id} in {}; `longlay keys list` shows those there are", database.display())]
    NoSuchKey { id: Uuid, database: PathBuf },
    #[error("this is the last key that can make keys. Make another with the scope admin first")]
    LastAdminKey,
    #[error("{} cannot be read: {error}", file.display())]
    File { file: PathBuf, error: io::Error },
    #[error(
        "{} was not brought in, and nothing was changed: it has {} {}",
        file.display(), faults.count(), if faults.count() == 1 { "fault" } else { "faults" }
    )]
    Import { file: PathBuf, faults: Faults },
    #[error(
        "there is no database {name}. Look at its name; where there is none yet, start `longlay serve --database {name}` first",
        name = .0.display()
    )]
    NoTown(PathBuf),
    #[error("{} have no place on a map: give --format csv or ndjson", .0.slug())]
    OnNoMap(Kind),
    #[error("told to stop before the end: what was written is not whole, and no file was given its name")]
    BrokenOff,
    #[error("no coverage run: {0}")]
    Coverage(String),
    #[error("the system gave no randomness for a key: {0}")]
    Randomness(#[from] getrandom::Error),
    #[error("{url} is not ready: {reason}")]
    NotReady { url: String, reason: String },
    #[error("{0}")]
    Io(#[from] io::Error),
}

impl Failure {
    const fn exit_code(&self) -> u8 {
        match self {
            Self::DemoForOthers(_)
            | Self::PlainHttp(_)
            | Self::Tls(_)
            | Self::Settings(_)
            | Self::OnNoMap(_)
            | Self::Copy(CopyError::Exists(_) | CopyError::Itself(_)) => 2,
            Self::Listen { .. } => 3,
            Self::Open(
                OpenError::CannotCreate { .. } | OpenError::LockFile { .. } | OpenError::NetworkFolder { .. },
            )
            | Self::Copy(CopyError::Write { .. } | CopyError::NoFolder(_)) => 4,
            Self::Open(
                OpenError::NotADatabase { .. }
                | OpenError::NotOurs { .. }
                | OpenError::Newer { .. }
                | OpenError::Older { .. }
                | OpenError::Missing { .. },
            )
            | Self::Copy(CopyError::NotOurs(_) | CopyError::Spoiled(_))
            | Self::Unsound(_)
            | Self::NoTown(_)
            | Self::Unreadable(_) => 5,
            Self::Open(OpenError::InUse { .. }) | Self::Copy(CopyError::InUse(_)) => 6,
            Self::Copy(CopyError::Unsound(_)) | Self::Import { .. } => 7,
            Self::Open(_)
            | Self::Demo(_)
            | Self::Store(_)
            | Self::File { .. }
            | Self::KeyName(_)
            | Self::NoSuchKey { .. }
            | Self::LastAdminKey
            | Self::Coverage(_)
            | Self::BrokenOff
            | Self::Randomness(_)
            | Self::Io(_)
            | Self::NotReady { .. }
            | Self::Unwell(_) => 1,
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
            if let Failure::Import { faults, .. } = &failure {
                import::tell_faults(faults);
            }
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
        Command::Import(arguments) => import::run(arguments).await,
        Command::Export(arguments) => export::run(arguments).await,
        Command::Coverage(arguments) => coverage::run(arguments).await,
        Command::Keys(arguments) => keys::run(arguments).await,
        Command::Backup(arguments) => backup::run(&arguments).await,
        Command::Restore(arguments) => restore::run(&arguments).await,
        Command::Check(arguments) => check::run(&arguments).await,
        Command::Doctor(given) => doctor::run(&given).await,
        Command::Health(arguments) => health::run(arguments).await,
        Command::Openapi => {
            tell(&format!("{:#}", app::openapi()));
            Ok(())
        }
        Command::Audit(arguments) => audit::run(arguments).await,
    }
}

/// To standard output, to its end.
fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    writeln!(out, "{text}")?;
    Ok(out.flush()?)
}

/// To standard output, where nothing depends on it: whoever reads it may have closed it, which is no failure of ours.
fn tell(text: &str) {
    let _ = print(text);
}

async fn bind(address: SocketAddr) -> Result<TcpListener, Failure> {
    TcpListener::bind(address).await.map_err(|error| Failure::Listen { address, error })
}

/// Where callers find it who are told nothing else.
fn public_url(address: SocketAddr, tls: bool) -> String {
    format!("{}://{address}", if tls { "https" } else { "http" })
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
