//! The page that shows the API in a browser, its files inside the program, and the way to it.

use axum::Router;
use axum::body::to_bytes;
use axum::http::header;
use axum::middleware;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::get;
use serde_json::Value;
use utoipa_swagger_ui::{Config, SwaggerUi};

use crate::problem::{Problem, Slug};

/// The page is a few kilobytes.
const MAX_PAGE_BYTES: usize = 64 * 1024;

/// The page at `/docs`, the description at `/openapi.json`, and `/`, which leads to the page. All are public.
pub(crate) fn routes<S: Clone + Send + Sync + 'static>(document: Value) -> Router<S> {
    let page = SwaggerUi::new("/docs")
        // Without this the page asks a validator on the internet about the document.
        .config(Config::default().validator_url("none").use_base_layout())
        .external_url_unchecked("/openapi.json", document);
    Router::from(page)
        .layer(middleware::map_response(titled))
        // From here, not from the root of the host: behind a proxy the service may have a path of its own.
        .route("/", get(async || Redirect::to("docs/")))
}

/// The page under the title of the API instead of the library's.
async fn titled(response: Response) -> Response {
    let is_page =
        response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind.as_bytes().starts_with(b"text/html"));
    if !is_page {
        return response;
    }
    let Ok(bytes) = to_bytes(response.into_body(), MAX_PAGE_BYTES).await else {
        return Problem::new(Slug::Internal, Slug::Internal.meaning()).into_response();
    };
    let page = String::from_utf8_lossy(&bytes);
    Html(page.replace("<title>Swagger UI</title>", "<title>Longlay API</title>")).into_response()
}
