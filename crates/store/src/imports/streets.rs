//! Streets: a whole network in place of another.

use chrono::{DateTime, Utc};
use longlay_records::street::{Barrier, Street};
use longlay_records::surroundings::{FEWEST_OTHERS, Misplaced, Surroundings};

use super::bulk;
use super::places::kept;
use crate::audit::{self, Action};
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::hydrant_query::Bbox;
use crate::open::Store;
use crate::replay::{self, Answer};
use crate::rows::{Row, hex_text, time_text};
use crate::shapes;
use crate::town::Touched;

/// A network as the audit names it.
const KIND: &str = "street_network";

/// What streets are together.
#[derive(Debug, Clone, PartialEq)]
pub struct StreetNetwork {
    /// How many streets.
    pub streets: u64,
    /// Places of their lines.
    pub places: u64,
    /// Where they lie; of a network over the antimeridian the whole round.
    pub bbox: Bbox,
    /// How many of them hose does not cross, by what keeps it from that.
    pub barriers: [(Barrier, u64); 4],
    /// Streets of which an end lies over or under the ground.
    pub off_ground: u64,
    /// When they came in.
    pub imported_at: DateTime<Utc>,
    /// SHA-256 of the file they came in.
    pub sha256: [u8; 32],
}

/// What putting a network in place of another would do.
#[derive(Debug, Clone, PartialEq)]
pub struct NetworkLooked {
    /// What the streets are together.
    pub network: StreetNetwork,
    /// Those that would go.
    pub replaced: Option<StreetNetwork>,
    /// Streets that lie far from the hydrants, by their index.
    pub far: Vec<(usize, Misplaced)>,
}

/// A network put in place of another now, or before.
#[derive(Debug, Clone, PartialEq)]
pub enum NetworkRecorded {
    /// Now, with the network that went.
    Now(Option<StreetNetwork>),
    /// The same request was answered before: nothing was done.
    Before(Answer),
}

impl StreetNetwork {
    /// What these streets are together; none of no streets.
    pub fn of(streets: &[Street], sha256: [u8; 32], imported_at: DateTime<Utc>) -> Option<Self> {
        let first = streets.first()?.line.first()?;
        let mut bbox = Bbox { west: first.lon(), south: first.lat(), east: first.lon(), north: first.lat() };
        let mut network = Self {
            streets: streets.len() as u64,
            places: 0,
            bbox,
            barriers: Barrier::ALL.map(|kind| (kind, 0)),
            off_ground: 0,
            imported_at,
            sha256,
        };
        for street in streets {
            network.places += street.line.len() as u64;
            network.off_ground += u64::from(street.from_level != 0 || street.to_level != 0);
            for (kind, count) in &mut network.barriers {
                *count += u64::from(street.barrier == Some(*kind));
            }
            for place in &street.line {
                bbox.west = bbox.west.min(place.lon());
                bbox.east = bbox.east.max(place.lon());
                bbox.south = bbox.south.min(place.lat());
                bbox.north = bbox.north.max(place.lat());
            }
        }
        Some(Self { bbox, ..network })
    }
}

