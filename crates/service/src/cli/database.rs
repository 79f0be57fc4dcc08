//! Which database a command works on: said as `serve` is told, in an argument, the environment or the file of settings.

use std::env;
use std::path::PathBuf;

use clap::Args;

use super::Failure;
use crate::config::{FILE, Given, Settings};

#[derive(Debug, Args)]
pub(super) struct Database {
    /// The database; else `LONGLAY_DATABASE`, or `database` in the file of settings.
    #[arg(long, value_name = "FILE")]
    database: Option<PathBuf>,
    /// The file of settings; else `LONGLAY_CONFIG`.
    #[arg(long, value_name = "FILE")]
    config: Option<String>,
}

impl Database {
    /// Where it is.
    pub(super) fn path(&self) -> Result<PathBuf, Failure> {
        match &self.database {
            Some(path) => Ok(path.clone()),
            None => self.settled(|name| env::var(name).ok()),
        }
    }

    fn settled(&self, environment: impl Fn(&str) -> Option<String>) -> Result<PathBuf, Failure> {
        let given = Given(self.config.iter().map(|file| (FILE, file.clone())).collect());
        Ok(Settings::settle(&given, environment)?.database()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(config: Option<String>, variable: Option<&str>) -> Result<PathBuf, Failure> {
        let database = Database { database: None, config };
        database.settled(|name| variable.filter(|_| name == "LONGLAY_DATABASE").map(str::to_owned))
    }

    #[test]
    fn it_is_found_where_serve_finds_it() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("longlay.toml");
        std::fs::write(&file, "database = \"file.db\"\n").unwrap();
        let config = Some(file.to_str().unwrap().to_owned());
        assert_eq!(settled(config.clone(), None).unwrap(), PathBuf::from("file.db"));
        assert_eq!(settled(config, Some("variable.db")).unwrap(), PathBuf::from("variable.db"));
        let told = settled(None, None).unwrap_err();
        assert!(told.exit_code() == 2 && told.to_string().starts_with("say --database"), "{told}");
    }
}
