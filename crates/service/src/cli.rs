//! The command line, one command a file.

mod demo;
mod keys;
mod serve;

use std::io::{self, IsTerminal, Write};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

use axum::http::Uri;
use clap::{Parser, Subcommand};
use longlay_records::key::InvalidKeyName;
use longlay_store::{OpenError, StoreError};
use thiserror::Error;
use tokio::net::TcpListener;
use tracing_subscriber::EnvFilter;
use uuid::Uuid;

use crate::app;
use crate::demo::Unloadable;
use crate::tls::TlsError;

/// What water a hydrant puts at the fire: an HTTP service for a fire department.
#[derive(Debug, Parser)]
#[command(
    name = "longlay",
    version,
    after_help = "Exit codes: 0 stopped when told to; 1 failed; 2 wrong arguments; 3 the address cannot be listened on; \
        4 the database cannot be made or written there; 5 the file is no database of this program, or of a newer version."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve a department's records.
    Serve(serve::ServeArgs),
    /// Serve an invented town from a fresh temporary database, forgotten at the end.
    Demo(demo::DemoArgs),
    /// Make, list and revoke keys while nothing serves the database.
    Keys(keys::KeysArgs),
    /// Print the description of the API, OpenAPI 3.1.
    Openapi,
}

fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse().map_err(|_| "write the address in numbers, with its port, such as 127.0.0.1:8080".to_owned())
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
    #[error("{0:?} is no address for callers: it must look like https://hydrants.example, without user or query")]
    PublicUrl(String),
    #[error("cannot listen on {address}: {error}. Stop what listens there, or choose another --listen address")]
    Listen { address: SocketAddr, error: io::Error },
    #[error("{0}")]
    Open(#[from] OpenError),
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
    #[error("the system gave no randomness for a key: {0}")]
    Randomness(#[from] getrandom::Error),
    #[error("{0}")]
    Io(#[from] io::Error),
}

impl Failure {
    const fn exit_code(&self) -> u8 {
        match self {
            Self::DemoForOthers(_) | Self::PlainHttp(_) | Self::Tls(_) | Self::PublicUrl(_) => 2,
            Self::Listen { .. } => 3,
            Self::Open(OpenError::CannotCreate { .. } | OpenError::NetworkFolder { .. }) => 4,
            Self::Open(OpenError::NotADatabase { .. } | OpenError::NotOurs { .. } | OpenError::Newer { .. }) => 5,
            Self::Open(_)
            | Self::Demo(_)
            | Self::Store(_)
            | Self::KeyName(_)
            | Self::NoSuchKey { .. }
            | Self::LastAdminKey
            | Self::Randomness(_)
            | Self::Io(_) => 1,
        }
    }
}

/// Runs the command line that this process was started with.
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let done = start_logging().and_then(|()| tokio::runtime::Runtime::new()).map_err(Failure::from);
    match done.and_then(|runtime| runtime.block_on(execute(arguments.command))) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let _ = writeln!(io::stderr(), "longlay: {failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}

fn start_logging() -> io::Result<()> {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info,sqlx=warn"));
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr);
    log.with_ansi(io::stderr().is_terminal()).try_init().map_err(io::Error::other)
}

async fn execute(command: Command) -> Result<(), Failure> {
    match command {
        Command::Serve(args) => serve::run(args).await,
        Command::Demo(args) => demo::run(args).await,
        Command::Keys(args) => keys::run(args).await,
        Command::Openapi => {
            // Whoever reads it may have closed it: that is no failure of ours.
            let _ = print(&format!("{:#}", app::openapi()));
            Ok(())
        }
    }
}

/// To standard output, to its end.
fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    writeln!(out, "{text}")?;
    Ok(out.flush()?)
}

async fn bind(address: SocketAddr) -> Result<TcpListener, Failure> {
    TcpListener::bind(address).await.map_err(|error| Failure::Listen { address, error })
}

/// Where callers find it who are told nothing else.
fn public_url(address: SocketAddr, tls: bool) -> String {
    format!("{}://{address}", if tls { "https" } else { "http" })
}

fn checked_url(url: String) -> Result<String, Failure> {
    let sound = url.parse::<Uri>().is_ok_and(|uri| {
        matches!(uri.scheme_str(), Some("http" | "https"))
            && uri.authority().is_some_and(|authority| !authority.as_str().contains('@'))
            && uri.query().is_none()
    });
    if sound && !url.contains('#') { Ok(url.trim_end_matches('/').to_owned()) } else { Err(Failure::PublicUrl(url)) }
}

#[cfg(test)]
mod tests {
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
        assert_eq!(of(OpenError::Newer { path, found: 9, known: 2 }), 5);
    }

    #[test]
    fn an_address_for_callers_is_whole_and_without_a_slash_at_its_end() {
        assert_eq!(checked_url("https://h.example/longlay/".into()).unwrap(), "https://h.example/longlay");
        for bad in [
            "h.example",
            "ftp://h.example",
            "http://h.example?x=1",
            "http://h.example#x",
            "",
            "http://",
            "https://user:pw@h.example",
        ] {
            assert!(checked_url(bad.into()).is_err(), "{bad}");
        }
    }
}
