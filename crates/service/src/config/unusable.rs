//! Why settings cannot be used, each with where it came from.

use std::fmt::{self, Display};
use std::path::PathBuf;

use thiserror::Error;

use super::Misread;

/// Why the settings cannot be used.
#[derive(Debug, PartialEq, Eq, Error)]
pub(crate) enum Unusable {
    #[error("{0}")]
    File(#[from] Misread),
    #[error("say --{0}, set LONGLAY_{variable}, or write {key} in the file of settings", variable = key(.0).to_uppercase(), key = key(.0))]
    Missing(&'static str),
    #[error("{name} = {value:?} ({origin}): {reason}")]
    Value { name: &'static str, value: String, origin: Origin, reason: String },
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Several(Vec<Self>),
}

fn key(name: &str) -> String {
    name.replace('-', "_")
}

/// Where a setting came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Origin {
    Argument,
    Environment(String),
    File(PathBuf),
    Default,
}

impl Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Argument => f.write_str("argument"),
            Self::Environment(variable) => f.write_str(variable),
            Self::File(path) => write!(f, "{}", path.display()),
            Self::Default => f.write_str("default"),
        }
    }
}
