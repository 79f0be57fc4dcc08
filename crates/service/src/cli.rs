//! The command line: `serve`, `demo`, `openapi`, `health`.

mod health;

use std::io::{self, IsTerminal, Write};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::ExitCode;

use axum::http::Uri;
use clap::{Parser, Subcommand};
use longlay_store::{OpenError, OpenOptions, Store};
use thiserror::Error;
use tokio::net::TcpListener;
use tracing_subscriber::EnvFilter;

use crate::app::{self, AppState};
use crate::clock::{Clock, Ids};
use crate::{demo, serve};

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
    Serve {
        /// The file everything is kept in; made where it is not there. Not on a network share.
        #[arg(long, value_name = "FILE")]
        database: PathBuf,
        /// Address and port on this machine; port 0 takes a free one.
        #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = address)]
        listen: SocketAddr,
        /// The address callers see, for links and problem types [default: http:// and the listening address].
        #[arg(long, value_name = "URL")]
        public_url: Option<String>,
        /// Open the database on a network, FUSE or VM-shared folder too, where it can be corrupted.
        #[arg(long)]
        allow_network_folder: bool,
    },
    /// Serve an invented town from a fresh temporary database, forgotten at the end.
    Demo {
        /// Address and port on this machine; port 0 takes a free one.
        #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = address)]
        listen: SocketAddr,
    },
    /// Print the description of the API, OpenAPI 3.1.
    Openapi,
    /// Ask a running service whether it can serve: exit code 0 where it can, 1 where not.
    Health(health::Args),
}

fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse().map_err(|_| "write the address in numbers, with its port, such as 127.0.0.1:8080".to_owned())
}

#[derive(Debug, Error)]
enum Failure {
    #[error("{0} is not an address of this machine alone. There are no keys yet: listen on 127.0.0.1 or [::1]")]
    NotLoopback(SocketAddr),
    #[error("{0:?} is no address for callers: it must look like https://hydrants.example, without user or query")]
    PublicUrl(String),
    #[error("cannot listen on {address}: {error}. Stop what listens there, or choose another --listen address")]
    Listen { address: SocketAddr, error: io::Error },
    #[error("{0}")]
    Open(#[from] OpenError),
    #[error("the demo town cannot be loaded: {0}")]
    Demo(#[from] demo::Unloadable),
    #[error("{url} is not ready: {reason}")]
    NotReady { url: String, reason: String },
    #[error("{0}")]
    Io(#[from] io::Error),
}

impl Failure {
    const fn exit_code(&self) -> u8 {
        match self {
            Self::NotLoopback(_) | Self::PublicUrl(_) => 2,
            Self::Listen { .. } => 3,
            Self::Open(OpenError::CannotCreate { .. } | OpenError::NetworkFolder { .. }) => 4,
            Self::Open(OpenError::NotADatabase { .. } | OpenError::NotOurs { .. } | OpenError::Newer { .. }) => 5,
            Self::Open(_) | Self::Demo(_) | Self::NotReady { .. } | Self::Io(_) => 1,
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
        Command::Serve { database, listen, public_url, allow_network_folder } => {
            let public_url = public_url.map(checked_url).transpose()?;
            let listener = bind(listen).await?;
            let store = Store::open(&database, &OpenOptions { allow_network_folder }).await?;
            let app = state(store, &listener, public_url)?;
            tracing::info!(address = %listener.local_addr()?, database = %database.display(), "serving");
            serve::serve(listener, app, serve::stop_signal()?).await?;
        }
        Command::Demo { listen } => {
            let listener = bind(listen).await?;
            let folder = tempfile::tempdir()?;
            // The demo is forgotten at its end: a temporary folder that a network serves can lose nothing.
            let options = OpenOptions { allow_network_folder: true };
            let store = Store::open(&folder.path().join("demo.db"), &options).await?;
            let app = state(store, &listener, None)?;
            demo::load(&app).await?;
            print(&demo::greeting(&app).await?);
            serve::serve(listener, app, serve::stop_signal()?).await?;
        }
        Command::Openapi => print(&format!("{:#}", app::openapi())),
        Command::Health(args) => health::run(args).await?,
    }
    Ok(())
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
