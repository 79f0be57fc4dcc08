//! Drills: written once, never edited, voided with a reason.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use longlay_hydraulics::quantity::Pressure;
use longlay_records::drill::{Drill, DrillUse, UsedKind};
use longlay_records::flow_test::Voided;
use sqlx::SqliteConnection;
use sqlx::types::Json;
use uuid::Uuid;

use crate::audit::Action;
use crate::change::Change;
use crate::drill_rows::{kind_text, load};
use crate::error::{RecordKind, StoreError, fault};
use crate::flow_tests::VoidOutcome;
use crate::lay_inputs::{LayInputs, LayRefs};
use crate::open::Store;
use crate::references::{missing, note, refuse};
use crate::replay::{self, Recorded};
use crate::rows::{day_text, position, time_text};
use crate::town::Touched;

/// Most drills that are worked again at once: the newest.
pub const MOST_DRILLS_WORKED: u32 = 1000;

impl Store {
    /// Records a drill.
    ///
    /// # Errors
    /// [`StoreError::UnknownReferences`] where something it used does not exist or is retired; else see [`StoreError`].
    pub async fn add_drill(&self, drill: &Drill, change: &Change) -> Result<Recorded, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(Recorded::Before(first));
        }
        add(&mut tx, drill, change).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::Drill(drill.id.to_string())).await?;
        Ok(Recorded::Now)
    }

    /// Drills that used all of these by ascending id, from behind `after`, at most `limit`; voided ones too.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn drills(&self, uses: &[DrillUse], after: Option<Uuid>, limit: u32) -> Result<Vec<Drill>, StoreError> {
        let mut tx = self.read().await?;
        let uses = Json(uses.iter().map(|one| format!("{}:{}", kind_text(one.kind), one.id)).collect::<Vec<_>>());
        let after = after.map(|id| id.to_string()).unwrap_or_default();
        let ids = sqlx::query_scalar!(
            "SELECT id FROM drills WHERE id > ?1 AND NOT EXISTS (
               SELECT 1 FROM json_each(?2) w WHERE NOT EXISTS (
                 SELECT 1 FROM drill_uses u WHERE u.drill_id = drills.id AND u.kind || ':' || u.asset_id = w.value))
             ORDER BY id LIMIT ?3",
            after,
            uses,
            limit
        )
        .fetch_all(&mut *tx)
        .await
        .map_err(fault)?;
        Ok(load(&mut tx, &ids.into_iter().collect()).await?.into_values().collect())
    }

    /// One drill.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn drill(&self, id: Uuid) -> Result<Option<Drill>, StoreError> {
        let mut tx = self.read().await?;
        Ok(load(&mut tx, &BTreeSet::from([id.to_string()])).await?.into_values().next())
    }

    /// Voids a drill.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn void_drill(&self, id: Uuid, voided: &Voided, change: &Change) -> Result<VoidOutcome, StoreError> {
        let mut tx = self.write().await?;
        if let Some(first) = replay::before(&mut tx, change).await? {
            return Ok(VoidOutcome::Before(first));
        }
        let id = id.to_string();
        let before =
            sqlx::query_scalar!(r#"SELECT voided_at IS NOT NULL AS "voided!: bool" FROM drills WHERE id = ?1"#, id)
                .fetch_optional(&mut *tx)
                .await
                .map_err(fault)?;
        match before {
            None => return Ok(VoidOutcome::NotFound),
            Some(true) => return Ok(VoidOutcome::AlreadyVoided),
            Some(false) => {}
        }
        let at = time_text(voided.at);
        sqlx::query!("UPDATE drills SET voided_at = ?2, void_reason = ?3 WHERE id = ?1", id, at, voided.reason)
            .execute(&mut *tx)
            .await
            .map_err(fault)?;
        note(&mut tx, change, Action::Void, RecordKind::Drill, &id).await?;
        replay::keep(&mut tx, change).await?;
        self.commit(tx, Touched::Drill(id)).await?;
        Ok(VoidOutcome::Voided)
    }

    /// The newest drills that count, at most [`MOST_DRILLS_WORKED`], oldest first, each with what its lay refers to as it stands now, on this day.
    /// `refs` says what that is.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn drilled_lays(
        &self,
        refs: impl Fn(&Drill) -> LayRefs + Send,
        day: NaiveDate,
    ) -> Result<Vec<(Drill, LayInputs)>, StoreError> {
        let mut tx = self.read().await?;
        let ids = sqlx::query_scalar!(
            "SELECT id FROM drills WHERE voided_at IS NULL ORDER BY id DESC LIMIT ?1",
            MOST_DRILLS_WORKED
        )
        .fetch_all(&mut *tx)
        .await
        .map_err(fault)?;
        let drills = load(&mut tx, &ids.into_iter().collect()).await?;
        let town = self.town().await?;
        let with_inputs = |drill: Drill| town.lay_inputs(&refs(&drill), day).map(|inputs| (drill, inputs));
        drills.into_values().map(with_inputs).collect()
    }
}

