//! The settings in force: each with where it came from, read into its type.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use axum::http::Uri;

use super::unusable::{Origin, Unusable};
use super::{FILE, Given, SETTINGS, file};
use crate::logs::LogFormat;
use crate::pools::Sizes;

/// Every setting that has a value, with where the value is from.
#[derive(Debug)]
pub(crate) struct Settings(BTreeMap<&'static str, (String, Origin)>);

impl Settings {
    /// Out of the arguments, the environment, the file that either names, and the defaults.
    pub(crate) fn settle(given: &Given, environment: impl Fn(&str) -> Option<String>) -> Result<Self, Unusable> {
        let told = |name: &str, variable: &str| {
            let argument = given.0.get(name).map(|value| (value.clone(), Origin::Argument));
            argument.or_else(|| environment(variable).map(|value| (value, Origin::Environment(variable.to_owned()))))
        };
        let file = told(FILE, "LONGLAY_CONFIG").map(|(path, _)| PathBuf::from(path));
        let in_file = file.as_deref().map(file::read).transpose()?.unwrap_or_default();
        let mut settled = BTreeMap::new();
        for setting in SETTINGS {
            let from_file = || Some((in_file.get(setting.name)?.clone(), Origin::File(file.clone()?)));
            let default = || (!setting.default.is_empty()).then(|| (setting.default.to_owned(), Origin::Default));
            if let Some(found) = told(setting.name, &setting.variable()).or_else(from_file).or_else(default) {
                settled.insert(setting.name, found);
            }
        }
        Ok(Self(settled))
    }

    /// Variables that look like settings and are none: a typo there would be without effect and without a word.
    pub(crate) fn strangers(variables: impl Iterator<Item = String>) -> Vec<String> {
        let ours: Vec<_> = SETTINGS.iter().map(super::Setting::variable).collect();
        variables.filter(|name| name.starts_with("LONGLAY_") && !ours.contains(name)).collect()
    }

    /// Each setting with its value and where that came from, a line each.
    pub(crate) fn listed(&self) -> String {
        let line = |setting: &super::Setting| match self.0.get(setting.name) {
            Some((value, origin)) => format!("{} = {value}  ({origin})", setting.key()),
            None => format!("{} is not set", setting.key()),
        };
        SETTINGS.iter().map(line).collect::<Vec<_>>().join("\n")
    }

    fn maybe<T, E: Display>(
        &self,
        name: &'static str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Result<Option<T>, Unusable> {
        let Some((value, origin)) = self.0.get(name) else { return Ok(None) };
        read(value).map(Some).map_err(|error| Unusable::Value {
            name,
            value: value.clone(),
            origin: origin.clone(),
            reason: error.to_string(),
        })
    }

    fn one<T, E: Display>(&self, name: &'static str, read: impl FnOnce(&str) -> Result<T, E>) -> Result<T, Unusable> {
        self.maybe(name, read)?.ok_or(Unusable::Missing(name))
    }

    /// Reads every setting into its type: all that cannot be used.
    pub(crate) fn faults(&self) -> Vec<Unusable> {
        let read = [
            self.database().err(),
            self.listen().err(),
            self.public_url().err(),
            self.tls().err(),
            self.allow_plain_http().err(),
            self.allow_network_folder().err(),
            self.log_format().err(),
            self.drain().err(),
            self.connections().err(),
            self.pools().err(),
        ];
        read.into_iter().flatten().collect()
    }

    /// Refuses settings of which any cannot be used, and names all of those.
    pub(crate) fn check(&self) -> Result<(), Unusable> {
        let mut faults = self.faults();
        match faults.len() {
            0 => Ok(()),
            1 => Err(faults.remove(0)),
            _ => Err(Unusable::Several(faults)),
        }
    }

    /// The database.
    pub(crate) fn database(&self) -> Result<PathBuf, Unusable> {
        self.one("database", |path| if path.is_empty() { Err("give a path") } else { Ok(Path::new(path).to_owned()) })
    }

    /// Where to listen.
    pub(crate) fn listen(&self) -> Result<SocketAddr, Unusable> {
        self.one("listen", address)
    }

    /// The address callers see.
    pub(crate) fn public_url(&self) -> Result<Option<String>, Unusable> {
        self.maybe("public-url", checked_url)
    }

    /// The files of the certificate and of its key.
    pub(crate) fn tls(&self) -> Result<Option<(PathBuf, PathBuf)>, Unusable> {
        let file =
            |name| self.maybe(name, |path| if path.is_empty() { Err("give a path") } else { Ok(PathBuf::from(path)) });
        match (file("tls-cert")?, file("tls-key")?) {
            (Some(certificate), Some(key)) => Ok(Some((certificate, key))),
            (None, None) => Ok(None),
            (Some(_), None) => Err(Unusable::Missing("tls-key")),
            (None, Some(_)) => Err(Unusable::Missing("tls-cert")),
        }
    }

    /// Whether other machines are served without TLS.
    pub(crate) fn allow_plain_http(&self) -> Result<bool, Unusable> {
        self.one("allow-plain-http", yes_or_no)
    }

    /// Whether a shared folder is taken.
    pub(crate) fn allow_network_folder(&self) -> Result<bool, Unusable> {
        self.one("allow-network-folder", yes_or_no)
    }

    /// How the log is written.
    pub(crate) fn log_format(&self) -> Result<LogFormat, Unusable> {
        self.one("log-format", str::parse)
    }

    /// How long requests under way may take at the end.
    pub(crate) fn drain(&self) -> Result<Duration, Unusable> {
        self.one("drain-s", |text| within(text, 0, 600)).map(Duration::from_secs)
    }

    /// Most connections at once.
    pub(crate) fn connections(&self) -> Result<usize, Unusable> {
        self.size("connections", 8, 65_536)
    }

    /// How many requests of each kind are served at once.
    pub(crate) fn pools(&self) -> Result<Sizes, Unusable> {
        Ok(Sizes {
            dispatch: self.size("dispatch-requests", 1, 4096)?,
            records: self.size("record-requests", 1, 4096)?,
            calculations: self.size("calculation-requests", 1, 4096)?,
            // The store has eight connections to read from, and a stream may keep one to its end: two stay for the others.
            heavy: self.size("heavy-requests", 1, 6)?,
        })
    }

    fn size(&self, name: &'static str, least: u64, most: u64) -> Result<usize, Unusable> {
        let read = |text: &str| within(text, least, most).and_then(|n| usize::try_from(n).map_err(|e| e.to_string()));
        self.one(name, read)
    }
}

fn within(text: &str, least: u64, most: u64) -> Result<u64, String> {
    let found = text.parse().ok().filter(|number| (least..=most).contains(number));
    found.ok_or_else(|| format!("must be a whole number from {least} to {most}"))
}

fn yes_or_no(text: &str) -> Result<bool, &'static str> {
    text.parse().map_err(|_| "must be true or false")
}

