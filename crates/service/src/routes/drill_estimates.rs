//! What the drills say of the figures: every coefficient they bear on, re-estimated.

use std::collections::{BTreeMap, BTreeSet};

use axum::extract::State;
use longlay_hydraulics::calibrate::{Estimate, LossReading, Unknown, estimates};
use longlay_hydraulics::formula;
use longlay_hydraulics::lay::{Lay, Station, Term};
use longlay_hydraulics::quantity::Pressure;
use longlay_records::drill::{Drill, UsedKind};
use longlay_store::{LayInputs, LayRefs};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use uuid::Uuid;

use crate::advice::BasisFormula;
use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::lay::figures::{FigureFrom, Figures};
use crate::lay::{Asset, LayCalculation, asset_of, posed, read_lay, refs};
use crate::problem::Problem;
use crate::routes::equipment_test_body::LegName;

pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(list_drill_estimates))
}

/// What the drills say of the figures.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DrillEstimates {
    /// Every figure that a drill bears on, by kind and id; a valve's legs as the water takes them.
    items: Vec<CoefficientEstimate>,
    /// How many drills were worked: those not voided, the newest 1000 at most.
    drills: usize,
    /// Drills that could not be worked again.
    left_out: Vec<DrillLeftOut>,
    /// What becomes of an estimate.
    note: &'static str,
    /// The formula.
    basis: Vec<BasisFormula>,
}

/// A figure as it stands, and as the drills have it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoefficientEstimate {
    /// What it is a figure of.
    kind: EstimateOf,
    /// Whose: the hydrant's number, or the equipment's id.
    id: String,
    /// Which leg of a valve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    leg: Option<LegName>,
    /// The figure that answers are worked with now.
    current: f64,
    /// Where that comes from.
    from: FigureFrom,
    /// The figure that fits what is held of it and the drills together best.
    estimate: f64,
    /// Low end of the span that holds it 90 times of 100.
    low: f64,
    /// High end.
    high: f64,
    /// Unit of the figures: of hose C, of the others k, of an appliance with a fixed loss psi.
    unit: &'static str,
    /// How many readings bear on it: losses between two gauges.
    readings: usize,
    /// How many drills they are of.
    drills: usize,
    /// Estimate over current.
    change_percent: f64,
}

/// What a figure is of.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum EstimateOf {
    /// A hydrant's body.
    Hydrant,
    /// A kind of hose.
    HoseType,
    /// A kind of appliance.
    Appliance,
    /// A leg of a kind of hydrant valve.
    HydrantValve,
}

/// A drill that could not be worked again.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DrillLeftOut {
    /// The drill.
    drill_id: Uuid,
    /// Why.
    reason: &'static str,
}

/// The figures met so far, and what was read of them.
#[derive(Default)]
struct Gathered {
    places: BTreeMap<Asset, usize>,
    figures: Vec<Figure>,
    readings: Vec<LossReading>,
}

struct Figure {
    kind: EstimateOf,
    from: FigureFrom,
    unknown: Unknown,
    drills: BTreeSet<Uuid>,
}

impl Gathered {
    fn add(&mut self, drill: &Drill, ask: &LayCalculation, inputs: &LayInputs, lay: &Lay) {
        let read = drill.gauges.iter().filter_map(|gauge| Some((gauge.station, gauge.read?)));
        let read: Vec<(Station, Pressure)> = read.collect();
        for stretch in lay.stretches(drill.flow, &read) {
            let place = |term: &Term| {
                let asset = asset_of(term.of, ask, inputs)?;
                let (kind, from) = standing(&asset, inputs, lay)?;
                let place = *self.places.entry(asset).or_insert(self.figures.len());
                if place == self.figures.len() {
                    self.figures.push(Figure { kind, from, unknown: term.unknown, drills: BTreeSet::new() });
                }
                self.figures[place].drills.insert(drill.id);
                Some(place)
            };
            self.readings.push(stretch.reading(drill.flow_uncertainty, place));
        }
    }

    fn estimated(&self) -> Vec<CoefficientEstimate> {
        let unknowns: Vec<_> = self.figures.iter().map(|figure| figure.unknown).collect();
        let found = estimates(&unknowns, &self.readings);
        let borne = self.places.iter().filter(|(_, place)| found[**place].readings > 0);
        borne.map(|(asset, place)| told(asset, &self.figures[*place], &found[*place])).collect()
    }
}

