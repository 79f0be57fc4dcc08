//! Hydrants with what their own tests read, and no more: a whole town is gone through for a page of what to test next.

use longlay_hydraulics::flow_test::{MeasuredFlow, PitotReading};
use longlay_hydraulics::quantity::{PositiveFlow, Pressure};
use longlay_records::flow_test::SecondPoint;
use longlay_records::hydrant::Location;
use longlay_records::id::AssetId;
use longlay_records::retest::sketch::{Readings, Sketch};

use crate::error::{StoreError, fault};
use crate::flow_tests::pitot_reading;
use crate::hydrant_query::{HydrantQuery, page};
use crate::rows::{Row, by_record, id_list};
use crate::snapshot::Snapshot;

impl Snapshot {
    /// A page of [`crate::Store::hydrants`], each with its own tests that were not voided.
    ///
    /// # Errors
    /// See [`StoreError`].
    pub async fn sketches(
        &mut self,
        query: &HydrantQuery,
        after: Option<&AssetId>,
        limit: u32,
    ) -> Result<Vec<Sketch>, StoreError> {
        let ids = page(self.connection(), query, after, limit).await?;
        let ids = id_list(&ids);
        let rows = sqlx::query_as!(
            SketchRow,
            r#"SELECT h.id, h.lon_deg, h.lat_deg, h.in_service AS "in_service: bool", t.id AS "test_id?", t.tested_on AS "tested_on?",
                      t.static_psi AS "static_psi?", t.residual_psi AS "residual_psi?", t.metered_flow_gpm, t.second_residual_psi,
                      t.second_metered_flow_gpm, o.diameter_in AS "outlet_diameter_in?", o.coefficient AS "outlet_coefficient?",
                      o.pitot_psi AS "pitot_psi?", o.point AS "point?"
               FROM hydrants h
               LEFT JOIN flow_tests t ON t.gauge_hydrant_id = h.id AND t.voided_at IS NULL
               LEFT JOIN flow_test_outlets o ON o.flow_test_id = t.id
               WHERE h.id IN (SELECT value FROM json_each(?1)) ORDER BY h.id, t.id, o.position"#,
            ids
        )
        .fetch_all(self.connection())
        .await
        .map_err(fault)?;
        by_record(&rows, |row| &row.id).map(|(row, own)| row.sketch(own)).collect()
    }
}

/// A hydrant, with a reading of one of its tests.
struct SketchRow {
    id: String,
    lon_deg: f64,
    lat_deg: f64,
    in_service: bool,
    test_id: Option<String>,
    tested_on: Option<String>,
    static_psi: Option<f64>,
    residual_psi: Option<f64>,
    metered_flow_gpm: Option<f64>,
    second_residual_psi: Option<f64>,
    second_metered_flow_gpm: Option<f64>,
    outlet_diameter_in: Option<f64>,
    outlet_coefficient: Option<f64>,
    pitot_psi: Option<f64>,
    point: Option<i64>,
}

impl SketchRow {
    fn sketch(&self, own: &[Self]) -> Result<Sketch, StoreError> {
        let row = Row::of("hydrants", &self.id);
        let location = row.good(Location::new(self.lon_deg, self.lat_deg).map_err(|_| "no place on the ground"))?;
        let mut tests = Vec::new();
        for parts in own.chunk_by(|one, next| one.test_id == next.test_id) {
            if let Some(first) = parts.first() {
                tests.extend(first.readings(parts)?);
            }
        }
        Ok(Sketch::new(row.asset_id(&self.id)?, location, self.in_service, tests))
    }

    /// A test out of its parts; none where the hydrant has none.
    fn readings(&self, parts: &[Self]) -> Result<Option<Readings>, StoreError> {
        let (Some(id), Some(tested_on), Some(static_psi), Some(residual_psi)) =
            (&self.test_id, &self.tested_on, self.static_psi, self.residual_psi)
        else {
            return Ok(None);
        };
        let row = Row::of("flow_tests", id);
        let flow = |metered: Option<f64>, point: i64| {
            if let Some(gpm) = metered {
                return row.good(PositiveFlow::from_gpm(gpm)).map(MeasuredFlow::Metered);
            }
            let of_point = parts.iter().filter(|part| part.point == Some(point));
            of_point.filter_map(|part| part.pitot().transpose()).collect::<Result<_, _>>().map(MeasuredFlow::Pitot)
        };
        let second_point = match self.second_residual_psi {
            Some(psi) => Some(SecondPoint {
                residual_pressure: row.good(Pressure::from_psi(psi))?,
                flow: flow(self.second_metered_flow_gpm, 2)?,
            }),
            None => None,
        };
        Ok(Some(Readings {
            test_id: row.uuid(id)?,
            tested_on: row.day(tested_on)?,
            static_pressure: row.good(Pressure::from_psi(static_psi))?,
            residual_pressure: row.good(Pressure::from_psi(residual_psi))?,
            flow: flow(self.metered_flow_gpm, 1)?,
            second_point,
        }))
    }

    fn pitot(&self) -> Result<Option<PitotReading>, StoreError> {
        let test_id = self.test_id.as_deref().unwrap_or_default();
        pitot_reading(test_id, self.outlet_diameter_in, self.outlet_coefficient, self.pitot_psi)
    }
}
