//! What goes out when something goes wrong: RFC 9457 problem documents from a closed list, each with its one status.

use std::borrow::Cow;

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use longlay_exchange::fault::{Fault, Faults};
use longlay_store::{RecordKind, StoreError};
use serde::Serialize;
use utoipa::ToSchema;

use crate::credentials::CHALLENGES;

/// The media type of every problem.
pub(crate) const MEDIA_TYPE: &str = "application/problem+json";
/// Longest detail sent, characters: a fault may quote what was sent, not all of it.
pub(crate) const MAX_DETAIL_CHARS: usize = 500;
/// Most faults sent: an answer must not outgrow what it answers.
pub(crate) const MAX_FAULTS: usize = 20;

macro_rules! slugs {
    ($($name:ident $slug:literal $status:ident $title:literal $meaning:literal;)*) => {
        /// What kind of problem it is. The only list, and the only place where a problem meets its status.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Slug {
            $(#[doc = $meaning] $name,)*
        }

        impl Slug {
            /// Every kind.
            pub(crate) const ALL: &[Self] = &[$(Self::$name),*];

            /// As it stands at the end of `type`.
            pub(crate) const fn slug(self) -> &'static str {
                match self { $(Self::$name => $slug,)* }
            }

            /// The one status it goes out with.
            pub(crate) const fn status(self) -> StatusCode {
                match self { $(Self::$name => StatusCode::$status,)* }
            }

            /// In a few words.
            pub(crate) const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)* }
            }

            /// What it means and what to do.
            pub(crate) const fn meaning(self) -> &'static str {
                match self { $(Self::$name => $meaning,)* }
            }
        }
    };
}

