//! From degrees to feet on a plane, for a town and what lies around it.

use longlay_records::hydrant::Location;

/// Equatorial radius of WGS 84, ft.
const EQUATOR_FT: f64 = 6_378_137.0 / 0.3048;
/// First eccentricity of WGS 84, squared.
const ECCENTRICITY_2: f64 = 0.006_694_379_990_14;

/// A plane that touches the earth at one place, and is true to scale along its meridian: transverse Mercator on the sphere, with the two radii of WGS 84 at
/// that place. Within 30 miles of it lengths are off by less than one in a thousand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Plane {
    lon_deg: f64,
    lat: f64,
    /// Radius of curvature across the meridian, ft.
    across_ft: f64,
    /// Along it, ft.
    along_ft: f64,
}

impl Plane {
    /// Touching the earth in the middle of these places: half of them lie on each side, so that one that was written down wrongly moves it little.
    pub(crate) fn amid(places: impl Iterator<Item = Location> + Clone) -> Self {
        let first = places.clone().next().map_or(0.0, |place| place.lon());
        let lon = middle(places.clone().map(|place| around(place.lon() - first)).collect());
        Self::at(first + lon, middle(places.map(|place| place.lat()).collect()))
    }

    fn at(lon_deg: f64, lat_deg: f64) -> Self {
        let lat = lat_deg.to_radians();
        let bulge = 1.0 - ECCENTRICITY_2 * lat.sin().powi(2);
        let across_ft = EQUATOR_FT / bulge.sqrt();
        Self { lon_deg, lat, across_ft, along_ft: across_ft * (1.0 - ECCENTRICITY_2) / bulge }
    }

    /// Where a place lies, ft east and north. A place a quarter of the earth away lies nowhere: infinitely far.
    pub(crate) fn feet(&self, place: Location) -> [f64; 2] {
        let (lon, lat) = (around(place.lon() - self.lon_deg).to_radians(), place.lat().to_radians());
        if lon.cos() <= 0.0 {
            return [f64::INFINITY; 2];
        }
        let east = (lat.cos() * lon.sin()).atanh();
        let north = lat.sin().atan2(lat.cos() * lon.cos()) - self.lat;
        [self.across_ft * east, self.along_ft * north]
    }

    /// What place a point of the plane is; none where it is off the earth's map.
    pub(crate) fn place(&self, [x_ft, y_ft]: [f64; 2]) -> Option<Location> {
        let (east, north) = (x_ft / self.across_ft, y_ft / self.along_ft + self.lat);
        let lat = (north.sin() / east.cosh()).asin();
        let lon = east.sinh().atan2(north.cos());
        Location::new(around(self.lon_deg + lon.to_degrees()), lat.to_degrees()).ok()
    }
}

/// A difference of longitudes the short way around.
fn around(deg: f64) -> f64 {
    (deg + 540.0).rem_euclid(360.0) - 180.0
}

fn middle(mut values: Vec<f64>) -> f64 {
    let half = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(half, f64::total_cmp).1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(lon: f64, lat: f64) -> Location {
        Location::new(lon, lat).unwrap()
    }

    /// Geodesics of WGS 84 by `geographiclib` from `PyPI`: `Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"] / 0.3048`.
    #[test]
    fn lengths_in_a_county_are_true_to_one_in_a_thousand() {
        let plane = Plane::at(-30.0, 40.0);
        for [from_lon, from_lat, to_lon, to_lat, feet] in GEODESICS {
            let (a, b) = (plane.feet(place(from_lon, from_lat)), plane.feet(place(to_lon, to_lat)));
            let drawn = (a[0] - b[0]).hypot(a[1] - b[1]);
            assert!((drawn / feet - 1.0).abs() < 1e-3, "from {from_lon}, {from_lat}: {drawn} and {feet}");
        }
    }

    /// From, to, each as longitude and latitude, and feet.
    const GEODESICS: [[f64; 5]; 4] = [
        [-30.0, 40.0, -29.99, 40.0, 2_801.636],
        [-30.0, 40.0, -30.0, 40.01, 3_642.872],
        [-30.4, 40.3, -30.39, 40.31, 4_588.153],
        [-29.6, 39.7, -30.4, 40.3, 313_060.127],
    ];

    #[test]
    fn a_point_of_the_plane_is_the_place_that_it_was_drawn_from() {
        let plane = Plane::at(179.9, -40.0);
        for (lon, lat) in [(179.9, -40.0), (-179.7, -39.6), (179.5, -40.3)] {
            let back = plane.place(plane.feet(place(lon, lat))).unwrap();
            assert!((back.lon() - lon).abs() < 1e-9 && (back.lat() - lat).abs() < 1e-9, "{back:?}");
        }
        assert_eq!(plane.place([f64::INFINITY; 2]), None);
    }

    #[test]
    fn a_place_written_down_wrongly_does_not_move_the_plane() {
        let town =
            [place(179.99, 10.0), place(-179.99, 10.01), place(-179.98, 10.02), place(0.0, 0.0), place(179.98, 9.99)];
        let plane = Plane::amid(town.into_iter());
        let near = |at: Location| plane.feet(at).iter().all(|ft| ft.abs() < 20_000.0);
        assert!(near(town[0]) && near(town[1]) && near(town[2]) && near(town[4]), "{plane:?}");
        assert_eq!(plane.feet(town[3]), [f64::INFINITY; 2]);
    }
}
