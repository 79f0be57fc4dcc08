//! The figure in use of a piece of equipment, and the test that it is from.

use chrono::NaiveDate;
use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::pumper::PumpCurve;
use longlay_hydraulics::quantity::{ApplianceCoefficient, HoseCoefficient};
use longlay_hydraulics::spread::{End, Spread};
use longlay_records::equipment_test::{EquipmentTest, Figure, OwnFigure};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::lay::figures::{Chosen, FigureFrom};
use crate::routes::pumpers::PumperPoint;

/// A figure: a coefficient, a fixed loss, or the points of a curve; and the span in which it is taken to lie.
#[derive(Debug, Default, Serialize, ToSchema)]
pub(crate) struct FigureValue {
    /// Of hose C, psi per (100 gpm)² per 100 ft; of an appliance or a valve's leg k, psi per (100 gpm)².
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    loss_coefficient: Option<f64>,
    /// A loss that stands at and above a flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    fixed_loss_psi: Option<f64>,
    /// The flow from which `fixed_loss_psi` stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_or_above_gpm: Option<f64>,
    /// Of a pumper, its curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    points: Option<Vec<PumperPoint>>,
    /// Low end of what it may be; absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    low: Option<f64>,
    /// High end of what it may be; absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    high: Option<f64>,
}

impl FigureValue {
    fn coefficient(value: f64, spread: Spread) -> Self {
        Self { loss_coefficient: Some(value), ..Self::default() }.within(value, spread)
    }

    fn within(self, value: f64, spread: Spread) -> Self {
        Self { low: Some(spread.end(value, End::Low)), high: Some(spread.end(value, End::High)), ..self }
    }

    /// What a test gives.
    pub(super) fn of_test(figure: &Figure) -> Self {
        match figure {
            Figure::Hose(tested) => (tested.coefficient, Spread::even(tested.relative_uncertainty)).into(),
            Figure::Loss(tested) => (tested.coefficient, Spread::even(tested.relative_uncertainty)).into(),
            Figure::Curve(curve) => (curve.clone(), Spread::NONE).into(),
        }
    }
}

impl From<(HoseCoefficient, Spread)> for FigureValue {
    fn from((c, spread): (HoseCoefficient, Spread)) -> Self {
        Self::coefficient(c.psi_per_100gpm2_100ft(), spread)
    }
}

impl From<(ApplianceCoefficient, Spread)> for FigureValue {
    fn from((k, spread): (ApplianceCoefficient, Spread)) -> Self {
        Self::coefficient(k.psi_per_100gpm2(), spread)
    }
}

impl From<(ApplianceLoss, Spread)> for FigureValue {
    fn from((loss, spread): (ApplianceLoss, Spread)) -> Self {
        match loss {
            ApplianceLoss::Squared(k) => (k, spread).into(),
            ApplianceLoss::Step { fixed, at_or_above } => {
                let (fixed_loss_psi, at_or_above_gpm) = (Some(fixed.psi()), Some(at_or_above.gpm()));
                Self { fixed_loss_psi, at_or_above_gpm, ..Self::default() }.within(fixed.psi(), spread)
            }
        }
    }
}

impl From<(PumpCurve, Spread)> for FigureValue {
    fn from((curve, _): (PumpCurve, Spread)) -> Self {
        Self { points: Some(curve.points().iter().map(PumperPoint::from).collect()), ..Self::default() }
    }
}

/// How far a tested figure may be off, in percent of it; a curve's is not worked out.
pub(super) fn uncertainty_percent(figure: &Figure) -> Option<f64> {
    match figure {
        Figure::Hose(tested) => Some(100.0 * tested.relative_uncertainty),
        Figure::Loss(tested) => Some(100.0 * tested.relative_uncertainty),
        Figure::Curve(_) => None,
    }
}

/// A figure as it is stored, without regard to tests.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StoredFigure {
    #[serde(flatten)]
    value: FigureValue,
    /// Where it comes from: `handbook` or `stated`.
    from: FigureFrom,
}

impl<F> From<Chosen<'_, F>> for StoredFigure
where
    FigureValue: From<(F, Spread)>,
{
    fn from(chosen: Chosen<'_, F>) -> Self {
        Self { value: (chosen.value, chosen.spread).into(), from: chosen.from }
    }
}

/// The figure that answers are worked with: that of the newest test of the department's own which was not voided, else the one stored.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FigureInUse {
    #[serde(flatten)]
    value: FigureValue,
    /// Where it comes from: `own_test`, `stated` or `handbook`.
    from: FigureFrom,
    /// The test.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    test_id: Option<Uuid>,
    /// The day of the test.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    tested_on: Option<NaiveDate>,
    /// How it was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    method: Option<String>,
    /// How many readings it rests on.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    readings: Option<usize>,
    /// How far the figure may be off, in percent of it; absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    uncertainty_percent: Option<f64>,
    /// How many tests of it count, of which this is the newest.
    tests: usize,
    /// How many were voided.
    tests_voided: usize,
}

impl FigureInUse {
    /// What was chosen, among these tests.
    pub(super) fn new<F>(chosen: Chosen<'_, F>, tests: &[EquipmentTest]) -> Self
    where
        FigureValue: From<(F, Spread)>,
    {
        let Chosen { value, spread, from, own } = chosen;
        let tests_voided = tests.iter().filter(|test| test.voided.is_some()).count();
        let of_test = own.as_ref().map(|OwnFigure { test, .. }| *test);
        Self {
            value: (value, spread).into(),
            from,
            test_id: of_test.map(|test| test.id),
            tested_on: of_test.map(|test| test.tested_on),
            method: of_test.map(|test| test.method.clone()),
            readings: of_test.map(|test| test.measured.readings()),
            uncertainty_percent: own.as_ref().and_then(|own| uncertainty_percent(&own.figure)),
            tests: tests.len() - tests_voided,
            tests_voided,
        }
    }
}