slugs! {
    InvalidQuery "invalid-query" BAD_REQUEST "A query parameter is at fault" "A query parameter is unknown, given twice, of the wrong form or out of bounds; `errors` names it. Correct the request.";
    InvalidJson "invalid-json" BAD_REQUEST "The body is not JSON" "The body could not be read as JSON. Correct the request.";
    KeyRequired "key-required" UNAUTHORIZED "This needs a key" "Send a key as `Authorization: Bearer KEY`, as `X-API-Key: KEY`, or as the password of Basic authentication with any user; never in the address. Who runs the service makes keys.";
    ScopeMissing "scope-missing" FORBIDDEN "The key may not do this" "The key is good, and has none of the scopes named in `detail`. Ask whoever runs the service for a key that has one.";
    InvalidHeader "invalid-header" BAD_REQUEST "A header is at fault" "A header of the request has a form that it cannot have; `detail` names it. Correct the request.";
    NotFound "not-found" NOT_FOUND "There is nothing here" "No record or route has this address; a retired record counts as none. Check the id and the path.";
    NotAcceptable "not-acceptable" NOT_ACCEPTABLE "It is not to be had in that form" "None of the media types in `Accept` is one that this address answers with; `detail` names those it has. Correct the header, or ask with `format`.";
    MethodNotAllowed "method-not-allowed" METHOD_NOT_ALLOWED "This method does nothing here" "The address exists, but not for this method; the `Allow` header names those it takes.";
    AddressTooLong "address-too-long" URI_TOO_LONG "The address is too long" "A path is at most 512 bytes and a query at most 8 KiB. Ask for less at once, or send a body where the operation takes one.";
    ReadOnlyRecord "read-only-record" CONFLICT "This record came with the program" "Shipped library records cannot be changed or retired. Keep your own under another id.";
    RecordInUse "record-in-use" CONFLICT "Other records refer to this one" "It cannot be retired while the records named in `detail` refer to it. Change or retire those first.";
    AlreadyVoided "already-voided" CONFLICT "This was voided before" "A test or a drill is voided once; the first reason stands.";
    LastAdminKey "last-admin-key" CONFLICT "This is the last key that can make keys" "Without it nobody could make or revoke a key. Make another with the scope `admin` first.";
    NoFlowTest "no-flow-test" CONFLICT "No usable flow test bears on this hydrant" "There is no data to answer from. That is no data, not no water: test the hydrant, or ask with a flow test's three numbers.";
    HydrantOutOfService "hydrant-out-of-service" CONFLICT "This hydrant is out of service" "It may not be counted on. Ask with `allow_out_of_service=true` to see what it would give.";
    NoRemediesAsked "no-remedies-asked" CONFLICT "No remedies were asked of the coverage run" "The run was asked with `remedies` 0, or before there were any. Ask for another run.";
    CoverageRunNotDone "coverage-run-not-done" CONFLICT "The coverage run has not come to its end" "There are outcomes only of a run that is `done`. Look at the run until it is; one that was called off or failed is asked for again.";
    TooManyCoverageRuns "too-many-coverage-runs" CONFLICT "There is no place for another coverage run" "Runs are kept until they are deleted, at most 20. Delete one that is not needed any more.";
    RequestTimeout "request-timeout" REQUEST_TIMEOUT "The body did not arrive in time" "The request's body stopped arriving. Send it again, on a better connection.";
    PreconditionFailed "precondition-failed" PRECONDITION_FAILED "The record is not what you took it for" "It was changed since the version in `If-Match` was read, or `If-None-Match: *` met a record. Nothing was written. Read it again, and decide again.";
    BodyTooLarge "body-too-large" PAYLOAD_TOO_LARGE "The body is too large" "Bodies are at most 1 MiB. Send less at once.";
    UnsupportedMediaType "unsupported-media-type" UNSUPPORTED_MEDIA_TYPE "The body is of another media type" "Bodies are JSON: send `Content-Type: application/json`.";
    InvalidBodyShape "invalid-body-shape" UNPROCESSABLE_ENTITY "The body has the wrong shape" "It is JSON, but a member is missing, unknown or of the wrong type; `errors` points at the first. Correct the request.";
    InvalidValues "invalid-values" UNPROCESSABLE_ENTITY "Values in the body are at fault" "The body has the right shape, but values in it cannot be; `errors` points at each, at most 20. Correct the request.";
    UnknownReference "unknown-reference" UNPROCESSABLE_ENTITY "The body refers to something that does not exist" "An id in the body names no record, or a retired one; `errors` points at it. Record that first, or correct the id.";
    IdempotencyKeyReused "idempotency-key-reused" UNPROCESSABLE_ENTITY "This Idempotency-Key was used for another request" "A key stands for one request: same path, same body. Nothing was written. Send a new request with a new key.";
    PreconditionRequired "precondition-required" PRECONDITION_REQUIRED "Say which version is to be changed" "A record has this id already. Send its `ETag` as `If-Match`, so that nobody's change is lost unseen, or `If-Match: *` to overwrite whatever stands there.";
    ImportRefused "import-refused" UNPROCESSABLE_ENTITY "The file has faults" "Rows of the file cannot be brought in, and nothing of it was kept; `errors` names the row and column of each fault, at most 100. Correct the file and send the whole of it again.";
    Internal "internal" INTERNAL_SERVER_ERROR "The service failed" "A fault of the service, not of the request. The operator finds it in the log under the `x-request-id` of this answer.";
    Overloaded "overloaded" SERVICE_UNAVAILABLE "The service is too busy" "There was no place for the request, or it was not served in time. Try again after the seconds in `Retry-After`.";
    StoreUnavailable "store-unavailable" SERVICE_UNAVAILABLE "The records cannot be reached" "The database cannot be read or written now, or the service is stopping. The operator must look.";
    StorageFull "storage-full" INSUFFICIENT_STORAGE "There is no room for more records" "The disk is full: nothing was written, and reading still works. The operator must make room.";
}

impl Slug {
    /// What a bare status from a library means; none for one that is no error.
    pub(crate) fn of_status(status: StatusCode) -> Option<Self> {
        if !status.is_client_error() && !status.is_server_error() {
            return None;
        }
        Some(match status {
            StatusCode::NOT_FOUND => Self::NotFound,
            StatusCode::NOT_ACCEPTABLE => Self::NotAcceptable,
            StatusCode::METHOD_NOT_ALLOWED => Self::MethodNotAllowed,
            StatusCode::URI_TOO_LONG => Self::AddressTooLong,
            StatusCode::REQUEST_TIMEOUT => Self::RequestTimeout,
            StatusCode::PAYLOAD_TOO_LARGE => Self::BodyTooLarge,
            StatusCode::UNSUPPORTED_MEDIA_TYPE => Self::UnsupportedMediaType,
            StatusCode::SERVICE_UNAVAILABLE => Self::Overloaded,
            other if other.is_client_error() => Self::InvalidQuery,
            _ => Self::Internal,
        })
    }

