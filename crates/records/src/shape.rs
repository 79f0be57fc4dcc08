//! Areas of ground: whether a place lies in one, and a place that surely does.
//!
//! Longitude and latitude are taken as plain coordinates, as a map's file draws them: a shape over the antimeridian is given in two parts. A place lies in
//! a polygon where a line from it to the east crosses its rings an odd number of times, holes among them, and in a shape where it lies in any of its
//! polygons. A place exactly on a border counts as in it or not, but for polygons with a common border always as in one of the two.

use thiserror::Error;

use crate::hydrant::Location;

/// Most vertices of one shape.
pub const MAX_SHAPE_VERTICES: usize = 1_000_000;

/// What is no shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum ShapeFault {
    /// There is no polygon, or one without a ring.
    #[error("must hold at least one polygon, and each at least its outer ring")]
    Empty,
    /// A ring of too few positions.
    #[error("a ring is at least 4 positions, of which the last is the first again")]
    ShortRing,
    /// A ring that does not end where it began.
    #[error("the last position of a ring must be its first again")]
    OpenRing,
    /// Too many vertices.
    #[error("must hold at most {MAX_SHAPE_VERTICES} positions")]
    TooLarge,
}

/// A polygon: its outer ring, then its holes. Each ring ends where it began.
pub type Rings = Vec<Vec<Location>>;

/// One or more polygons.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    polygons: Vec<Rings>,
}

impl Shape {
    /// Checks and takes polygons.
    ///
    /// # Errors
    /// See [`ShapeFault`].
    pub fn new(polygons: Vec<Rings>) -> Result<Self, ShapeFault> {
        if polygons.is_empty() || polygons.iter().any(Vec::is_empty) {
            return Err(ShapeFault::Empty);
        }
        let mut vertices = 0;
        for ring in polygons.iter().flatten() {
            if ring.len() < 4 {
                return Err(ShapeFault::ShortRing);
            }
            if ring.first() != ring.last() {
                return Err(ShapeFault::OpenRing);
            }
            vertices += ring.len();
        }
        if vertices > MAX_SHAPE_VERTICES {
            return Err(ShapeFault::TooLarge);
        }
        Ok(Self { polygons })
    }

    /// Its polygons.
    pub fn polygons(&self) -> &[Rings] {
        &self.polygons
    }

    /// How many positions it has.
    pub fn vertices(&self) -> usize {
        self.polygons.iter().flatten().map(Vec::len).sum()
    }

    /// Whether a place lies in it. Looks at every vertex: for many places see [`ShapeIndex`].
    pub fn contains(&self, place: Location) -> bool {
        self.polygons.iter().any(|rings| edges(rings).filter(|edge| edge.is_crossed_east_of(place)).count() % 2 == 1)
    }

    /// A place in it: half way along the widest piece of its first polygon at half its height. None where that has no width.
    pub fn place_inside(&self) -> Option<Location> {
        let rings = self.polygons.first()?;
        let lats = || rings.iter().flatten().map(Location::lat);
        let (south, north) = (lats().fold(f64::INFINITY, f64::min), lats().fold(f64::NEG_INFINITY, f64::max));
        // At half the height many a shape has a vertex or a level edge; elsewhere is as good.
        [0.5, 0.437, 0.611, 0.29, 0.83].into_iter().find_map(|share| widest(rings, south + share * (north - south)))
    }
}

/// The middle of the widest piece of a polygon at a latitude.
fn widest(rings: &Rings, lat: f64) -> Option<Location> {
    let level = Location::new(-180.0, lat).ok()?;
    let mut crossings: Vec<f64> =
        edges(rings).filter(|edge| edge.spans(level)).map(|edge| edge.lon_at(level.lat())).collect();
    crossings.sort_by(f64::total_cmp);
    let pieces = crossings.chunks_exact(2).map(|piece| (piece[1] - piece[0], f64::midpoint(piece[0], piece[1])));
    let (width, lon) = pieces.max_by(|one, other| one.0.total_cmp(&other.0))?;
    if width > 0.0 { Location::new(lon, lat).ok() } else { None }
}

/// From one vertex of a ring to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Edge {
    from: Location,
    to: Location,
}

fn edges(rings: &Rings) -> impl Iterator<Item = Edge> {
    rings.iter().flat_map(|ring| ring.windows(2).map(|pair| Edge { from: pair[0], to: pair[1] }))
}

impl Edge {
    /// Whether it comes from one side of the place's latitude to the other; its upper end is not part of it.
    fn spans(self, place: Location) -> bool {
        (self.from.lat() > place.lat()) != (self.to.lat() > place.lat())
    }

