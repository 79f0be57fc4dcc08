//! Keys: who may ask what. A key's secret is not kept, only what tells that a secret is the key's.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use chrono::{DateTime, Utc};
use thiserror::Error;
use uuid::Uuid;

/// Longest name of a key, characters.
pub const MAX_KEY_NAME_CHARS: usize = 64;

/// What a key lets its holder do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// Read every record: the records system.
    RecordsRead,
    /// Ask what a lay brings, and the formulas behind it: the preplan tool.
    LayCalculate,
    /// Ask what a hydrant brings over a standard lay: dispatch.
    DispatchRead,
    /// Read hydrants and what they give: a map.
    GisRead,
    /// Take whole sets of records out.
    GisExport,
    /// Record hydrants, tests and drills: who stands at the hydrant.
    FieldWrite,
    /// Everything, the keys included.
    Admin,
}

/// A text that names no scope.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error(
    "there is no scope {0}; the scopes are records:read, lay:calculate, dispatch:read, gis:read, gis:export, field:write, admin"
)]
pub struct UnknownScope(String);

impl Scope {
    /// Every scope.
    pub const ALL: [Self; 7] = [
        Self::RecordsRead,
        Self::LayCalculate,
        Self::DispatchRead,
        Self::GisRead,
        Self::GisExport,
        Self::FieldWrite,
        Self::Admin,
    ];

    /// As it is written.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::RecordsRead => "records:read",
            Self::LayCalculate => "lay:calculate",
            Self::DispatchRead => "dispatch:read",
            Self::GisRead => "gis:read",
            Self::GisExport => "gis:export",
            Self::FieldWrite => "field:write",
            Self::Admin => "admin",
        }
    }
}

impl fmt::Display for Scope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl FromStr for Scope {
    type Err = UnknownScope;

    fn from_str(text: &str) -> Result<Self, UnknownScope> {
        let found = Self::ALL.into_iter().find(|scope| scope.as_str() == text);
        found.ok_or_else(|| UnknownScope(text.chars().take(MAX_KEY_NAME_CHARS).collect()))
    }
}

/// What a key is called: 1 to 64 characters, not blank, none of them a control character, because it stands in logs and in the audit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyName(String);

/// A name that no key has.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("the name of a key is 1 to {MAX_KEY_NAME_CHARS} characters, not blank and without control characters")]
pub struct InvalidKeyName;

impl KeyName {
    /// Checks and takes a name.
    ///
    /// # Errors
    /// Blank, too long, or with a control character.
    pub fn new(name: impl Into<String>) -> Result<Self, InvalidKeyName> {
        let name = name.into();
        let sound = !name.trim().is_empty()
            && name.chars().nth(MAX_KEY_NAME_CHARS).is_none()
            && !name.chars().any(char::is_control);
        if sound { Ok(Self(name)) } else { Err(InvalidKeyName) }
    }

    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for KeyName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for KeyName {
    type Err = InvalidKeyName;

    fn from_str(name: &str) -> Result<Self, InvalidKeyName> {
        Self::new(name)
    }
}

/// The SHA-256 of a key's secret: it tells the secret when it comes, and cannot be turned back into it.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct KeyHash(pub [u8; 32]);

impl fmt::Debug for KeyHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("KeyHash")
    }
}

/// A key as it is kept. It is never deleted: what it did is still put down to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    /// Its id.
    pub id: Uuid,
    /// What it is called.
    pub name: KeyName,
    /// What it lets its holder do.
    pub scopes: BTreeSet<Scope>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Since when it is good for nothing.
    pub revoked_at: Option<DateTime<Utc>>,
    /// What tells its secret.
    pub hash: KeyHash,
}

impl Key {
    /// Whether it still opens anything.
    pub const fn is_live(&self) -> bool {
        self.revoked_at.is_none()
    }

    /// Whether it is live and one of these scopes is its, or it may do everything.
    pub fn may(&self, any_of: &[Scope]) -> bool {
        self.is_live()
            && (self.scopes.contains(&Scope::Admin) || any_of.iter().any(|scope| self.scopes.contains(scope)))
    }

    /// Whether it can make and revoke keys.
    pub fn is_live_admin(&self) -> bool {
        self.may(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(scopes: &[Scope]) -> Key {
        Key {
            id: Uuid::nil(),
            name: KeyName::new("Preplan").unwrap(),
            scopes: scopes.iter().copied().collect(),
            created_at: DateTime::UNIX_EPOCH,
            revoked_at: None,
            hash: KeyHash([7; 32]),
        }
    }

    #[test]
    fn a_scope_is_read_as_it_is_written_and_nothing_else_is_one() {
        for scope in Scope::ALL {
            assert_eq!(scope.as_str().parse(), Ok(scope));
        }
        for bad in ["", "Admin", "admin ", "records", "records:write", "*"] {
            assert!(bad.parse::<Scope>().is_err(), "{bad}");
        }
    }

    #[test]
    fn the_refusal_of_a_scope_names_every_scope() {
        let said = "all".parse::<Scope>().unwrap_err().to_string();
        assert!(Scope::ALL.iter().all(|scope| said.contains(scope.as_str())), "{said}");
    }

    #[test]
    fn an_admin_may_do_everything_until_revoked() {
        let admin = key(&[Scope::Admin]);
        assert!(admin.is_live_admin() && admin.may(&[Scope::GisRead]));
        let revoked = Key { revoked_at: Some(DateTime::UNIX_EPOCH), ..admin };
        assert!(!revoked.is_live_admin() && !revoked.may(&[Scope::Admin]));
    }

    #[test]
    fn any_one_of_the_scopes_is_enough_and_no_other_is() {
        let dispatch = key(&[Scope::DispatchRead]);
        assert!(dispatch.may(&[Scope::LayCalculate, Scope::DispatchRead]));
        assert!(!dispatch.may(&[Scope::LayCalculate]) && !dispatch.is_live_admin() && !key(&[]).may(&[Scope::GisRead]));
    }

    #[test]
    fn a_name_can_stand_in_a_line_of_a_log() {
        assert!(KeyName::new("Preplan, 2nd floor").is_ok() && KeyName::new("é".repeat(64)).is_ok());
        for bad in ["", "  ", "a\nb", "a\u{1b}[31m", &"x".repeat(65)] {
            assert_eq!(KeyName::new(bad), Err(InvalidKeyName), "{bad:?}");
        }
    }

    #[test]
    fn what_is_kept_of_a_secret_is_not_printed() {
        assert!(format!("{:?}", key(&[])).ends_with("hash: KeyHash }"));
    }
}
