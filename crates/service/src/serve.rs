//! Serving until told to stop, and stopping in time.

use std::convert::Infallible;
use std::io;
use std::process;
use std::sync::Arc;
use std::time::Duration;

use axum::serve::{Listener, ListenerExt};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::{GracefulShutdown, Watcher};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::task::JoinSet;
use tokio::time::timeout;
use tokio_io_timeout::TimeoutStream;

use crate::app::{self, AppState};
use crate::limits::{HEAD_WITHIN, MAX_HEAD_BYTES, MAX_HEADERS, STALLED_AFTER};
use crate::problem::{Problem, Slug};

/// Connections over the most that are told so at once, before others are just closed.
const TOLD_AT_ONCE: usize = 32;
/// How long it may take to tell a connection that there are too many.
const TELL_WITHIN: Duration = Duration::from_secs(2);
/// How long the log may take to be folded in at the end; what is left of it is at the next start.
const CLOSE_WITHIN: Duration = Duration::from_secs(5);

/// How much is served at once, and how long the end may take.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// Most connections.
    pub connections: usize,
    /// How long requests under way may take once the service is told to stop.
    pub drain: Duration,
}

impl Default for Options {
    fn default() -> Self {
        Self { connections: 512, drain: Duration::from_secs(10) }
    }
}

/// Serves plain HTTP until `stop` comes.
///
/// # Errors
/// None at present: a listener that fails for a moment is asked again.
pub async fn serve(
    listener: TcpListener,
    app: AppState,
    options: Options,
    stop: impl Future<Output = ()> + Send,
) -> io::Result<()> {
    let listener = listener.tap_io(|connection| {
        // An answer is one small write: waiting to fill a packet only delays it.
        if let Err(error) = connection.set_nodelay(true) {
            tracing::debug!(%error, "a connection kept its delay");
        }
    });
    serve_on(listener, app, options, stop).await;
    Ok(())
}

/// Serves until `stop` comes. Then nothing new is let in, what is under way is finished, and what is not finished in time is dropped.
pub async fn serve_on<L: Listener>(
    mut listener: L,
    app: AppState,
    options: Options,
    stop: impl Future<Output = ()> + Send,
) {
    let server = Server::new(app.clone(), options.connections);
    let graceful = GracefulShutdown::new();
    let mut connections = JoinSet::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        tokio::select! {
            biased;
            () = &mut stop => break,
            Some(_) = connections.join_next() => {}
            (io, _) = listener.accept() => server.take(io, &graceful, &mut connections),
        }
    }
    app.stop();
    drop(listener);
    if timeout(options.drain, graceful.shutdown()).await.is_err() {
        tracing::warn!(connections = connections.len(), "requests still under way were dropped");
    }
    connections.shutdown().await;
    if timeout(CLOSE_WITHIN, app.store.close()).await.is_err() {
        tracing::warn!("the database was still in use at the end; its log is folded in at the next start");
    }
}

/// What every connection is served with.
struct Server {
    app: AppState,
    router: axum::Router,
    http: http1::Builder,
    places: Arc<Semaphore>,
    places_to_tell: Arc<Semaphore>,
}

impl Server {
    fn new(app: AppState, connections: usize) -> Self {
        let mut http = http1::Builder::new();
        http.timer(TokioTimer::new())
            .header_read_timeout(HEAD_WITHIN)
            .max_headers(MAX_HEADERS)
            .max_header_size(MAX_HEAD_BYTES);
        Self {
            router: app::router(app.clone()),
            app,
            http,
            places: Arc::new(Semaphore::new(connections)),
            places_to_tell: Arc::new(Semaphore::new(TOLD_AT_ONCE)),
        }
    }

    fn take<I>(&self, io: I, graceful: &GracefulShutdown, connections: &mut JoinSet<()>)
    where
        I: tokio::io::AsyncRead + tokio::io::AsyncWrite + Unpin + Send + 'static,
    {
        let mut io = TimeoutStream::new(io);
        io.set_write_timeout(Some(STALLED_AFTER));
        if let Ok(place) = Arc::clone(&self.places).try_acquire_owned() {
            connections.spawn(self.connection(io, graceful.watcher(), place));
            return;
        }
        self.app.metrics.turned_away();
        // With no place left to say so either, the connection is just closed.
        if let Ok(place) = Arc::clone(&self.places_to_tell).try_acquire_owned() {
            connections.spawn(self.refusal(io, place));
        }
    }

    /// Serves one connection to its end.
    fn connection<I>(
        &self,
        io: TimeoutStream<I>,
        watcher: Watcher,
        place: OwnedSemaphorePermit,
    ) -> impl Future<Output = ()> + Send + use<I>
    where
        I: tokio::io::AsyncRead + tokio::io::AsyncWrite + Unpin + Send + 'static,
    {
        let router = TowerToHyperService::new(self.router.clone());
        let served = watcher.watch(self.http.serve_connection(TokioIo::new(Box::pin(io)), router));
        let open = Open::new(self.app.clone());
        async move {
            if let Err(error) = served.await {
                tracing::debug!(%error, "a connection ended early");
            }
            drop((open, place));
        }
    }

    /// Answers whatever a connection asks with that there are too many, once.
    fn refusal<I>(&self, io: TimeoutStream<I>, place: OwnedSemaphorePermit) -> impl Future<Output = ()> + Send + use<I>
    where
        I: tokio::io::AsyncRead + tokio::io::AsyncWrite + Unpin + Send + 'static,
    {
        let public_url = Arc::clone(&self.app.public_url);
        let mut http = self.http.clone();
        http.keep_alive(false);
        async move {
            let answer = service_fn(|_request| {
                let problem = Problem::new(Slug::Overloaded, "too many connections at once; nothing was done");
                std::future::ready(Ok::<_, Infallible>(problem.render(&public_url)))
            });
            // Whoever does not listen to it is not told.
            let _ = timeout(TELL_WITHIN, http.serve_connection(TokioIo::new(Box::pin(io)), answer)).await;
            drop(place);
        }
    }
}

/// Counts a connection while it is open.
struct Open(AppState);

impl Open {
    fn new(app: AppState) -> Self {
        app.metrics.connection(1);
        Self(app)
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        self.0.metrics.connection(-1);
    }
}

/// Comes with SIGTERM or ctrl-c. A second one ends the process at once.
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
        tokio::spawn(async move {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = interrupt.recv() => {}
            }
            tracing::warn!("told to stop twice: stopping at once");
            process::exit(1);
        });
    })
}
