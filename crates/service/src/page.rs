//! Lists a page at a time: keyset cursors, limits, the next page's address.

use axum::extract::{FromRequestParts, OriginalUri};
use axum::http::request::Parts;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::de::{self, Deserializer};
use serde::{Deserialize, Serialize};
use std::num::{IntErrorKind, NonZeroU64};
use utoipa::{IntoParams, ToSchema};

use crate::app::AppState;
use crate::extract::{Json, PathParam};
use crate::problem::{FieldError, Problem, Slug};

/// Items of a page where the caller names no number.
const DEFAULT_LIMIT: u32 = 100;
/// Most items of a page; more is clamped.
pub(crate) const MAX_LIMIT: u32 = 1000;
/// What a cursor starts with: no key does, so that a bare id is refused and not taken for one.
const CURSOR_MARK: &str = "after.";

/// How many items at most: 1 and up, clamped to [`MAX_LIMIT`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limit(u32);

impl<'de> Deserialize<'de> for Limit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        match text.parse::<NonZeroU64>() {
            Ok(limit) => Ok(Self(u32::try_from(limit.get()).map_or(MAX_LIMIT, |limit| limit.min(MAX_LIMIT)))),
            Err(error) if *error.kind() == IntErrorKind::PosOverflow => Ok(Self(MAX_LIMIT)),
            Err(_) => Err(de::Error::custom("must be a whole number from 1; over 1000 counts as 1000")),
        }
    }
}

/// Which page.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct PageQuery {
    /// Most items of a page; more than 1000 counts as 1000.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 1000, default = 100)]
    pub(crate) limit: Option<Limit>,
    /// Where the page starts, out of `next` of the page before. Opaque.
    pub(crate) cursor: Option<String>,
}

/// Where a page starts and how long it is.
#[derive(Debug)]
pub(crate) struct Start<K> {
    /// The last key of the page before.
    pub(crate) after: Option<K>,
    /// Most items.
    pub(crate) limit: u32,
}

impl<K: PathParam> Start<K> {
    /// Reads limit and cursor.
    pub(crate) fn new(limit: Option<Limit>, cursor: Option<&str>) -> Result<Self, Problem> {
        let after = cursor.map(|cursor| {
            let key = cursor.strip_prefix(CURSOR_MARK).and_then(|key| K::read(key).ok());
            key.ok_or_else(|| {
                let detail = "must be taken from `next` of the page before";
                Problem::with_errors(Slug::InvalidQuery, vec![FieldError::in_query("cursor", "invalid_cursor", detail)])
            })
        });
        Ok(Self { after: after.transpose()?, limit: limit.map_or(DEFAULT_LIMIT, |limit| limit.0) })
    }

    /// One more than the page holds: whether it comes says whether there is a next page.
    pub(crate) fn probe(&self) -> u32 {
        self.limit + 1
    }
}

impl PageQuery {
    /// Reads limit and cursor.
    pub(crate) fn start<K: PathParam>(&self) -> Result<Start<K>, Problem> {
        Start::new(self.limit, self.cursor.as_deref())
    }
}

/// A page of a list. Following `next` until it is null gives every item once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Page<T> {
    /// The items, in the order of their ids.
    items: Vec<T>,
    /// Address of the next page, also in the `Link` header; null on the last.
    #[schema(format = "uri", required = true)]
    next: Option<String>,
}

impl<T> Page<T> {
    /// The items and the address of the next page, for an answer of another form.
    pub(crate) fn into_parts(self) -> (Vec<T>, Option<String>) {
        (self.items, self.next)
    }
}

impl<T: Serialize> IntoResponse for Page<T> {
    fn into_response(self) -> Response {
        let link = self.next.as_ref().and_then(|next| HeaderValue::from_str(&format!("<{next}>; rel=\"next\"")).ok());
        let mut response = Json(self).into_response();
        if let Some(link) = link {
            response.headers_mut().insert(header::LINK, link);
        }
        response
    }
}

/// The address of the list that was asked for, as callers see it.
#[derive(Debug)]
pub(crate) struct ListUrl {
    base: String,
    query: Vec<(String, String)>,
}

impl FromRequestParts<AppState> for ListUrl {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, app: &AppState) -> Result<Self, Problem> {
        let uri = parts.extensions.get::<OriginalUri>().map_or(&parts.uri, |original| &original.0);
        let query = form_urlencoded::parse(uri.query().unwrap_or_default().as_bytes()).into_owned();
        Ok(Self {
            base: format!("{}{}", app.public_url, uri.path()),
            query: query.filter(|(name, _)| name != "cursor").collect(),
        })
    }
}

impl ListUrl {
    /// The page of these rows, of which one more than `limit` was asked for.
    pub(crate) fn page<R, T>(
        &self,
        mut rows: Vec<R>,
        limit: u32,
        key: impl Fn(&R) -> String,
        record: impl Fn(R) -> T,
    ) -> Page<T> {
        let limit = limit as usize;
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().filter(|_| more).map(|last| self.after(&key(last)));
        Page { items: rows.into_iter().map(record).collect(), next }
    }

    fn after(&self, key: &str) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.extend_pairs(&self.query).append_pair("cursor", &format!("{CURSOR_MARK}{key}"));
        format!("{}?{}", self.base, query.finish())
    }
}

#[cfg(test)]
mod tests {
    use longlay_records::id::AssetId;

    use super::*;

    fn limit(text: &str) -> Option<u32> {
        let deserializer = de::value::StrDeserializer::<de::value::Error>::new(text);
        Limit::deserialize(deserializer).ok().map(|limit| limit.0)
    }

    #[test]
    fn a_large_limit_is_clamped_and_a_bad_one_refused() {
        assert_eq!(limit("7"), Some(7));
        assert_eq!(limit("1001"), Some(1000));
        assert_eq!(limit("99999999999999999999999"), Some(1000));
        for bad in ["0", "-1", "1.5", "ten", "", "NaN", "1e3"] {
            assert_eq!(limit(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_bare_id_is_no_cursor() {
        assert!(Start::<AssetId>::new(None, Some("H-101")).is_err());
        assert_eq!(Start::<AssetId>::new(None, Some("after.H-101")).unwrap().after, AssetId::new("H-101").ok());
    }

    #[test]
    fn the_next_page_keeps_what_was_asked_and_starts_behind_the_last_item() {
        let query = vec![("limit".to_owned(), "2".to_owned()), ("near".to_owned(), "1,2".to_owned())];
        let url = ListUrl { base: "http://h/v1/hydrants".into(), query };
        let page = url.page(vec!["a", "b", "c"], 2, ToString::to_string, |row| row);
        assert_eq!(page.items, ["a", "b"]);
        assert_eq!(page.next.as_deref(), Some("http://h/v1/hydrants?limit=2&near=1%2C2&cursor=after.b"));
        assert_eq!(url.page(vec!["a", "b"], 2, ToString::to_string, |row| row).next, None);
    }
}
