//! What the gauges along a lay read, and where the pressure between them goes.

use longlay_hydraulics::lay;
use serde::Serialize;
use utoipa::ToSchema;

/// One pumper's gauges.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PumperReading {
    /// Which: `pumper_1` is nearest the hydrant.
    station: String,
    /// At its discharge.
    pub(super) discharge_psi: f64,
    /// At its intake.
    pub(super) intake_psi: f64,
    /// What it adds.
    net_psi: f64,
}

impl From<&lay::PumperReading> for PumperReading {
    fn from(reading: &lay::PumperReading) -> Self {
        Self {
            station: format!("pumper_{}", reading.number),
            discharge_psi: reading.discharge_psi,
            intake_psi: reading.intake_psi,
            net_psi: reading.net_psi,
        }
    }
}

/// One gauge.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Gauge {
    /// Where: `main`, `hydrant`, `pumper_1_intake`, `pumper_1_discharge`, ..., `scene`.
    station: String,
    /// Hose laid from the hydrant to there.
    distance_ft: f64,
    /// Height above the hydrant's ground.
    elevation_ft: f64,
    /// What it reads.
    pressure_psi: f64,
}

impl From<&lay::Gauge> for Gauge {
    fn from(gauge: &lay::Gauge) -> Self {
        Self {
            station: gauge.station.to_string(),
            distance_ft: gauge.distance_ft,
            elevation_ft: gauge.elevation_ft,
            pressure_psi: gauge.pressure_psi,
        }
    }
}

/// One line of the pressure budget.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BudgetLine {
    /// What takes the pressure.
    part: &'static str,
    /// Its place in the lay, counted from 0, where it is written there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    part_index: Option<usize>,
    /// How much.
    loss_psi: f64,
}

impl From<&lay::BudgetLine> for BudgetLine {
    fn from(line: &lay::BudgetLine) -> Self {
        Self { part: line.part.kind.code(), part_index: line.part.index, loss_psi: line.loss_psi }
    }
}
