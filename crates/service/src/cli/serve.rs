//! `longlay serve`: a department's records, to whoever has a key, until told to stop.

use std::env;

use longlay_records::author::Author;
use longlay_records::key::{Key, KeyName, Scope};
use longlay_store::{Change, OpenOptions, Store};

use super::{Failure, bind, print, public_url};
use crate::app::AppState;
use crate::clock::{Clock, Ids};
use crate::config::{Given, Settings};
use crate::keyring::{Keyring, Secret};
use crate::tls::{Identity, TlsListener};
use crate::{logs, serve};

/// What the first key is called.
const FIRST_KEY: &str = "first admin key";

pub(super) async fn run(given: &Given) -> Result<(), Failure> {
    let settings = Settings::settle(given, |name| env::var(name).ok())?;
    settings.check()?;
    let database = settings.database()?;
    let (given_url, pools) = (settings.public_url()?, settings.pools()?);
    let options = serve::Options { connections: settings.connections()?, drain: settings.drain()? };
    logs::start(settings.log_format()?)?;
    for name in Settings::strangers(env::vars_os().filter_map(|(name, _)| name.into_string().ok())) {
        tracing::warn!(name, "this variable looks like a setting and is none");
    }
    let identity = identity(&settings)?;
    // From here on: whoever stops it while the database is opened gets it closed well too.
    let stop = serve::stop_signal()?;
    let listener = bind(settings.listen()?).await?;
    let address = listener.local_addr()?;
    let url = given_url.unwrap_or_else(|| public_url(address, identity.is_some()));
    let store = Store::open(&database, &OpenOptions { allow_network_folder: settings.allow_network_folder()? }).await?;
    if let Err(error) = store.end_abandoned_coverage_runs(Clock::system().now()).await {
        // A full disk must not keep a service from answering.
        tracing::warn!(%error, "coverage runs that were left unfinished still stand as running");
    }
    // Before anyone asks: no request waits for it.
    store.town().await?;
    let app = AppState::new(store, Clock::system(), Ids::random(), &url).with_sizes(pools);
    app.ground.get_ready(&app.store);
    let keyring = keyring(&app).await?;
    let app = app.with_keys(keyring);
    tracing::info!(%address, tls = identity.is_some(), database = %database.display(), "serving");
    match identity {
        Some(identity) => serve::serve_on(TlsListener::new(listener, identity), app, options, stop).await,
        None => serve::serve(listener, app, options, stop).await?,
    }
    Ok(())
}

fn identity(settings: &Settings) -> Result<Option<Identity>, Failure> {
    let pair = settings.tls()?;
    let identity = pair.map(|(certificate, key)| Identity::read(&certificate, &key)).transpose()?;
    refuse_plain_http(settings)?;
    Ok(identity)
}

/// Refuses to serve where other machines could listen in and nobody said they may.
pub(super) fn refuse_plain_http(settings: &Settings) -> Result<(), Failure> {
    let listen = settings.listen()?;
    if settings.tls()?.is_none() && !listen.ip().is_loopback() && !settings.allow_plain_http()? {
        return Err(Failure::PlainHttp(listen));
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
