//! `longlay demo`: an invented town, to whoever is at this machine, forgotten at the end.

use std::net::SocketAddr;

use longlay_store::{OpenOptions, Store};

use super::{Failure, bind, public_url, tell};
use crate::app::AppState;
use crate::clock::{Clock, Ids};
use crate::logs::{self, LogFormat};
use crate::{demo, serve};

pub(super) async fn run(listen: SocketAddr) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    if !listen.ip().is_loopback() {
        return Err(Failure::DemoForOthers(listen));
    }
    let stop = serve::stop_signal()?;
    let listener = bind(listen).await?;
    let url = public_url(listener.local_addr()?, false);
    let folder = tempfile::tempdir()?;
    // The demo is forgotten at its end: a temporary folder that a network serves can lose nothing.
    let options = OpenOptions { allow_network_folder: true };
    let store = Store::open(&folder.path().join("demo.db"), &options).await?;
    let app = AppState::new(store, Clock::system(), Ids::random(), &url);
    demo::load(&app).await?;
    app.store.town().await?;
    app.ground.get_ready(&app.store);
    tell(&demo::greeting(&app).await?);
    Ok(serve::serve(listener, app, serve::Options::default(), stop).await?)
}
