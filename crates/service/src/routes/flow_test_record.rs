//! A flow test as it goes out, with what follows from it.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::band::flow_band;
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::flow_test::MeasuredFlow;
use longlay_records::departure::departures;
use longlay_records::flow_test::{FlowTest, TestCurve};
use longlay_records::id::AssetId;
use longlay_store::StoreError;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::advice::{FindingNote, FlowBand};
use crate::app::AppState;
use crate::problem::Problem;
use crate::routes::flow_test_body::OutletReading;
use crate::routes::voiding::VoidedRecord;

/// A flow test as recorded, with what follows from it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FlowTestRecord {
    /// Its id.
    pub(super) id: Uuid,
    /// The gauge hydrant.
    hydrant_id: String,
    /// The day of the test.
    tested_on: NaiveDate,
    /// Pressure with nothing flowing.
    static_psi: f64,
    /// Pressure while flowing.
    residual_psi: f64,
    /// What was read by pitot; absent where the flow was metered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    outlets: Option<Vec<OutletReading>>,
    /// What flowed: metered, or worked out of the pitot readings.
    flow_gpm: f64,
    /// Another flow at the same static.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    second_point: Option<SecondPointRecord>,
    /// Flow at `rated_at_psi`; null where the test showed no drop, and so proves no more than `flow_gpm`.
    #[schema(required = true)]
    rated_flow_gpm: Option<f64>,
    /// How far the rated flow may be off; around the proved flow where the test showed no drop.
    rated_flow_band_gpm: FlowBand,
    /// The pressure it is rated at: 20, or half of a static under 40.
    rated_at_psi: f64,
    /// What is weak about it, and in what it is far from the hydrant's other tests.
    findings: Vec<FindingNote>,
    /// The hydrants that flowed; empty where nobody wrote it down.
    flow_hydrant_ids: Vec<String>,
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

/// The second point of a flow test as recorded.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SecondPointRecord {
    /// Pressure while it flowed.
    residual_psi: f64,
    /// What was read by pitot; absent where the flow was metered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    outlets: Option<Vec<OutletReading>>,
    /// What flowed: metered, or worked out of the pitot readings.
    flow_gpm: f64,
}

/// A flow as it goes out: its pitot readings, and what they come to.
fn flowed(test: &FlowTest, flow: &MeasuredFlow) -> Result<(Option<Vec<OutletReading>>, f64), Problem> {
    let outlets = match flow {
        MeasuredFlow::Pitot(readings) => Some(readings.iter().map(OutletReading::from).collect()),
        MeasuredFlow::Metered(_) => None,
    };
    Ok((outlets, flow.total().map_err(|_| no_curve(test))?.gpm()))
}

/// A recorded test has a curve: none was let in without.
pub(crate) fn no_curve(test: &FlowTest) -> Problem {
    StoreError::Corrupt(format!("flow test {}: its readings give no curve", test.id)).into()
}

/// What is weak about a test itself. Age and borrowing are for the answers that use it.
pub(crate) fn findings(test: &FlowTest, of_test: &TestCurve) -> Vec<Finding> {
    let alone = test.is_single_hydrant().then(|| Finding::plain(FindingCode::SingleHydrantTest));
    of_test.findings.iter().copied().chain(alone).collect()
}

/// Most tests of one hydrant that a test is held against: more than any has.
const OTHERS_AT_MOST: u32 = 1000;

/// The tests gauged at a hydrant, which each of them is held against.
pub(crate) async fn gauged_at(app: &AppState, hydrant: &AssetId) -> Result<Vec<FlowTest>, Problem> {
    Ok(app.store.flow_tests(hydrant, None, OTHERS_AT_MOST).await?)
}

impl FlowTestRecord {
    /// A test held against the others gauged there.
    pub(crate) fn among(test: FlowTest, others: &[FlowTest]) -> Result<Self, Problem> {
        let far = departures(&test, others.iter());
        let mut record = Self::new(test)?;
        record.findings.extend(far.iter().map(FindingNote::from));
        Ok(record)
    }

    fn new(test: FlowTest) -> Result<Self, Problem> {
        let of_test = test.curve().ok_or_else(|| no_curve(&test))?;
        let findings = findings(&test, &of_test);
        let TestCurve { curve, spread, .. } = of_test;
        let (outlets, flow_gpm) = flowed(&test, &test.flow)?;
        let second = test.second_point.as_ref().map(|second| {
            let (outlets, flow_gpm) = flowed(&test, &second.flow)?;
            Ok::<_, Problem>(SecondPointRecord { residual_psi: second.residual_pressure.psi(), outlets, flow_gpm })
        });
        Ok(Self {
            findings: findings.iter().map(FindingNote::from).collect(),
            id: test.id,
            hydrant_id: test.gauge_hydrant_id.to_string(),
            tested_on: test.tested_on,
            static_psi: test.static_pressure.psi(),
            residual_psi: test.residual_pressure.psi(),
            outlets,
            flow_gpm,
            second_point: second.transpose()?,
            rated_flow_band_gpm: (&flow_band(&curve, &spread, curve.rating_pressure_psi())).into(),
            rated_flow_gpm: curve.rated_flow_gpm(),
            rated_at_psi: curve.rating_pressure_psi(),
            flow_hydrant_ids: test.flow_hydrant_ids.iter().map(ToString::to_string).collect(),
            notes: test.notes,
            recorded_at: test.recorded_at,
            voided: test.voided.map(VoidedRecord::from),
        })
    }
}
