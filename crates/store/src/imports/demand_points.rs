//! Many demand points with few statements.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use longlay_records::demand::DemandPoint;
use longlay_records::hydrant::Elevation;
use longlay_records::id::AssetId;
use sqlx::SqliteConnection;

use super::arriving::{Arriving, Standing};
use super::bulk::{self, Values};
use super::notices::Notice;
use crate::audit::Action;
use crate::change::Change;
use crate::demand_points;
use crate::demand_rows::stored_need;
use crate::error::{RecordKind, StoreError, fault};
use crate::rows::{id_list, time_text};

impl Arriving for DemandPoint {
    const KIND: RecordKind = RecordKind::DemandPoint;

    fn id(&self) -> &AssetId {
        &self.id
    }

    async fn load(
        conn: &mut SqliteConnection,
        ids: &BTreeSet<AssetId>,
    ) -> Result<BTreeMap<AssetId, Standing<Self>>, StoreError> {
        let stored = demand_points::load_stored(conn, ids).await?.into_iter();
        Ok(stored.map(|(id, (record, retired))| (id, Standing { record, retired })).collect())
    }

    fn notices(&self, there: &Standing<Self>) -> Vec<Notice> {
        let mut notices = Vec::new();
        if there.retired {
            notices.push(Notice::ReturnsFromRetirement);
        }
        let emptied = emptied(&there.record, self);
        if !emptied.is_empty() {
            notices.push(Notice::Empties(emptied));
        }
        notices
    }

    async fn put_all(conn: &mut SqliteConnection, points: &[&Self], change: &Change) -> Result<(), StoreError> {
        let ids: BTreeSet<AssetId> = points.iter().map(|point| point.id.clone()).collect();
        let there = standing(&mut *conn, &ids).await?;
        let now = Arc::<str>::from(time_text(change.at));
        bulk::insert(&mut *conn, INTO, points, OVER, |values, point| bind(values, point, &now)).await?;
        for action in [Action::Create, Action::Restore, Action::Replace] {
            let done = points.iter().map(|point| noted(point, &there)).filter(|(known, _)| *known == action);
            let done: Vec<_> = done.map(|(_, record)| record).collect();
            bulk::note(&mut *conn, change, action, "demand_point", &done).await?;
        }
        Ok(())
    }
}

/// The members that have a value before and none after.
fn emptied(before: &DemandPoint, after: &DemandPoint) -> Vec<&'static str> {
    let had = |is_there: fn(&DemandPoint) -> bool| is_there(before) && !is_there(after);
    let members = [
        ("need", had(|point| point.need.is_some())),
        ("elevation_ft", had(|point| point.ground.is_some())),
        ("name", had(|point| point.name.is_some())),
        ("address", had(|point| point.address.is_some())),
    ];
    members.into_iter().filter(|(_, lost)| *lost).map(|(member, _)| member).collect()
}

/// What is done to a demand point, with its id and the version at which it stands since.
fn noted<'a>(point: &'a DemandPoint, there: &BTreeMap<String, (i64, bool)>) -> (Action, (&'a str, Option<i64>)) {
    let id = point.id.as_str();
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
        r#"SELECT id, version, retired_at IS NOT NULL AS "retired!: bool" FROM demand_points
           WHERE id IN (SELECT value FROM json_each(?1))"#,
        ids
    )
    .fetch_all(conn)
    .await
    .map_err(fault)?;
    Ok(rows.into_iter().map(|row| (row.id, (row.version, row.retired))).collect())
}

const INTO: &str = "INSERT INTO demand_points (
    id, lon_deg, lat_deg, elevation_ft, name, address, need_method, need_flow_gpm, need_source, need_edition, separation_ft,
    building_type, area_sq_ft, dwelling, sprinklers, updated_at) ";
const OVER: &str = " ON CONFLICT (id) DO UPDATE SET
    lon_deg = excluded.lon_deg, lat_deg = excluded.lat_deg, elevation_ft = excluded.elevation_ft, name = excluded.name,
    address = excluded.address, need_method = excluded.need_method, need_flow_gpm = excluded.need_flow_gpm,
    need_source = excluded.need_source, need_edition = excluded.need_edition, separation_ft = excluded.separation_ft,
    building_type = excluded.building_type, area_sq_ft = excluded.area_sq_ft, dwelling = excluded.dwelling,
    sprinklers = excluded.sprinklers, updated_at = excluded.updated_at, version = version + 1, retired_at = NULL";

fn bind(values: &mut Values, point: &DemandPoint, now: &Arc<str>) {
    let need = stored_need(point.need.as_ref());
    values.bind(point.id.as_str()).bind(point.location.lon()).bind(point.location.lat());
    values.bind(point.ground.map(Elevation::ft)).bind(point.name.as_deref()).bind(point.address.as_deref());
    values.bind(need.method).bind(need.flow_gpm).bind(need.source).bind(need.edition).bind(need.separation_ft);
    values.bind(need.building_type).bind(need.area_sq_ft).bind(need.dwelling).bind(need.sprinklers);
    values.bind(Arc::clone(now));
}
