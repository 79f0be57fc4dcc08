//! Which form of an answer a caller wants: `?format=`, else `Accept` by RFC 9110, its weights and its wildcards.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::header;
use axum::http::request::Parts;

use crate::problem::{Problem, Slug};

/// A form that records go out in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum MediaType {
    /// One JSON document.
    Json,
    /// A JSON document a line.
    JsonLines,
    /// A table with a line of headings.
    Csv,
    /// A collection of features, for maps.
    GeoJson,
}

impl MediaType {
    const fn essence(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::JsonLines => "application/x-ndjson",
            Self::Csv => "text/csv",
            Self::GeoJson => "application/geo+json",
        }
    }

    /// As it stands in `Content-Type`.
    pub(crate) const fn content_type(self) -> &'static str {
        match self {
            Self::Csv => "text/csv; charset=utf-8; header=present",
            other => other.essence(),
        }
    }
}

/// What `Accept` says; nothing where it is not sent, or holds nothing that can be read.
#[derive(Debug, Default)]
pub(crate) struct Accept(Vec<Range>);

impl<S: Send + Sync> FromRequestParts<S> for Accept {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Infallible> {
        let values = parts.headers.get_all(header::ACCEPT).iter();
        Ok(Self(values.filter_map(|value| value.to_str().ok()).flat_map(ranges).collect()))
    }
}

impl Accept {
    /// The form offered that is wanted most, the first among equals.
    pub(crate) fn choose(&self, offered: &[MediaType]) -> Result<MediaType, Problem> {
        let weighed = offered.iter().rev().map(|&form| (self.weight(form), form)).filter(|(weight, _)| *weight > 0);
        // Of equals `max_by_key` takes the last: so they are gone through backwards.
        weighed.max_by_key(|(weight, _)| *weight).map(|(_, form)| form).ok_or_else(|| {
            let names: Vec<_> = offered.iter().map(|form| form.essence()).collect();
            Problem::new(Slug::NotAcceptable, format!("this is to be had as {}", names.join(", ")))
        })
    }

    /// By the range that says most exactly what is meant.
    fn weight(&self, form: MediaType) -> u16 {
        if self.0.is_empty() {
            return FULL;
        }
        let fitting = self.0.iter().filter_map(|range| Some((range.fits(form.essence())?, range.weight)));
        fitting.max_by_key(|(exactness, _)| *exactness).map_or(0, |(_, weight)| weight)
    }
}

/// The weight of what is wanted without reserve, in thousandths: the most digits a weight has is three.
const FULL: u16 = 1000;

#[derive(Debug)]
struct Range {
    kind: String,
    form: String,
    weight: u16,
}

impl Range {
    /// How exactly it names a media type; none where it names another.
    fn fits(&self, essence: &str) -> Option<u8> {
        let (kind, form) = essence.split_once('/')?;
        match (self.kind.as_str(), self.form.as_str()) {
            ("*", "*") => Some(0),
            (own, "*") if own == kind => Some(1),
            (own, named) if own == kind && named == form => Some(2),
            _ => None,
        }
    }
}

/// The ranges of one header. What cannot be read is passed over; parameters other than the weight do not matter here.
fn ranges(header: &str) -> Vec<Range> {
    let read = |element: &str| {
        let mut parts = element.split(';').map(|part| part.trim().to_ascii_lowercase());
        let named = parts.next()?;
        let (kind, form) = named.split_once('/').filter(|(kind, form)| !kind.is_empty() && !form.is_empty())?;
        let weight = parts.find_map(|part| part.strip_prefix("q=").map(weight)).unwrap_or(Some(FULL))?;
        Some(Range { kind: kind.to_owned(), form: form.to_owned(), weight })
    };
    header.split(',').filter_map(read).collect()
}

fn weight(text: &str) -> Option<u16> {
    let number: f64 = text.parse().ok().filter(|number| (0.0..=1.0).contains(number))?;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 1000")]
    Some((number * f64::from(FULL)).round() as u16)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [MediaType; 3] = [MediaType::Json, MediaType::JsonLines, MediaType::Csv];

    fn chosen(accept: &str) -> Option<MediaType> {
        Accept(ranges(accept)).choose(&ALL).ok()
    }

    #[test]
    fn without_a_wish_the_first_form_goes_out() {
        assert_eq!(Accept::default().choose(&ALL), Ok(MediaType::Json));
        for any in ["*/*", "application/*", "text/html, */*;q=0.1", "nonsense", "application/json;q=5"] {
            assert_eq!(chosen(any), Some(MediaType::Json), "{any}");
        }
    }

    #[test]
    fn the_heaviest_wish_is_met_and_the_most_exact_range_weighs() {
        assert_eq!(chosen("text/csv"), Some(MediaType::Csv));
        assert_eq!(chosen("TEXT/CSV; Charset=UTF-8"), Some(MediaType::Csv));
        assert_eq!(chosen("application/json;q=0.5, application/x-ndjson;q=0.8"), Some(MediaType::JsonLines));
        assert_eq!(chosen("*/*;q=0.9, application/json;q=0.1"), Some(MediaType::JsonLines));
        assert_eq!(chosen("text/*, application/json"), Some(MediaType::Json));
        assert_eq!(chosen("text/*, application/json;q=0.999"), Some(MediaType::Csv));
    }

    #[test]
    fn what_is_not_offered_or_not_wanted_is_refused() {
        for none in ["text/html", "application/xml, image/*", "*/*;q=0", "application/json;q=0"] {
            assert_eq!(chosen(none), None, "{none}");
        }
    }
}
