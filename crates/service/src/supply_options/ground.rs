//! The streets and the heights in memory, as they were imported last; and the hydrants by where they stand, as they were written last.

use std::sync::{Arc, Mutex, PoisonError};

use longlay_coverage::streets::Streets;
use longlay_records::hydrant::{Hydrant, Location};
use longlay_records::terrain::ElevationGrid;
use longlay_store::{Store, StoreError, Town};

use crate::coverage::inputs::streets;
use crate::coverage::plane::Plane;
use crate::pools::off_thread;
use crate::problem::Problem;

/// Side of a square of the map in which hydrants are looked up, ft.
const SQUARE_FT: f64 = 1000.0;

/// Streets and heights of one state of the records, on a plane.
#[derive(Debug)]
pub(crate) struct Ground {
    version: u64,
    /// The state of the town amid whose hydrants the plane lies; none where it lies amid streets.
    amid: Option<u64>,
    pub(crate) plane: Plane,
    pub(crate) streets: Streets,
    pub(crate) heights: Option<ElevationGrid>,
    stands: Mutex<Arc<Stands>>,
    /// One finds where hydrants stand for all that wait for it.
    placing: tokio::sync::Mutex<()>,
}

/// Where the hydrants of one state of the town stand.
#[derive(Debug, Default)]
pub(crate) struct Stands {
    town: u64,
    /// By ascending id.
    all: Vec<Stand>,
    /// In order of their squares, each with its place in `all`.
    squares: Vec<([i32; 2], u32)>,
}

/// A hydrant on the plane.
#[derive(Debug, Clone)]
pub(crate) struct Stand {
    pub(crate) feet: [f64; 2],
    pub(crate) hydrant: Arc<Hydrant>,
}

/// Keeps the ground that was asked for last.
#[derive(Debug, Clone, Default)]
pub(crate) struct GroundKeeper {
    now: Arc<Mutex<Option<Arc<Ground>>>>,
    /// One reads it for all that wait for it.
    reading: Arc<tokio::sync::Mutex<()>>,
}

impl GroundKeeper {
    fn kept(&self, version: u64, town: &Town) -> Option<Arc<Ground>> {
        let now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        let stands = |ground: &Ground| ground.amid.is_none_or(|amid| amid == town.version());
        now.as_ref().filter(|ground| ground.version == version && stands(ground)).cloned()
    }

    /// The ground as it stands now.
    pub(crate) async fn ground(&self, store: &Store, town: &Arc<Town>) -> Result<Arc<Ground>, Problem> {
        if let Some(ground) = self.kept(store.ground_version(), town) {
            return Ok(ground);
        }
        let (keeper, store, town) = (self.clone(), store.clone(), Arc::clone(town));
        // In a task of its own: whoever asks first may be gone before it is read, and others wait for it.
        let read = tokio::spawn(async move { keeper.read(&store, &town).await });
        read.await.map_err(|error| StoreError::Other(error.to_string()))?
    }

    /// Reads the ground before anyone asks: at the start, and after it was written.
    pub(crate) fn get_ready(&self, store: &Store) {
        let (keeper, store) = (self.clone(), store.clone());
        tokio::spawn(async move {
            let read = async {
                let town = store.town().await?;
                keeper.ground(&store, &town).await?.stands(&town).await
            };
            if let Err(problem) = read.await {
                tracing::warn!(
                    problem = problem.told(),
                    "the ground for dispatch could not be read: the next who asks reads it"
                );
            }
        });
    }

