//! Every fault of a request at once: converting a DTO notes what cannot be, goes on, and refuses at the end.

use std::fmt::Display;

use chrono::{Datelike, NaiveDate};
use longlay_records::id::AssetId;

use crate::problem::{FieldError, Problem, Slug};

/// Longest name.
pub(crate) const MAX_NAME_CHARS: usize = 120;
/// Longest note, description, source or reason.
pub(crate) const MAX_NOTE_CHARS: usize = 2000;

/// Code of a record that an id does not name.
const UNKNOWN_REFERENCE: &str = "unknown_reference";

/// Where the values came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Body,
    Query,
}

/// The faults noted so far, each with the JSON pointer of its value.
#[derive(Debug)]
pub(crate) struct Faults {
    place: Place,
    /// Pointer to the object whose members are looked at.
    base: &'static str,
    noted: Vec<FieldError>,
}

impl Faults {
    /// For the values of a body.
    pub(crate) const fn of_body() -> Self {
        Self { place: Place::Body, base: "", noted: Vec::new() }
    }

    /// For the values of a query: `/length_ft` is then the parameter `length_ft`.
    pub(crate) const fn of_query() -> Self {
        Self { place: Place::Query, base: "", noted: Vec::new() }
    }

    /// From here on for the members of the object at this pointer.
    pub(crate) fn inside(self, base: &'static str) -> Self {
        Self { base, ..self }
    }

    /// Notes a fault.
    pub(crate) fn note(&mut self, pointer: &str, code: &'static str, detail: impl Into<String>) {
        self.noted.push(match self.place {
            Place::Body => FieldError::at(format!("{}{pointer}", self.base), code, detail),
            Place::Query => FieldError::in_query(parameter(pointer), code, detail),
        });
    }

    /// Takes over the faults of a value that stands at a place in the body.
    pub(crate) fn within(&mut self, at: &str, inner: Self) {
        self.noted.extend(
            inner
                .noted
                .into_iter()
                .map(|fault| FieldError { pointer: fault.pointer.map(|pointer| format!("{at}{pointer}")), ..fault }),
        );
    }

    /// Notes a fault in place of the value.
    pub(crate) fn add<T>(&mut self, pointer: &str, code: &'static str, detail: impl Into<String>) -> Option<T> {
        self.note(pointer, code, detail);
        None
    }

    /// Notes that of these members exactly one may be given, and is not.
    pub(crate) fn exactly_one_of<T>(&mut self, pointer: &str, names: &[&str]) -> Option<T> {
        self.add(pointer, "exactly_one_of", format!("give exactly one of {}", names.join(", ")))
    }

    /// The value, or none with its fault noted.
    pub(crate) fn good<T, E: Display>(&mut self, pointer: &str, value: Result<T, E>) -> Option<T> {
        value.map_err(|error| self.note(pointer, "out_of_bounds", error.to_string())).ok()
    }

    /// A number that must be there and inside its bounds.
    pub(crate) fn required<T, E: Display>(
        &mut self,
        pointer: &str,
        value: Option<f64>,
        make: impl FnOnce(f64) -> Result<T, E>,
    ) -> Option<T> {
        let value = self.given(pointer, value)?;
        self.good(pointer, make(value))
    }

    /// A value that must be there and is as it should be by its form.
    pub(crate) fn given<T>(&mut self, pointer: &str, value: Option<T>) -> Option<T> {
        value.or_else(|| self.add(pointer, "required", "must be given"))
    }

    /// A number inside its bounds, if it is there. The outer none is a fault.
    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one a value not given")]
    pub(crate) fn optional<T, E: Display>(
        &mut self,
        pointer: &str,
        value: Option<f64>,
        make: impl FnOnce(f64) -> Result<T, E>,
    ) -> Option<Option<T>> {
        match value {
            Some(value) => self.good(pointer, make(value)).map(Some),
            None => Some(None),
        }
    }

    /// One of the department's ids.
    pub(crate) fn id(&mut self, pointer: &str, text: &str) -> Option<AssetId> {
        AssetId::new(text).map_err(|error| self.note(pointer, "invalid_id", error.to_string())).ok()
    }

    /// One of the department's ids, if it is there. The outer none is a fault.
    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one a value not given")]
    pub(crate) fn optional_id(&mut self, pointer: &str, text: Option<&str>) -> Option<Option<AssetId>> {
        text.map_or(Some(None), |text| self.id(pointer, text).map(Some))
    }

    /// Text of 1 to `most` characters, not blank, on one line.
    pub(crate) fn text(&mut self, pointer: &str, text: &str, most: usize) -> Option<String> {
        if text.trim().is_empty() || text.chars().nth(most).is_some() {
            return self.add(pointer, "out_of_bounds", format!("must be 1 to {most} characters, and not blank"));
        }
        if text.chars().any(char::is_control) {
            return self.add(pointer, "control_character", "must hold no control characters, line breaks included");
        }
        Some(text.to_owned())
    }

