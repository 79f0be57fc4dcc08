//! Keys: made, listed, revoked. A key's secret goes out once, in the answer that makes it.

use std::collections::BTreeSet;

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use chrono::{DateTime, Utc};
use longlay_records::key::{Key, KeyName, MAX_KEY_NAME_CHARS, Scope};
use longlay_store::{RecordKind, RevokeOutcome};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::app::AppState;
use crate::extract::{Json, Path, Query};
use crate::faults::Faults;
use crate::idempotency::Reply;
use crate::keyring::Secret;
use crate::page::{ListUrl, Page, PageQuery};
use crate::problem::{Problem, ProblemDocument, Slug};
use crate::reply::Retired;
use crate::writer::Writer;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_keys, create_key)).routes(routes!(get_key, delete_key))
}

/// What a key lets its holder do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize, ToSchema)]
pub(crate) enum ScopeCode {
    /// Read every record.
    #[serde(rename = "records:read")]
    RecordsRead,
    /// Ask what a lay brings, and the formulas behind it.
    #[serde(rename = "lay:calculate")]
    LayCalculate,
    /// Ask what a hydrant brings over a standard lay.
    #[serde(rename = "dispatch:read")]
    DispatchRead,
    /// Read hydrants and what they give.
    #[serde(rename = "gis:read")]
    GisRead,
    /// Take whole sets of records out.
    #[serde(rename = "gis:export")]
    GisExport,
    /// Record hydrants, tests and drills.
    #[serde(rename = "field:write")]
    FieldWrite,
    /// Everything, the keys included.
    #[serde(rename = "admin")]
    Admin,
}

impl From<ScopeCode> for Scope {
    fn from(code: ScopeCode) -> Self {
        match code {
            ScopeCode::RecordsRead => Self::RecordsRead,
            ScopeCode::LayCalculate => Self::LayCalculate,
            ScopeCode::DispatchRead => Self::DispatchRead,
            ScopeCode::GisRead => Self::GisRead,
            ScopeCode::GisExport => Self::GisExport,
            ScopeCode::FieldWrite => Self::FieldWrite,
            ScopeCode::Admin => Self::Admin,
        }
    }
}

impl From<Scope> for ScopeCode {
    fn from(scope: Scope) -> Self {
        match scope {
            Scope::RecordsRead => Self::RecordsRead,
            Scope::LayCalculate => Self::LayCalculate,
            Scope::DispatchRead => Self::DispatchRead,
            Scope::GisRead => Self::GisRead,
            Scope::GisExport => Self::GisExport,
            Scope::FieldWrite => Self::FieldWrite,
            Scope::Admin => Self::Admin,
        }
    }
}

/// A key to make.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct KeyBody {
    /// What it is called in the log and in the audit: name the program or the person that holds it.
    #[schema(min_length = 1, max_length = 64)]
    name: String,
    /// What it lets its holder do; one written twice counts once.
    #[schema(min_items = 1, max_items = 7)]
    scopes: Vec<ScopeCode>,
}

impl KeyBody {
    fn read(&self) -> Result<(KeyName, BTreeSet<Scope>), Problem> {
        let mut faults = Faults::of_body();
        let name = faults.text("/name", &self.name, MAX_KEY_NAME_CHARS);
        let name = name.and_then(|name| faults.good("/name", KeyName::new(name)));
        if self.scopes.is_empty() || self.scopes.len() > Scope::ALL.len() {
            faults.note("/scopes", "out_of_bounds", format!("must be 1 to {} scopes", Scope::ALL.len()));
        }
        let scopes = self.scopes.iter().copied().map(Scope::from).collect();
        faults.finish(name.map(|name| (name, scopes)))
    }
}

/// A key as kept, without its secret.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct KeyRecord {
    /// Its id.
    id: Uuid,
    /// What it is called.
    name: String,
    /// What it lets its holder do.
    scopes: Vec<ScopeCode>,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Since when it opens nothing; absent while it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    revoked_at: Option<DateTime<Utc>>,
}

impl From<Key> for KeyRecord {
    fn from(key: Key) -> Self {
        Self {
            id: key.id,
            name: key.name.to_string(),
            scopes: key.scopes.into_iter().map(ScopeCode::from).collect(),
            created_at: key.created_at,
            revoked_at: key.revoked_at,
        }
    }
}