/// The write without its transaction.
pub(crate) async fn add(conn: &mut SqliteConnection, drill: &Drill, change: &Change) -> Result<(), StoreError> {
    refuse(unknown(&mut *conn, &drill.uses).await?)?;
    // The triggers take no part of a drill that is recorded already, so its parts go first.
    insert_parts(&mut *conn, drill).await?;
    insert(&mut *conn, drill).await?;
    note(conn, change, Action::Record, RecordKind::Drill, &drill.id.to_string()).await
}

const fn record_kind(kind: UsedKind) -> RecordKind {
    match kind {
        UsedKind::Hydrant => RecordKind::Hydrant,
        UsedKind::HoseType => RecordKind::HoseType,
        UsedKind::Appliance => RecordKind::Appliance,
        UsedKind::HydrantValve => RecordKind::HydrantValve,
        UsedKind::Pumper => RecordKind::Pumper,
    }
}

async fn unknown(conn: &mut SqliteConnection, uses: &[DrillUse]) -> Result<Vec<(RecordKind, String)>, StoreError> {
    let kinds: BTreeSet<_> = uses.iter().map(|one| one.kind).collect();
    let mut found = Vec::new();
    for kind in kinds {
        let ids = uses.iter().filter(|one| one.kind == kind).map(|one| &one.id);
        found.extend(missing(&mut *conn, record_kind(kind), ids).await?);
    }
    Ok(found)
}

async fn insert_parts(conn: &mut SqliteConnection, drill: &Drill) -> Result<(), StoreError> {
    let id = drill.id.to_string();
    for (i, gauge) in drill.gauges.iter().enumerate() {
        let (position, station) = (position(i)?, gauge.station.to_string());
        let read_psi = gauge.read.map(Pressure::psi);
        sqlx::query!(
            "INSERT INTO drill_gauges (drill_id, position, station, elevation_ft, predicted_psi, read_psi)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            id,
            position,
            station,
            gauge.elevation_ft,
            gauge.predicted_psi,
            read_psi
        )
        .execute(&mut *conn)
        .await
        .map_err(fault)?;
    }
    for one in &drill.uses {
        let (kind, asset_id) = (kind_text(one.kind), one.id.as_str());
        sqlx::query!("INSERT INTO drill_uses (drill_id, kind, asset_id) VALUES (?1, ?2, ?3)", id, kind, asset_id)
            .execute(&mut *conn)
            .await
            .map_err(fault)?;
    }
    Ok(())
}

async fn insert(conn: &mut SqliteConnection, drill: &Drill) -> Result<(), StoreError> {
    let id = drill.id.to_string();
    let (drilled_on, recorded_at) = (day_text(drill.drilled_on), time_text(drill.recorded_at));
    let (flow_gpm, flow_uncertainty_percent) = (drill.flow.gpm(), drill.flow_uncertainty.percent());
    let readings = position(drill.gauges.iter().filter(|gauge| gauge.read.is_some()).count())?;
    let miss = drill.miss();
    let (miss_psi, predicted_loss_psi) = (miss.map(|miss| miss.miss_psi), miss.map(|miss| miss.predicted_loss_psi));
    let voided_at = drill.voided.as_ref().map(|voided| time_text(voided.at));
    let void_reason = drill.voided.as_ref().map(|voided| voided.reason.as_str());
    sqlx::query!(
        "INSERT INTO drills (id, drilled_on, lay, flow_gpm, flow_uncertainty_percent, pumped, readings, miss_psi,
           predicted_loss_psi, notes, recorded_at, voided_at, void_reason)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        id,
        drilled_on,
        drill.lay,
        flow_gpm,
        flow_uncertainty_percent,
        drill.pumped,
        readings,
        miss_psi,
        predicted_loss_psi,
        drill.notes,
        recorded_at,
        voided_at,
        void_reason
    )
    .execute(conn)
    .await
    .map_err(fault)?;
    Ok(())
}
