//! `longlay serve`: a department's records, until told to stop.

use std::env;

use longlay_store::{OpenOptions, Store};

use super::{Failure, bind, state};
use crate::config::{Given, Settings};
use crate::{logs, serve};

pub(super) async fn run(given: &Given) -> Result<(), Failure> {
    let settings = Settings::settle(given, |name| env::var(name).ok())?;
    let database = settings.database()?;
    let (public_url, pools) = (settings.public_url()?, settings.pools()?);
    let options = serve::Options { connections: settings.connections()?, drain: settings.drain()? };
    logs::start(settings.log_format()?)?;
    for name in Settings::strangers(env::vars_os().filter_map(|(name, _)| name.into_string().ok())) {
        tracing::warn!(name, "this variable looks like a setting and is none");
    }
    let listener = bind(settings.listen()?).await?;
    let store = Store::open(&database, &OpenOptions { allow_network_folder: settings.allow_network_folder()? }).await?;
    let app = state(store, &listener, public_url)?.with_sizes(pools);
    tracing::info!(address = %listener.local_addr()?, database = %database.display(), "serving");
    Ok(serve::serve(listener, app, options, serve::stop_signal()?).await?)
}
