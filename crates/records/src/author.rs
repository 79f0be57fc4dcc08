//! Who makes a change, as the audit keeps it.

use uuid::Uuid;

/// Whoever a change is put down to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Author {
    /// What they are called: a key's name, or the part of the program that writes by itself.
    pub name: String,
    /// The key they came with; none where no key is asked for.
    pub key_id: Option<Uuid>,
}

impl Author {
    /// Whoever works at the machine itself, by the command line.
    pub fn command_line() -> Self {
        Self { name: "command line".to_owned(), key_id: None }
    }

    /// Whoever asks a service that asks for no keys: the demo.
    pub fn keyless() -> Self {
        Self { name: "no key asked for".to_owned(), key_id: None }
    }
}
