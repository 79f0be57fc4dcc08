//! Which figure is used of a piece of equipment: that of the department's own test where one stands, else the one stored.

use std::collections::BTreeMap;
use std::sync::Arc;

use longlay_hydraulics::loss::ApplianceLoss;
use longlay_hydraulics::pumper::PumpCurve;
use longlay_hydraulics::quantity::{ApplianceCoefficient, HoseCoefficient, PositiveFlow};
use longlay_hydraulics::spread::Spread;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, Origin, Pumper, Range};
use longlay_records::equipment_test::{EquipmentTest, Figure, Leg, OwnFigure, Subject, own_figure};
use longlay_store::LayInputs;
use serde::Serialize;
use utoipa::ToSchema;

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FigureFrom {
    /// The shipped library, the rating points of a pumper, or a default: sources disagree.
    Handbook,
    /// The department's own test.
    OwnTest,
    /// The department's own record, which says in words where it is from.
    Stated,
    /// The question itself.
    Given,
}

impl From<Origin> for FigureFrom {
    fn from(origin: Origin) -> Self {
        match origin {
            Origin::Library => Self::Handbook,
            Origin::Department => Self::Stated,
        }
    }
}

/// A figure, how far it may be off, and the test that it is from.
pub(crate) struct Chosen<'a, F> {
    pub(crate) value: F,
    pub(crate) spread: Spread,
    pub(crate) from: FigureFrom,
    pub(crate) own: Option<OwnFigure<'a>>,
}

impl<F> Chosen<'_, F> {
    const fn stored(value: F, spread: Spread, from: FigureFrom) -> Self {
        Self { value, spread, from, own: None }
    }
}

/// The choice between the tests that were loaded and the figures stored.
#[derive(Clone, Copy)]
pub(crate) struct Figures<'a> {
    tests: Option<&'a BTreeMap<Subject, Arc<Vec<EquipmentTest>>>>,
}

impl<'a> Figures<'a> {
    /// With the tests that were loaded.
    pub(crate) const fn of(inputs: &'a LayInputs) -> Self {
        Self { tests: Some(&inputs.equipment_tests) }
    }

    /// As if nothing had been tested.
    pub(crate) const fn untested() -> Self {
        Self { tests: None }
    }

    /// The tests of a subject, voided ones too.
    pub(crate) fn tests(self, subject: &Subject) -> &'a [EquipmentTest] {
        self.tests.and_then(|tests| tests.get(subject)).map_or(&[], |tests| tests.as_slice())
    }

    /// The test of a subject whose figure stands; of a pumper of this rating.
    pub(crate) fn own(self, subject: &Subject, rated_flow: Option<PositiveFlow>) -> Option<OwnFigure<'a>> {
        own_figure(self.tests(subject), rated_flow)
    }

    pub(crate) fn hose(self, kind: &HoseType) -> Chosen<'a, HoseCoefficient> {
        let own = self.own(&Subject::Hose(kind.id.clone()), None);
        if let Some(OwnFigure { figure: Figure::Hose(tested), .. }) = &own {
            let (value, spread) = (tested.coefficient, Spread::even(tested.relative_uncertainty));
            return Chosen { value, spread, from: FigureFrom::OwnTest, own };
        }
        let range = of_range(kind.coefficient.psi_per_100gpm2_100ft(), kind.coefficient_range);
        Chosen::stored(kind.coefficient, Spread::HANDBOOK_HOSE.or_wider(range), kind.origin.into())
    }

    /// A test makes of a fixed loss one that goes with the square of the flow.
    pub(crate) fn appliance(self, kind: &ApplianceType) -> Chosen<'a, ApplianceLoss> {
        let own = self.own(&Subject::Appliance(kind.id.clone()), None);
        if let Some(OwnFigure { figure: Figure::Loss(tested), .. }) = &own {
            let (value, spread) =
                (ApplianceLoss::Squared(tested.coefficient), Spread::even(tested.relative_uncertainty));
            return Chosen { value, spread, from: FigureFrom::OwnTest, own };
        }
        let loss = match kind.loss {
            ApplianceLoss::Squared(k) => k.psi_per_100gpm2(),
            ApplianceLoss::Step { fixed, .. } => fixed.psi(),
        };
        Chosen::stored(kind.loss, assumed_spread(loss, kind.loss_range), kind.origin.into())
    }

    pub(crate) fn leg(self, kind: &HydrantValveType, leg: Leg) -> Chosen<'a, ApplianceCoefficient> {
        let own = self.own(&Subject::ValveLeg(kind.id.clone(), leg), None);
        if let Some(OwnFigure { figure: Figure::Loss(tested), .. }) = &own {
            let (value, spread) = (tested.coefficient, Spread::even(tested.relative_uncertainty));
            return Chosen { value, spread, from: FigureFrom::OwnTest, own };
        }
        let (value, range) = match leg {
            Leg::Through => (kind.through, kind.through_range),
            Leg::ToPump => (kind.to_pump, None),
            Leg::FromPump => (kind.from_pump, None),
        };
        Chosen::stored(value, assumed_spread(value.psi_per_100gpm2(), range), kind.origin.into())
    }

    /// None only where stored points are no curve, which no write lets in.
    pub(crate) fn pumper(self, stored: &Pumper) -> Option<Chosen<'a, PumpCurve>> {
        let own = self.own(&Subject::Pumper(stored.id.clone()), Some(stored.rated_flow));
        if let Some(OwnFigure { figure: Figure::Curve(curve), .. }) = &own {
            return Some(Chosen { value: curve.clone(), spread: Spread::NONE, from: FigureFrom::OwnTest, own });
        }
        if stored.points.is_empty() {
            let curve = PumpCurve::from_rating(stored.rated_flow);
            return Some(Chosen::stored(curve, Spread::NONE, FigureFrom::Handbook));
        }
        let curve = PumpCurve::from_points(stored.points.clone()).ok()?;
        Some(Chosen::stored(curve, Spread::NONE, FigureFrom::Stated))
    }
}

/// Of a loss that was not tested, and of which others may have found another.
fn assumed_spread(loss: f64, range: Option<Range>) -> Spread {
    Spread::ASSUMED_LOSS.or_wider(of_range(loss, range))
}

fn of_range(value: f64, range: Option<Range>) -> Spread {
    range.map_or(Spread::NONE, |range| Spread::of_ends(value, range.low, range.high))
}
