//! A place in two columns.

use longlay_records::hydrant::Location;

use crate::fields::Fields;

pub(super) fn location(fields: &mut Fields<'_>) -> Option<Location> {
    let mut coordinate = |column, make: fn(f64) -> (f64, f64)| {
        let checked = |degrees| {
            let (lon, lat) = make(degrees);
            Location::new(lon, lat)
                .map(|_| degrees)
                .map_err(|faults| faults.iter().map(ToString::to_string).collect::<String>())
        };
        fields.needed_number(column, checked)
    };
    let lon = coordinate("lon", |lon| (lon, 0.0));
    let lat = coordinate("lat", |lat| (0.0, lat));
    let (lon, lat) = (lon?, lat?);
    // A point in the sea, and what is written where nobody knows the place.
    if lon == 0.0 && lat == 0.0 {
        return fields.refuse("lon", "no_place", "lon 0 and lat 0 are no place of anything here: give where it stands");
    }
    Location::new(lon, lat).ok()
}
