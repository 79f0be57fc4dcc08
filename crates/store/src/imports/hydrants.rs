//! Many hydrants with few statements.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_hydraulics::quantity::{ApplianceCoefficient, Diameter};
use longlay_records::hydrant::{Elevation, Hydrant, OutletKind, Owner, Status};
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::bulk::{self, Values};
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
    let now = Arc::<str>::from(time_text(change.at));
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
        let id = Arc::<str>::from(hydrant.id.as_str());
        for (i, outlet) in hydrant.outlets.iter().enumerate() {
            outlets.push((Arc::clone(&id), position(i)?, outlet));
        }
    }
    let (hose, pumper) = (Arc::<str>::from("hose"), Arc::<str>::from("pumper"));
    bulk::insert(&mut *conn, INTO_OUTLETS, &outlets, "", |values, (id, position, outlet)| {
        let kind = if outlet.kind == OutletKind::Hose { &hose } else { &pumper };
        values.bind(Arc::clone(id)).bind(*position).bind(Arc::clone(kind));
        values.bind(outlet.diameter.inches()).bind(outlet.coefficient.number());
    })
    .await?;
    for action in [Action::Create, Action::Restore, Action::Replace] {
        let done = hydrants.iter().map(|hydrant| noted(hydrant, &there)).filter(|(known, _)| *known == action);
        bulk::note(&mut *conn, change, action, "hydrant", &done.map(|(_, record)| record).collect::<Vec<_>>()).await?;
    }
    Ok(())
}

/// What is done to a hydrant, with its id and the version at which it stands since.
fn noted<'a>(hydrant: &'a Hydrant, there: &BTreeMap<String, (i64, bool)>) -> (Action, (&'a str, Option<i64>)) {
    let id = hydrant.id.as_str();
    match there.get(id) {
        None => (Action::Create, (id, Some(1))),
        Some((version, true)) => (Action::Restore, (id, Some(version + 1))),
        Some((version, false)) => (Action::Replace, (id, Some(version + 1))),
    }
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

fn bind(values: &mut Values, hydrant: &Hydrant, now: &Arc<str>) {
    let owner = match hydrant.owner {
        Owner::Public => "public",
        Owner::Private => "private",
    };
    let (in_service, reason) = match &hydrant.status {
        Status::InService => (true, None),
        Status::OutOfService { reason } => (false, reason.as_deref()),
    };
    values.bind(hydrant.id.as_str()).bind(hydrant.location.lon()).bind(hydrant.location.lat());
    values.bind(hydrant.elevation.map(Elevation::ft));
    values.bind(hydrant.body_loss.map(ApplianceCoefficient::psi_per_100gpm2));
    values.bind(hydrant.main_id.as_deref()).bind(hydrant.main_diameter.map(Diameter::inches));
    values.bind(hydrant.pressure_zone.as_deref()).bind(owner).bind(hydrant.potable);
    values.bind(hydrant.seasonal).bind(in_service).bind(reason);
    values.bind(hydrant.description.as_deref()).bind(Arc::clone(now));
}
