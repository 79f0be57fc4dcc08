//! How many requests are served at once, by what they do: dispatch has places of its own that nothing else can take, and whoever finds none is told so at
//! once. Nothing waits in a line that has no end.

use std::collections::BTreeMap;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{MatchedPath, Request, State};
use axum::http::Method;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use http_body::{Frame, SizeHint};
use serde_json::Value;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use crate::metrics::Metrics;
use crate::problem::{Problem, Slug};

/// What a request does, as far as others have to wait for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Pool {
    /// Whether the service runs: never refused.
    Watch,
    /// What dispatch asks with an engine on the road.
    Dispatch,
    /// Records read and written, the docs, and what no route has.
    Records,
    /// Answers that are worked out in a moment.
    Calculations,
    /// What takes long, or much at once.
    Heavy,
}

/// Each operation's pool. A test fails for an operation that has none.
const OPERATIONS: [(Pool, &[&str]); 5] = [
    (Pool::Watch, &["get_liveness", "get_readiness", "get_metrics"]),
    (Pool::Dispatch, &["get_deliverable_flow", "list_supply_options", "get_hydrant", "get_hydrant_capability"]),
    (
        Pool::Records,
        &[
            "list_problem_types",
            "get_problem_type",
            "list_hydrants",
            "put_hydrant",
            "delete_hydrant",
            "list_flow_tests",
            "get_flow_test",
            "create_flow_test",
            "void_flow_test",
            "get_test_history",
            "list_hose_types",
            "get_hose_type",
            "put_hose_type",
            "delete_hose_type",
            "list_appliances",
            "get_appliance",
            "put_appliance",
            "delete_appliance",
            "list_hydrant_valves",
            "get_hydrant_valve",
            "put_hydrant_valve",
            "delete_hydrant_valve",
            "list_pumpers",
            "get_pumper",
            "put_pumper",
            "delete_pumper",
            "list_lay_profiles",
            "get_lay_profile",
            "put_lay_profile",
            "delete_lay_profile",
            "list_demand_points",
            "get_demand_point",
            "put_demand_point",
            "delete_demand_point",
            "get_street_summary",
            "list_districts",
            "get_district",
            "put_district",
            "delete_district",
            "get_elevation_grid",
            "list_equipment_tests",
            "get_equipment_test",
            "create_equipment_test",
            "void_equipment_test",
            "list_drills",
            "get_drill",
            "create_drill",
            "void_drill",
            "list_formulas",
            "get_formula",
            "list_keys",
            "create_key",
            "get_key",
            "delete_key",
            "create_coverage_run",
            "list_coverage_runs",
            "get_coverage_run",
            "get_coverage_remedies",
            "cancel_coverage_run",
            "delete_coverage_run",
        ],
    ),
    (
        Pool::Calculations,
        &[
            "create_lay_calculation",
            "create_attack_lines",
            "create_draft",
            "create_gauge_reading",
            "create_needed_flow",
            "create_shuttle",
            "calculate_formula",
        ],
    ),
    (
        Pool::Heavy,
        &[
            "create_hydrant_import",
            "create_flow_test_import",
            "create_equipment_import",
            "create_demand_point_import",
            "create_street_import",
            "create_elevation_grid_import",
            "export_records",
            "list_audit",
            "list_capabilities",
            "list_retests",
            "list_coverage_gaps",
            "get_coverage_changes",
            "list_drill_estimates",
            "create_combined_supply",
            "create_relay",
        ],
    ),
];

/// How many requests of each kind are served at once.
#[derive(Debug, Clone, Copy)]
pub struct Sizes {
    /// Look-ups of dispatch.
    pub dispatch: usize,
    /// Other reading and writing of records.
    pub records: usize,
    /// Calculations.
    pub calculations: usize,
    /// Imports, exports, streams and long calculations.
    pub heavy: usize,
}

impl Default for Sizes {
    fn default() -> Self {
        Self { dispatch: 64, records: 64, calculations: 32, heavy: 4 }
    }
}

/// A place in a pool, given back when the last that holds it is gone.
type Place = Arc<OwnedSemaphorePermit>;

tokio::task_local! {
    /// The place of the request that is being answered.
    static PLACE: Option<Place>;
}

/// The places, and which request takes which.
#[derive(Debug)]
pub(crate) struct Pools {
    places: BTreeMap<Pool, Arc<Semaphore>>,
    /// By path and method.
    routes: BTreeMap<String, BTreeMap<String, Pool>>,
    metrics: Arc<Metrics>,
}

