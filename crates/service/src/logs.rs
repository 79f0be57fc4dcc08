//! The log on standard error: lines to read, or an object a line for a collector.

use std::io::{self, IsTerminal};
use std::str::FromStr;

use tracing_subscriber::EnvFilter;

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum LogFormat {
    /// Lines to read.
    Text,
    /// A JSON object a line.
    Json,
}

impl FromStr for LogFormat {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "text" => Ok(Self::Text),
            "json" => Ok(Self::Json),
            _ => Err("must be text or json"),
        }
    }
}

/// Starts it, at the level that `RUST_LOG` asks for.
pub(crate) fn start(format: LogFormat) -> io::Result<()> {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info,sqlx=warn"));
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr);
    match format {
        LogFormat::Text => log.with_ansi(io::stderr().is_terminal()).try_init(),
        LogFormat::Json => log.json().flatten_event(true).with_span_list(false).try_init(),
    }
    .map_err(io::Error::other)
}
