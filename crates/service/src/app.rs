//! The router: every route, and the layers that make each answer a good one.

use std::any::Any;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use axum::Router;
use axum::extract::{DefaultBodyLimit, MatchedPath, Request, State};
use axum::http::{HeaderValue, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use longlay_store::Store;
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::request_id::{MakeRequestId, PropagateRequestIdLayer, RequestId, SetRequestIdLayer};
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;

use crate::answers::Answers;
use crate::clock::{Clock, Ids};
use crate::coverage::runner::Runner;
use crate::docs;
use crate::document::{self, ApiDoc, QueryParameters};
use crate::guard::{self, Guard};
use crate::keyring::Keyring;
use crate::limits::{ANSWER_WITHIN, IMPORT_WITHIN, MAX_BODY_BYTES, MAX_PATH_BYTES, MAX_QUERY_BYTES};
use crate::metrics::Metrics;
use crate::observe::{observe, refuse_odd_id};
use crate::pools::{self, Pools, Sizes};
use crate::problem::{self, Problem, Slug};
use crate::routes;
use crate::supply_options::GroundKeeper;

/// Where files are brought in.
const IMPORT_PATHS: &str = "/v1/imports/";

/// What every handler works with.
#[derive(Debug, Clone)]
pub struct AppState {
    /// The records.
    pub store: Store,
    /// The time.
    pub clock: Clock,
    /// The ids of what has no number of its own.
    pub ids: Ids,
    /// The address callers see, without a slash at the end.
    pub public_url: Arc<str>,
    /// The keys.
    pub(crate) keyring: Keyring,
    asks_for_keys: bool,
    pub(crate) metrics: Arc<Metrics>,
    /// The coverage runs that have not ended.
    pub(crate) coverage: Runner,
    /// Streets and heights in memory.
    pub(crate) ground: GroundKeeper,
    /// What dispatch was answered.
    pub(crate) answers: Arc<Answers>,
    sizes: Sizes,
    ready: Arc<AtomicBool>,
}

impl AppState {
    /// Ready to serve whoever asks, without a key.
    pub fn new(store: Store, clock: Clock, ids: Ids, public_url: &str) -> Self {
        Self {
            store,
            clock,
            ids,
            public_url: public_url.into(),
            keyring: Keyring::default(),
            asks_for_keys: false,
            metrics: Arc::default(),
            coverage: Runner::default(),
            ground: GroundKeeper::default(),
            answers: Arc::default(),
            sizes: Sizes::default(),
            ready: Arc::new(AtomicBool::new(true)),
        }
    }

    /// Asks every request for a key, but of what is public.
    #[must_use]
    pub fn with_keys(self, keyring: Keyring) -> Self {
        Self { keyring, asks_for_keys: true, ..self }
    }

    /// With other numbers of requests served at once.
    #[must_use]
    pub fn with_sizes(self, sizes: Sizes) -> Self {
        Self { sizes, ..self }
    }

    /// Tells whoever asks that the service is stopping.
    pub(crate) fn stop(&self) {
        self.ready.store(false, Ordering::Relaxed);
        self.coverage.stop();
    }

    /// Whether the service is not stopping.
    pub(crate) fn is_ready(&self) -> bool {
        self.ready.load(Ordering::Relaxed)
    }
}

/// The description of the API, OpenAPI 3.1, as it is served.
pub fn openapi() -> serde_json::Value {
    document::finished(&api().into_openapi())
}

fn api() -> OpenApiRouter<AppState> {
    OpenApiRouter::with_openapi(ApiDoc::openapi())
        .merge(routes::hydrant_list::routes())
        .merge(routes::hydrants::routes())
        .merge(routes::flow_tests::routes())
        .merge(routes::test_history::routes())
        .merge(routes::retests::routes())
        .merge(routes::capability::routes())
        .merge(routes::capabilities::routes())
        .merge(routes::deliverable_flow::routes())
        .merge(routes::lay_calculations::routes())
        .merge(routes::combined_supplies::routes())
        .merge(routes::drills::routes())
        .merge(routes::drill_estimates::routes())
        .merge(routes::relays::routes())
        .merge(routes::drafts::routes())
        .merge(routes::shuttles::routes())
        .merge(routes::needed_flow::routes())
        .merge(routes::attack_lines::routes())
        .merge(routes::gauge_readings::routes())
        .merge(routes::hose_types::routes())
        .merge(routes::appliances::routes())
        .merge(routes::hydrant_valves::routes())
        .merge(routes::pumpers::routes())
        .merge(routes::lay_profiles::routes())
        .merge(routes::demand_points::routes())
        .merge(routes::streets::routes())
        .merge(routes::districts::routes())
        .merge(routes::elevation_grid::routes())
        .merge(routes::exports::routes())
        .merge(routes::formulas::routes())
        .merge(routes::equipment_tests::routes())
        .merge(routes::supply_options::routes())
        .merge(routes::coverage_runs::routes())
        .merge(routes::coverage_gaps::routes())
        .merge(routes::coverage_remedies::routes())
        .merge(routes::coverage_changes::routes())
        .merge(routes::keys::routes())
        .merge(routes::audit::routes())
        .merge(routes::imports::routes())
        .merge(routes::problems::routes())
        .merge(routes::health::routes())
        .merge(routes::metrics::routes())
}

/// The whole service.
pub fn router(app: AppState) -> Router {
    let (routes, openapi) = api().split_for_parts();
    let document = document::finished(&openapi);
    let parameters = Arc::new(QueryParameters::of(&document));
    let guard = app.asks_for_keys.then(|| Arc::new(Guard::new(&document, app.keyring.clone())));
    let pools = Arc::new(Pools::new(app.sizes, &document, Arc::clone(&app.metrics)));
    let mut routes = routes.route_layer(middleware::from_fn_with_state(parameters, refuse_unknown_parameters));
    if let Some(guard) = guard {
        // The last layer is the outermost: nothing is told to whoever has no key, not even what was wrong.
        routes = routes.route_layer(middleware::from_fn_with_state(guard, guard::ask_for_key));
    }
    let routes = routes
        .merge(docs::routes(document))
        .fallback(async || Problem::new(Slug::NotFound, "no route has this path; see /docs"));
    let request_ids = RequestIds { clock: app.clock.clone(), ids: app.ids.clone() };
    let around =
        Around { public_url: Arc::clone(&app.public_url), request_ids, metrics: Arc::clone(&app.metrics), pools };
    layered(routes, around).with_state(app)
}

/// What the layers need.
#[derive(Clone)]
struct Around {
    public_url: Arc<str>,
    request_ids: RequestIds,
    metrics: Arc<Metrics>,
    pools: Arc<Pools>,
}

/// The layers around every route, the outermost first.
fn layered<S: Clone + Send + Sync + 'static>(routes: Router<S>, around: Around) -> Router<S> {
    routes.layer(
        ServiceBuilder::new()
            .map_request(refuse_odd_id)
            .layer(SetRequestIdLayer::x_request_id(around.request_ids))
            .layer(PropagateRequestIdLayer::x_request_id())
            .layer(middleware::from_fn_with_state(around.metrics, observe))
            .layer(middleware::map_response_with_state(around.public_url, as_problem))
            .layer(middleware::from_fn(refuse_long_address))
            .layer(middleware::from_fn_with_state(around.pools, pools::admit))
            // Inside all of the above: the answer to a panic carries its request id and is logged, as any other.
            .map_response(IntoResponse::into_response)
            .layer(CatchPanicLayer::custom(panicked))
            .layer(middleware::from_fn(answer_in_time))
            .layer(DefaultBodyLimit::max(MAX_BODY_BYTES)),
    )
}

