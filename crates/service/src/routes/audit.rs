//! Who changed what.

use axum::body::Body;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use longlay_store::{Store, StoreError};
use serde::{Deserialize, Deserializer, de};
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::app::AppState;
use crate::audit_lines::{AuditLine, AuditPage, page};
use crate::extract::Query;
use crate::problem::Problem;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_audit))
}

/// From where on.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct AuditQuery {
    /// Only entries behind this number: the `seq` of the last one the caller has.
    #[param(value_type = Option<i64>, minimum = 0)]
    after_seq: Option<Seq>,
}

/// The number of an entry: as large as the store numbers them.
#[derive(Debug, Clone, Copy)]
struct Seq(u64);

impl<'de> Deserialize<'de> for Seq {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let number = text.parse::<i64>().ok().and_then(|number| u64::try_from(number).ok());
        number.map(Self).ok_or_else(|| de::Error::custom("must be a whole number from 0: the `seq` of an entry"))
    }
}

/// Read the audit
///
/// Every change that was ever kept, oldest first: one JSON object a line, as many lines as there are. Entries are never changed, so that a caller goes on from
/// the last one it has.
#[utoipa::path(
    get, path = "/v1/audit", tag = "audit", params(AuditQuery),
    responses((status = 200, description = "One entry a line", body = AuditLine, content_type = "application/x-ndjson"))
)]
pub(crate) async fn list_audit(
    State(app): State<AppState>,
    Query(query): Query<AuditQuery>,
) -> Result<Response, Problem> {
    // The first page is read before the answer begins, so that a store that fails is still told as a problem.
    let first = page(&app.store, query.after_seq.map_or(0, |Seq(seq)| seq)).await?;
    let text = stream::try_unfold((app.store, first), following);
    Ok(([(header::CONTENT_TYPE, "application/x-ndjson")], Body::from_stream(text)).into_response())
}

/// The text of a page, and the page behind it.
async fn following(
    (store, at): (Store, Option<AuditPage>),
) -> Result<Option<(Vec<u8>, (Store, Option<AuditPage>))>, StoreError> {
    let Some(AuditPage { text, last_seq }) = at else { return Ok(None) };
    let next = page(&store, last_seq).await.inspect_err(|error| tracing::error!(%error, "the audit broke off"))?;
    Ok(Some((text, (store, next))))
}
