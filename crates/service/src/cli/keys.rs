//! `longlay keys`: keys made, listed and revoked at the machine itself, while nothing serves the database.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use chrono::SecondsFormat;
use clap::{Args, Subcommand};
use longlay_records::author::Author;
use longlay_records::key::{Key, KeyName, Scope};
use longlay_store::{Change, OpenOptions, RevokeOutcome, Store};
use uuid::Uuid;

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
        database: Database,
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
        database: Database,
    },
    /// Revoke a key: it opens nothing any more.
    Revoke {
        #[command(flatten)]
        database: Database,
        /// Its id, as `keys list` shows it.
        #[arg(value_name = "ID")]
        id: Uuid,
    },
}

#[derive(Debug, Args)]
struct Database {
    /// The file everything is kept in.
    #[arg(long = "database", value_name = "FILE")]
    path: PathBuf,
    /// Open the database on a network, FUSE or VM-shared folder too, where it can be corrupted.
    #[arg(long)]
    allow_network_folder: bool,
}

impl Database {
    async fn open(&self) -> Result<Store, Failure> {
        Ok(Store::open_there(&self.path, &OpenOptions { allow_network_folder: self.allow_network_folder }).await?)
    }
}

pub(super) async fn run(args: KeysArgs) -> Result<(), Failure> {
    match args.action {
        Action::Create { database, name, scopes } => {
            let store = database.open().await?;
            let created = create(&store, name, &scopes).await;
            store.close().await;
            created
        }
        Action::List { database } => {
            let store = database.open().await?;
            let keys = store.all_keys().await;
            store.close().await;
            print(keys.map(|keys| listed(&keys))?.trim_end())
        }
        Action::Revoke { database, id } => {
            let store = database.open().await?;
            let outcome = store.revoke_key(id, &Change::by(Author::command_line(), Clock::system().now())).await;
            store.close().await;
            told(outcome?, id, &database.path)
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
        RevokeOutcome::Revoked | RevokeOutcome::RevokedBefore => Ok(()),
        RevokeOutcome::LastAdmin => Err(Failure::LastAdminKey),
        RevokeOutcome::NotFound => Err(Failure::NoSuchKey { id, database: database.to_owned() }),
    }
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