fn told(asset: &Asset, figure: &Figure, found: &Estimate) -> CoefficientEstimate {
    CoefficientEstimate {
        kind: figure.kind,
        id: asset.of.id.to_string(),
        leg: asset.leg.map(LegName::from),
        current: figure.unknown.value,
        from: figure.from,
        estimate: found.value,
        low: found.low,
        high: found.high,
        unit: figure.unknown.bound.unit,
        readings: found.readings,
        drills: figure.drills.len(),
        change_percent: 100.0 * (found.value / figure.unknown.value - 1.0),
    }
}

/// What a stored thing's figure is of and where it comes from; none of a pumper, which has none here.
fn standing(asset: &Asset, inputs: &LayInputs, lay: &Lay) -> Option<(EstimateOf, FigureFrom)> {
    let (id, figures) = (&asset.of.id, Figures::of(inputs));
    Some(match asset.of.kind {
        UsedKind::Hydrant if lay.problem().source.body_loss_assumed => (EstimateOf::Hydrant, FigureFrom::Handbook),
        UsedKind::Hydrant => (EstimateOf::Hydrant, FigureFrom::Stated),
        UsedKind::HoseType => (EstimateOf::HoseType, figures.hose(inputs.hose_types.get(id)?).from),
        UsedKind::Appliance => (EstimateOf::Appliance, figures.appliance(inputs.appliances.get(id)?).from),
        UsedKind::HydrantValve => {
            (EstimateOf::HydrantValve, figures.leg(inputs.hydrant_valves.get(id)?, asset.leg?).from)
        }
        UsedKind::Pumper => return None,
    })
}

/// The drill's lay with the figures of today, or why there is none.
fn worked(drill: &Drill, inputs: &LayInputs) -> Result<(LayCalculation, Lay), &'static str> {
    let ask = read_lay(&drill.lay).ok_or("this version does not read its lay")?;
    let lay = posed(&ask, inputs, None, &mut Faults::of_body()).map(|posed| posed.lay);
    match lay {
        Ok(Some(lay)) => Ok((ask, lay)),
        Ok(None) => Err("its lay names something that is no longer there"),
        Err(_) => Err("no usable flow test bears on its hydrant any more"),
    }
}

fn estimate_all(drills: &[(Drill, LayInputs)]) -> DrillEstimates {
    let mut gathered = Gathered::default();
    let mut left_out = Vec::new();
    for (drill, inputs) in drills {
        match worked(drill, inputs) {
            Ok((ask, lay)) => gathered.add(drill, &ask, inputs, &lay),
            Err(reason) => left_out.push(DrillLeftOut { drill_id: drill.id, reason }),
        }
    }
    DrillEstimates {
        items: gathered.estimated(),
        drills: drills.len() - left_out.len(),
        left_out,
        note: "No estimate is applied by itself: answers are worked with `current`. To adopt one, record it as your own: PUT your own hose type, appliance, \
               hydrant valve or hydrant with it, or a test of the equipment. Gauges and meters are taken as off by chance, each time anew: one that always reads \
               high or low is not found out by more drills, so change gauges between them.",
        basis: vec![BasisFormula::from(&formula::DRILL_ESTIMATE)],
    }
}

fn refs_of(drill: &Drill) -> LayRefs {
    read_lay(&drill.lay).map(|ask| refs(&ask)).unwrap_or_default()
}

/// What the drills say of the figures
///
/// Every loss coefficient that drills bear on: what is held of it now, weighed against what the gauges read. Worked against today's figures; voided drills do
/// not count. Nothing is changed by it: to adopt an estimate, record it as your own.
#[utoipa::path(
    get, path = "/v1/drill-estimates", tag = "drills",
    responses((status = 200, description = "The estimates", body = DrillEstimates))
)]
pub(crate) async fn list_drill_estimates(State(app): State<AppState>) -> Result<Json<DrillEstimates>, Problem> {
    let drills = app.store.drilled_lays(refs_of, app.clock.today()).await?;
    Ok(Json(estimate_all(&drills)))
}
