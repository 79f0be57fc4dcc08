//! A drill as it goes out over HTTP.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::quantity::Pressure;
use longlay_records::drill::{Drill, DrillGauge, LossMiss};
use longlay_store::StoreError;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::lay::LayCalculation;
use crate::problem::Problem;
use crate::routes::voiding::VoidedRecord;

/// A drill as recorded: what the gauges read beside what was predicted then, and the miss.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DrillRecord {
    /// Its id.
    id: Uuid,
    /// The day of the drill.
    drilled_on: NaiveDate,
    /// The lay as it lay, a profile written out as its parts.
    #[schema(value_type = LayCalculation)]
    lay: Value,
    /// Whether pumpers were in the line.
    pumped: bool,
    /// The flow measured.
    flow_gpm: f64,
    /// How far it may be off, as a percentage of it.
    flow_uncertainty_percent: f64,
    /// What the gauges read, hydrant to scene, and by how much they missed the prediction.
    readings: Vec<ReadGauge>,
    /// What every gauge of the lay was predicted to read at that flow when the drill was recorded, from the discharges read.
    predicted: Vec<PredictedGauge>,
    /// What was lost between gauges that follow one another with no pumper between.
    stretches: Vec<DrillStretch>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    notes: Option<String>,
    /// When it was recorded.
    recorded_at: DateTime<Utc>,
    /// Set where it no longer counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    voided: Option<VoidedRecord>,
}

/// A gauge that was read.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ReadGauge {
    /// Where.
    station: String,
    /// What it read.
    pressure_psi: f64,
    /// What it was predicted to read.
    predicted_psi: f64,
    /// Read less predicted: less than nothing was promised too much. Absent at a discharge, which the operator sets; behind a pumper whose discharge
    /// nobody read; and where the gauge read 0, which does not tell how much is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    miss_psi: Option<f64>,
}

/// A gauge of the lay.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PredictedGauge {
    /// Where.
    station: String,
    /// Height above the hydrant's ground.
    elevation_ft: f64,
    /// What it was predicted to read; under nothing where the flow measured is more than the figures allow.
    pressure_psi: f64,
}

/// What was lost between two gauges.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DrillStretch {
    /// The gauge upstream.
    from: String,
    /// The gauge downstream.
    to: String,
    /// Lost by the gauges, less the rise.
    read_loss_psi: f64,
    /// Predicted to be lost.
    predicted_loss_psi: f64,
    /// Read less predicted: more than nothing where more was lost than was predicted.
    loss_miss_psi: f64,
    /// The same as a percentage of the loss predicted; absent where none was.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_miss_percent: Option<f64>,
}

impl DrillRecord {
    pub(crate) fn new(drill: Drill) -> Result<Self, Problem> {
        let lay = serde_json::from_str(&drill.lay)
            .map_err(|error| StoreError::Corrupt(format!("drill {}: its lay is no JSON: {error}", drill.id)))?;
        let misses = drill.misses_psi();
        let read = |(gauge, miss): (&DrillGauge, Option<f64>)| {
            gauge.read.map(|read| ReadGauge {
                station: gauge.station.to_string(),
                pressure_psi: Pressure::psi(read),
                predicted_psi: gauge.predicted_psi,
                miss_psi: miss,
            })
        };
        Ok(Self {
            readings: drill.gauges.iter().zip(misses).filter_map(read).collect(),
            predicted: drill.gauges.iter().map(PredictedGauge::from).collect(),
            stretches: drill.losses().iter().map(DrillStretch::from).collect(),
            id: drill.id,
            drilled_on: drill.drilled_on,
            lay,
            pumped: drill.pumped,
            flow_gpm: drill.flow.gpm(),
            flow_uncertainty_percent: drill.flow_uncertainty.percent(),
            notes: drill.notes,
            recorded_at: drill.recorded_at,
            voided: drill.voided.map(VoidedRecord::from),
        })
    }
}

impl From<&DrillGauge> for PredictedGauge {
    fn from(gauge: &DrillGauge) -> Self {
        Self { station: gauge.station.to_string(), elevation_ft: gauge.elevation_ft, pressure_psi: gauge.predicted_psi }
    }
}

impl From<&LossMiss> for DrillStretch {
    fn from(loss: &LossMiss) -> Self {
        Self {
            from: loss.from.to_string(),
            to: loss.to.to_string(),
            read_loss_psi: loss.read_psi,
            predicted_loss_psi: loss.predicted_psi,
            loss_miss_psi: loss.miss_psi(),
            loss_miss_percent: loss.miss_percent(),
        }
    }
}
