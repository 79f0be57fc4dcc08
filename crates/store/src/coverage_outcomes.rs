//! What came out of a coverage run for each demand point.

use longlay_coverage::cause::CauseCode;
use longlay_records::hydrant::Location;
use longlay_records::id::AssetId;
use sqlx::types::Json;
use uuid::Uuid;

use crate::error::{StoreError, fault};
use crate::open::Store;
use crate::rows::Row;

/// Rows written, or cleared away, in one transaction: other writes come between.
pub const OUTCOMES_AT_ONCE: usize = 2000;

/// What arrives over one lay, or over two.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivered {
    /// The hydrants, with their lays in feet.
    pub lays: Vec<(AssetId, f64)>,
    /// What arrives, gpm.
    pub flow_gpm: f64,
    /// The low end of its band, gpm.
    pub low_gpm: f64,
}

/// The hydrant that a cause is about.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedHydrant {
    /// Which.
    pub hydrant_id: AssetId,
    /// The lay from it, ft.
    pub lay_ft: f64,
    /// How much of that is more than the hose carried, ft.
    pub extra_ft: f64,
    /// The low end of what it would bring, gpm; none where nobody tested it.
    pub low_gpm: Option<f64>,
}

/// What came out for one demand point.
#[derive(Debug, Clone, PartialEq)]
pub struct PointOutcome {
    /// Which.
    pub demand_point_id: AssetId,
    /// What it is called.
    pub name: Option<String>,
    /// Where it is.
    pub location: Location,
    /// The districts it lies in.
    pub district_ids: Vec<AssetId>,
    /// What it asks for, gpm, where that is known.
    pub need_gpm: Option<f64>,
    /// Why it is covered, or is not.
    pub cause: CauseCode,
    /// The hydrant that the cause is about.
    pub named: Option<NamedHydrant>,
    /// What is missing of the need, gpm.
    pub shortfall_gpm: Option<f64>,
    /// Whether some ground was not known.
    pub ground_unknown: bool,
    /// The best from one hydrant alone.
    pub alone: Option<Delivered>,
    /// The best with the pumper.
    pub boosted: Option<Delivered>,
    /// The best from two hydrants.
    pub combined: Option<Delivered>,
}

/// Which outcomes of a run.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OutcomeQuery {
    /// Of these causes; of all where none is named.
    pub causes: Vec<CauseCode>,
    /// In this district.
    pub district_id: Option<AssetId>,
}

impl Store {
    /// Keeps outcomes of a run, all of them or none.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn keep_coverage_outcomes(&self, run_id: Uuid, outcomes: &[PointOutcome]) -> Result<(), StoreError> {
        let id = run_id.to_string();
        let mut tx = self.write().await?;
        let rows = Json(outcomes.iter().map(cells).collect::<Vec<_>>());
        sqlx::query!(
            "INSERT INTO coverage_outcomes (run_id, demand_point_id, name, lon_deg, lat_deg, district_ids, need_gpm, cause, shortfall_gpm,
               ground_unknown, alone, boosted, combined, named)
             SELECT ?1, value ->> 0, value ->> 1, value ->> 2, value ->> 3, value -> 4, value ->> 5, value ->> 6, value ->> 7, value ->> 8,
               nullif(value -> 9, 'null'), nullif(value -> 10, 'null'), nullif(value -> 11, 'null'), nullif(value -> 12, 'null')
             FROM json_each(?2)",
            id,
            rows
        )
        .execute(&mut *tx)
        .await
        .map_err(fault)?;
        tx.commit().await.map_err(fault)
    }

    /// Outcomes of a run by ascending id of the demand point, from behind `after`, at most `limit`.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn coverage_outcomes(
        &self,
        run_id: Uuid,
        query: &OutcomeQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<PointOutcome>, StoreError> {
        let mut tx = self.read().await?;
        let (id, after) = (run_id.to_string(), after.map_or("", AssetId::as_str));
        let causes =
            (!query.causes.is_empty()).then(|| Json(query.causes.iter().map(|cause| cause.code()).collect::<Vec<_>>()));
        let district = query.district_id.as_ref().map(AssetId::as_str);
        let rows = sqlx::query_as!(
            OutcomeRow,
            r#"SELECT demand_point_id, name, lon_deg, lat_deg, district_ids AS "district_ids: Json<Vec<String>>", need_gpm, cause, shortfall_gpm,
                 ground_unknown AS "ground_unknown: bool", alone AS "alone: Json<Cell>", boosted AS "boosted: Json<Cell>",
                 combined AS "combined: Json<Cell>", named AS "named: Json<NamedCell>"
               FROM coverage_outcomes
               WHERE run_id = ?1 AND demand_point_id > ?2
                 AND (?3 IS NULL OR cause IN (SELECT value FROM json_each(?3)))
                 AND (?4 IS NULL OR EXISTS (SELECT 1 FROM json_each(district_ids) d WHERE d.value = ?4))
               ORDER BY demand_point_id LIMIT ?5"#,
            id,
            after,
            causes,
            district,
            limit
        );
        rows.fetch_all(&mut *tx).await.map_err(fault)?.into_iter().map(OutcomeRow::outcome).collect()
    }

    /// Clears the outcomes of a run away, a piece at a time.
    pub(crate) async fn clear_outcomes(&self, run_id: &str) -> Result<(), StoreError> {
        let most = i64::try_from(OUTCOMES_AT_ONCE).unwrap_or(i64::MAX);
        loop {
            let mut tx = self.write().await?;
            let gone = sqlx::query!(
                "DELETE FROM coverage_outcomes WHERE run_id = ?1 AND demand_point_id IN
                   (SELECT demand_point_id FROM coverage_outcomes WHERE run_id = ?1 ORDER BY demand_point_id LIMIT ?2)",
                run_id,
                most
            );
            let gone = gone.execute(&mut *tx).await.map_err(fault)?.rows_affected();
            tx.commit().await.map_err(fault)?;
            if gone == 0 {
                return Ok(());
            }
        }
    }
}

