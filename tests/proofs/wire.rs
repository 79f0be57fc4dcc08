//! A request by hand over one socket, to know to the byte what was sent before the service was told to stop.

use serde_json::Value;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::server::Server;

/// The most of an answer that is read.
const MAX_HEAD_BYTES: usize = 64 * 1024;

/// One connection.
pub(crate) struct Wire {
    stream: TcpStream,
    host: String,
    auth: String,
}

impl Wire {
    /// Connects to it.
    pub(crate) async fn to(server: &Server) -> std::io::Result<Self> {
        let host = server.url.trim_start_matches("http://").to_owned();
        let auth = server.key().map(|key| format!("authorization: Bearer {key}\r\n")).unwrap_or_default();
        Ok(Self { stream: TcpStream::connect(&host).await?, host, auth })
    }

    fn head(&self, id: &str, body: &str, more: &str) -> String {
        format!(
            "PUT /v1/hydrants/{id} HTTP/1.1\r\nhost: {}\r\n{}content-type: application/json\r\n\
             content-length: {}\r\n{more}\r\n",
            self.host,
            self.auth,
            body.len()
        )
    }

    /// Sends a hydrant, new or in place of one; done when the last byte is on its way.
    pub(crate) async fn send(&mut self, id: &str, body: &Value, new: bool) -> std::io::Result<()> {
        let body = body.to_string();
        let request = self.head(id, &body, if new { "" } else { "if-match: *\r\n" }) + &body;
        self.stream.write_all(request.as_bytes()).await
    }

    /// Sends all but the body of a hydrant, and waits until the service asks for that: it has the request in hand then.
    pub(crate) async fn begin(&mut self, id: &str, body: &Value) {
        let head = self.head(id, &body.to_string(), "expect: 100-continue\r\n");
        self.stream.write_all(head.as_bytes()).await.expect("sent");
        assert_eq!(self.status().await.expect("an answer"), 100);
    }

    /// Sends the body of what was begun.
    pub(crate) async fn finish(&mut self, body: &Value) -> std::io::Result<()> {
        self.stream.write_all(body.to_string().as_bytes()).await
    }

    /// Reads a whole answer; gives its status.
    pub(crate) async fn status(&mut self) -> std::io::Result<u16> {
        let mut head = Vec::new();
        while !head.ends_with(b"\r\n\r\n") && head.len() < MAX_HEAD_BYTES {
            head.push(self.stream.read_u8().await?);
        }
        let head = String::from_utf8_lossy(&head).to_ascii_lowercase();
        let status = head.split(' ').nth(1).and_then(|word| word.parse().ok());
        let length = head.split("content-length: ").nth(1).and_then(|after| after.lines().next());
        let length = length.map_or(0, |length| length.trim().parse().expect("a length"));
        self.stream.read_exact(&mut vec![0; length]).await?;
        status.ok_or_else(|| std::io::Error::other(head))
    }
}