    const fn retry_after(self) -> Option<&'static str> {
        match self {
            Self::Overloaded | Self::StoreUnavailable => Some("1"),
            _ => None,
        }
    }
}

/// One thing at fault in a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct FieldError {
    /// JSON pointer (RFC 6901) to it in the body.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) pointer: Option<String>,
    /// The query parameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) parameter: Option<String>,
    /// The row of a file, as a spreadsheet shows it: the header is row 1. In a map's file the feature, from 1; 0 is the file as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) row: Option<u64>,
    /// The column of a file.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) column: Option<String>,
    /// Stable code of what is wrong.
    pub(crate) code: &'static str,
    /// What is wrong, with the bounds it missed.
    pub(crate) detail: String,
}

impl FieldError {
    /// At a place in the body. A place can be as long as the unknown name the caller wrote there.
    pub(crate) fn at(pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        Self { pointer: Some(quoted(&pointer.into())), ..Self::plain(code, detail) }
    }

    /// In the query.
    pub(crate) fn in_query(parameter: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        Self { parameter: Some(parameter.into()), ..Self::plain(code, detail) }
    }

    /// In a file.
    pub(crate) fn in_file(fault: &Fault) -> Self {
        let column = fault.column.as_deref().map(quoted);
        Self { row: Some(fault.row), column, ..Self::plain(fault.code, fault.detail.as_str()) }
    }

    fn plain(code: &'static str, detail: impl Into<String>) -> Self {
        Self { pointer: None, parameter: None, row: None, column: None, code, detail: quoted(&detail.into()) }
    }
}

/// A problem on its way out. A layer of [`crate::app`] writes the document, because only it knows the public address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Problem {
    slug: Slug,
    detail: String,
    errors: Vec<FieldError>,
}

/// A problem document, RFC 9457.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Problem)]
pub(crate) struct ProblemDocument {
    /// The kind of problem: a page that says what it means.
    #[serde(rename = "type")]
    #[schema(format = "uri")]
    kind: String,
    /// The kind in a few words.
    title: &'static str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What went wrong this time.
    detail: String,
    /// What is at fault in the request, where that is known.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldError>,
}

impl Problem {
    /// A problem with what happened this time.
    pub(crate) fn new(slug: Slug, detail: impl Into<String>) -> Self {
        Self { slug, detail: quoted(&detail.into()), errors: Vec::new() }
    }

    /// A problem with the request, naming what is at fault, the first [`MAX_FAULTS`] of it; the first fault is the detail.
    pub(crate) fn with_errors(slug: Slug, mut errors: Vec<FieldError>) -> Self {
        let detail = match errors.as_slice() {
            [] => slug.title().to_owned(),
            [only] => only.detail.clone(),
            [first, rest @ ..] => format!("{}; and {} more", first.detail, rest.len()),
        };
        errors.truncate(MAX_FAULTS);
        Self { slug, detail, errors }
    }

    /// A file with faults, the first hundred of which are named.
    pub(crate) fn import_refused(faults: &Faults) -> Self {
        let errors: Vec<_> = faults.kept().iter().map(FieldError::in_file).collect();
        let first = errors.first().map(|first| format!(": row {}, {}", first.row.unwrap_or_default(), first.detail));
        let count = faults.count();
        let detail =
            format!("{count} {} in the file{}", if count == 1 { "fault" } else { "faults" }, first.unwrap_or_default());
        Self { slug: Slug::ImportRefused, detail: quoted(&detail), errors }
    }

    /// The path names no record.
    pub(crate) fn no_such(kind: RecordKind, id: impl std::fmt::Display) -> Self {
        Self::new(Slug::NotFound, format!("there is no {kind} {id}"))
    }

