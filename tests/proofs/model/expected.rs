//! What must be answered.

use serde_json::Value;

use crate::bodies;
use crate::server::Reply;

/// A status, and the kind of problem it goes out with.
pub(super) type Refusal = (u16, &'static str);

/// What must be in a body.
#[derive(Debug, Clone)]
pub(super) enum Body {
    /// Nothing.
    Empty,
    /// This and nothing else.
    Exactly(Value),
    /// This at least.
    Says(Value),
    /// These bytes, given before.
    Again(Vec<u8>),
    /// A problem of this kind.
    Problem(&'static str),
    /// A page of these, with more to come or not.
    Page(Vec<Value>, bool),
}

/// An answer as it must be.
#[derive(Debug, Clone)]
pub(super) struct Expected {
    pub(super) status: u16,
    /// The version in its tag; none where it must have no tag.
    pub(super) version: Option<u64>,
    pub(super) body: Body,
}

impl Expected {
    /// An answer without a tag.
    pub(super) const fn untagged(status: u16, body: Body) -> Self {
        Self { status, version: None, body }
    }

    /// A problem.
    pub(super) const fn refused((status, slug): Refusal) -> Self {
        Self::untagged(status, Body::Problem(slug))
    }

    /// Says what is otherwise.
    pub(super) fn met_by(&self, reply: &Reply) -> Result<(), String> {
        if reply.status != self.status {
            return Err(format!("status {} and not {}: {self:?}", reply.status, self.status));
        }
        let tag = self.version.map_or_else(String::new, |version| format!("\"{version}\""));
        if reply.header("etag") != tag {
            return Err(format!("tag {} and not {tag}", reply.header("etag")));
        }
        let replayed = reply.header("idempotency-replayed") == "true";
        if replayed != matches!(self.body, Body::Again(_)) {
            return Err(format!("replayed is {replayed}"));
        }
        if self.body.is_of(reply) { Ok(()) } else { Err(format!("body is not {:?}", self.body)) }
    }
}

impl Body {
    fn is_of(&self, reply: &Reply) -> bool {
        match self {
            Self::Empty => reply.bytes.is_empty(),
            Self::Exactly(value) => bodies::by_itself(reply.json()) == bodies::by_itself(value.clone()),
            Self::Says(value) => bodies::says(&reply.json(), value),
            Self::Again(bytes) => reply.bytes == *bytes,
            Self::Problem(slug) => {
                reply.header("content-type") == "application/problem+json"
                    && reply.slug() == *slug
                    && reply.json()["status"] == reply.status
            }
            Self::Page(items, more) => {
                let page = reply.json();
                page["items"].as_array() == Some(items) && page["next"].is_string() == *more
            }
        }
    }
}