impl Pools {
    /// For the operations of the finished document.
    pub(crate) fn new(sizes: Sizes, document: &Value, metrics: Arc<Metrics>) -> Self {
        let places = [
            (Pool::Dispatch, sizes.dispatch),
            (Pool::Records, sizes.records),
            (Pool::Calculations, sizes.calculations),
            (Pool::Heavy, sizes.heavy),
        ];
        let mut routes: BTreeMap<String, BTreeMap<String, Pool>> = BTreeMap::new();
        for (path, item) in document["paths"].as_object().into_iter().flatten() {
            for (method, operation) in item.as_object().into_iter().flatten() {
                if let Some(pool) = operation["operationId"].as_str().and_then(of_operation) {
                    routes.entry(path.clone()).or_default().insert(method.to_uppercase(), pool);
                }
            }
        }
        Self { places: places.map(|(pool, size)| (pool, Arc::new(Semaphore::new(size)))).into(), routes, metrics }
    }

    fn of_request(&self, method: &Method, path: Option<&MatchedPath>) -> Pool {
        let method = if method == Method::HEAD { &Method::GET } else { method };
        let known = path.and_then(|path| self.routes.get(path.as_str())?.get(method.as_str()));
        known.copied().unwrap_or(Pool::Records)
    }

    /// A place, or none where all are taken. The outer none is a refusal.
    #[expect(clippy::option_option, reason = "the outer one is a refusal, the inner one a pool without end")]
    fn enter(&self, pool: Pool) -> Option<Option<Place>> {
        let Some(places) = self.places.get(&pool) else { return Some(None) };
        Arc::clone(places).try_acquire_owned().ok().map(|place| Some(Arc::new(place)))
    }
}

fn of_operation(id: &str) -> Option<Pool> {
    OPERATIONS.iter().find(|(_, ids)| ids.contains(&id)).map(|(pool, _)| *pool)
}

impl Pool {
    /// As the metrics name it.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Watch => "watch",
            Self::Dispatch => "dispatch",
            Self::Records => "records",
            Self::Calculations => "calculations",
            Self::Heavy => "heavy",
        }
    }
}

/// Lets a request in where its pool has a place, and keeps the place until the answer has left.
pub(crate) async fn admit(State(pools): State<Arc<Pools>>, request: Request, next: Next) -> Response {
    let pool = pools.of_request(request.method(), request.extensions().get::<MatchedPath>());
    let Some(place) = pools.enter(pool) else {
        pools.metrics.shed(pool);
        let detail = format!("too many {} requests at once; nothing was done", pool.name());
        return Problem::new(Slug::Overloaded, detail).into_response();
    };
    let response = PLACE.scope(place.clone(), next.run(request)).await;
    response.map(|body| Body::new(Held { body, _place: place }))
}

/// Runs work off the request's thread. It cannot be called off: it keeps the request's place to its end, even where the caller has left.
pub(crate) async fn off_thread<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Problem> {
    let place = PLACE.try_with(Clone::clone).ok().flatten();
    let done = tokio::task::spawn_blocking(move || {
        let done = work();
        drop(place);
        done
    });
    done.await.map_err(|_| Problem::new(Slug::Internal, Slug::Internal.meaning()))
}

/// A body that keeps its request's place.
struct Held {
    body: Body,
    _place: Option<Place>,
}

impl HttpBody for Held {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_operation_has_one_pool_and_every_name_is_an_operation() {
        let document = crate::app::openapi();
        let items = document["paths"].as_object().unwrap().values();
        let ids: Vec<_> = items
            .flat_map(|item| item.as_object().unwrap().values())
            .map(|operation| operation["operationId"].as_str().unwrap())
            .collect();
        for id in &ids {
            let pools = OPERATIONS.iter().filter(|(_, own)| own.contains(id)).count();
            assert_eq!(pools, 1, "{id} must stand once in OPERATIONS: say what others wait for while it is answered");
        }
        for id in OPERATIONS.iter().flat_map(|(_, ids)| *ids) {
            assert!(ids.contains(id), "{id} is no operation");
        }
    }

    #[test]
    fn a_full_pool_leaves_the_places_of_the_others() {
        let sizes = Sizes { dispatch: 1, records: 1, calculations: 1, heavy: 1 };
        let pools = Pools::new(sizes, &Value::Null, Arc::default());
        let heavy = pools.enter(Pool::Heavy).unwrap();
        assert!(pools.enter(Pool::Heavy).is_none());
        assert!(pools.enter(Pool::Dispatch).is_some() && pools.enter(Pool::Calculations).is_some());
        assert!(pools.enter(Pool::Watch).is_some_and(|place| place.is_none()), "health has no places to run out of");
        drop(heavy);
        assert!(pools.enter(Pool::Heavy).is_some());
    }
}
