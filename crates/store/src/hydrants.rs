//! Hydrants and their outlets.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter, OutletCoefficient};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, Location, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put, Versioned};
use crate::error::{RecordKind, StoreError, fault};
use crate::hydrant_query::{HydrantQuery, page};
use crate::open::Store;
use crate::references::{before_put, before_retire, version};
use crate::rows::{Row, by_record, id_list, position, time_text};
use crate::town::Touched;

impl Store {
    /// Records a hydrant, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_hydrant(&self, hydrant: &Hydrant, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, hydrant, change).await?;
        self.commit(tx, Touched::one(RecordKind::Hydrant, &hydrant.id)).await?;
        Ok(put)
    }

    /// The hydrant with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrant(&self, id: &AssetId) -> Result<Option<Hydrant>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// The same with its version.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_hydrant(&self, id: &AssetId) -> Result<Option<Versioned<Hydrant>>, StoreError> {
        let mut tx = self.read().await?;
        let found = load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id);
        Ok(version(&mut tx, RecordKind::Hydrant, id)
            .await?
            .zip(found)
            .map(|(version, read)| Versioned { version, read }))
    }

    /// Those of these hydrants that exist and are not retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrants_of(&self, ids: &BTreeSet<AssetId>) -> Result<BTreeMap<AssetId, Hydrant>, StoreError> {
        let mut tx = self.read().await?;
        load(&mut tx, ids).await
    }

    /// Retires a hydrant; its tests are kept. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_hydrant(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::Hydrant, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE hydrants SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::Hydrant, id)).await?;
        Ok(true)
    }

    /// Hydrants by ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn hydrants(
        &self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Hydrant>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, query, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }
}

/// The write without its transaction.
pub(crate) async fn put(conn: &mut SqliteConnection, hydrant: &Hydrant, change: &Change) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::Hydrant, &hydrant.id, change).await?;
    upsert(&mut *conn, hydrant, change).await?;
    replace_outlets(conn, hydrant).await?;
    Ok(put)
}

async fn upsert(conn: &mut SqliteConnection, hydrant: &Hydrant, change: &Change) -> Result<(), StoreError> {
    let (id, lon_deg, lat_deg) = (hydrant.id.as_str(), hydrant.location.lon(), hydrant.location.lat());
    let elevation_ft = hydrant.elevation.map(Elevation::ft);
    let body_loss = hydrant.body_loss.map(ApplianceCoefficient::psi_per_100gpm2);
    let main_diameter_in = hydrant.main_diameter.map(Diameter::inches);
    let owner = match hydrant.owner {
        Owner::Public => "public",
        Owner::Private => "private",
    };
    let (in_service, reason) = match &hydrant.status {
        Status::InService => (true, None),
        Status::OutOfService { reason } => (false, reason.as_deref()),
    };
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO hydrants (
           id, lon_deg, lat_deg, elevation_ft, body_loss_psi_per_100gpm2, main_id, main_diameter_in, pressure_zone, owner,
           potable, seasonal, in_service, out_of_service_reason, description, updated_at
         ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)
         ON CONFLICT (id) DO UPDATE SET
           lon_deg = excluded.lon_deg, lat_deg = excluded.lat_deg, elevation_ft = excluded.elevation_ft,
           body_loss_psi_per_100gpm2 = excluded.body_loss_psi_per_100gpm2, main_id = excluded.main_id,
           main_diameter_in = excluded.main_diameter_in, pressure_zone = excluded.pressure_zone, owner = excluded.owner,
           potable = excluded.potable, seasonal = excluded.seasonal, in_service = excluded.in_service,
           out_of_service_reason = excluded.out_of_service_reason, description = excluded.description,
           updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        lon_deg,
        lat_deg,
        elevation_ft,
        body_loss,
        hydrant.main_id,
        main_diameter_in,
        hydrant.pressure_zone,
        owner,
        hydrant.potable,
        hydrant.seasonal,
        in_service,
        reason,
        hydrant.description,
        now
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}

