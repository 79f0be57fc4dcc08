//! JSON read member by member with whatever nobody asks for passed over unbuilt: what a file costs in memory is bounded by what is kept of it.

use std::fmt;

use serde::de::{Deserialize, DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::Number;

/// Longest text that is kept, as long as a row of a sheet may be.
pub(crate) const MOST_TEXT_BYTES: usize = crate::rows::MAX_ROW_BYTES;
/// Longest part of a name that is kept: no column's is so long.
const MOST_NAME_CHARS: usize = 100;

/// What an object's or a list's parts are for. What is neither leaves it as it is.
pub(crate) trait Loose {
    fn null(&mut self) {}

    fn member<'de, A: MapAccess<'de>>(&mut self, _name: &str, members: &mut A) -> Result<(), A::Error> {
        members.next_value::<IgnoredAny>().map(|_| ())
    }

    fn elements<'de, A: SeqAccess<'de>>(&mut self, _elements: &mut A) -> Result<(), A::Error> {
        Ok(())
    }
}

/// Reads a value into it.
pub(crate) struct Into<'l, L>(pub(crate) &'l mut L);

impl<'de, L: Loose> DeserializeSeed<'de> for Into<'_, L> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de, L: Loose> Visitor<'de> for Into<'_, L> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any value")
    }

    fn visit_unit<E: Error>(self) -> Result<(), E> {
        self.0.null();
        Ok(())
    }

    fn visit_bool<E: Error>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E: Error>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E: Error>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E: Error>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E: Error>(self, _: &str) -> Result<(), E> {
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut elements: A) -> Result<(), A::Error> {
        self.0.elements(&mut elements)?;
        drain(elements)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        while let Some(Name(name)) = members.next_key()? {
            self.0.member(&name, &mut members)?;
        }
        Ok(())
    }
}

fn drain<'de, A: SeqAccess<'de>>(mut elements: A) -> Result<(), A::Error> {
    while elements.next_element::<IgnoredAny>()?.is_some() {}
    Ok(())
}

/// A member's name, as far as it is kept.
pub(crate) struct Name(pub(crate) String);

impl<'de> Deserialize<'de> for Name {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_str(NameVisitor)
    }
}

struct NameVisitor;

impl Visitor<'_> for NameVisitor {
    type Value = Name;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a name")
    }

    fn visit_str<E: Error>(self, name: &str) -> Result<Name, E> {
        Ok(Name(name.chars().take(MOST_NAME_CHARS).collect()))
    }
}

/// A value of one piece; of one of many only that it is.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Scalar {
    Null,
    Flag(bool),
    Number(f64),
    Text(String),
    /// A text over [`MOST_TEXT_BYTES`].
    TooLong,
    Nested,
}

impl Scalar {
    pub(crate) fn is(&self, word: &str) -> bool {
        matches!(self, Self::Text(text) if text == word)
    }
}

impl<'de> Deserialize<'de> for Scalar {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ScalarVisitor)
    }
}

struct ScalarVisitor;

impl<'de> Visitor<'de> for ScalarVisitor {
    type Value = Scalar;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any value")
    }

    fn visit_unit<E: Error>(self) -> Result<Scalar, E> {
        Ok(Scalar::Null)
    }

    fn visit_bool<E: Error>(self, flag: bool) -> Result<Scalar, E> {
        Ok(Scalar::Flag(flag))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Scalar, E> {
        Ok(Number::from(number).as_f64().map_or(Scalar::Null, Scalar::Number))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Scalar, E> {
        Ok(Number::from(number).as_f64().map_or(Scalar::Null, Scalar::Number))
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Scalar, E> {
        Ok(Scalar::Number(number))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Scalar, E> {
        let is_kept = text.len() <= MOST_TEXT_BYTES;
        Ok(if is_kept { Scalar::Text(text.to_owned()) } else { Scalar::TooLong })
    }

    fn visit_seq<A: SeqAccess<'de>>(self, elements: A) -> Result<Scalar, A::Error> {
        drain(elements)?;
        Ok(Scalar::Nested)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Scalar, A::Error> {
        while members.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        Ok(Scalar::Nested)
    }
}