async fn refuse_long_address(request: Request, next: Next) -> Response {
    let (path, query) = (request.uri().path(), request.uri().query().unwrap_or_default());
    if path.len() > MAX_PATH_BYTES || query.len() > MAX_QUERY_BYTES {
        return Problem::new(Slug::AddressTooLong, Slug::AddressTooLong.meaning()).into_response();
    }
    next.run(request).await
}

/// Writes the problems of the handlers, and turns the bare errors of libraries into problems. The router adds `Allow` behind it.
async fn as_problem(State(public_url): State<Arc<str>>, mut response: Response) -> Response {
    let problem = match response.extensions_mut().remove::<Problem>() {
        Some(problem) => problem,
        None if is_problem(&response) => return response,
        None => match Slug::of_status(response.status()) {
            Some(slug) => Problem::new(slug, slug.meaning()),
            None => return response,
        },
    };
    problem.render(&public_url)
}

fn is_problem(response: &Response) -> bool {
    response.headers().get(header::CONTENT_TYPE).is_some_and(|value| value == problem::MEDIA_TYPE)
}

/// Lets no request wait for ever. What a request left undone is undone with it.
async fn answer_in_time(path: Option<MatchedPath>, request: Request, next: Next) -> Response {
    let is_import = path.is_some_and(|path| path.as_str().starts_with(IMPORT_PATHS));
    let within = if is_import { IMPORT_WITHIN } else { ANSWER_WITHIN };
    let answered = tokio::time::timeout(within, next.run(request)).await;
    answered.unwrap_or_else(|_| Problem::new(Slug::Overloaded, Slug::Overloaded.meaning()).into_response())
}