/// Lays, the flow and its low end.
type Cell = (Vec<(String, f64)>, f64, f64);
/// Hydrant, lay, extra hose, low end.
type NamedCell = (String, f64, f64, Option<f64>);

/// A row as `json_each` takes it.
type Cells<'a> = (
    &'a str,
    Option<&'a str>,
    f64,
    f64,
    Vec<&'a str>,
    Option<f64>,
    &'static str,
    Option<f64>,
    bool,
    Option<Cell>,
    Option<Cell>,
    Option<Cell>,
    Option<NamedCell>,
);

fn cells(outcome: &PointOutcome) -> Cells<'_> {
    let cell = |delivered: &Option<Delivered>| {
        let delivered = delivered.as_ref()?;
        let lays = delivered.lays.iter().map(|(id, ft)| (id.to_string(), *ft)).collect();
        Some((lays, delivered.flow_gpm, delivered.low_gpm))
    };
    let named = outcome.named.as_ref();
    (
        outcome.demand_point_id.as_str(),
        outcome.name.as_deref(),
        outcome.location.lon(),
        outcome.location.lat(),
        outcome.district_ids.iter().map(AssetId::as_str).collect(),
        outcome.need_gpm,
        outcome.cause.code(),
        outcome.shortfall_gpm,
        outcome.ground_unknown,
        cell(&outcome.alone),
        cell(&outcome.boosted),
        cell(&outcome.combined),
        named.map(|named| (named.hydrant_id.to_string(), named.lay_ft, named.extra_ft, named.low_gpm)),
    )
}

struct OutcomeRow {
    demand_point_id: String,
    name: Option<String>,
    lon_deg: f64,
    lat_deg: f64,
    district_ids: Json<Vec<String>>,
    need_gpm: Option<f64>,
    cause: String,
    shortfall_gpm: Option<f64>,
    ground_unknown: bool,
    alone: Option<Json<Cell>>,
    boosted: Option<Json<Cell>>,
    combined: Option<Json<Cell>>,
    named: Option<Json<NamedCell>>,
}

impl OutcomeRow {
    fn outcome(self) -> Result<PointOutcome, StoreError> {
        let row = Row::of("coverage_outcomes", &self.demand_point_id);
        let delivered = |cell: Option<Json<Cell>>| {
            let Some(Json((lays, flow_gpm, low_gpm))) = cell else { return Ok(None) };
            let lays = lays.iter().map(|(id, ft)| Ok((row.asset_id(id)?, *ft))).collect::<Result<_, _>>()?;
            Ok(Some(Delivered { lays, flow_gpm, low_gpm }))
        };
        let named = |Json((id, lay_ft, extra_ft, low_gpm)): Json<NamedCell>| {
            Ok(NamedHydrant { hydrant_id: row.asset_id(&id)?, lay_ft, extra_ft, low_gpm })
        };
        let cause = CauseCode::ALL.into_iter().find(|cause| cause.code() == self.cause);
        Ok(PointOutcome {
            location: row.good(Location::new(self.lon_deg, self.lat_deg).map_err(|_| "no place on the ground"))?,
            district_ids: row.asset_ids(&self.district_ids.0)?,
            cause: row.good(cause.ok_or("no cause has this code"))?,
            need_gpm: self.need_gpm,
            shortfall_gpm: self.shortfall_gpm,
            ground_unknown: self.ground_unknown,
            alone: delivered(self.alone)?,
            boosted: delivered(self.boosted)?,
            combined: delivered(self.combined)?,
            named: self.named.map(named).transpose()?,
            demand_point_id: row.asset_id(&self.demand_point_id)?,
            name: self.name,
        })
    }
}
