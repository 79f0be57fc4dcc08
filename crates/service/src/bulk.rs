//! Answers too long to be held: they are made piece by piece, as fast as the caller takes them.
//!
//! A task makes the pieces and waits for room in a short channel. It ends when the caller goes away, takes nothing for too long, or the store closes. The
//! last piece is followed by a mark: an answer that breaks off before it breaks the connection too, and never looks whole.

use std::io;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use longlay_store::{Store, StoreError};
use tokio::sync::mpsc::{self, Receiver, Sender};
use tokio::time::timeout;

use crate::negotiate::MediaType;
use crate::problem::Problem;

/// Pieces made ahead of the caller.
const AHEAD: usize = 2;
/// Longest time that a caller may take nothing: the database's log grows while it is read.
const TAKEN_WITHIN: Duration = Duration::from_secs(30);

/// What a long answer is made of.
pub(crate) trait Pieces: Send + 'static {
    /// The next piece; none behind the last. A piece is not empty.
    fn next(&mut self) -> impl Future<Output = Result<Option<Vec<u8>>, StoreError>> + Send;
}

/// The answer. What fails before its first piece is a problem as any other.
pub(crate) async fn answer(store: &Store, mut pieces: impl Pieces, form: MediaType) -> Result<Response, Problem> {
    let first = pieces.next().await?;
    let (sender, receiver) = mpsc::channel(AHEAD);
    let closing = store.closing();
    tokio::spawn(async move {
        tokio::select! {
            () = make(pieces, first, &sender) => {}
            () = closing => tracing::warn!("a long answer was broken off: the service stops"),
        }
    });
    let body = Body::from_stream(futures_util::stream::unfold(Some(receiver), taken));
    let mut response = body.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(form.content_type()));
    response.headers_mut().insert(header::VARY, HeaderValue::from_static("accept"));
    Ok(response)
}

enum Piece {
    Bytes(Bytes),
    Last,
}

async fn make(mut pieces: impl Pieces, first: Option<Vec<u8>>, sender: &Sender<Piece>) {
    let mut next = Ok(first);
    loop {
        let piece = match next {
            Ok(Some(bytes)) => Piece::Bytes(bytes.into()),
            Ok(None) => Piece::Last,
            Err(error) => return tracing::error!(%error, "a long answer was broken off: the store failed"),
        };
        let last = matches!(piece, Piece::Last);
        match timeout(TAKEN_WITHIN, sender.send(piece)).await {
            Ok(Ok(())) if !last => next = pieces.next().await,
            Ok(Ok(())) => return,
            Ok(Err(_)) => return tracing::debug!("the caller of a long answer went away"),
            Err(_) => return tracing::warn!("a long answer was broken off: its caller took nothing for too long"),
        }
    }
}

/// The next bytes of the body, and the channel while there may be more. A channel that ends without the mark is an error, on which the connection is
/// broken.
async fn taken(receiver: Option<Receiver<Piece>>) -> Option<(io::Result<Bytes>, Option<Receiver<Piece>>)> {
    let mut receiver = receiver?;
    match receiver.recv().await {
        Some(Piece::Bytes(bytes)) => Some((Ok(bytes), Some(receiver))),
        Some(Piece::Last) => None,
        None => Some((Err(io::Error::other("the answer is not whole")), None)),
    }
}

#[cfg(test)]
mod tests {
    use longlay_store::OpenOptions;

    use super::*;

    /// So many pieces, and then an end, a failure or a panic.
    struct Counted {
        left: u32,
        end: fn() -> Result<Option<Vec<u8>>, StoreError>,
    }

    impl Pieces for Counted {
        async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
            if self.left == 0 {
                return (self.end)();
            }
            self.left -= 1;
            Ok(Some(b"piece ".to_vec()))
        }
    }

    async fn body(left: u32, end: fn() -> Result<Option<Vec<u8>>, StoreError>) -> Result<String, String> {
        let folder = tempfile::tempdir().unwrap();
        let store =
            Store::open(&folder.path().join("a.db"), &OpenOptions { allow_network_folder: true }).await.unwrap();
        let answer = answer(&store, Counted { left, end }, MediaType::Csv).await.map_err(|_| "refused".to_owned())?;
        let bytes = axum::body::to_bytes(answer.into_body(), 1000).await.map_err(|_| "broken off".to_owned())?;
        Ok(String::from_utf8(bytes.to_vec()).unwrap())
    }

    #[tokio::test]
    async fn an_answer_ends_only_where_its_pieces_do() {
        assert_eq!(body(3, || Ok(None)).await.as_deref(), Ok("piece piece piece "));
        assert_eq!(body(0, || Ok(None)).await.as_deref(), Ok(""));
        assert_eq!(body(3, || Err(StoreError::Busy)).await, Err("broken off".to_owned()));
        assert_eq!(body(3, || panic!("a fault of ours")).await, Err("broken off".to_owned()));
    }

    #[tokio::test]
    async fn what_fails_before_the_first_piece_is_a_problem() {
        assert_eq!(body(0, || Err(StoreError::Busy)).await, Err("refused".to_owned()));
    }

    #[tokio::test(start_paused = true)]
    async fn a_caller_who_takes_nothing_is_waited_for_and_then_left() {
        let (sender, mut receiver) = mpsc::channel(AHEAD);
        make(Counted { left: 9, end: || Ok(None) }, Some(b"piece ".to_vec()), &sender).await;
        drop(sender);
        let mut taken = 0;
        while let Some(Piece::Bytes(_)) = receiver.recv().await {
            taken += 1;
        }
        assert_eq!((taken, receiver.recv().await.is_none()), (AHEAD, true), "no mark of an end");
    }
}