    async fn read(&self, store: &Store, town: &Arc<Town>) -> Result<Arc<Ground>, Problem> {
        let _one = self.reading.lock().await;
        // Looked at before it is read: what is written meanwhile is another version.
        let version = store.ground_version();
        if let Some(ground) = self.kept(version, town) {
            return Ok(ground);
        }
        let (mut rows, mut lines) = (store.snapshot().await?, Vec::new());
        rows.each_street(|street| lines.push(street)).await?;
        let heights = rows.elevation_grid().await?;
        drop(rows);
        let town = Arc::clone(town);
        let ground = off_thread(move || {
            let amid = lines.is_empty().then(|| town.version());
            let plane = if lines.is_empty() {
                let stand: Vec<_> = town.hydrants().filter_map(Result::ok).map(|hydrant| hydrant.location).collect();
                Plane::amid(stand.into_iter())
            } else {
                Plane::amid(lines.iter().filter_map(|street| street.line.first().copied()))
            };
            streets(&lines, &plane).map(|streets| Ground {
                version,
                amid,
                plane,
                streets,
                heights,
                stands: Mutex::default(),
                placing: tokio::sync::Mutex::default(),
            })
        });
        let many = |error: longlay_coverage::finding::TooMany| StoreError::Other(error.to_string());
        let ground = Arc::new(ground.await?.map_err(many)?);
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::clone(&ground));
        Ok(ground)
    }
}

impl Ground {
    /// The height of the ground at a place by the grid.
    pub(crate) fn height_ft(&self, at: Location) -> Option<f64> {
        Some(self.heights.as_ref()?.at(at)?.ft())
    }

    /// Where the hydrants of this state of the town stand.
    pub(crate) async fn stands(self: &Arc<Self>, town: &Arc<Town>) -> Result<Arc<Stands>, Problem> {
        let now = self.stands_now();
        if now.town == town.version() {
            return Ok(now);
        }
        let _one = self.placing.lock().await;
        let now = self.stands_now();
        if now.town == town.version() {
            return Ok(now);
        }
        let (ground, town) = (Arc::clone(self), Arc::clone(town));
        let next = Arc::new(off_thread(move || now.next(&town, &ground.plane)).await??);
        *self.stands.lock().unwrap_or_else(PoisonError::into_inner) = Arc::clone(&next);
        Ok(next)
    }

    fn stands_now(&self) -> Arc<Stands> {
        Arc::clone(&self.stands.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Stands {
    /// Those of another state of the town: what was not written since is where it was.
    fn next(&self, town: &Town, plane: &Plane) -> Result<Self, StoreError> {
        let mut before = self.all.iter().peekable();
        let mut all = Vec::with_capacity(self.all.len());
        for hydrant in town.hydrants() {
            let hydrant = hydrant?;
            while before.next_if(|stand| stand.hydrant.id < hydrant.id).is_some() {}
            let same = before.next_if(|stand| Arc::ptr_eq(&stand.hydrant, hydrant));
            let feet = same.map_or_else(|| plane.feet(hydrant.location), |stand| stand.feet);
            all.push(Stand { feet, hydrant: Arc::clone(hydrant) });
        }
        let mut squares: Vec<_> = all.iter().zip(0..).map(|(stand, i)| (square(stand.feet), i)).collect();
        squares.sort_unstable();
        Ok(Self { town: town.version(), all, squares })
    }

    /// Those in the squares that a circle touches: all within it, and some beyond. By their ids, so that equals are told in the same order whatever was
    /// written last.
    pub(crate) fn around(&self, feet: [f64; 2], within_ft: f64) -> Vec<&Stand> {
        let (low, high) = (square(feet.map(|at| at - within_ft)), square(feet.map(|at| at + within_ft)));
        let mut found = Vec::new();
        for x in low[0]..=high[0] {
            let from = self.squares.partition_point(|(square, _)| *square < [x, low[1]]);
            let column = self.squares[from..].iter().take_while(|(square, _)| *square <= [x, high[1]]);
            found.extend(column.map(|(_, i)| *i));
        }
        found.sort_unstable();
        found.into_iter().filter_map(|i| self.all.get(i as usize)).collect()
    }
}

/// The square that a point lies in. One that lies nowhere is in the last.
#[expect(clippy::cast_possible_truncation, reason = "a conversion from float to integer saturates")]
fn square(feet: [f64; 2]) -> [i32; 2] {
    feet.map(|at| (at / SQUARE_FT).floor() as i32)
}
