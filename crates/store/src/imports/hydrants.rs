//! Many hydrants with few statements.

use std::collections::{BTreeMap, BTreeSet};

use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter};
use longlay_records::hydrant::{Elevation, Hydrant, HydrantOutlet, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::bulk::{self, Entry, Values};
use crate::audit::Action;
use crate::change::Change;
use crate::error::{StoreError, fault};
use crate::rows::{id_list, position, time_text};

/// Writes hydrants and their entries in the audit. A retired one comes back.
pub(super) async fn put_all(
    conn: &mut SqliteConnection,
    hydrants: &[&Hydrant],
    change: &Change,
) -> Result<(), StoreError> {
    let ids: BTreeSet<AssetId> = hydrants.iter().map(|hydrant| hydrant.id.clone()).collect();
    let there = standing(&mut *conn, &ids).await?;
    let now = time_text(change.at);
    bulk::insert(&mut *conn, INTO, hydrants, OVER, |values, hydrant| bind(values, hydrant, &now)).await?;
    if !there.is_empty() {
        let ids = id_list(&ids);
        sqlx::query!("DELETE FROM hydrant_outlets WHERE hydrant_id IN (SELECT value FROM json_each(?1))", ids)
            .execute(&mut *conn)
            .await
            .map_err(fault)?;
    }
    let mut outlets = Vec::new();
    for hydrant in hydrants {
        for (i, outlet) in hydrant.outlets.iter().enumerate() {
            outlets.push((hydrant.id.as_str(), position(i)?, outlet));
        }
    }
    bulk::insert(&mut *conn, INTO_OUTLETS, &outlets, "", bind_outlet).await?;
    let entries: Vec<_> = hydrants.iter().map(|hydrant| entry(hydrant, &there)).collect();
    bulk::note(conn, change, "hydrant", &entries).await
}

fn entry<'a>(hydrant: &'a Hydrant, there: &BTreeMap<String, (i64, bool)>) -> Entry<'a> {
    let id = hydrant.id.as_str();
    let (action, version) = match there.get(id) {
        None => (Action::Create, 1),
        Some((version, true)) => (Action::Restore, version + 1),
        Some((version, false)) => (Action::Replace, version + 1),
    };
    Entry { action, id, version: Some(version) }
}

/// What stands under these ids: each with its version, and whether it is retired.
async fn standing(
    conn: &mut SqliteConnection,
    ids: &BTreeSet<AssetId>,
) -> Result<BTreeMap<String, (i64, bool)>, StoreError> {
    let ids = id_list(ids);
    let rows = sqlx::query!(
        r#"SELECT id, version, retired_at IS NOT NULL AS "retired!: bool" FROM hydrants
           WHERE id IN (SELECT value FROM json_each(?1))"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    Ok(rows.into_iter().map(|row| (row.id, (row.version, row.retired))).collect())
}

const INTO: &str = "INSERT INTO hydrants (
    id, lon_deg, lat_deg, elevation_ft, body_loss_psi_per_100gpm2, main_id, main_diameter_in, pressure_zone, owner, potable,
    seasonal, in_service, out_of_service_reason, description, updated_at) ";
const OVER: &str = " ON CONFLICT (id) DO UPDATE SET
    lon_deg = excluded.lon_deg, lat_deg = excluded.lat_deg, elevation_ft = excluded.elevation_ft,
    body_loss_psi_per_100gpm2 = excluded.body_loss_psi_per_100gpm2, main_id = excluded.main_id,
    main_diameter_in = excluded.main_diameter_in, pressure_zone = excluded.pressure_zone, owner = excluded.owner,
    potable = excluded.potable, seasonal = excluded.seasonal, in_service = excluded.in_service,
    out_of_service_reason = excluded.out_of_service_reason, description = excluded.description,
    updated_at = excluded.updated_at, version = version + 1, retired_at = NULL";
const INTO_OUTLETS: &str = "INSERT INTO hydrant_outlets (hydrant_id, position, kind, diameter_in, coefficient) ";

fn bind(values: &mut Values<'_>, hydrant: &Hydrant, now: &str) {
    let owner = match hydrant.owner {
        Owner::Public => "public",
        Owner::Private => "private",
    };
    let (in_service, reason) = match &hydrant.status {
        Status::InService => (true, None),
        Status::OutOfService { reason } => (false, reason.as_deref()),
    };
    values.push_bind(hydrant.id.as_str()).push_bind(hydrant.location.lon()).push_bind(hydrant.location.lat());
    values.push_bind(hydrant.elevation.map(Elevation::ft));
    values.push_bind(hydrant.body_loss.map(ApplianceCoefficient::psi_per_100gpm2));
    values.push_bind(hydrant.main_id.as_deref()).push_bind(hydrant.main_diameter.map(Diameter::inches));
    values.push_bind(hydrant.pressure_zone.as_deref()).push_bind(owner).push_bind(hydrant.potable);
    values.push_bind(hydrant.seasonal).push_bind(in_service).push_bind(reason);
    values.push_bind(hydrant.description.as_deref()).push_bind(now);
}

fn bind_outlet(values: &mut Values<'_>, (id, position, outlet): &(&str, i64, &HydrantOutlet)) {
    let kind = match outlet.kind {
        OutletKind::Hose => "hose",
        OutletKind::Pumper => "pumper",
    };
    values.push_bind(*id).push_bind(*position).push_bind(kind);
    values.push_bind(outlet.diameter.inches()).push_bind(outlet.coefficient.number());
}