    /// A refusal of the store. `pointers` says where in the body an id stands that names no record.
    pub(crate) fn refused<P>(error: StoreError, pointers: P) -> Self
    where
        P: Fn(RecordKind, &str) -> Vec<String>,
    {
        let StoreError::UnknownReferences(missing) = &error else { return error.into() };
        let mut errors = Vec::new();
        for (kind, id) in missing {
            let at = |pointer| FieldError::at(pointer, "unknown_reference", format!("there is no {kind} {id}"));
            errors.extend(pointers(*kind, id).into_iter().map(at));
        }
        Self {
            slug: Slug::UnknownReference,
            detail: shortened(&error.to_string(), MAX_DETAIL_CHARS).into_owned(),
            errors,
        }
    }

    /// All that it says, on one line.
    pub(crate) fn told(&self) -> String {
        let faults: Vec<_> = self.errors.iter().map(|error| error.detail.as_str()).collect();
        if faults.is_empty() { self.detail.clone() } else { faults.join("; ") }
    }

    /// Whether a query parameter of this name is at fault.
    pub(crate) fn names(&self, parameter: &str) -> bool {
        self.errors.iter().any(|error| error.parameter.as_deref() == Some(parameter))
    }

    /// The document, as an answer. `type` starts with the address callers see.
    pub(crate) fn render(&self, public_url: &str) -> Response {
        let slug = self.slug;
        let document = ProblemDocument {
            kind: type_url(public_url, slug),
            title: slug.title(),
            status: slug.status().as_u16(),
            detail: self.detail.clone(),
            errors: self.errors.clone(),
        };
        let body = serde_json::to_vec(&document).unwrap_or_default();
        let mut response = (slug.status(), [(header::CONTENT_TYPE, MEDIA_TYPE)], body).into_response();
        if slug == Slug::KeyRequired {
            for challenge in CHALLENGES {
                response.headers_mut().append(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge));
            }
        }
        if let Some(seconds) = slug.retry_after() {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static(seconds));
        }
        response
    }
}

/// The page of a kind of problem.
pub(crate) fn type_url(public_url: &str, slug: Slug) -> String {
    format!("{public_url}/problems/{}", slug.slug())
}

/// At most this many characters of a text.
pub(crate) fn shortened(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        Some((end, _)) => Cow::Owned(format!("{}...", &text[..end])),
        None => Cow::Borrowed(text),
    }
}

fn quoted(detail: &str) -> String {
    shortened(detail, MAX_DETAIL_CHARS).into_owned()
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        let slug = match &error {
            StoreError::UnknownReferences(_) => Slug::UnknownReference,
            StoreError::ReadOnly { .. } => Slug::ReadOnlyRecord,
            StoreError::InUse { .. } => Slug::RecordInUse,
            StoreError::VersionNeeded { .. } => Slug::PreconditionRequired,
            StoreError::ConditionFailed { .. } => Slug::PreconditionFailed,
            StoreError::KeyReused(_) => Slug::IdempotencyKeyReused,
            StoreError::DiskFull => Slug::StorageFull,
            StoreError::ReadOnlyFile => Slug::StoreUnavailable,
            StoreError::Busy => Slug::Overloaded,
            StoreError::Corrupt(_) | StoreError::Other(_) => {
                // What the database said is for the operator, not for the caller.
                tracing::error!(%error, "the store failed");
                return Self::new(Slug::Internal, Slug::Internal.meaning());
            }
        };
        let detail = match &error {
            StoreError::VersionNeeded { .. } => format!("{error}, in the header If-Match"),
            _ => error.to_string(),
        };
        Self::new(slug, detail)
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.slug.status().into_response();
        response.extensions_mut().insert(self);
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_are_named_once() {
        for (i, slug) in Slug::ALL.iter().enumerate() {
            assert!(Slug::ALL[..i].iter().all(|earlier| earlier.slug() != slug.slug()), "{slug:?}");
            assert!(slug.status().is_client_error() || slug.status().is_server_error(), "{slug:?}");
        }
    }

    #[test]
    fn what_the_database_said_stays_inside() {
        let problem = Problem::from(StoreError::Corrupt("hydrants H-1: secret".into()));
        assert_eq!(problem.slug, Slug::Internal);
        assert!(!problem.detail.contains("secret"));
    }

    #[test]
    fn a_detail_quotes_no_more_than_its_share() {
        let problem = Problem::new(Slug::InvalidJson, "é".repeat(10_000));
        assert_eq!(problem.detail.chars().count(), MAX_DETAIL_CHARS + 3);
    }
}
