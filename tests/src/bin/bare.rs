//! The baseline of `tests/bench/http_ratio`: an axum handler that returns the bytes of one file, and nothing else.

use std::process::ExitCode;

use axum::Router;
use axum::body::Bytes;
use axum::http::header;
use axum::routing::get;

#[tokio::main]
async fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("bare FILE: serves the bytes of FILE on a free port of this machine");
        return ExitCode::FAILURE;
    };
    match serve(&path).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{path}: {error}");
            ExitCode::FAILURE
        }
    }
}

async fn serve(path: &str) -> std::io::Result<()> {
    let bytes = Bytes::from(std::fs::read(path)?);
    let answer = move || {
        let bytes = bytes.clone();
        async move { ([(header::CONTENT_TYPE, "application/json")], bytes) }
    };
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await?;
    println!("http://{}", listener.local_addr()?);
    axum::serve(listener, Router::new().route("/", get(answer))).await
}
