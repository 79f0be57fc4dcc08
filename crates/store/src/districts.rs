//! Districts.

use std::collections::{BTreeMap, BTreeSet};

use longlay_records::district::District;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use crate::change::{Change, Put, Versioned};
use crate::error::{RecordKind, StoreError, fault};
use crate::open::Store;
use crate::references::{before_put, before_retire, page, version};
use crate::rows::{Row, id_list, time_text};
use crate::shapes;

impl Store {
    /// Records a district, replacing the whole of one with this id; a retired one comes back.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn put_district(&self, district: &District, change: &Change) -> Result<Put, StoreError> {
        let mut tx = self.write().await?;
        let put = before_put(&mut tx, RecordKind::District, &district.id, change).await?;
        let (id, shape, now) = (district.id.as_str(), shapes::shape_bytes(&district.shape), time_text(change.at));
        sqlx::query!(
            "INSERT INTO districts (id, name, shape, updated_at) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (id) DO UPDATE SET name = excluded.name, shape = excluded.shape,
               updated_at = excluded.updated_at, version = version + 1, retired_at = NULL",
            id,
            district.name,
            shape,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)?;
        Ok(put)
    }

    /// The district with this id and its version, unless it is retired.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn versioned_district(&self, id: &AssetId) -> Result<Option<Versioned<District>>, StoreError> {
        let mut tx = self.read().await?;
        let found = load(&mut tx, &BTreeSet::from([id.clone()])).await?.remove(id);
        Ok(version(&mut tx, RecordKind::District, id)
            .await?
            .zip(found)
            .map(|(version, read)| Versioned { version, read }))
    }

    /// By ascending id, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn districts(&self, after: Option<&AssetId>, limit: u32) -> Result<Vec<District>, StoreError> {
        let mut tx = self.read().await?;
        let ids = page(&mut tx, RecordKind::District, after, limit).await?;
        Ok(load(&mut tx, &ids).await?.into_values().collect())
    }

    /// Retires it. False where there is none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn retire_district(&self, id: &AssetId, change: &Change) -> Result<bool, StoreError> {
        let mut tx = self.write().await?;
        if !before_retire(&mut tx, RecordKind::District, id, change).await? {
            return Ok(false);
        }
        let (id, now) = (id.as_str(), time_text(change.at));
        sqlx::query!(
            "UPDATE districts SET retired_at = ?2, updated_at = ?2, version = version + 1 WHERE id = ?1",
            id,
            now
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)?;
        Ok(true)
    }
}

/// The live ones of these ids.
pub(crate) async fn load(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<AssetId, District>, StoreError> {
    let ids = id_list(ids);
    let rows = sqlx::query_as!(
        DistrictRow,
        "SELECT id, name, shape FROM districts WHERE retired_at IS NULL AND id IN (SELECT value FROM json_each(?1))",
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    rows.into_iter().map(|row| row.district().map(|found| (found.id.clone(), found))).collect()
}

struct DistrictRow {
    id: String,
    name: Option<String>,
    shape: Vec<u8>,
}

impl DistrictRow {
    fn district(self) -> Result<District, StoreError> {
        let row = Row::of("districts", &self.id);
        Ok(District { id: row.asset_id(&self.id)?, shape: row.good(shapes::shape(&self.shape))?, name: self.name })
    }
}
