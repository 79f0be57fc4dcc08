//! `longlay demo`: an invented town, forgotten at the end.

use std::net::SocketAddr;

use longlay_store::{OpenOptions, Store};

use super::{Failure, bind, print, state};
use crate::logs::{self, LogFormat};
use crate::{demo, serve};

pub(super) async fn run(listen: SocketAddr) -> Result<(), Failure> {
    logs::start(LogFormat::Text)?;
    let listener = bind(listen).await?;
    let folder = tempfile::tempdir()?;
    // The demo is forgotten at its end: a temporary folder that a network serves can lose nothing.
    let options = OpenOptions { allow_network_folder: true };
    let store = Store::open(&folder.path().join("demo.db"), &options).await?;
    let app = state(store, &listener, None)?;
    demo::load(&app).await?;
    print(&demo::greeting(&app).await?);
    Ok(serve::serve(listener, app, serve::Options::default(), serve::stop_signal()?).await?)
}
