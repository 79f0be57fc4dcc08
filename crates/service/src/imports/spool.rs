//! A body too large for memory, in a temporary file that vanishes with its handle.

use std::fs::File;
use std::future::poll_fn;
use std::io::{self, Read, Seek, Write};
use std::pin::Pin;
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use sha2::{Digest, Sha256};
use tokio::task::spawn_blocking;
use tokio::time::timeout;

use crate::problem::{Problem, Slug};

/// Largest file.
pub(crate) const MAX_FILE_BYTES: usize = 64 * 1024 * 1024;
/// Largest file of streets or heights: it is not held, and the dozens of properties of a street are passed over.
pub(crate) const MAX_GROUND_FILE_BYTES: usize = 1024 * 1024 * 1024;
/// Longest wait for the next piece of a file.
const STALLED: Duration = Duration::from_secs(8);
/// Bytes gathered before they are written.
const AT_ONCE_BYTES: usize = 1024 * 1024;

/// A file that arrived whole, at its beginning.
#[derive(Debug)]
pub(crate) struct Spooled {
    pub(crate) file: File,
    pub(crate) sha256: [u8; 32],
}

/// Receives a body of at most so many bytes.
pub(crate) async fn receive(mut body: Body, most_bytes: usize) -> Result<Spooled, Problem> {
    let mut part = Part { file: off_thread(tempfile::tempfile).await?, digest: Sha256::new(), bytes: Vec::new() };
    let mut received = 0;
    while let Some(data) = next(&mut body).await? {
        received += data.len();
        if received > most_bytes {
            let detail = format!("a file to bring in is at most {} MiB: split it", most_bytes / (1024 * 1024));
            return Err(Problem::new(Slug::BodyTooLarge, detail));
        }
        part.bytes.extend_from_slice(&data);
        if part.bytes.len() >= AT_ONCE_BYTES {
            part = off_thread(move || part.written()).await?;
        }
    }
    off_thread(move || {
        let Part { mut file, digest, .. } = part.written()?;
        file.rewind()?;
        Ok(Spooled { file, sha256: digest.finalize().into() })
    })
    .await
}

/// The digest of a file from its beginning, where it is left again.
pub(crate) fn digest(file: &mut File) -> io::Result<[u8; 32]> {
    let mut digest = Sha256::new();
    let mut buffer = vec![0; AT_ONCE_BYTES];
    loop {
        match file.read(&mut buffer)? {
            0 => break,
            read => digest.update(&buffer[..read]),
        }
    }
    file.rewind()?;
    Ok(digest.finalize().into())
}

struct Part {
    file: File,
    digest: Sha256,
    bytes: Vec<u8>,
}

impl Part {
    fn written(mut self) -> io::Result<Self> {
        self.file.write_all(&self.bytes)?;
        self.digest.update(&self.bytes);
        self.bytes.clear();
        Ok(self)
    }
}

async fn next(body: &mut Body) -> Result<Option<Bytes>, Problem> {
    loop {
        let frame = timeout(STALLED, poll_fn(|context| Pin::new(&mut *body).poll_frame(context))).await;
        match frame.map_err(|_| Problem::new(Slug::RequestTimeout, Slug::RequestTimeout.meaning()))? {
            None => return Ok(None),
            Some(Err(_)) => return Err(Problem::new(Slug::ImportRefused, "the file did not arrive whole")),
            Some(Ok(frame)) => {
                if let Ok(data) = frame.into_data() {
                    return Ok(Some(data));
                }
            }
        }
    }
}

async fn off_thread<T: Send + 'static>(work: impl FnOnce() -> io::Result<T> + Send + 'static) -> Result<T, Problem> {
    let done = spawn_blocking(work).await.map_err(io::Error::other).and_then(|done| done);
    done.map_err(|error| {
        if error.kind() == io::ErrorKind::StorageFull {
            return Problem::new(Slug::StorageFull, Slug::StorageFull.meaning());
        }
        tracing::error!(%error, "a file could not be spooled");
        Problem::new(Slug::Internal, Slug::Internal.meaning())
    })
}