/// A new key, with what is shown this once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct NewKey {
    /// What its holder sends with every request. It is kept nowhere and cannot be shown again.
    key: String,
    /// Its id.
    id: Uuid,
    /// What it is called.
    name: String,
    /// What it lets its holder do.
    scopes: Vec<ScopeCode>,
    /// When it was made.
    created_at: DateTime<Utc>,
}

/// Make a key
///
/// The secret is in this answer and nowhere else: whoever loses it is given another key. One key for each program or person lets
/// each be revoked alone. The answer is not kept for an `Idempotency-Key`, because the secret would be kept with it: a request sent
/// twice makes two keys, and the one that nobody holds is to be revoked.
#[utoipa::path(
    post, path = "/v1/keys", tag = "keys",
    request_body(content = KeyBody, description = "Its name and its scopes"),
    responses((status = 201, description = "Made; it opens from now on", body = NewKey,
        headers(("Location" = String, description = "Address of the key, without its secret"))))
)]
pub(crate) async fn create_key(
    State(app): State<AppState>,
    writer: Writer,
    Json(body): Json<KeyBody>,
) -> Result<Response, Problem> {
    let (name, scopes) = body.read()?;
    let secret = Secret::random().map_err(|error| {
        tracing::error!(%error, "the system gave no randomness for a key");
        Problem::new(Slug::Internal, Slug::Internal.meaning())
    })?;
    let now = app.clock.now();
    let key = Key { id: app.ids.next(now), name, scopes, created_at: now, revoked_at: None, hash: secret.hash() };
    app.keyring.add(&app.store, key.clone(), writer.change(now)).await?;
    let KeyRecord { id, name, scopes, created_at, .. } = key.into();
    let record = NewKey { key: secret.reveal().to_owned(), id, name, scopes, created_at };
    let mut response = Reply::created(format!("{}/v1/keys/{id}", app.public_url), &record)?.into_response();
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

/// List keys
///
/// In the order of their making; revoked ones too, because what they did is still put down to them.
#[utoipa::path(
    get, path = "/v1/keys", tag = "keys", params(PageQuery),
    responses((status = 200, description = "A page of keys", body = Page<KeyRecord>))
)]
pub(crate) async fn list_keys(
    State(app): State<AppState>,
    url: ListUrl,
    Query(query): Query<PageQuery>,
) -> Result<Page<KeyRecord>, Problem> {
    let start = query.start::<Uuid>()?;
    let keys = app.store.keys(start.after, start.probe()).await?;
    Ok(url.page(keys, start.limit, |key| key.id.to_string(), KeyRecord::from))
}

/// Look up a key
///
/// What it is called and what it opens, never its secret.
#[utoipa::path(
    get, path = "/v1/keys/{key_id}", tag = "keys",
    params(("key_id" = Uuid, Path, description = "Its id")),
    responses((status = 200, description = "The key", body = KeyRecord))
)]
pub(crate) async fn get_key(State(app): State<AppState>, Path(id): Path<Uuid>) -> Result<Json<KeyRecord>, Problem> {
    let key = app.store.key(id).await?.ok_or_else(|| Problem::no_such(RecordKind::Key, id))?;
    Ok(Json(key.into()))
}

/// Revoke a key
///
/// From this answer on it opens nothing, and this cannot be taken back. Revoking it again changes nothing.
#[utoipa::path(
    delete, path = "/v1/keys/{key_id}", tag = "keys",
    params(("key_id" = Uuid, Path, description = "Its id")),
    responses(
        (status = 204, description = "Revoked"),
        (status = 409, description = "Nobody could make keys without it (`last-admin-key`)", body = ProblemDocument,
            content_type = "application/problem+json"),
    )
)]
pub(crate) async fn delete_key(
    State(app): State<AppState>,
    Path(id): Path<Uuid>,
    writer: Writer,
) -> Result<Retired, Problem> {
    match app.keyring.revoke(&app.store, id, writer.change(app.clock.now())).await? {
        RevokeOutcome::Revoked | RevokeOutcome::RevokedBefore => Ok(Retired),
        RevokeOutcome::LastAdmin => Err(Problem::new(Slug::LastAdminKey, Slug::LastAdminKey.meaning())),
        RevokeOutcome::NotFound => Err(Problem::no_such(RecordKind::Key, id)),
    }
}
