//! Serving until told to stop, and stopping in time.

use std::fmt::Debug;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::serve::{Listener, ListenerExt};
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::Notify;

use crate::app::{self, AppState};

/// How long requests under way may take once the service is told to stop.
const DRAIN_WITHIN: Duration = Duration::from_secs(10);

/// Serves until `stop` comes, then finishes what is under way, closes the store and returns. What is not finished within
/// ten seconds is dropped.
///
/// # Errors
/// The listener fails.
pub async fn serve<L: Listener<Addr: Debug>>(
    listener: L,
    app: AppState,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let store = app.store.clone();
    let told = Arc::new(Notify::new());
    let stopped = {
        let (told, app) = (Arc::clone(&told), app.clone());
        async move {
            stop.await;
            app.stop();
            told.notify_one();
        }
    };
    let server = axum::serve(listener, app::router(app)).with_graceful_shutdown(stopped);
    let deadline = async {
        told.notified().await;
        tokio::time::sleep(DRAIN_WITHIN).await;
    };
    let served = tokio::select! {
        served = server.into_future() => served,
        () = deadline => {
            tracing::warn!("requests still under way were dropped");
            Ok(())
        }
    };
    store.close().await;
    served
}

/// Connections as they come, each without delay.
pub fn plain(listener: TcpListener) -> impl Listener<Addr = SocketAddr> {
    listener.tap_io(|connection| {
        // An answer is one small write: waiting to fill a packet only delays it.
        if let Err(error) = connection.set_nodelay(true) {
            tracing::debug!(%error, "a connection kept its delay");
        }
    })
}

/// Comes with SIGTERM or ctrl-c.
///
/// # Errors
/// The system lets no handler be set.
pub(crate) fn stop_signal() -> io::Result<impl Future<Output = ()> + Send + 'static> {
    let mut terminate = signal(SignalKind::terminate())?;
    let mut interrupt = signal(SignalKind::interrupt())?;
    Ok(async move {
        tokio::select! {
            _ = terminate.recv() => {}
            _ = interrupt.recv() => {}
        }
        tracing::info!("stopping");
    })
}