async fn replace_outlets(conn: &mut SqliteConnection, hydrant: &Hydrant) -> Result<(), StoreError> {
    let id = hydrant.id.as_str();
    sqlx::query!("DELETE FROM hydrant_outlets WHERE hydrant_id = ?1", id).execute(&mut *conn).await.map_err(fault)?;
    for (i, outlet) in hydrant.outlets.iter().enumerate() {
        let kind = match outlet.kind {
            OutletKind::Hose => "hose",
            OutletKind::Pumper => "pumper",
        };
        let (position, diameter_in, coefficient) =
            (position(i)?, outlet.diameter.inches(), outlet.coefficient.number());
        sqlx::query!(
            "INSERT INTO hydrant_outlets (hydrant_id, position, kind, diameter_in, coefficient) VALUES (?1, ?2, ?3, ?4, ?5)",
            id,
            position,
            kind,
            diameter_in,
            coefficient
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}

/// A stored hydrant, and whether it is retired.
pub(crate) struct Stored {
    pub(crate) hydrant: Hydrant,
    pub(crate) retired: bool,
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, Hydrant>, StoreError> {
    let stored = load_stored(conn, ids).await?;
    Ok(stored.into_iter().filter(|(_, found)| !found.retired).map(|(id, found)| (id, found.hydrant)).collect())
}

/// The hydrants of these ids, retired ones too.
pub(crate) async fn load_stored(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, Stored>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        HydrantRow,
        r#"SELECT h.id, h.lon_deg, h.lat_deg, h.elevation_ft, h.body_loss_psi_per_100gpm2 AS body_loss, h.main_id,
                  h.main_diameter_in, h.pressure_zone, h.owner, h.potable AS "potable: bool", h.seasonal AS "seasonal: bool",
                  h.in_service AS "in_service: bool", h.out_of_service_reason, h.description, h.retired_at,
                  o.kind AS "outlet_kind?", o.diameter_in AS "outlet_diameter_in?", o.coefficient AS "outlet_coefficient?"
           FROM hydrants h LEFT JOIN hydrant_outlets o ON o.hydrant_id = h.id
           WHERE h.id IN (SELECT value FROM json_each(?1)) ORDER BY h.id, o.position"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    by_record(&rows, |row| &row.id)
        .map(|(row, parts)| {
            let outlets = parts.iter().filter_map(|part| part.outlet().transpose()).collect::<Result<_, _>>()?;
            let found = Stored { hydrant: row.hydrant(outlets)?, retired: row.retired_at.is_some() };
            Ok((found.hydrant.id.clone(), found))
        })
        .collect()
}

struct HydrantRow {
    id: String,
    lon_deg: f64,
    lat_deg: f64,
    elevation_ft: Option<f64>,
    body_loss: Option<f64>,
    main_id: Option<String>,
    main_diameter_in: Option<f64>,
    pressure_zone: Option<String>,
    owner: String,
    potable: bool,
    seasonal: bool,
    in_service: bool,
    out_of_service_reason: Option<String>,
    description: Option<String>,
    retired_at: Option<String>,
    outlet_kind: Option<String>,
    outlet_diameter_in: Option<f64>,
    outlet_coefficient: Option<f64>,
}

impl HydrantRow {
    fn outlet(&self) -> Result<Option<HydrantOutlet>, StoreError> {
        let row = Row::of("hydrant_outlets", &self.id);
        let (Some(kind), Some(inches), Some(number)) =
            (&self.outlet_kind, self.outlet_diameter_in, self.outlet_coefficient)
        else {
            return Ok(None);
        };
        let kind = match kind.as_str() {
            "hose" => OutletKind::Hose,
            "pumper" => OutletKind::Pumper,
            other => return Err(row.corrupt(format_args!("{other} is no kind of outlet"))),
        };
        let diameter = row.good(Diameter::from_in(inches))?;
        let coefficient = row.good(OutletCoefficient::from_number(number))?;
        Ok(Some(HydrantOutlet { kind, diameter, coefficient }))
    }

    fn hydrant(&self, outlets: Vec<HydrantOutlet>) -> Result<Hydrant, StoreError> {
        let row = Row::of("hydrants", &self.id);
        let owner = match self.owner.as_str() {
            "public" => Owner::Public,
            "private" => Owner::Private,
            other => return Err(row.corrupt(format_args!("{other} is no kind of owner"))),
        };
        let location = Location::new(self.lon_deg, self.lat_deg)
            .map_err(|_| row.corrupt(format_args!("{} {} is no place on the ground", self.lon_deg, self.lat_deg)))?;
        Ok(Hydrant {
            id: row.asset_id(&self.id)?,
            location,
            elevation: row.maybe(self.elevation_ft, Elevation::from_ft)?,
            outlets,
            body_loss: row.maybe(self.body_loss, ApplianceCoefficient::from_psi_per_100gpm2)?,
            main_id: self.main_id.clone(),
            main_diameter: row.maybe(self.main_diameter_in, Diameter::from_in)?,
            pressure_zone: self.pressure_zone.clone(),
            owner,
            potable: self.potable,
            seasonal: self.seasonal,
            status: if self.in_service {
                Status::InService
            } else {
                Status::OutOfService { reason: self.out_of_service_reason.clone() }
            },
            description: self.description.clone(),
        })
    }
}
