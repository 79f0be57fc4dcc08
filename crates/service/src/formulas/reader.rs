//! Reads the inputs of a formula out of a JSON object, noting every fault with its pointer.

use serde_json::{Map, Value};

use super::input::{Input, List, Single, wrong_type};
use crate::faults::Faults;

/// Most items of a list.
pub(crate) const MAX_ITEMS: usize = 100;

/// An object of inputs, and where it stands in the body.
pub(crate) struct Reader<'a> {
    pointer: String,
    given: &'a Map<String, Value>,
    faults: &'a mut Faults,
}

impl<'a> Reader<'a> {
    /// For an object at a pointer; what is not declared is refused by name.
    pub(crate) fn new(
        pointer: String,
        declared: &[Input],
        given: &'a Map<String, Value>,
        faults: &'a mut Faults,
    ) -> Self {
        for name in given.keys().filter(|name| declared.iter().all(|input| input.name != **name)) {
            let known: Vec<_> = declared.iter().map(|input| input.name).collect();
            let detail = format!("unknown input {name}; there are {}", known.join(", "));
            faults.note(&format!("{pointer}/{}", escaped(name)), "unknown_input", detail);
        }
        Self { pointer, given, faults }
    }

    /// An input that must be there.
    pub(crate) fn required<S: Single>(&mut self, asked: &S) -> Option<S::Value> {
        let name = asked.input().name;
        match self.look(name) {
            Some(value) => self.read(asked, value),
            None => self.refuse(name, "required", "must be given"),
        }
    }

    /// An input that may be left out. The outer none is a fault.
    #[expect(clippy::option_option, reason = "the outer one is a fault noted, the inner one a value not given")]
    pub(crate) fn optional<S: Single>(&mut self, asked: &S) -> Option<Option<S::Value>> {
        match self.look(asked.input().name) {
            Some(value) => self.read(asked, value).map(Some),
            None => Some(None),
        }
    }

    /// A list that must hold at least one item.
    pub(crate) fn list<T>(&mut self, asked: &List, item: fn(&mut Reader<'_>) -> Option<T>) -> Option<Vec<T>> {
        let found = self.list_or_none(asked, item)?;
        if found.is_empty() {
            return self.refuse(asked.input.name, "required", "must hold at least one item");
        }
        Some(found)
    }

    /// A list that may be left out or empty.
    pub(crate) fn list_or_none<T>(&mut self, asked: &List, item: fn(&mut Reader<'_>) -> Option<T>) -> Option<Vec<T>> {
        let name = asked.input.name;
        let Some(value) = self.look(name) else { return Some(Vec::new()) };
        let Some(items) = value.as_array() else {
            let (code, detail) = wrong_type("a list", value);
            return self.refuse(name, code, detail);
        };
        let pointer = format!("{}/{name}", self.pointer);
        self.faults.list(&pointer, items, MAX_ITEMS, |faults, at, value| {
            let Some(members) = value.as_object() else {
                let (code, detail) = wrong_type("an object", value);
                return faults.add(at, code, detail);
            };
            item(&mut Reader::new(at.to_owned(), asked.items, members, faults))
        })
    }

    /// Notes a fault of an input in place of its value.
    pub(crate) fn refuse<T>(&mut self, name: &str, code: &'static str, detail: impl Into<String>) -> Option<T> {
        self.faults.add(&format!("{}/{name}", self.pointer), code, detail)
    }

    /// Notes that of these inputs exactly one may be given, and is not.
    pub(crate) fn exactly_one_of<T>(&mut self, names: &[&str]) -> Option<T> {
        self.faults.exactly_one_of(&self.pointer, names)
    }

    /// The value, or its refusal by the library, noted at an input.
    pub(crate) fn good<T, E: std::fmt::Display>(
        &mut self,
        name: &str,
        code: &'static str,
        value: Result<T, E>,
    ) -> Option<T> {
        match value {
            Ok(value) => Some(value),
            Err(error) => self.refuse(name, code, error.to_string()),
        }
    }

    fn look(&self, name: &str) -> Option<&'a Value> {
        self.given.get(name).filter(|value| !value.is_null())
    }

    fn read<S: Single>(&mut self, asked: &S, value: &Value) -> Option<S::Value> {
        match asked.read(value) {
            Ok(value) => Some(value),
            Err((code, detail)) => self.refuse(asked.input().name, code, detail),
        }
    }
}

/// A name as a step of a JSON pointer.
fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
