//! Standard lays.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::loss::{LinesOutOfBounds, MAX_LINES};
use longlay_hydraulics::quantity::{Length, Pressure};
use longlay_records::equipment::LayProfile;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;
use sqlx::types::Json;

use crate::change::{Change, Put, Versioned};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, missing, page, refuse, version};
use crate::rows::{Row, id_list, position, time_text};
use crate::town::Touched;

impl Store {
    /// Records a standard lay, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_lay_profile(&self, row: &LayProfile, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = put(&mut tx, row, change).await?;
        self.commit(tx, Touched::one(RecordKind::LayProfile, &row.id)).await?;
        Ok(put)
    }

    /// The standard lay with this id, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_profile(&self, id: &AssetId) -> Result<Option<LayProfile>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn lay_profiles(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<LayProfile>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::LayProfile, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// The same with its version.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_lay_profile(&self, id: &AssetId) -> Result<Option<Versioned<LayProfile>>, StoreError> {
        let mut tx = self.read().await?;
        let found = load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id);
        Ok(version(&mut tx, RecordKind::LayProfile, id)
            .await?
            .zip(found)
            .map(|(version, read)| Versioned { version, read }))
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_lay_profile(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::LayProfile, id, change).await? {
            return Ok(false);
        }
        let (text, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE lay_profiles SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            text,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        self.commit(tx, Touched::one(RecordKind::LayProfile, id)).await?;
        Ok(true)
    }
}

/// The write without its transaction.
pub(crate) async fn put(conn: &mut SqliteConnection, row: &LayProfile, change: &Change) -> Result<Put, StoreError> {
    let put = before_put(&mut *conn, RecordKind::LayProfile, &row.id, change).await?;
    let mut unknown = missing(&mut *conn, RecordKind::HydrantValve, &row.hydrant_valve_id).await?;
    unknown.extend(missing(&mut *conn, RecordKind::HoseType, [&row.hose_type_id]).await?);
    unknown.extend(missing(&mut *conn, RecordKind::Appliance, &row.scene_appliance_ids).await?);
    refuse(unknown)?;
    let (id, hose_type_id) = (row.id.as_str(), row.hose_type_id.as_str());
    let (hydrant_valve_id, carried_ft) = (row.hydrant_valve_id.as_ref().map(AssetId::as_str), row.carried.ft());
    let (scene_floor_psi, main_floor_psi) = (row.scene_floor.map(Pressure::psi), row.main_floor.map(Pressure::psi));
    let now = time_text(change.at);
    sqlx::query!(
        "INSERT INTO lay_profiles (
             id, name, hydrant_valve_id, hose_type_id, lines, carried_ft, scene_floor_psi, main_floor_psi,
             updated_at
           ) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
           ON CONFLICT (id) DO UPDATE SET
             name = excluded.name, hydrant_valve_id = excluded.hydrant_valve_id,
             hose_type_id = excluded.hose_type_id, lines = excluded.lines, carried_ft = excluded.carried_ft,
             scene_floor_psi = excluded.scene_floor_psi, main_floor_psi = excluded.main_floor_psi,
             updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
        id,
        row.name,
        hydrant_valve_id,
        hose_type_id,
        row.lines,
        carried_ft,
        scene_floor_psi,
        main_floor_psi,
        now
    )
    .execute(&mut *conn)
    .await
    .map_err(fault)?;
    replace_appliances(&mut *conn, row).await?;
    Ok(put)
}

async fn replace_appliances(conn: &mut SqliteConnection, row: &LayProfile) -> Result<(), StoreError> {
    let id = row.id.as_str();
    sqlx::query!("DELETE FROM lay_profile_appliances WHERE lay_profile_id = ?1", id)
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    for (i, appliance_id) in row.scene_appliance_ids.iter().enumerate() {
        let (position, appliance_id) = (position(i)?, appliance_id.as_str());
        sqlx::query!(
            "INSERT INTO lay_profile_appliances (lay_profile_id, position, appliance_id) VALUES (?1, ?2, ?3)",
            id,
            position,
            appliance_id
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    Ok(())
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, LayProfile>, StoreError> {
    if ids.is_empty() {
        return Ok(BTreeMap::new());
    }
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        LayProfileRow,
        r#"SELECT id, name, hydrant_valve_id, hose_type_id, lines, carried_ft, scene_floor_psi, main_floor_psi,
                  (SELECT json_group_array(a.appliance_id ORDER BY a.position) FROM lay_profile_appliances a
                   WHERE a.lay_profile_id = lay_profiles.id) AS "scene_appliance_ids!: Json<Vec<String>>"
           FROM lay_profiles WHERE retired_at IS NULL AND id IN (SELECT value FROM json_each(?1))"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(|row| row.lay_profile().map(|found| (found.id.clone(), found))).collect()
}

struct LayProfileRow {
    id: String,
    name: String,
    hydrant_valve_id: Option<String>,
    hose_type_id: String,
    lines: i64,
    carried_ft: f64,
    scene_floor_psi: Option<f64>,
    main_floor_psi: Option<f64>,
    scene_appliance_ids: Json<Vec<String>>,
}

impl LayProfileRow {
    fn lay_profile(self) -> Result<LayProfile, StoreError> {
        let row = Row::of("lay_profiles", &self.id);
        let lines = u8::try_from(self.lines).unwrap_or(u8::MAX);
        if lines == 0 || lines > MAX_LINES {
            return Err(row.corrupt(LinesOutOfBounds(lines)));
        }
        Ok(LayProfile {
            id: row.asset_id(&self.id)?,
            hydrant_valve_id: row.maybe(self.hydrant_valve_id, AssetId::new)?,
            hose_type_id: row.asset_id(&self.hose_type_id)?,
            lines,
            carried: row.good(Length::from_ft(self.carried_ft))?,
            scene_appliance_ids: Row::of("lay_profile_appliances", &self.id).asset_ids(&self.scene_appliance_ids)?,
            scene_floor: row.maybe(self.scene_floor_psi, Pressure::from_psi)?,
            main_floor: row.maybe(self.main_floor_psi, Pressure::from_psi)?,
            name: self.name,
        })
    }
}
