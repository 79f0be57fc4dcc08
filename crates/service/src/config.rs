//! The settings of `serve`: one list, from which come the arguments, the variables of the environment, the keys of the file and the table of the
//! README. What stands in several places is settled in this order: argument, environment, file, default.

mod file;
mod settled;
mod unusable;

use clap::{Arg, ArgAction, ArgMatches, Command, FromArgMatches};
use std::collections::BTreeMap;

pub(crate) use file::{MAX_SETTINGS_BYTES, Misread};
pub(crate) use settled::{Settings, address};
pub(crate) use unusable::Unusable;

/// One setting. Its argument, its variable and its key are its name in three spellings.
#[derive(Debug)]
pub(crate) struct Setting {
    /// As in the argument: `public-url`.
    pub(crate) name: &'static str,
    /// What its value is; empty for one that is true or false.
    value: &'static str,
    /// What holds where it is not given; empty where the service finds it, or must be told.
    pub(crate) default: &'static str,
    /// What it does.
    help: &'static str,
}

/// The setting that says where the file of settings is, and so cannot stand in it.
pub(crate) const FILE: &str = "config";

/// Every setting.
pub(crate) const SETTINGS: &[Setting] = &[
    setting(FILE, "FILE", "", "a TOML file with any of the settings below"),
    setting(
        "database",
        "FILE",
        "",
        "the one file everything is kept in, made where it is not there; not on a network share",
    ),
    setting(
        "listen",
        "ADDR",
        "127.0.0.1:8080",
        "address and port; port 0 takes a free one; one that other machines can reach needs TLS",
    ),
    setting(
        "public-url",
        "URL",
        "",
        "the address callers see, for links and problem types; else `http://` or `https://` and the address",
    ),
    setting("tls-cert", "FILE", "", "PEM file of the certificate to serve over TLS with, its chain behind it"),
    setting("tls-key", "FILE", "", "PEM file of the certificate's private key"),
    setting(
        "allow-plain-http",
        "",
        "false",
        "serve other machines without TLS, where keys and records can be read on the way: behind a proxy that does TLS",
    ),
    setting(
        "allow-network-folder",
        "",
        "false",
        "open the database on a network, FUSE or VM-shared folder too, where it can be corrupted",
    ),
    setting(
        "log-format",
        "FORMAT",
        "text",
        "how the log on standard error is written: `text`, or `json`, an object a line",
    ),
    setting(
        "drain-s",
        "SECONDS",
        "10",
        "how long requests under way may take once the service is told to stop, 0 to 600",
    ),
    setting("connections", "N", "512", "most connections at once, 8 to 65536"),
    setting("dispatch-requests", "N", "64", "most look-ups of dispatch at once: nothing else can take their places"),
    setting("record-requests", "N", "64", "most other requests at once that read or write records"),
    setting("calculation-requests", "N", "32", "most calculations at once"),
    setting("heavy-requests", "N", "4", "most imports, exports, streams, relays and combined supplies at once, 1 to 6"),
];

const fn setting(name: &'static str, value: &'static str, default: &'static str, help: &'static str) -> Setting {
    Setting { name, value, default, help }
}

impl Setting {
    /// As in the environment: `LONGLAY_PUBLIC_URL`.
    pub(crate) fn variable(&self) -> String {
        format!("LONGLAY_{}", self.key().to_uppercase())
    }

    /// As in the file: `public_url`.
    pub(crate) fn key(&self) -> String {
        self.name.replace('-', "_")
    }

    fn argument(&self) -> Arg {
        let help = format!("{}{} [env: {}]", self.help[..1].to_uppercase(), &self.help[1..], self.variable());
        let default = if self.default.is_empty() { String::new() } else { format!(" [default: {}]", self.default) };
        let argument = Arg::new(self.name).long(self.name).help(help + &default).action(ArgAction::Set);
        match self.value {
            // `--allow-network-folder` alone says yes; `=false` takes back what the environment or the file says.
            "" => argument.num_args(0..=1).require_equals(true).default_missing_value("true").value_name("true|false"),
            value => argument.value_name(value),
        }
    }
}

/// What was given as arguments, by the name of the setting.
#[derive(Debug, Clone, Default)]
pub(crate) struct Given(pub(crate) BTreeMap<&'static str, String>);

impl clap::Args for Given {
    fn augment_args(command: Command) -> Command {
        SETTINGS.iter().fold(command, |command, setting| command.arg(setting.argument()))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for Given {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = |setting: &Setting| Some((setting.name, matches.get_one::<String>(setting.name)?.clone()));
        Ok(Self(SETTINGS.iter().filter_map(given).collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        self.0.extend(Self::from_arg_matches(matches)?.0);
        Ok(())
    }
}

/// The table of the README.
pub(crate) fn table() -> String {
    let head = "| argument | environment | key in the file | default | what it does |\n|---|---|---|---|---|\n";
    let row = |setting: &Setting| {
        let value = if setting.value.is_empty() { String::new() } else { format!(" {}", setting.value) };
        let key = if setting.name == FILE { String::new() } else { format!(" `{}`", setting.key()) };
        let default = if setting.default.is_empty() { String::new() } else { format!(" `{}`", setting.default) };
        format!("| `--{}{value}` | `{}` |{key} |{default} | {} |\n", setting.name, setting.variable(), setting.help)
    };
    head.to_owned() + &SETTINGS.iter().map(row).collect::<String>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_the_readme_is_the_list_in_the_code() {
        let readme = include_str!("../../../README.md");
        assert!(readme.contains(&table()), "put the output of `longlay config --table` there");
    }

    #[test]
    fn a_setting_has_one_name_in_three_spellings() {
        let setting = SETTINGS.iter().find(|setting| setting.name == "public-url").unwrap();
        assert_eq!((setting.variable().as_str(), setting.key().as_str()), ("LONGLAY_PUBLIC_URL", "public_url"));
        for (i, setting) in SETTINGS.iter().enumerate() {
            assert!(SETTINGS[..i].iter().all(|earlier| earlier.name != setting.name), "{}", setting.name);
        }
    }
}
