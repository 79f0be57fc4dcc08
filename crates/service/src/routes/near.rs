//! Hydrants near a point: the box that holds the circle, for the store to search.

use longlay_hydraulics::quantity::Length;
use longlay_records::hydrant::Location;
use longlay_store::Bbox;

/// A degree of latitude is at least this long, ft: a hundredth under the shortest, so that the box never cuts the circle.
const LEAST_FT_PER_DEGREE: f64 = 361_000.0;

/// A circle on the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Near {
    pub(super) centre: Location,
    pub(super) within: Length,
}

impl Near {
    pub(super) fn holds(&self, location: &Location) -> bool {
        self.centre.distance_ft(location) <= self.within.ft()
    }

    /// A box around it. Around a pole it takes in every longitude.
    pub(super) fn bbox(&self) -> Bbox {
        let degrees = self.within.ft() / LEAST_FT_PER_DEGREE;
        let (south, north) = (self.centre.lat() - degrees, self.centre.lat() + degrees);
        if south <= -90.0 || north >= 90.0 {
            return Bbox { west: -180.0, south: south.max(-90.0), east: 180.0, north: north.min(90.0) };
        }
        // Meridians lie closest where the circle comes nearest to a pole.
        let shrink = north.abs().max(south.abs()).to_radians().cos();
        let across = degrees / shrink;
        if across >= 180.0 {
            return Bbox { west: -180.0, south, east: 180.0, north };
        }
        Bbox { west: turned(self.centre.lon() - across), south, east: turned(self.centre.lon() + across), north }
    }
}

/// A longitude past the antimeridian, from the other side.
fn turned(lon: f64) -> f64 {
    match lon {
        lon if lon < -180.0 => lon + 360.0,
        lon if lon > 180.0 => lon - 360.0,
        lon => lon,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(lon: f64, lat: f64, ft: f64) -> Near {
        Near { centre: Location::new(lon, lat).unwrap(), within: Length::from_ft(ft).unwrap() }
    }

    fn boxed(bbox: &Bbox, at: &Location) -> bool {
        let across = if bbox.west <= bbox.east {
            (bbox.west..=bbox.east).contains(&at.lon())
        } else {
            at.lon() >= bbox.west || at.lon() <= bbox.east
        };
        across && (bbox.south..=bbox.north).contains(&at.lat())
    }

    #[test]
    fn the_box_holds_every_point_of_the_circle() {
        for (lon, lat) in [(-30.0, 40.0), (179.9999, 0.0), (-180.0, -65.0), (0.0, 89.9), (12.0, -90.0)] {
            for ft in [1.0, 1000.0, 100_000.0] {
                let near = near(lon, lat, ft);
                let bbox = near.bbox();
                let step = ft / 50_000.0;
                for (i, j) in (-20..=20).flat_map(|i| (-20..=20).map(move |j| (i, j))) {
                    let lat = (lat + f64::from(i) * step / 20.0).clamp(-90.0, 90.0);
                    let lon = turned(lon + f64::from(j) * step / 20.0);
                    let at = Location::new(lon, lat).unwrap();
                    assert!(!near.holds(&at) || boxed(&bbox, &at), "{near:?} {at:?} {bbox:?}");
                }
            }
        }
    }
}