    /// Its longitude at a latitude that it spans.
    fn lon_at(self, lat: f64) -> f64 {
        let (from, to) = (self.from, self.to);
        let share = (lat - from.lat()) / (to.lat() - from.lat());
        from.lon() + share * (to.lon() - from.lon())
    }

    fn is_crossed_east_of(self, place: Location) -> bool {
        self.spans(place) && place.lon() < self.lon_at(place.lat())
    }
}

/// Most bands of an index.
const MOST_BANDS: usize = 1 << 16;
/// Most places of an edge in the bands, on average: bounds an index's memory whatever the shape.
const PLACES_PER_EDGE: usize = 8;

/// A shape sorted by latitude, for many questions: each looks at the edges of one band only.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeIndex {
    south: f64,
    north: f64,
    bands_per_deg: f64,
    /// Where each band begins in `placed`, and where the last ends.
    begins: Vec<usize>,
    /// The edges of each band, each with its polygon.
    placed: Vec<(u32, Edge)>,
}

impl ShapeIndex {
    /// Of a shape. Takes time and memory in proportion to its vertices.
    pub fn new(shape: &Shape) -> Self {
        let edges = || (0u32..).zip(&shape.polygons).flat_map(|(i, rings)| edges(rings).map(move |edge| (i, edge)));
        let lats = || shape.polygons.iter().flatten().flatten().map(Location::lat);
        let (south, north) = (lats().fold(f64::INFINITY, f64::min), lats().fold(f64::NEG_INFINITY, f64::max));
        let mut bands = (shape.vertices() / 4).clamp(1, MOST_BANDS);
        let mut index = Self { south, north, bands_per_deg: 0.0, begins: Vec::new(), placed: Vec::new() };
        // Long edges lie in many bands: fewer bands keep what is kept in proportion.
        loop {
            index.bands_per_deg = per_deg(bands, north - south);
            let places: usize =
                edges().map(|(_, edge)| index.bands_of(edge, bands)).map(|(first, last)| last + 1 - first).sum();
            if bands == 1 || places <= PLACES_PER_EDGE * shape.vertices() {
                break;
            }
            bands /= 2;
        }
        let mut counts = vec![0; bands + 1];
        for (_, edge) in edges() {
            let (first, last) = index.bands_of(edge, bands);
            counts[first..=last].iter_mut().for_each(|count| *count += 1);
        }
        let mut begin = 0;
        for count in &mut counts {
            begin += std::mem::replace(count, begin);
        }
        let nowhere = Edge { from: shape.polygons[0][0][0], to: shape.polygons[0][0][0] };
        let mut placed = vec![(0, nowhere); begin];
        let mut next = counts.clone();
        for (polygon, edge) in edges() {
            let (first, last) = index.bands_of(edge, bands);
            for place in &mut next[first..=last] {
                placed[*place] = (polygon, edge);
                *place += 1;
            }
        }
        Self { begins: counts, placed, ..index }
    }

    /// Whether a place lies in the shape: the same answer as of [`Shape::contains`].
    pub fn contains(&self, place: Location) -> bool {
        if !(self.south..=self.north).contains(&place.lat()) {
            return false;
        }
        let band = self.band(place.lat(), self.begins.len() - 1);
        let edges = &self.placed[self.begins[band]..self.begins[band + 1]];
        let mut of_polygons = edges.chunk_by(|one, next| one.0 == next.0);
        of_polygons.any(|edges| edges.iter().filter(|(_, edge)| edge.is_crossed_east_of(place)).count() % 2 == 1)
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a cast holds to the bounds of the number"
    )]
    fn band(&self, lat: f64, bands: usize) -> usize {
        (((lat - self.south) * self.bands_per_deg) as usize).min(bands - 1)
    }

    fn bands_of(&self, edge: Edge, bands: usize) -> (usize, usize) {
        let (from, to) = (edge.from.lat(), edge.to.lat());
        (self.band(from.min(to), bands), self.band(from.max(to), bands))
    }
}