    /// Such text, if it is there. The outer none is a fault.
    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one a value not given")]
    pub(crate) fn optional_text(&mut self, pointer: &str, text: Option<&str>, most: usize) -> Option<Option<String>> {
        text.map_or(Some(None), |text| self.text(pointer, text, most).map(Some))
    }

    /// A day of a year that a record can have.
    pub(crate) fn day(&mut self, pointer: &str, day: NaiveDate) -> Option<NaiveDate> {
        if !(1900..=9999).contains(&day.year()) {
            return self.add(
                pointer,
                "out_of_bounds",
                format!("the year must be from 1900 to 9999, not {}", day.year()),
            );
        }
        Some(day)
    }

    /// Each item of a list of at most `most`, converted at its own pointer; none where one is at fault.
    pub(crate) fn list<A, T>(
        &mut self,
        pointer: &str,
        items: &[A],
        most: usize,
        mut convert: impl FnMut(&mut Self, &str, &A) -> Option<T>,
    ) -> Option<Vec<T>> {
        if items.len() > most {
            return self.add(pointer, "out_of_bounds", format!("must hold at most {most} items, not {}", items.len()));
        }
        let mut item = |(i, item)| convert(self, &format!("{pointer}/{i}"), item);
        let converted: Vec<_> = items.iter().enumerate().map(&mut item).collect();
        converted.into_iter().collect()
    }

    /// Whether nothing was noted.
    pub(crate) const fn is_empty(&self) -> bool {
        self.noted.is_empty()
    }

    /// Everything noted so far.
    #[cfg(test)]
    pub(crate) fn noted(&self) -> &[FieldError] {
        &self.noted
    }

    /// An id that a body says again beside the path: it must be the path's.
    pub(crate) fn same_id(&mut self, pointer: &str, said: Option<&str>, id: &AssetId) {
        if said.is_some_and(|said| said != id.as_str()) {
            self.note(pointer, "not_the_path_s", format!("the path says {id}; leave it out, or say the same"));
        }
    }

    /// The value, if nothing was noted; else the problem with every fault.
    pub(crate) fn finish<T>(self, value: Option<T>) -> Result<T, Problem> {
        match value {
            Some(value) if self.noted.is_empty() => Ok(value),
            _ => Err(Problem::with_errors(self.slug(), self.noted)),
        }
    }

    fn slug(&self) -> Slug {
        let unknown = |fault: &FieldError| fault.code == UNKNOWN_REFERENCE;
        match self.place {
            Place::Query => Slug::InvalidQuery,
            Place::Body if !self.noted.is_empty() && self.noted.iter().all(unknown) => Slug::UnknownReference,
            Place::Body => Slug::InvalidValues,
        }
    }
}

/// The parameter that says a value: the last name of its pointer, but for the pumper that boosts.
fn parameter(pointer: &str) -> &str {
    match pointer {
        "/boost/pumper_id" => "boost_pumper_id",
        _ => pointer.rsplit('/').next().unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use longlay_hydraulics::quantity::Pressure;

    use super::*;

    #[test]
    fn characters_are_counted_and_not_bytes() {
        let mut faults = Faults::of_body();
        assert!(faults.text("/name", &"é".repeat(120), MAX_NAME_CHARS).is_some());
        assert!(faults.text("/name", &"é".repeat(121), MAX_NAME_CHARS).is_none());
    }

    #[test]
    fn blank_and_broken_lines_are_no_name() {
        let mut faults = Faults::of_body();
        for bad in ["", "  ", "a\nb", "a\u{7f}"] {
            assert!(faults.text("/name", bad, MAX_NAME_CHARS).is_none(), "{bad:?}");
        }
    }

    #[test]
    fn all_faults_are_told_at_once_with_their_bounds() {
        let mut faults = Faults::of_body();
        faults.required("/static_psi", Some(2000.0), Pressure::from_psi);
        faults.required("/residual_psi", None, Pressure::from_psi);
        let problem = format!("{:?}", faults.finish(Some(())).unwrap_err());
        assert!(problem.contains("/static_psi") && problem.contains("from 0 to 1000 psi"), "{problem}");
        assert!(problem.contains("/residual_psi"), "{problem}");
    }

    #[test]
    fn numbers_that_are_none_are_refused_in_a_query() {
        for bad in [f64::NAN, f64::INFINITY] {
            let mut faults = Faults::of_query();
            faults.required("/main_floor_psi", Some(bad), Pressure::from_psi);
            let problem = format!("{:?}", faults.finish(Some(())).unwrap_err());
            assert!(problem.contains("parameter: Some(\"main_floor_psi\")"), "{problem}");
        }
    }
}
