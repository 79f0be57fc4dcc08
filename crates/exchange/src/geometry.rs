//! A feature's geometry: its coordinates kept flat, with where each list of them ends, and no more of them than its kind asks for.

use std::fmt;

use longlay_records::hydrant::Location;
use longlay_records::shape::Rings;
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};

use crate::loose::{Loose, Scalar};

/// A position as it is written: longitude, latitude. Height above it is left out: nobody says above which datum.
pub(crate) type Position = (f64, f64);

/// A geometry being read.
#[derive(Default)]
pub(crate) struct Geometry {
    kind: Option<Scalar>,
    coordinates: Coordinates,
}

#[derive(Default)]
struct Coordinates {
    most: usize,
    whole: Nested,
    positions: Vec<Position>,
    /// For each list of positions, how many positions there are up to its end.
    lines: Vec<usize>,
    /// For each list of such lists, how many of them there are up to its end.
    groups: Vec<usize>,
    is_too_long: bool,
}

/// What a list turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Nested {
    #[default]
    Nothing,
    Number,
    Position,
    Line,
    Group,
    Groups,
    Wrong,
}

impl Geometry {
    /// Of which at most so many positions are kept.
    pub(crate) fn at_most(most: usize) -> Self {
        Self { kind: None, coordinates: Coordinates { most, ..Coordinates::default() } }
    }

    /// Whether it has more positions than are kept.
    pub(crate) const fn is_too_long(&self) -> bool {
        self.coordinates.is_too_long
    }

    fn is(&self, kind: &str, whole: Nested) -> bool {
        self.coordinates.whole == whole && self.kind.as_ref().is_some_and(|own| own.is(kind))
    }

    /// Its point, where it is one.
    pub(crate) fn point(&self) -> Option<Position> {
        self.coordinates.positions.first().copied().filter(|_| self.is("Point", Nested::Position))
    }

    /// Its lines, where it is one or more.
    pub(crate) fn lines(&self) -> Option<impl Iterator<Item = &[Position]>> {
        let is_known = self.is("LineString", Nested::Line) || self.is("MultiLineString", Nested::Group);
        is_known.then(|| self.coordinates.lines(0, self.coordinates.lines.len()))
    }

    /// Its polygons, where it is one or more and every position is a place.
    pub(crate) fn polygons(&self) -> Option<Vec<Rings>> {
        let own = &self.coordinates;
        if !self.is("Polygon", Nested::Group) && !self.is("MultiPolygon", Nested::Groups) {
            return None;
        }
        let mut begin = 0;
        let mut polygons = Vec::new();
        for end in &own.groups {
            polygons.push(own.lines(begin, *end).map(places).collect::<Option<Rings>>()?);
            begin = *end;
        }
        Some(polygons)
    }
}

fn places(positions: &[Position]) -> Option<Vec<Location>> {
    positions.iter().map(|(lon, lat)| Location::new(*lon, *lat).ok()).collect()
}

impl Coordinates {
    fn lines(&self, begin: usize, end: usize) -> impl Iterator<Item = &[Position]> {
        (begin..end).map(|at| {
            let from = at.checked_sub(1).map_or(0, |before| self.lines[before]);
            &self.positions[from..self.lines[at]]
        })
    }

    fn keep(&mut self, position: Position) {
        if self.positions.len() < self.most {
            self.positions.push(position);
        } else {
            self.is_too_long = true;
        }
    }

    /// What a list of these is.
    fn end(&mut self, of: Nested) -> Nested {
        match of {
            Nested::Position => {
                self.lines.push(self.positions.len());
                Nested::Line
            }
            Nested::Line => {
                self.groups.push(self.lines.len());
                Nested::Group
            }
            Nested::Group => Nested::Groups,
            Nested::Nothing => Nested::Nothing,
            Nested::Number | Nested::Groups | Nested::Wrong => Nested::Wrong,
        }
    }
}

impl Loose for Geometry {
    fn member<'de, A: MapAccess<'de>>(&mut self, name: &str, members: &mut A) -> Result<(), A::Error> {
        match name {
            "type" => self.kind = Some(members.next_value()?),
            "coordinates" => {
                self.coordinates = Coordinates { most: self.coordinates.most, ..Coordinates::default() };
                self.coordinates.whole = members.next_value_seed(Nest(&mut self.coordinates))?;
            }
            _ => {
                members.next_value::<IgnoredAny>()?;
            }
        }
        Ok(())
    }
}

/// How deep lists are nested in the coordinates of several polygons. What is deeper is passed over unbuilt.
const MOST_DEEP: u8 = 4;

/// Reads a list, or what stands in one.
struct Nest<'c>(&'c mut Coordinates);

/// What stood there; of a number which.
struct Read(Nested, f64);

impl<'de> DeserializeSeed<'de> for Nest<'_> {
    type Value = Nested;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Nested, D::Error> {
        deserializer.deserialize_any(NestVisitor(self.0, MOST_DEEP)).map(|read| read.0)
    }
}