/// None of a shape without height: then there is one band.
fn per_deg(bands: usize, height_deg: f64) -> f64 {
    let bands = u32::try_from(bands).map_or(0.0, f64::from);
    if height_deg > 0.0 { (bands / height_deg).min(f64::MAX) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Location {
        Location::new(lon, lat).unwrap()
    }

    fn ring(places: &[(f64, f64)]) -> Vec<Location> {
        let mut ring: Vec<_> = places.iter().map(|(lon, lat)| at(*lon, *lat)).collect();
        ring.push(ring[0]);
        ring
    }

    fn square(from: f64, to: f64) -> Vec<Location> {
        ring(&[(from, from), (to, from), (to, to), (from, to)])
    }

    /// A circle of so many vertices around 0, 0, whose radius jumps between 1 and `inner`.
    fn star(vertices: u32, inner: f64) -> Shape {
        let place = |i: u32| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(vertices);
            let radius = if i.is_multiple_of(2) { 1.0 } else { inner };
            (radius * angle.cos(), radius * angle.sin())
        };
        Shape::new(vec![vec![ring(&(0..vertices).map(place).collect::<Vec<_>>())]]).unwrap()
    }

    #[test]
    fn a_hole_is_not_in_it_and_an_island_in_the_hole_is() {
        let lake = vec![square(0.0, 10.0), square(3.0, 7.0)];
        let shape = Shape::new(vec![lake, vec![square(4.0, 6.0)]]).unwrap();
        for (place, inside) in
            [(at(1.0, 1.0), true), (at(3.5, 3.5), false), (at(5.0, 5.0), true), (at(11.0, 5.0), false)]
        {
            assert_eq!(shape.contains(place), inside, "{place:?}");
            assert_eq!(ShapeIndex::new(&shape).contains(place), inside, "{place:?}");
        }
    }

    #[test]
    fn polygons_that_overlap_do_not_cancel_each_other() {
        let shape = Shape::new(vec![vec![square(0.0, 5.0)], vec![square(3.0, 8.0)]]).unwrap();
        assert!(shape.contains(at(4.0, 4.0)) && ShapeIndex::new(&shape).contains(at(4.0, 4.0)));
    }

    #[test]
    fn the_index_says_what_the_shape_says() {
        for shape in
            [star(4000, 0.3), star(7, 0.9), Shape::new(vec![vec![square(0.0, 10.0), square(3.0, 7.0)]]).unwrap()]
        {
            let index = ShapeIndex::new(&shape);
            for i in 0..60 {
                for j in 0..60 {
                    let place = at(f64::from(i) * 0.04 - 1.2, f64::from(j) * 0.04 - 1.2);
                    assert_eq!(index.contains(place), shape.contains(place), "{place:?}");
                }
            }
        }
    }

    #[test]
    fn a_million_vertices_are_asked_in_a_moment() {
        let shape = star(999_998, 0.999);
        let index = ShapeIndex::new(&shape);
        assert!(index.placed.len() <= PLACES_PER_EDGE * shape.vertices());
        let inside = (0..100_000).filter(|i| index.contains(at(f64::from(*i) * 0.000_02 - 1.0, 0.1))).count();
        assert!((99_000..100_000).contains(&inside), "{inside}");
    }

    #[test]
    fn a_comb_of_long_edges_is_held_in_proportion() {
        let tooth = |i: u32| (f64::from(i) * 0.0001, if i.is_multiple_of(2) { 0.0 } else { 10.0 });
        let mut comb: Vec<_> = (0..100_000).map(tooth).collect();
        comb.extend([(10.0, 20.0), (0.0, 20.0)]);
        let shape = Shape::new(vec![vec![ring(&comb)]]).unwrap();
        let index = ShapeIndex::new(&shape);
        assert!(index.placed.len() <= PLACES_PER_EDGE * shape.vertices(), "{}", index.placed.len());
        assert!(index.contains(at(5.0, 15.0)) && !index.contains(at(5.0, 25.0)));
    }

    #[test]
    fn a_place_inside_is_inside() {
        let horseshoe = ring(&[
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (7.0, 10.0),
            (7.0, 2.0),
            (2.0, 2.0),
            (2.0, 10.0),
            (0.0, 10.0),
        ]);
        let shape = Shape::new(vec![vec![horseshoe]]).unwrap();
        let place = shape.place_inside().unwrap();
        assert!(shape.contains(place) && place.lon() > 7.0, "{place:?}");
        let level = Shape::new(vec![vec![ring(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0)])]]).unwrap();
        assert_eq!(level.place_inside(), None);
        assert!(!ShapeIndex::new(&level).contains(at(0.5, 0.0)));
    }

    #[test]
    fn what_is_no_ring_is_refused() {
        assert_eq!(Shape::new(Vec::new()), Err(ShapeFault::Empty));
        assert_eq!(Shape::new(vec![Vec::new()]), Err(ShapeFault::Empty));
        assert_eq!(Shape::new(vec![vec![ring(&[(0.0, 0.0), (1.0, 1.0)])]]), Err(ShapeFault::ShortRing));
        let mut open = square(0.0, 1.0);
        open[0] = at(0.5, 0.5);
        assert_eq!(Shape::new(vec![vec![open]]), Err(ShapeFault::OpenRing));
    }
}
