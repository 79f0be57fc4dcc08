//! `longlay demo`: an invented town, to whoever is at this machine.

use std::net::SocketAddr;

use clap::Args;
use longlay_store::{OpenOptions, Store};

use super::{Failure, address, bind, print, public_url};
use crate::app::AppState;
use crate::clock::{Clock, Ids};
use crate::{demo, serve};

#[derive(Debug, Args)]
pub(super) struct DemoArgs {
    /// Address and port on this machine; port 0 takes a free one.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = address)]
    listen: SocketAddr,
}

pub(super) async fn run(args: DemoArgs) -> Result<(), Failure> {
    if !args.listen.ip().is_loopback() {
        return Err(Failure::DemoForOthers(args.listen));
    }
    let listener = bind(args.listen).await?;
    let url = public_url(listener.local_addr()?, false);
    let folder = tempfile::tempdir()?;
    // The demo is forgotten at its end: a temporary folder that a network serves can lose nothing.
    let options = OpenOptions { allow_network_folder: true };
    let store = Store::open(&folder.path().join("demo.db"), &options).await?;
    let app = AppState::new(store, Clock::system(), Ids::random(), &url);
    demo::load(&app).await?;
    let greeting = demo::greeting(&app).await?;
    // Whoever started it may have closed its output: the town is there all the same.
    let _ = print(&greeting);
    serve::serve(serve::plain(listener), app, serve::stop_signal()?).await?;
    Ok(())
}