/// A typo in a parameter must not give a dispatcher the wrong answer: the API's description says what each operation takes.
async fn refuse_unknown_parameters(
    State(parameters): State<Arc<QueryParameters>>,
    path: MatchedPath,
    request: Request,
    next: Next,
) -> Response {
    let query = request.uri().query().unwrap_or_default();
    match parameters.check(request.method(), path.as_str(), query) {
        Ok(()) => next.run(request).await,
        Err(problem) => problem.into_response(),
    }
}

#[expect(clippy::needless_pass_by_value, reason = "the layer hands the panic over")]
fn panicked(panic: Box<dyn Any + Send>) -> Response {
    let said = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
    tracing::error!(panic = said.unwrap_or("(no message)"), "a handler panicked");
    Problem::new(Slug::Internal, Slug::Internal.meaning()).into_response()
}

#[derive(Clone)]
struct RequestIds {
    clock: Clock,
    ids: Ids,
}

impl MakeRequestId for RequestIds {
    fn make_request_id<B>(&mut self, _request: &axum::http::Request<B>) -> Option<RequestId> {
        let id = self.ids.next(self.clock.now()).to_string();
        HeaderValue::from_str(&id).ok().map(RequestId::new)
    }
}

#[cfg(test)]
mod tests {
    use axum::body::{Body, to_bytes};
    use axum::http::StatusCode;
    use axum::routing::get;
    use serde_json::Value;
    use tower::ServiceExt;

    use super::*;

    /// What the layers make of a route that misbehaves: a problem that can be found in the log.
    async fn answer(handler: axum::routing::MethodRouter) -> (StatusCode, Value) {
        let request_ids = RequestIds { clock: Clock::system(), ids: Ids::random() };
        let metrics = Arc::<Metrics>::default();
        let pools = Arc::new(Pools::new(Sizes::default(), &Value::Null, Arc::clone(&metrics)));
        let around = Around { public_url: "http://h".into(), request_ids, metrics, pools };
        let router = layered(Router::new().route("/", handler), around);
        let response = router.oneshot(Request::new(Body::empty())).await.unwrap();
        assert_eq!(response.headers()[header::CONTENT_TYPE], problem::MEDIA_TYPE);
        assert!(response.headers().contains_key("x-request-id"), "{:?}", response.headers());
        let status = response.status();
        let body = to_bytes(response.into_body(), MAX_BODY_BYTES).await.unwrap();
        (status, serde_json::from_slice(&body).unwrap())
    }

    #[tokio::test]
    async fn a_panic_goes_out_as_a_problem_with_a_request_id_and_without_what_it_said() {
        async fn panics() {
            panic!("secret")
        }
        let (status, problem) = answer(get(panics)).await;
        assert_eq!((status.as_u16(), &problem["type"]), (500, &"http://h/problems/internal".into()));
        assert!(!problem.to_string().contains("secret"));
    }

    #[tokio::test(start_paused = true)]
    async fn an_answer_that_does_not_come_in_time_is_a_problem() {
        let (status, problem) = answer(get(std::future::pending::<()>)).await;
        assert_eq!((status.as_u16(), &problem["type"]), (503, &"http://h/problems/overloaded".into()));
    }

    #[tokio::test]
    async fn a_bare_error_of_a_library_goes_out_as_a_problem() {
        let (status, problem) = answer(get(async || (StatusCode::BAD_GATEWAY, "plain text"))).await;
        assert_eq!((status.as_u16(), &problem["type"]), (500, &"http://h/problems/internal".into()));
    }
}
