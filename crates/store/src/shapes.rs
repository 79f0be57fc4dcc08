//! Lines and areas as bytes, the least byte first: a row of a street is a third of what it would be as text, and is read ten times as fast.

use longlay_records::hydrant::Location;
use longlay_records::shape::{MAX_SHAPE_VERTICES, Rings, Shape};

/// Why bytes are no line or area.
const BROKEN: &str = "its coordinates are not what was written";

/// A line.
pub(crate) fn line_bytes(line: &[Location]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(line.len() * 16);
    put(&mut bytes, line);
    bytes
}

/// The line of these bytes, of two places or more.
pub(crate) fn line(bytes: &[u8]) -> Result<Vec<Location>, &'static str> {
    if bytes.len() < 32 || !bytes.len().is_multiple_of(16) {
        return Err(BROKEN);
    }
    places(bytes)
}

/// An area.
pub(crate) fn shape_bytes(shape: &Shape) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(shape.vertices() * 16 + 64);
    let count = |bytes: &mut Vec<u8>, count: usize| {
        // A shape is far under what four bytes count.
        bytes.extend_from_slice(&u32::try_from(count).unwrap_or(u32::MAX).to_le_bytes());
    };
    count(&mut bytes, shape.polygons().len());
    for rings in shape.polygons() {
        count(&mut bytes, rings.len());
        for ring in rings {
            count(&mut bytes, ring.len());
        }
    }
    for ring in shape.polygons().iter().flatten() {
        put(&mut bytes, ring);
    }
    bytes
}

/// The area of these bytes.
pub(crate) fn shape(bytes: &[u8]) -> Result<Shape, String> {
    let mut rest = bytes;
    let mut polygons = Vec::new();
    for _ in 0..count(&mut rest)? {
        let rings = count(&mut rest)?;
        polygons.push((0..rings).map(|_| count(&mut rest)).collect::<Result<Vec<_>, _>>()?);
    }
    let ring = |size: usize| {
        let (own, behind) = rest.split_at_checked(size * 16).ok_or(BROKEN)?;
        rest = behind;
        places(own)
    };
    let mut ring = ring;
    let polygons: Result<Vec<Rings>, _> =
        polygons.into_iter().map(|sizes| sizes.into_iter().map(&mut ring).collect()).collect();
    Shape::new(polygons?).map_err(|fault| fault.to_string())
}

fn count(rest: &mut &[u8]) -> Result<usize, &'static str> {
    let (own, behind) = rest.split_first_chunk::<4>().ok_or(BROKEN)?;
    *rest = behind;
    usize::try_from(u32::from_le_bytes(*own)).ok().filter(|count| *count <= MAX_SHAPE_VERTICES).ok_or(BROKEN)
}

fn put(bytes: &mut Vec<u8>, line: &[Location]) {
    for place in line {
        bytes.extend_from_slice(&place.lon().to_le_bytes());
        bytes.extend_from_slice(&place.lat().to_le_bytes());
    }
}

fn places(bytes: &[u8]) -> Result<Vec<Location>, &'static str> {
    let (pairs, _) = bytes.as_chunks::<16>();
    pairs.iter().map(|pair| place(pair).ok_or(BROKEN)).collect()
}

fn place(pair: &[u8; 16]) -> Option<Location> {
    let (lon, lat) = (pair.first_chunk::<8>()?, pair.last_chunk::<8>()?);
    Location::new(f64::from_le_bytes(*lon), f64::from_le_bytes(*lat)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Location {
        Location::new(lon, lat).unwrap()
    }

    #[test]
    fn what_was_written_is_read_again_bit_by_bit() {
        let places = vec![at(-30.000_000_1, 40.1), at(-0.0, 5e-324), at(180.0, -90.0)];
        assert_eq!(line(&line_bytes(&places)), Ok(places));
        let ring = |from: f64| vec![at(from, 0.0), at(from + 1.0, 0.0), at(from + 1.0, 1.0), at(from, 0.0)];
        let area = Shape::new(vec![vec![ring(0.0), ring(0.25)], vec![ring(7.0)]]).unwrap();
        assert_eq!(shape(&shape_bytes(&area)), Ok(area));
    }

    #[test]
    fn bytes_of_anything_else_are_told() {
        for bytes in [&[][..], &[0; 16], &[0; 40], &[255; 32]] {
            assert!(line(bytes).is_err() && shape(bytes).is_err(), "{bytes:?}");
        }
        let cut = [&2_u32.to_le_bytes()[..], &1_u32.to_le_bytes(), &4_u32.to_le_bytes()].concat();
        assert!(shape(&cut).is_err());
    }
}
