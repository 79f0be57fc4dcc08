//! `longlay health`: asks a running service whether it can serve. An image with nothing but the program in it has no other
//! way to look.

use std::time::Duration;

use axum::http::Uri;
use clap::Args as Arguments;
use serde_json::Value;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::timeout;

use super::{Failure, tell};

/// Longest time to the whole answer: half of what a container runtime is told to wait.
const WITHIN: Duration = Duration::from_secs(5);
/// Most of the answer that is read; its first line is what counts.
const MAX_ANSWER_BYTES: u64 = 16 * 1024;

/// What to ask.
#[derive(Debug, Arguments)]
pub(super) struct Args {
    /// Where the service listens, over plain HTTP. One that speaks TLS is asked from outside.
    #[arg(long, value_name = "URL", default_value = "http://127.0.0.1:8080", value_parser = plain_http)]
    url: Uri,
}

fn plain_http(text: &str) -> Result<Uri, String> {
    if text.starts_with("https://") {
        return Err("a service with TLS is asked from outside, for example with curl".to_owned());
    }
    let sound = |url: &Uri| url.scheme_str() == Some("http") && url.host().is_some() && url.query().is_none();
    text.parse().ok().filter(sound).ok_or_else(|| "write it as http://127.0.0.1:8080".to_owned())
}

/// Prints `ready`, and why nothing can be recorded where that is so; or fails with what was answered.
pub(super) async fn run(args: Args) -> Result<(), Failure> {
    let not_ready = |reason: String| Failure::NotReady { url: args.url.to_string(), reason };
    let answer = timeout(WITHIN, ask(&args.url)).await;
    let answer = answer.map_err(|_| not_ready(format!("no answer within {} s", WITHIN.as_secs())))?;
    let answer = answer.map_err(|error| not_ready(error.to_string()))?;
    match status(&answer) {
        Some(200) => {
            tell(&said(&answer));
            Ok(())
        }
        Some(status) => Err(not_ready(format!("it answered {status}"))),
        None => Err(not_ready("what answers there does not speak HTTP".to_owned())),
    }
}

async fn ask(url: &Uri) -> std::io::Result<Vec<u8>> {
    let host = url.host().unwrap_or_default();
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    let mut connection = TcpStream::connect((bare, url.port_u16().unwrap_or(80))).await?;
    let path = url.path().trim_end_matches('/');
    let request = format!("GET {path}/health/ready HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n");
    connection.write_all(request.as_bytes()).await?;
    let mut answer = Vec::new();
    connection.take(MAX_ANSWER_BYTES).read_to_end(&mut answer).await?;
    Ok(answer)
}

/// `ready`, with why where it only reads.
fn said(answer: &[u8]) -> String {
    let answer = String::from_utf8_lossy(answer);
    let body = answer.split_once("\r\n\r\n").and_then(|(_, body)| serde_json::from_str::<Value>(body).ok());
    let health = body.unwrap_or_default();
    match (health["status"].as_str(), health["detail"].as_str()) {
        (Some("read_only"), Some(detail)) => format!("ready, read only: {detail}"),
        _ => "ready".to_owned(),
    }
}

/// The status in the first line of an answer.
fn status(answer: &[u8]) -> Option<u16> {
    let line = answer.split(|byte| *byte == b'\r').next()?;
    let (version, rest) = std::str::from_utf8(line).ok()?.split_once(' ')?;
    version.starts_with("HTTP/1.").then(|| rest.get(..3)?.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_an_http_answer_has_a_status() {
        assert_eq!(status(b"HTTP/1.1 200 OK\r\n\r\n"), Some(200));
        assert_eq!(status(b"HTTP/1.1 503 Service Unavailable\r\n"), Some(503));
        for other in [&b"SSH-2.0-x 200\r\n"[..], b"HTTP/1.1 2\r\n", b"", b"\xff 200"] {
            assert_eq!(status(other), None, "{other:?}");
        }
    }

    #[test]
    fn why_nothing_can_be_recorded_is_told() {
        let answer = |body: &str| said(format!("HTTP/1.1 200 OK\r\ncontent-length: 1\r\n\r\n{body}").as_bytes());
        assert_eq!(answer(r#"{"status":"ok"}"#), "ready");
        let full = answer(r#"{"status":"read_only","detail":"the disk is full; reading still works"}"#);
        assert_eq!(full, "ready, read only: the disk is full; reading still works");
        for other in ["", "{", "[]"] {
            assert_eq!(answer(other), "ready", "{other}");
        }
    }

    #[test]
    fn only_a_plain_address_is_asked() {
        assert!(plain_http("http://127.0.0.1:8080").is_ok());
        assert!(plain_http("http://[::1]:8080/longlay").is_ok());
        for bad in ["https://127.0.0.1:8080", "127.0.0.1:8080", "http://h/?x=1", ""] {
            assert!(plain_http(bad).is_err(), "{bad}");
        }
        assert!(plain_http("https://127.0.0.1:8443").unwrap_err().contains("with TLS is asked from outside"));
    }
}
