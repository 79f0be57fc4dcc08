//! `longlay keys`: keys made, listed and revoked at the machine itself, while nothing serves the database.

use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::Path;

use chrono::SecondsFormat;
use clap::{Args, Subcommand};
use longlay_records::author::Author;
use longlay_records::key::{Key, KeyName, Scope};
use longlay_store::{Change, OpenOptions, RevokeOutcome, Store};
use uuid::Uuid;

use super::database::Database;
use super::{Failure, print};
use crate::clock::{Clock, Ids};
use crate::keyring::Secret;

#[derive(Debug, Args)]
pub(super) struct KeysArgs {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// Make a key and print it, this once.
    Create {
        #[command(flatten)]
        file: File,
        /// What it is called in the log and in the audit.
        #[arg(long)]
        name: KeyName,
        /// What it lets its holder do, with commas between.
        #[arg(long, value_name = "SCOPE[,SCOPE]", value_delimiter = ',', required = true)]
        scopes: Vec<Scope>,
    },
    /// List the keys, without their secrets.
    List {
        #[command(flatten)]
        file: File,
    },
    /// Revoke a key: it opens nothing any more.
    Revoke {
        #[command(flatten)]
        file: File,
        /// Its id, as `keys list` shows it.
        #[arg(value_name = "ID", value_parser = key_id)]
        id: Uuid,
    },
}

#[derive(Debug, Args)]
struct File {
    #[command(flatten)]
    database: Database,
    /// Open the database on a network, FUSE or VM-shared folder too, where it can be corrupted.
    #[arg(long)]
    allow_network_folder: bool,
}

impl File {
    async fn open(&self) -> Result<Store, Failure> {
        Ok(Store::open_there(&self.database.path()?, &OpenOptions { allow_network_folder: self.allow_network_folder })
            .await?)
    }
}

pub(super) async fn run(args: KeysArgs) -> Result<(), Failure> {
    match args.action {
        Action::Create { file, name, scopes } => {
            let store = file.open().await?;
            let created = create(&store, name, &scopes).await;
            store.close().await;
            created
        }
        Action::List { file } => {
            let store = file.open().await?;
            let keys = store.all_keys().await;
            store.close().await;
            print(keys.map(|keys| listed(&keys))?.trim_end())
        }
        Action::Revoke { file, id } => {
            let store = file.open().await?;
            let outcome = store.revoke_key(id, &Change::by(Author::command_line(), Clock::system().now())).await;
            store.close().await;
            told(outcome?, id, &file.database.path()?)
        }
    }
}

async fn create(store: &Store, name: KeyName, scopes: &[Scope]) -> Result<(), Failure> {
    let (now, secret) = (Clock::system().now(), Secret::random()?);
    let scopes = scopes.iter().copied().collect();
    let key = Key { id: Ids::random().next(now), name, scopes, created_at: now, revoked_at: None, hash: secret.hash() };
    store.add_key(&key, &Change::by(Author::command_line(), now)).await?;
    print(secret.reveal())
}

fn told(outcome: RevokeOutcome, id: Uuid, database: &Path) -> Result<(), Failure> {
    match outcome {
        RevokeOutcome::Revoked => remark(&format!("the key {id} is revoked: it opens nothing any more")),
        RevokeOutcome::RevokedBefore => remark(&format!("the key {id} was revoked before")),
        RevokeOutcome::LastAdmin => Err(Failure::LastAdminKey),
        RevokeOutcome::NotFound => Err(Failure::NoSuchKey { id, database: database.to_owned() }),
    }
}

/// To standard error: standard output is for what another program takes on.
fn remark(text: &str) -> Result<(), Failure> {
    Ok(writeln!(io::stderr(), "longlay: {text}")?)
}

fn key_id(text: &str) -> Result<Uuid, &'static str> {
    text.parse().map_err(|_| "it is the id of no key; see `longlay keys list`")
}

/// A key a line: id, made, revoked or live, scopes, name.
fn listed(keys: &[Key]) -> String {
    let mut lines = String::new();
    for key in keys {
        let scopes: Vec<_> = key.scopes.iter().map(|scope| scope.as_str()).collect();
        let day = |at: &chrono::DateTime<chrono::Utc>| at.to_rfc3339_opts(SecondsFormat::Secs, true);
        let state = key.revoked_at.as_ref().map_or_else(|| "live".to_owned(), |at| format!("revoked {}", day(at)));
        // A string takes whatever is written to it.
        let _ = writeln!(lines, "{}  {}  {state}  {}  {}", key.id, day(&key.created_at), scopes.join(","), key.name);
    }
    lines
}