/// With how much deeper it may be.
struct Part<'c>(&'c mut Coordinates, u8);

impl<'de> DeserializeSeed<'de> for Part<'_> {
    type Value = Read;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Read, D::Error> {
        deserializer.deserialize_any(NestVisitor(self.0, self.1))
    }
}

struct NestVisitor<'c>(&'c mut Coordinates, u8);

impl<'de> Visitor<'de> for NestVisitor<'_> {
    type Value = Read;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any value")
    }

    fn visit_unit<E: Error>(self) -> Result<Read, E> {
        Ok(Read(Nested::Wrong, 0.0))
    }

    fn visit_bool<E: Error>(self, _: bool) -> Result<Read, E> {
        Ok(Read(Nested::Wrong, 0.0))
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Read, E> {
        self.visit_f64(serde_json::Number::from(number).as_f64().unwrap_or(f64::MAX))
    }

    fn visit_u64<E: Error>(self, number: u64) -> Result<Read, E> {
        self.visit_f64(serde_json::Number::from(number).as_f64().unwrap_or(f64::MAX))
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Read, E> {
        Ok(Read(Nested::Number, number))
    }

    fn visit_str<E: Error>(self, _: &str) -> Result<Read, E> {
        Ok(Read(Nested::Wrong, 0.0))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut elements: A) -> Result<Read, A::Error> {
        let Some(deeper) = self.1.checked_sub(1) else {
            while elements.next_element::<IgnoredAny>()?.is_some() {}
            return Ok(Read(Nested::Wrong, 0.0));
        };
        let mut of = Nested::Nothing;
        let (mut count, mut numbers) = (0_usize, [0.0; 2]);
        while let Some(Read(part, number)) = elements.next_element_seed(Part(&mut *self.0, deeper))? {
            of = if count == 0 || part == of { part } else { Nested::Wrong };
            if let Some(place) = numbers.get_mut(count) {
                *place = number;
            }
            count += 1;
            // What stands behind longitude and latitude is nobody's, whatever it is.
            if of == Nested::Number && count == 2 {
                while elements.next_element::<IgnoredAny>()?.is_some() {}
            }
        }
        if of == Nested::Number && count >= 2 {
            self.0.keep((numbers[0], numbers[1]));
            return Ok(Read(Nested::Position, 0.0));
        }
        Ok(Read(self.0.end(of), 0.0))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut members: A) -> Result<Read, A::Error> {
        while members.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
        Ok(Read(Nested::Wrong, 0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loose;

    fn read(json: &str, most: usize) -> Geometry {
        let mut geometry = Geometry::at_most(most);
        let mut json = serde_json::Deserializer::from_str(json);
        loose::Into(&mut geometry).deserialize(&mut json).unwrap();
        geometry
    }

    #[test]
    fn each_kind_is_read_as_itself_and_as_no_other() {
        let point = read(r#"{"coordinates": [1, 2.5, 300], "type": "Point"}"#, 1);
        assert_eq!(point.point(), Some((1.0, 2.5)));
        assert!(point.lines().is_none() && point.polygons().is_none());
        let lines =
            read(r#"{"type": "MultiLineString", "coordinates": [[[1, 2], [3, 4]], [[5, 6], [7, 8], [9, 10]]]}"#, 9);
        let found: Vec<_> = lines.lines().unwrap().map(<[_]>::len).collect();
        assert_eq!((found, lines.point()), (vec![2, 3], None));
        let line = read(r#"{"type": "LineString", "coordinates": [[1, 2], [3, 4]]}"#, 9);
        assert_eq!(line.lines().unwrap().count(), 1);
        let areas = r#"{"type": "MultiPolygon", "coordinates": [[[[0,0],[1,0],[1,1],[0,0]]], [[[5,5],[6,5],[6,6],[5,5]], [[5,5],[6,5],[6,6],[5,5]]]]}"#;
        let rings: Vec<_> = read(areas, 99).polygons().unwrap().iter().map(Vec::len).collect();
        assert_eq!(rings, [1, 2]);
    }

    #[test]
    fn what_is_nested_wrong_is_no_geometry() {
        for coordinates in ["[]", "[1]", "[1, \"2\"]", "[[1, 2], 3]", "[null, 1]", "{}", "7", "[[[[[1, 2]]]]]"] {
            for kind in ["Point", "LineString", "MultiLineString", "Polygon", "MultiPolygon"] {
                let geometry = read(&format!(r#"{{"type": "{kind}", "coordinates": {coordinates}}}"#), 9);
                assert!(geometry.point().is_none() && geometry.lines().is_none(), "{kind} {coordinates}");
                assert!(geometry.polygons().is_none(), "{kind} {coordinates}");
            }
        }
    }

    #[test]
    fn no_more_is_kept_than_was_asked_for() {
        let line = read(r#"{"type": "LineString", "coordinates": [[1, 2], [3, 4], [5, 6]]}"#, 2);
        assert!(line.is_too_long());
        assert_eq!(line.coordinates.positions.len(), 2);
    }
}
