//! The file of settings: TOML, one key a setting, and nothing else in it.

use std::collections::BTreeMap;
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};

use thiserror::Error;
use toml::de::{DeTable, DeValue};

use super::{FILE, SETTINGS};

/// Largest file of settings.
pub(crate) const MAX_SETTINGS_BYTES: u64 = 64 * 1024;

/// Why the file of settings cannot be used.
#[derive(Debug, PartialEq, Eq, Error)]
pub(crate) enum Misread {
    #[error("the settings in {} cannot be read: {reason}", path.display())]
    Unreadable { path: PathBuf, reason: String },
    #[error("{}, line {line}: {reason}", path.display())]
    NotToml { path: PathBuf, line: usize, reason: String },
    #[error("{}, line {line}: there is no setting {key}. There are: {}", path.display(), keys().join(", "))]
    UnknownKey { path: PathBuf, line: usize, key: String },
    #[error("{}, line {line}: {key} must be text, a whole number in digits of base ten, true or false", path.display())]
    NotAValue { path: PathBuf, line: usize, key: String },
}

fn keys() -> Vec<String> {
    SETTINGS.iter().filter(|setting| setting.name != FILE).map(super::Setting::key).collect()
}

/// The settings in the file, by name.
pub(crate) fn read(path: &Path) -> Result<BTreeMap<&'static str, String>, Misread> {
    let unreadable = |reason: String| Misread::Unreadable { path: path.to_owned(), reason };
    let size = fs::metadata(path).map_err(|error| unreadable(error.to_string()))?.len();
    if size > MAX_SETTINGS_BYTES {
        return Err(unreadable(format!("it has {size} bytes, and settings at most {MAX_SETTINGS_BYTES}")));
    }
    parse(path, &fs::read_to_string(path).map_err(|error| unreadable(error.to_string()))?)
}

fn parse(path: &Path, text: &str) -> Result<BTreeMap<&'static str, String>, Misread> {
    let line = |span: Range<usize>| 1 + text.bytes().take(span.start).filter(|byte| *byte == b'\n').count();
    let table = DeTable::parse(text).map_err(|error| {
        let line = line(error.span().unwrap_or_default());
        let lacks_quotes = text.lines().nth(line - 1).is_some_and(lacks_quotes);
        let reason = if lacks_quotes { "write text in quotes" } else { error.message() };
        Misread::NotToml { path: path.to_owned(), line, reason: reason.to_owned() }
    })?;
    let mut found = BTreeMap::new();
    for (key, value) in table.get_ref() {
        let (line, key) = (line(key.span()), key.get_ref());
        let known = SETTINGS.iter().find(|setting| setting.name != FILE && setting.key() == key.as_ref());
        let Some(setting) = known else {
            return Err(Misread::UnknownKey { path: path.to_owned(), line, key: key.to_string() });
        };
        let value = match value.get_ref() {
            DeValue::String(text) => text.to_string(),
            // Digits of another base would be taken for those of ten.
            DeValue::Integer(number) if number.radix() == 10 => number.as_str().to_owned(),
            DeValue::Boolean(yes) => yes.to_string(),
            _ => return Err(Misread::NotAValue { path: path.to_owned(), line, key: key.to_string() }),
        };
        found.insert(setting.name, value);
    }
    Ok(found)
}

/// Whether the value of a line looks like text and begins with no quote: what the reader then says is of no help.
fn lacks_quotes(line: &str) -> bool {
    let value = line.split_once('=').map_or("", |(_, value)| value.split('#').next().unwrap_or_default().trim());
    let is_number = value.replace('_', "").parse::<f64>().is_ok();
    !(is_number || matches!(value, "" | "true" | "false") || value.starts_with(['"', '\'', '[', '{']))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Result<BTreeMap<&'static str, String>, Misread> {
        parse(Path::new("longlay.toml"), text)
    }

    #[test]
    fn text_numbers_and_yes_or_no_are_read() {
        let found = parsed("database = \"town.db\"\ndrain_s = 20\nallow_network_folder = true\n").unwrap();
        let expected = [("allow-network-folder", "true"), ("database", "town.db"), ("drain-s", "20")];
        assert_eq!(found, expected.map(|(name, value)| (name, value.to_owned())).into());
    }

    #[test]
    fn an_unknown_key_is_named_with_its_line() {
        let told = parsed("# ours\ndatabase = \"town.db\"\nlisten_on = \"127.0.0.1:1\"\n").unwrap_err().to_string();
        assert!(
            told.starts_with("longlay.toml, line 3: there is no setting listen_on. There are: database, listen,"),
            "{told}"
        );
        for text in ["config = \"x\"", "public-url = \"x\"", "[serve]\nlisten = \"x\""] {
            assert!(matches!(parsed(text), Err(Misread::UnknownKey { line: 1, .. })), "{text}");
        }
    }

    #[test]
    fn text_without_quotes_is_told_so_and_a_key_given_twice_is_not() {
        for text in ["database = town.db", "listen = 127.0.0.1:8080", "# ours\ntls_cert = /etc/town.pem\n"] {
            let told = parsed(text).unwrap_err().to_string();
            assert!(told.ends_with(": write text in quotes"), "{told}");
        }
        for line in ["drain_s = 2 # s", "drain_s = 1_0", "allow_plain_http = true", "database = 'town.db'"] {
            let told = parsed(&format!("{line}\n{line}")).unwrap_err().to_string();
            assert!(!told.contains("quotes"), "{told}");
        }
    }

    #[test]
    fn what_is_no_toml_or_no_value_is_told_with_its_line() {
        assert!(matches!(parsed("\n\ndatabase = town.db"), Err(Misread::NotToml { line: 3, .. })));
        assert!(matches!(parsed("drain_s = 1\ndrain_s = 2"), Err(Misread::NotToml { line: 2, .. })));
        for value in ["1.5", "[1]", "{}", "1979-05-27", "0x10", "0o17", "0b101"] {
            assert!(
                matches!(parsed(&format!("drain_s = {value}")), Err(Misread::NotAValue { line: 1, .. })),
                "{value}"
            );
        }
    }
}
