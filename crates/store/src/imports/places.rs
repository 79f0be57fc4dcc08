//! Hydrants that come in far from the others.

use std::collections::{BTreeMap, HashMap};

use longlay_records::demand::DemandPoint;
use longlay_records::hydrant::{Hydrant, Location};
use longlay_records::surroundings::{FEWEST_OTHERS, Surroundings};
use sqlx::SqliteConnection;

use super::notices::Notice;
use crate::error::{StoreError, fault};

/// Those of these that stand far from the others: from those kept here, because a whole file can be wrong, or else, where too few are
/// kept, from those of the file too.
pub(super) async fn far(conn: &mut SqliteConnection, hydrants: &[Hydrant]) -> Result<Vec<(usize, Notice)>, StoreError> {
    let kept = kept(conn).await?;
    let here = Surroundings::of(kept.values().copied());
    let mut all: HashMap<&str, Location> = HashMap::new();
    if kept.len() <= FEWEST_OTHERS {
        all.extend(kept.iter().map(|(id, place)| (id.as_str(), *place)));
        all.extend(hydrants.iter().map(|hydrant| (hydrant.id.as_str(), hydrant.location)));
    }
    let all = Surroundings::of(all.into_values());
    let mut far = Vec::new();
    for (index, hydrant) in hydrants.iter().enumerate() {
        let own = kept.get(hydrant.id.as_str()).copied();
        let others_here = kept.len() - usize::from(own.is_some());
        let misplaced = if others_here >= FEWEST_OTHERS {
            here.misplaced(hydrant.location, own)
        } else {
            all.misplaced(hydrant.location, Some(hydrant.location))
        };
        far.extend(misplaced.map(|misplaced| (index, Notice::FarFromOthers(misplaced))));
    }
    Ok(far)
}

/// Those demand points that lie far from the hydrants kept here or, where too few are kept, from the others of their file.
pub(super) async fn far_from_hydrants(
    conn: &mut SqliteConnection,
    points: &[DemandPoint],
) -> Result<Vec<(usize, Notice)>, StoreError> {
    let kept = kept(conn).await?;
    let is_of_file = kept.len() < FEWEST_OTHERS;
    let around = if is_of_file {
        Surroundings::of(points.iter().map(|point| point.location))
    } else {
        Surroundings::of(kept.into_values())
    };
    let misplaced = |point: &DemandPoint| around.misplaced(point.location, is_of_file.then_some(point.location));
    let far = points.iter().enumerate();
    Ok(far.filter_map(|(i, point)| Some((i, Notice::FarFromOthers(misplaced(point)?)))).collect())
}

/// Where each live hydrant stands.
pub(super) async fn kept(conn: &mut SqliteConnection) -> Result<BTreeMap<String, Location>, StoreError> {
    let rows = sqlx::query!("SELECT id, lon_deg, lat_deg FROM hydrants WHERE retired_at IS NULL")
        .fetch_all(conn)
        .await
        .map_err(fault)?;
    let place = |lon, lat| Location::new(lon, lat).ok();
    Ok(rows.into_iter().filter_map(|row| Some((row.id, place(row.lon_deg, row.lat_deg)?))).collect())
}
