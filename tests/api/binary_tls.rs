//! `serve` over TLS, and what it says where that cannot be.

use std::fs;
use std::sync::Arc;
use std::time::Duration;

use rcgen::{CertifiedKey, generate_simple_self_signed};
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::timeout;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::CertificateDer;
use tokio_rustls::rustls::{ClientConfig, RootCertStore};

use crate::binary_keys::{Serving, keys};
use crate::{database, refused};

/// Files of a certificate for `localhost`, and a client that trusts it alone.
struct Town {
    folder: TempDir,
    certificate: String,
    key: String,
    client: TlsConnector,
}

fn town() -> Town {
    let folder = tempfile::tempdir().unwrap();
    let CertifiedKey { cert, signing_key } = generate_simple_self_signed(["localhost".to_owned()]).unwrap();
    let file = |name: &str, text: String| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (certificate, key) = (file("cert.pem", cert.pem()), file("key.pem", signing_key.serialize_pem()));
    Town { client: trusting(cert.der().clone()), certificate, key, folder }
}

fn trusting(certificate: CertificateDer<'static>) -> TlsConnector {
    let mut roots = RootCertStore::empty();
    roots.add(certificate).unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    TlsConnector::from(Arc::new(config))
}

impl Town {
    /// A whole answer to a GET over TLS.
    async fn get(&self, address: &str, path: &str, key: &str) -> String {
        let tcp = TcpStream::connect(address).await.unwrap();
        let mut stream = self.client.connect("localhost".try_into().unwrap(), tcp).await.unwrap();
        let request =
            format!("GET {path} HTTP/1.1\r\nhost: localhost\r\nx-api-key: {key}\r\nconnection: close\r\n\r\n");
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).await.unwrap();
        answer
    }
}

#[tokio::test]
async fn a_key_opens_the_records_over_tls_and_links_lead_there() {
    let town = town();
    let database = database(&town.folder);
    let key = keys("create", &database, &["--name", "a", "--scopes", "admin"]).await;
    let serving = Serving::start(&database, &["--tls-cert", &town.certificate, "--tls-key", &town.key]).await;
    let answer = town.get(&serving.address, "/v1/hydrants", key.trim_end()).await;
    assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
    let refusal = town.get(&serving.address, "/v1/hydrants", "none").await;
    assert!(refusal.starts_with("HTTP/1.1 401"), "{refusal}");
    assert!(refusal.contains(&format!("https://{}/problems/key-required", serving.address)), "{refusal}");
    serving.stop().await;
}

#[tokio::test]
async fn a_handshake_that_dawdles_holds_nobody_up() {
    let town = town();
    let database = database(&town.folder);
    let serving = Serving::start(&database, &["--tls-cert", &town.certificate, "--tls-key", &town.key]).await;
    let mut silent = Vec::new();
    for _ in 0..20 {
        silent.push(TcpStream::connect(&serving.address).await.unwrap());
    }
    let mut nonsense = TcpStream::connect(&serving.address).await.unwrap();
    nonsense.write_all(b"GET / HTTP/1.1\r\nhost: x\r\n\r\n").await.unwrap();
    let answer = timeout(Duration::from_secs(5), town.get(&serving.address, "/health/ready", "")).await.unwrap();
    assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
    // Those who never say a word are let go, at the end of their time.
    let mut rest = Vec::new();
    let ended = timeout(Duration::from_secs(20), silent[0].read_to_end(&mut rest)).await.unwrap();
    assert!(ended.is_err() || rest.is_empty(), "{rest:?}");
    serving.stop().await;
}

#[tokio::test]
async fn an_address_that_others_can_reach_needs_tls_or_an_explicit_word() {
    let town = town();
    let database = database(&town.folder);
    for address in ["0.0.0.0:0", "[::]:0"] {
        refused(&["serve", "--database", &database, "--listen", address], 2, "--allow-plain-http").await;
        refused(&["demo", "--listen", address], 2, "no keys").await;
    }
    assert!(!fs::exists(&database).unwrap());
    let port = |serving: &Serving| format!("127.0.0.1:{}", serving.address.rsplit(':').next().unwrap());
    let serving = Serving::start_on("0.0.0.0", &database, &["--allow-plain-http"]).await;
    assert!(TcpStream::connect(port(&serving)).await.is_ok());
    serving.stop().await;
    let serving =
        Serving::start_on("0.0.0.0", &database, &["--tls-cert", &town.certificate, "--tls-key", &town.key]).await;
    assert!(town.get(&port(&serving), "/health/live", "").await.starts_with("HTTP/1.1 200 OK"));
    serving.stop().await;
}

#[tokio::test]
async fn a_certificate_that_cannot_be_used_is_told_before_anything_is_made() {
    let (town, other) = (town(), self::town());
    let database = database(&town.folder);
    let serve = |certificate: &'_ str, key: &'_ str| -> Vec<String> {
        ["serve", "--database", &database, "--listen", "127.0.0.1:0", "--tls-cert", certificate, "--tls-key", key]
            .map(str::to_owned)
            .into()
    };
    for (arguments, says) in [
        (serve(&town.key, &town.key), "there is no certificate in it"),
        (serve(&town.certificate, &town.certificate), "cert.pem"),
        (serve(&town.certificate, "/no/such/key.pem"), "/no/such/key.pem"),
        (serve(&town.certificate, &other.key), "cannot be used together"),
    ] {
        let arguments: Vec<_> = arguments.iter().map(String::as_str).collect();
        refused(&arguments, 2, says).await;
    }
    let alone = ["serve", "--database", &database, "--tls-cert", &town.certificate];
    assert_eq!(crate::run(&alone).await.status.code(), Some(2));
    assert!(!fs::exists(&database).unwrap());
}

#[tokio::test]
async fn doctor_looks_at_the_certificate_that_the_settings_of_serve_name() {
    let (town, other) = (town(), self::town());
    let database = database(&town.folder);
    keys("create", &database, &["--name", "a", "--scopes", "admin"]).await;
    let look = async |key: &str| {
        let files = ["--tls-cert", &town.certificate, "--tls-key", key];
        let output = crate::run(&[&["doctor", "--database", &database][..], &files].concat()).await;
        (output.status.success(), String::from_utf8(output.stdout).unwrap())
    };
    let (_, said) = look(&town.key).await;
    assert!(said.contains(&format!("ok    the certificate in {} holds until ", town.certificate)), "{said}");
    let (well, said) = look(&other.key).await;
    assert!(!well && said.contains("fail  the certificate and the private key cannot be used together"), "{said}");
}
