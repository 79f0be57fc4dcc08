//! A flow test: readings taken once, never edited, voided with a reason.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_hydraulics::quantity::Pressure;
use uuid::Uuid;

use crate::id::AssetId;

/// Most outlets read in one test.
pub const MAX_TEST_OUTLETS: usize = 24;
/// Most hydrants flowed in one test.
pub const MAX_FLOW_HYDRANTS: usize = 12;

/// A flow test, belonging to the hydrant that carried the gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowTest {
    /// Its id, given when it was recorded; version 7, so that it sorts by time of recording.
    pub id: Uuid,
    /// The gauge hydrant, on which static and residual were read.
    pub gauge_hydrant_id: AssetId,
    /// The day of the test.
    pub tested_on: NaiveDate,
    /// Pressure with nothing flowing.
    pub static_pressure: Pressure,
    /// Pressure while flowing.
    pub residual_pressure: Pressure,
    /// What flowed.
    pub flow: MeasuredFlow,
    /// The hydrants that flowed; empty where nobody wrote it down.
    pub flow_hydrant_ids: Vec<AssetId>,
    /// Anything else.
    pub notes: Option<String>,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Set when the test was voided.
    pub voided: Option<Voided>,
}

/// Why a test no longer counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Voided {
    /// The reason.
    pub reason: String,
    /// When.
    pub at: DateTime<Utc>,
}

impl FlowTest {
    /// Whether the gauge hydrant itself flowed, alone: then its body loss is already in the curve.
    pub fn is_single_hydrant(&self) -> bool {
        self.flow_hydrant_ids.len() == 1 && self.flow_hydrant_ids[0] == self.gauge_hydrant_id
    }
}