impl Store {
    /// What the streets are together; none before the first import.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn street_network(&self) -> Result<Option<StreetNetwork>, StoreError> {
        let mut tx = self.read().await?;
        standing(&mut tx).await
    }

    /// What putting these streets in place of those that are there would do; nothing is written. None where there are no streets.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn look_at_streets(
        &self,
        streets: &[Street],
        sha256: [u8; 32],
        now: DateTime<Utc>,
    ) -> Result<Option<NetworkLooked>, StoreError> {
        let mut tx = self.read().await?;
        let Some(network) = StreetNetwork::of(streets, sha256, now) else { return Ok(None) };
        let hydrants = kept(&mut tx).await?;
        let around = if hydrants.len() >= FEWEST_OTHERS {
            Surroundings::of(hydrants.into_values())
        } else {
            Surroundings::of(streets.iter().filter_map(|street| street.line.first().copied()))
        };
        let far = |street: &Street| street.line.iter().find_map(|place| around.misplaced(*place, None));
        let far = streets.iter().enumerate().filter_map(|(i, street)| Some((i, far(street)?))).collect();
        Ok(Some(NetworkLooked { network, replaced: standing(&mut tx).await?, far }))
    }

    /// Puts streets in place of all that are there, in one transaction: the network of `network`, which they make. No two may share an id.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn replace_streets(
        &self,
        streets: &[Street],
        network: &StreetNetwork,
        change: &Change,
        body: &(dyn Fn(Option<&StreetNetwork>) -> Vec<u8> + Send + Sync),
    ) -> Result<NetworkRecorded, StoreError> {
        // Rows that come in the order of their key are written twice as fast.
        let mut rows: Vec<&Street> = streets.iter().collect();
        rows.sort_by(|one, other| one.id.cmp(&other.id));
        let mut tx = self.write().await?;
        if let Some(answer) = replay::before(&mut tx, change).await? {
            return Ok(NetworkRecorded::Before(answer));
        }
        let replaced = standing(&mut tx).await?;
        sqlx::query!("DELETE FROM streets").execute(&mut *tx).await.map_err(fault)?;
        bulk::insert(&mut tx, INTO, &rows, "", |values, street| {
            values.bind(street.id.as_str()).bind(street.name.as_deref()).bind(shapes::line_bytes(&street.line));
            values.bind(street.from_level).bind(street.to_level).bind(street.barrier.map(Barrier::name));
        })
        .await?;
        put_network(&mut tx, network).await?;
        audit::note(&mut tx, change, Action::Import, KIND, None, None, Some(&detail(network, replaced.as_ref())))
            .await?;
        let mut answered = change.clone();
        if let Some(replay) = &mut answered.replay {
            replay.answer.body = body(replaced.as_ref());
        }
        replay::keep(&mut tx, &answered).await?;
        self.commit(tx, Touched::Ground).await?;
        Ok(NetworkRecorded::Now(replaced))
    }
}

const INTO: &str = "INSERT INTO streets (id, name, line, from_level, to_level, barrier) ";

fn detail(network: &StreetNetwork, replaced: Option<&StreetNetwork>) -> String {
    let digest = hex_text(&network.sha256);
    let (streets, replaced) = (network.streets, replaced.map_or(0, |replaced| replaced.streets));
    format!(r#"{{"sha256":"{digest}","streets":{streets},"replaced":{replaced}}}"#)
}

async fn put_network(conn: &mut sqlx::SqliteConnection, network: &StreetNetwork) -> Result<(), StoreError> {
    let stored = |count: u64| i64::try_from(count).map_err(|_| StoreError::Other(format!("{count} streets")));
    let (streets, places, off_ground) =
        (stored(network.streets)?, stored(network.places)?, stored(network.off_ground)?);
    let [railways, limited_access, medians, walls] = network.barriers.map(|(_, count)| count);
    let (railways, limited_access) = (stored(railways)?, stored(limited_access)?);
    let (medians, walls) = (stored(medians)?, stored(walls)?);
    let (now, sha256, bbox) = (time_text(network.imported_at), &network.sha256[..], network.bbox);
    sqlx::query!(
        "INSERT OR REPLACE INTO street_network (
           only, imported_at, sha256, streets, places, west_deg, south_deg, east_deg, north_deg, railways, limited_access,
           medians, walls, off_ground
         ) VALUES (1, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        now,
        sha256,
        streets,
        places,
        bbox.west,
        bbox.south,
        bbox.east,
        bbox.north,
        railways,
        limited_access,
        medians,
        walls,
        off_ground
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

pub(crate) async fn standing(conn: &mut sqlx::SqliteConnection) -> Result<Option<StreetNetwork>, StoreError> {
    let found = sqlx::query!(
        "SELECT imported_at, sha256, streets, places, west_deg, south_deg, east_deg, north_deg, railways, limited_access,
                medians, walls, off_ground FROM street_network"
    )
    .fetch_optional(conn)
    .await
    .map_err(fault)?;
    let Some(found) = found else { return Ok(None) };
    let row = Row::of("street_network", "1");
    let counts = [found.railways, found.limited_access, found.medians, found.walls];
    let mut barriers = Barrier::ALL.map(|kind| (kind, 0));
    for ((_, count), stored) in barriers.iter_mut().zip(counts) {
        *count = row.count(stored)?;
    }
    Ok(Some(StreetNetwork {
        streets: row.count(found.streets)?,
        places: row.count(found.places)?,
        bbox: Bbox { west: found.west_deg, south: found.south_deg, east: found.east_deg, north: found.north_deg },
        barriers,
        off_ground: row.count(found.off_ground)?,
        imported_at: row.time(&found.imported_at)?,
        sha256: row.good(<[u8; 32]>::try_from(found.sha256.as_slice()))?,
    }))
}
