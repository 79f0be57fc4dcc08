//! `longlay serve`: a department's records, to whoever has a key.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args;
use longlay_records::author::Author;
use longlay_records::key::{Key, KeyName, Scope};
use longlay_store::{Change, OpenOptions, Store};

use super::{Failure, address, bind, checked_url, print, public_url};
use crate::app::AppState;
use crate::clock::{Clock, Ids};
use crate::keyring::{Keyring, Secret};
use crate::serve;
use crate::tls::{Identity, TlsListener};

/// What the first key is called.
const FIRST_KEY: &str = "first admin key";

#[derive(Debug, Args)]
pub(super) struct ServeArgs {
    /// The file everything is kept in; made where it is not there. Not on a network share.
    #[arg(long, value_name = "FILE")]
    database: PathBuf,
    /// Address and port; port 0 takes a free one. One that other machines can reach needs TLS.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = address)]
    listen: SocketAddr,
    /// The address callers see, for links and problem types [default: http(s):// and the listening address].
    #[arg(long, value_name = "URL")]
    public_url: Option<String>,
    /// PEM file of the certificate to serve over TLS with, its chain behind it.
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    tls_cert: Option<PathBuf>,
    /// PEM file of the certificate's private key.
    #[arg(long, value_name = "FILE", requires = "tls_cert")]
    tls_key: Option<PathBuf>,
    /// Serve other machines without TLS, where keys and records can be read on the way: behind a proxy that does TLS, for one.
    #[arg(long)]
    allow_plain_http: bool,
    /// Open the database on a network, FUSE or VM-shared folder too, where it can be corrupted.
    #[arg(long)]
    allow_network_folder: bool,
}

impl ServeArgs {
    fn identity(&self) -> Result<Option<Identity>, Failure> {
        let pair = self.tls_cert.as_deref().zip(self.tls_key.as_deref());
        let identity = pair.map(|(certificate, key)| Identity::read(certificate, key)).transpose()?;
        if identity.is_none() && !self.listen.ip().is_loopback() && !self.allow_plain_http {
            return Err(Failure::PlainHttp(self.listen));
        }
        Ok(identity)
    }
}

pub(super) async fn run(args: ServeArgs) -> Result<(), Failure> {
    let identity = args.identity()?;
    let given_url = args.public_url.clone().map(checked_url).transpose()?;
    // From here on: whoever stops it while the database is opened gets it closed well too.
    let stop = serve::stop_signal()?;
    let listener = bind(args.listen).await?;
    let address = listener.local_addr()?;
    let url = given_url.unwrap_or_else(|| public_url(address, identity.is_some()));
    let options = OpenOptions { allow_network_folder: args.allow_network_folder };
    let store = Store::open(&args.database, &options).await?;
    let app = AppState::new(store, Clock::system(), Ids::random(), &url);
    let keyring = keyring(&app).await?;
    let app = app.with_keys(keyring);
    tracing::info!(%address, tls = identity.is_some(), database = %args.database.display(), "serving");
    match identity {
        Some(identity) => serve::serve(TlsListener::new(listener, identity), app, stop).await?,
        None => serve::serve(serve::plain(listener), app, stop).await?,
    }
    Ok(())
}

/// The keys of the store; one for an admin is made where there never was any.
async fn keyring(app: &AppState) -> Result<Keyring, Failure> {
    let mut keys = app.store.all_keys().await?;
    if keys.is_empty() {
        let (now, secret) = (app.clock.now(), Secret::random()?);
        let name = KeyName::new(FIRST_KEY)?;
        let scopes = [Scope::Admin].into();
        let key = Key { id: app.ids.next(now), name, scopes, created_at: now, revoked_at: None, hash: secret.hash() };
        // Shown before it is kept: a key that nobody saw would lock everyone out.
        print(&first_words(&secret, &app.public_url))?;
        app.store.add_key(&key, &Change::by(first_start(), now)).await?;
        keys.push(key);
    } else if !keys.iter().any(Key::is_live_admin) {
        tracing::warn!("no key can make keys; stop this and run `longlay keys create --scopes admin`");
    }
    Ok(Keyring::new(keys))
}

/// Whom the first key is put down to.
fn first_start() -> Author {
    Author { name: "first start".to_owned(), key_id: None }
}

fn first_words(secret: &Secret, url: &str) -> String {
    format!(
        "This is the first key. It may do everything, and it is shown this once and kept nowhere: write it down.\n\n  {}\n\n\
         Each program and person gets a key of its own, with what it needs and no more:\n\n  \
         curl {url}/v1/keys -H 'Authorization: Bearer KEY' -H 'content-type: application/json' \\\n    \
         -d '{{\"name\": \"Preplan tool\", \"scopes\": [\"records:read\", \"lay:calculate\"]}}'\n",
        secret.reveal()
    )
}
