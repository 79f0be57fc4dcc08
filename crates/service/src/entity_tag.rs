//! Entity tags, as RFC 9110 writes them: a record's tag is its version in quotes.

use axum::http::{HeaderMap, HeaderName};

use crate::problem::{Problem, Slug};

/// What stands in `If-Match` or `If-None-Match`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Tags {
    /// `*`: whatever there is.
    Any,
    /// One of these.
    List(Vec<Tag>),
}

/// A tag that somebody sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Tag {
    weak: bool,
    opaque: String,
}

impl Tag {
    /// The version it stands for; none for a tag that is not one of ours.
    fn version(&self) -> Option<u64> {
        let version: u64 = self.opaque.parse().ok()?;
        (version.to_string() == self.opaque).then_some(version)
    }

    /// The version, where two tags must be of one and the same text: a weak one never is.
    pub(crate) fn strong_version(&self) -> Option<u64> {
        if self.weak { None } else { self.version() }
    }
}

impl Tags {
    /// Reads a header, however many lines it is sent in. None where it was not sent.
    pub(crate) fn read(headers: &HeaderMap, name: &HeaderName) -> Result<Option<Self>, Problem> {
        let mut lines = Vec::new();
        for value in headers.get_all(name) {
            lines.push(value.to_str().map_err(|_| malformed(name))?);
        }
        if lines.is_empty() {
            return Ok(None);
        }
        Self::parse(&lines.join(",")).map(Some).ok_or_else(|| malformed(name))
    }

    fn parse(text: &str) -> Option<Self> {
        if text.trim() == "*" {
            return Some(Self::Any);
        }
        let mut tags = Vec::new();
        let mut rest = text.trim_start_matches(SEPARATORS);
        while !rest.is_empty() {
            let (weak, quoted) = rest.strip_prefix("W/").map_or((false, rest), |rest| (true, rest));
            // A tag may hold a comma, but no quote.
            let (opaque, behind) = quoted.strip_prefix('"')?.split_once('"')?;
            if opaque.contains(' ') || !(behind.trim_start().is_empty() || behind.trim_start().starts_with(',')) {
                return None;
            }
            tags.push(Tag { weak, opaque: opaque.to_owned() });
            rest = behind.trim_start_matches(SEPARATORS);
        }
        (!tags.is_empty()).then_some(Self::List(tags))
    }

    /// Whether one of them stands for this version, by the weak comparison.
    pub(crate) fn name(&self, version: u64) -> bool {
        match self {
            Self::Any => true,
            Self::List(tags) => tags.iter().any(|tag| tag.version() == Some(version)),
        }
    }
}

/// Between the tags of a list, where empty places count as nothing.
const SEPARATORS: [char; 3] = [' ', '\t', ','];

fn malformed(name: &HeaderName) -> Problem {
    Problem::new(
        Slug::InvalidHeader,
        format!("{name} takes `*` or entity tags in quotes, as `ETag` gives them: \"3\", or \"3\", \"4\""),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tag(weak: bool, opaque: &str) -> Tag {
        Tag { weak, opaque: opaque.to_owned() }
    }

    #[test]
    fn a_list_is_read_tag_by_tag() {
        for (text, tags) in [
            (r#""3""#, vec![tag(false, "3")]),
            (r#" W/"3" "#, vec![tag(true, "3")]),
            (r#""3","4" , W/"x,y""#, vec![tag(false, "3"), tag(false, "4"), tag(true, "x,y")]),
            (r#", "3",,"#, vec![tag(false, "3")]),
            (r#""""#, vec![tag(false, "")]),
        ] {
            assert_eq!(Tags::parse(text), Some(Tags::List(tags)), "{text}");
        }
        assert_eq!(Tags::parse(" * "), Some(Tags::Any));
    }

    #[test]
    fn what_is_no_tag_is_not_guessed_at() {
        for text in ["", ",", "3", "\"3", "3\"", "w/\"3\"", "\"3\" \"4\"", "\"3\"4", "*, \"3\"", "\"3\", *", "\"a b\""]
        {
            assert_eq!(Tags::parse(text), None, "{text}");
        }
    }

    #[test]
    fn only_the_text_we_send_is_a_version() {
        assert_eq!(tag(false, "3").version(), Some(3));
        for other in ["03", "+3", "3.0", "", "-1", "18446744073709551616"] {
            assert_eq!(tag(false, other).version(), None, "{other}");
        }
        assert_eq!((tag(true, "3").version(), tag(true, "3").strong_version()), (Some(3), None));
    }
}
