//! TLS: the certificate and key that were given, and connections whose handshake is done.

use std::io;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::serve::Listener;
use thiserror::Error;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;
use tokio::time::timeout;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::{self, ServerConfig};
use tokio_rustls::server::TlsStream;

/// Longest handshake; a radio link's takes two or three seconds.
const HANDSHAKE_WITHIN: Duration = Duration::from_secs(10);
/// Most handshakes under way; more wait in the system's own queue.
const MOST_HANDSHAKES: usize = 256;

/// Why there can be no TLS.
#[derive(Debug, Error)]
pub enum TlsError {
    /// A file is not there, or holds no such thing.
    #[error("{}: {reason}. It must be PEM: a certificate with its chain, or its unencrypted private key", path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// The key is of another certificate, or of a kind that is not known.
    #[error("the certificate and the private key cannot be used together: {0}")]
    Pair(#[from] rustls::Error),
}

/// What handshakes are made with.
#[derive(Clone)]
pub struct Identity(TlsAcceptor);

impl std::fmt::Debug for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Identity")
    }
}

impl Identity {
    /// Reads a certificate with its chain, and its private key.
    ///
    /// # Errors
    /// See [`TlsError`].
    pub fn read(certificate: &Path, key: &Path) -> Result<Self, TlsError> {
        let chain = chain(certificate)?;
        let key = PrivateKeyDer::from_pem_file(key).map_err(|error| unusable(key, error.to_string()))?;
        let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_single_cert(chain, key)?;
        config.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self(TlsAcceptor::from(Arc::new(config))))
    }
}

/// The certificates in a file, at least one.
pub(crate) fn chain(file: &Path) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let chain = CertificateDer::pem_file_iter(file).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let chain = chain.map_err(|error| unusable(file, error.to_string()))?;
    if chain.is_empty() { Err(unusable(file, "there is no certificate in it".to_owned())) } else { Ok(chain) }
}

fn unusable(file: &Path, reason: String) -> TlsError {
    TlsError::File { path: file.to_owned(), reason }
}

type Connection = (TlsStream<TcpStream>, SocketAddr);

/// Connections whose handshake is done. Each is made beside the others: one that dawdles holds nobody up.
#[derive(Debug)]
pub struct TlsListener {
    tcp: TcpListener,
    identity: Identity,
    handshakes: JoinSet<Option<Connection>>,
}

impl TlsListener {
    /// Over this listener.
    pub fn new(tcp: TcpListener, identity: Identity) -> Self {
        Self { tcp, identity, handshakes: JoinSet::new() }
    }
}

impl Listener for TlsListener {
    type Io = TlsStream<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> Connection {
        loop {
            tokio::select! {
                (connection, address) = Listener::accept(&mut self.tcp), if self.handshakes.len() < MOST_HANDSHAKES => {
                    self.handshakes.spawn(shake_hands(self.identity.clone(), connection, address));
                }
                Some(done) = self.handshakes.join_next() => {
                    if let Ok(Some(connection)) = done {
                        return connection;
                    }
                }
            }
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        self.tcp.local_addr()
    }
}

async fn shake_hands(identity: Identity, connection: TcpStream, address: SocketAddr) -> Option<Connection> {
    // An answer is one small write: waiting to fill a packet only delays it.
    let _ = connection.set_nodelay(true);
    match timeout(HANDSHAKE_WITHIN, identity.0.accept(connection)).await {
        Ok(Ok(stream)) => return Some((stream, address)),
        Ok(Err(error)) => tracing::debug!(%error, %address, "a handshake failed"),
        Err(_) => tracing::debug!(%address, "a handshake was not finished in time"),
    }
    None
}
