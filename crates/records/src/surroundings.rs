//! Whether a hydrant stands where the others do: coordinates that were exchanged or mistyped put it in another town.

use crate::hydrant::Location;

/// Farther from the middle of the others than this is a fault of the coordinates sooner than a wide district.
pub const FAR_MILES: f64 = 30.0;
/// With fewer others, nobody can say which of them stands wrong.
pub const FEWEST_OTHERS: usize = 3;
const FT_PER_MILE: f64 = 5280.0;

/// Where hydrants stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Surroundings {
    lons: Vec<f64>,
    lats: Vec<f64>,
}

/// A hydrant far from the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misplaced {
    /// How far from their middle.
    pub miles: f64,
    /// Whether it would stand near them with longitude and latitude exchanged.
    pub looks_exchanged: bool,
}

impl Surroundings {
    /// Of hydrants at these places.
    pub fn of(places: impl IntoIterator<Item = Location>) -> Self {
        let (mut lons, mut lats): (Vec<_>, Vec<_>) = places.into_iter().map(|place| (place.lon(), place.lat())).unzip();
        lons.sort_by(f64::total_cmp);
        lats.sort_by(f64::total_cmp);
        Self { lons, lats }
    }

    /// What is wrong with a place, by the middle of the others. `own` is the place that the same hydrant has among these, which says
    /// nothing of the others. None too where there are fewer than [`FEWEST_OTHERS`].
    pub fn misplaced(&self, place: Location, own: Option<Location>) -> Option<Misplaced> {
        let others = self.lons.len() - usize::from(own.is_some()).min(self.lons.len());
        if others < FEWEST_OTHERS {
            return None;
        }
        let lon = median(&self.lons, own.map(|own| own.lon()))?;
        let lat = median(&self.lats, own.map(|own| own.lat()))?;
        let middle = Location::new(lon, lat).ok()?;
        let miles = |place: Location| place.distance_ft(&middle) / FT_PER_MILE;
        let exchanged = Location::new(place.lat(), place.lon()).ok();
        (miles(place) > FAR_MILES).then(|| Misplaced {
            miles: miles(place),
            looks_exchanged: exchanged.is_some_and(|exchanged| miles(exchanged) <= FAR_MILES),
        })
    }
}

/// The middle of sorted values without one of them; of two the lower, because between two there may be half the world.
fn median(sorted: &[f64], without: Option<f64>) -> Option<f64> {
    let Some(without) = without else { return sorted.get(sorted.len().checked_sub(1)? / 2).copied() };
    let at = sorted.partition_point(|value| *value < without);
    let middle = sorted.len().checked_sub(2)? / 2;
    sorted.get(if middle < at { middle } else { middle + 1 }).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Location {
        Location::new(lon, lat).unwrap()
    }

    fn town() -> Surroundings {
        Surroundings::of([at(-30.0, 40.0), at(-30.02, 40.01), at(-30.01, 40.03), at(-30.03, 40.02)])
    }

    #[test]
    fn a_hydrant_of_the_town_is_not_far_and_one_beyond_thirty_miles_is() {
        assert_eq!(town().misplaced(at(-30.1, 40.1), None), None);
        // A degree of latitude is 69 miles.
        assert_eq!(town().misplaced(at(-30.02, 40.42), None), None);
        let far = town().misplaced(at(-30.02, 41.01), None).unwrap();
        assert!((68.0..70.0).contains(&far.miles) && !far.looks_exchanged, "{far:?}");
    }

    #[test]
    fn exchanged_coordinates_are_told_from_far_ones() {
        assert!(town().misplaced(at(40.0, -30.0), None).unwrap().looks_exchanged);
        assert!(!town().misplaced(at(30.0, 40.0), None).unwrap().looks_exchanged, "a lost sign");
    }

    #[test]
    fn its_own_place_is_none_of_the_others() {
        let lost = at(40.0, -30.0);
        let three = Surroundings::of([at(-30.0, 40.0), at(-30.0, 40.0), lost]);
        assert_eq!(three.misplaced(lost, Some(lost)), None, "two others are too few");
        let four = Surroundings::of([at(-30.0, 40.0), at(-30.0, 40.0), at(-30.0, 40.0), lost]);
        assert!(four.misplaced(lost, Some(lost)).unwrap().looks_exchanged);
        assert_eq!(Surroundings::of([]).misplaced(lost, Some(lost)), None);
    }

    #[test]
    fn the_middle_leaves_out_one_of_the_values() {
        for (without, expected) in [(None, 2.0), (Some(1.0), 3.0), (Some(2.0), 3.0), (Some(3.0), 2.0), (Some(9.0), 2.0)]
        {
            assert_eq!(median(&[1.0, 2.0, 3.0, 9.0], without), Some(expected), "{without:?}");
        }
    }

    #[test]
    fn a_town_on_the_meridian_of_the_day_is_one_town() {
        let town = Surroundings::of([at(179.99, 10.0), at(-179.99, 10.0), at(180.0, 10.0), at(-180.0, 10.0)]);
        assert_eq!(town.misplaced(at(-179.98, 10.0), None), None);
    }
}
