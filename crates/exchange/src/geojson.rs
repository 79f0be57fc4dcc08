//! A feature collection read a feature at a time: its properties are the columns, its point the place.

use std::fmt;
use std::io::Read;

use serde::de::{self, DeserializeSeed, Deserializer as _, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};

use crate::fault::Faults;
use crate::feature::{Feature, Sink};
use crate::loose::{self, Loose, Name, Scalar};
use crate::unknown::Unknown;

/// Names under which a collection may say that it is in WGS 84; RFC 7946 allows no other.
const WGS_84: [&str; 3] = ["urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "EPSG:4326"];

/// Reads every feature, and gives the names that were passed over.
pub(crate) fn read<S: Sink>(input: impl Read, sink: &mut S, unknown: Unknown<'_>) -> Result<Vec<String>, Faults> {
    let mut json = serde_json::Deserializer::from_reader(input);
    let mut collection = Collection { sink, unknown, features: 0, says_so: false, is_stopped: false };
    let read = json.deserialize_map(&mut collection).and_then(|()| json.end());
    let Collection { unknown, features: row, says_so: is_collection, is_stopped, .. } = collection;
    match read {
        // What stopped the reading is noted.
        Err(_) if is_stopped => Ok(unknown.ignored),
        Err(error) if error.is_data() => Err(Faults::of_file(row, "not_geojson", error.to_string())),
        Err(error) => Err(Faults::of_file(row, "not_json", error.to_string())),
        Ok(()) if !is_collection => Err(Faults::of_file(0, "not_geojson", "it is no FeatureCollection")),
        Ok(()) => Ok(unknown.ignored),
    }
}

struct Collection<'c, 'r, S> {
    sink: &'c mut S,
    unknown: Unknown<'r>,
    features: u64,
    says_so: bool,
    is_stopped: bool,
}

impl<'de, S: Sink> Visitor<'de> for &mut Collection<'_, '_, S> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a FeatureCollection")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<(), A::Error> {
        while let Some(Name(name)) = members.next_key()? {
            match name.as_str() {
                "type" => self.says_so = members.next_value::<Scalar>()?.is("FeatureCollection"),
                "features" => members.next_value_seed(Features(&mut *self))?,
                "crs" => {
                    let mut crs = Crs::default();
                    members.next_value_seed(loose::Into(&mut crs))?;
                    crs.check::<A::Error>()?;
                }
                _ => {
                    members.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(())
    }
}

/// A system of coordinates, as far as it is named.
#[derive(Default)]
struct Crs {
    is_null: bool,
    properties: CrsProperties,
}

#[derive(Default)]
struct CrsProperties {
    name: Option<Scalar>,
}

impl Crs {
    /// Coordinates of another system would put hydrants elsewhere.
    fn check<E: de::Error>(&self) -> Result<(), E> {
        let is_ours = |name: &Scalar| WGS_84.into_iter().any(|known| name.is(known));
        if self.is_null || self.properties.name.as_ref().is_some_and(is_ours) {
            return Ok(());
        }
        Err(E::custom("its coordinates are not said to be longitude and latitude of WGS 84: export it in that system"))
    }
}

impl Loose for Crs {
    fn null(&mut self) {
        self.is_null = true;
    }

    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        if name == "properties" {
            self.properties = CrsProperties::default();
            return members.next_value_seed(loose::Into(&mut self.properties));
        }
        members.next_value::<IgnoredAny>().map(|_| ())
    }
}

impl Loose for CrsProperties {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        if name == "name" {
            self.name = Some(members.next_value()?);
            return Ok(());
        }
        members.next_value::<IgnoredAny>().map(|_| ())
    }
}

struct Features<'f, 'c, 'r, S>(&'f mut Collection<'c, 'r, S>);

impl<'de, S: Sink> DeserializeSeed<'de> for Features<'_, '_, '_, S> {
    type Value = ();

    fn deserialize<D: de::Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de, S: Sink> Visitor<'de> for Features<'_, '_, '_, S> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of features")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut features: A) -> Result<(), A::Error> {
        let collection = self.0;
        loop {
            let row = collection.features + 1;
            let mut feature = Feature::new::<S>(&mut collection.unknown, row);
            let next = features.next_element_seed(loose::Into(&mut feature));
            let is_stopped = feature.is_stopped();
            if !is_stopped && next?.is_none() {
                return Ok(());
            }
            collection.features = row;
            feature.take(collection.sink);
            if is_stopped {
                collection.is_stopped = true;
                return Err(A::Error::custom("too many names"));
            }
        }
    }
}
