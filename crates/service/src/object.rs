//! JSON objects, where objects are meant. What serde derives for a struct also reads an array, member after member in the order of their
//! declaration: `[40, -30]` would be a location with its longitude and latitude exchanged, and nobody would be told.

use std::fmt;
use std::marker::PhantomData;

use serde::de::value::MapAccessDeserializer;
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};

/// A value read from an object, and from nothing else.
pub(crate) struct Object<T>(pub(crate) T);

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Object<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(ObjectVisitor(PhantomData))
    }
}

struct ObjectVisitor<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for ObjectVisitor<T> {
    type Value = Object<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Object<T>, A::Error> {
        T::deserialize(MapAccessDeserializer::new(map)).map(Object)
    }
}

/// An object, for `#[serde(deserialize_with = "crate::object::one")]`.
pub(crate) fn one<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<T, D::Error> {
    Object::deserialize(deserializer).map(|Object(value)| value)
}

/// An object or null. Beside `default`, for a member that may be left out.
pub(crate) fn maybe<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<Option<T>, D::Error> {
    Option::deserialize(deserializer).map(|value| value.map(|Object(value)| value))
}

/// A list of objects.
pub(crate) fn many<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<Vec<T>, D::Error> {
    Vec::deserialize(deserializer).map(values)
}

/// A list of objects or null. Beside `default`, for a member that may be left out.
pub(crate) fn maybe_many<'de, D: Deserializer<'de>, T: Deserialize<'de>>(
    deserializer: D,
) -> Result<Option<Vec<T>>, D::Error> {
    Option::deserialize(deserializer).map(|list| list.map(values))
}

fn values<T>(list: Vec<Object<T>>) -> Vec<T> {
    list.into_iter().map(|Object(value)| value).collect()
}