/// An address to listen on.
pub(crate) fn address(text: &str) -> Result<SocketAddr, &'static str> {
    text.parse().map_err(|_| "write the address in numbers, with its port, such as 127.0.0.1:8080")
}

fn checked_url(url: &str) -> Result<String, &'static str> {
    let sound = url.parse::<Uri>().is_ok_and(|uri| {
        matches!(uri.scheme_str(), Some("http" | "https"))
            && uri.authority().is_some_and(|authority| !authority.as_str().contains('@'))
            && uri.query().is_none()
    });
    if sound && !url.contains('#') {
        return Ok(url.trim_end_matches('/').to_owned());
    }
    Err("no address for callers: it must look like https://hydrants.example, without user or query")
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn given(settings: &[(&'static str, &str)]) -> Given {
        Given(settings.iter().map(|(name, value)| (*name, (*value).to_owned())).collect())
    }

    #[test]
    fn an_argument_stands_before_the_environment_and_that_before_the_file_and_that_before_the_default() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("longlay.toml");
        fs::write(&path, "drain_s = 3\nlisten = \"127.0.0.1:3\"\ndatabase = \"three.db\"\n").unwrap();
        let environment = |name: &str| match name {
            "LONGLAY_CONFIG" => Some(path.to_str().unwrap().to_owned()),
            "LONGLAY_LISTEN" => Some("127.0.0.1:2".to_owned()),
            "LONGLAY_DATABASE" => Some("two.db".to_owned()),
            _ => None,
        };
        let settings = Settings::settle(&given(&[("database", "one.db")]), environment).unwrap();
        assert_eq!(settings.database(), Ok(PathBuf::from("one.db")));
        assert_eq!(settings.listen(), Ok("127.0.0.1:2".parse().unwrap()));
        assert_eq!(settings.drain(), Ok(Duration::from_secs(3)));
        assert_eq!(settings.log_format(), Ok(LogFormat::Text));
        let listed = settings.listed();
        for line in ["database = one.db  (argument)", "listen = 127.0.0.1:2  (LONGLAY_LISTEN)", "public_url is not set"]
        {
            assert!(listed.lines().any(|found| found == line), "{listed}");
        }
        assert!(listed.contains(&format!("drain_s = 3  ({})", path.display())), "{listed}");
    }

    #[test]
    fn a_value_out_of_bounds_is_told_with_its_setting_and_where_it_stands() {
        let settings = Settings::settle(&given(&[("drain-s", "601"), ("heavy-requests", "7")]), |_| None).unwrap();
        let told = settings.drain().unwrap_err().to_string();
        assert_eq!(told, "drain-s = \"601\" (argument): must be a whole number from 0 to 600");
        assert!(settings.pools().is_err());
        let told = settings.database().unwrap_err().to_string();
        assert_eq!(told, "say --database, set LONGLAY_DATABASE, or write database in the file of settings");
    }

    #[test]
    fn every_setting_that_cannot_be_used_is_told_at_once() {
        let bad = [("listen", "127.0.0.1:99999"), ("drain-s", "soon"), ("tls-cert", "town.pem"), ("database", "d")];
        let told = Settings::settle(&given(&bad), |_| None).unwrap().check().unwrap_err().to_string();
        let lines: Vec<_> = told.lines().map(|line| line.split(' ').next().unwrap()).collect();
        assert_eq!(lines, ["listen", "say", "drain-s"], "{told}");
    }

    #[test]
    fn a_certificate_without_its_key_is_no_tls() {
        let half = Settings::settle(&given(&[("tls-cert", "town.pem")]), |_| None).unwrap();
        let told = half.tls().unwrap_err().to_string();
        assert_eq!(told, "say --tls-key, set LONGLAY_TLS_KEY, or write tls_key in the file of settings");
        let whole = Settings::settle(&given(&[("tls-cert", "c.pem"), ("tls-key", "k.pem")]), |_| None).unwrap();
        assert_eq!(whole.tls(), Ok(Some((PathBuf::from("c.pem"), PathBuf::from("k.pem")))));
    }

    #[test]
    fn every_default_can_be_used() {
        let settings = Settings::settle(&given(&[("database", "town.db")]), |_| None).unwrap();
        settings.check().unwrap();
        assert_eq!(settings.drain(), Ok(Duration::from_secs(10)));
    }

    #[test]
    fn a_variable_that_is_no_setting_is_seen() {
        let variables = ["LONGLAY_LISTN", "LONGLAY_LISTEN", "PATH"].map(str::to_owned);
        assert_eq!(Settings::strangers(variables.into_iter()), ["LONGLAY_LISTN"]);
    }

    #[test]
    fn an_address_for_callers_is_whole_and_without_a_slash_at_its_end() {
        assert_eq!(checked_url("https://h.example/longlay/").unwrap(), "https://h.example/longlay");
        for bad in [
            "h.example",
            "ftp://h.example",
            "http://h.example?x=1",
            "http://h.example#x",
            "",
            "http://",
            "https://user:pw@h.example",
        ] {
            assert!(checked_url(bad).is_err(), "{bad}");
        }
    }
}
