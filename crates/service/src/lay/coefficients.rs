//! Which figure was used for each part of a lay, where it comes from, and what is weak about it.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;
use longlay_hydraulics::finding::Finding;
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::lay::{BranchPart, LayProblem, Part};
use longlay_hydraulics::loss::{Appliance, ApplianceLoss, Hose, HydrantValve};
use longlay_hydraulics::quantity::ApplianceCoefficient;
use longlay_hydraulics::spread::{End, Spread};
use longlay_records::equipment::HoseLoad;
use longlay_records::equipment_test::{Figure, Leg, OwnFigure};
use longlay_records::id::AssetId;
use longlay_store::LayInputs;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::lay::figures::{FigureFrom, Figures};
use crate::lay::request::{LayCalculation, LayPart};

/// Unit of C.
const PER_100FT: &str = "psi/(100 gpm)²/100 ft";
/// Unit of k.
const PER_FLOW: &str = "psi/(100 gpm)²";

/// A figure of the equipment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FigureName {
    /// C of hose; with a hydrant valve's place, of the hose between valve and pumper.
    Hose,
    /// Loss of an appliance.
    Appliance,
    /// k of a hydrant valve, hydrant to supply line, unboosted.
    ValveThrough,
    /// k of a hydrant valve, hydrant to the pumper's intake.
    ValveToPump,
    /// k of a hydrant valve, pumper to supply line.
    ValveFromPump,
    /// Net pressure of a pumper against flow.
    PumperCurve,
    /// k of the hydrant's own body and outlet.
    HydrantBody,
}

/// A figure that the answer was worked with.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct CoefficientUsed {
    /// The part of the lay, counted from 0; absent for the hydrant and for a pumper that joins it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    part_index: Option<usize>,
    /// The line of a `parallel`, counted from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    branch_index: Option<usize>,
    /// Which figure.
    figure: FigureName,
    /// The stored equipment it is of.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    id: Option<String>,
    /// The figure; absent for a curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    value: Option<f64>,
    /// Unit of `value`, `low` and `high`.
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'static str,
    /// Where it comes from.
    from: FigureFrom,
    /// The department's own test.
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
    /// Low end of what it may be.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    low: Option<f64>,
    /// High end of what it may be.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    high: Option<f64>,
}

/// All that the figures add to an answer.
#[derive(Default)]
pub(super) struct Used {
    pub(super) coefficients: Vec<CoefficientUsed>,
    pub(super) findings: Vec<Finding>,
    pub(super) formulas: Vec<&'static Formula>,
}

/// The figures of a lay that was built from this question, part by part. What was solved says the values; the question and the records say whose they
/// are.
pub(super) fn used(ask: &LayCalculation, inputs: &LayInputs, problem: &LayProblem) -> Used {
    let mut walk = Walk { inputs, figures: Figures::of(inputs), place: Place::default(), used: Used::default() };
    walk.body(ask, problem);
    for (i, part) in problem.parts.iter().enumerate() {
        walk.place = Place { part: Some(i), branch: None };
        let asked = ask.parts.as_ref().and_then(|parts| parts.get(i));
        let id = asked.map_or_else(|| profile_id(inputs, i), LayPart::stored_id);
        walk.part(part, id, asked, problem.boost.is_some());
    }
    walk.place = Place::default();
    if problem.boost.is_some() {
        walk.pumper(ask.boost.as_ref().and_then(|boost| boost.pumper_id.as_deref()));
    }
    walk.used
}

/// What the profile has at this place of the lay: its valve, its hose, its scene appliances.
fn profile_id(inputs: &LayInputs, place: usize) -> Option<&str> {
    let profile = inputs.lay_profile.as_ref()?;
    let ids = profile.hydrant_valve_id.iter().chain([&profile.hose_type_id]).chain(&profile.scene_appliance_ids);
    ids.map(AssetId::as_str).nth(place)
}

#[derive(Clone, Copy, Default)]
struct Place {
    part: Option<usize>,
    branch: Option<usize>,
}

struct Walk<'a> {
    inputs: &'a LayInputs,
    figures: Figures<'a>,
    place: Place,
    used: Used,
}

/// Whose a figure is.
struct Whose<'a> {
    figure: FigureName,
    id: Option<&'a str>,
    from: FigureFrom,
    own: Option<OwnFigure<'a>>,
}

/// A figure with its unit, and how far it may be off where that is known.
type Value = (f64, &'static str, Option<Spread>);

impl Walk<'_> {
    fn part(&mut self, part: &Part, id: Option<&str>, asked: Option<&LayPart>, boosted: bool) {
        match part {
            Part::Hose(hose) => self.hose(id, hose),
            Part::Appliance(appliance) => self.appliance(id, appliance),
            Part::HydrantValve(valve) => self.valve(id, valve, boosted),
            Part::Pumper(_) => self.pumper(id),
            Part::Rise(_) => {}
            Part::Parallel(branches) => {
                let asked = asked.and_then(|part| part.branches.as_deref()).unwrap_or_default();
                for (i, (branch, asked)) in branches.iter().zip(asked).enumerate() {
                    self.place.branch = Some(i);
                    for (piece, asked) in branch.parts.iter().zip(&asked.parts) {
                        match piece {
                            BranchPart::Hose(hose) => self.hose(asked.stored_id(), hose),
                            BranchPart::Appliance(appliance) => self.appliance(asked.stored_id(), appliance),
                        }
                    }
                }
            }
        }
    }

    fn body(&mut self, ask: &LayCalculation, problem: &LayProblem) {
        let Some(k) = problem.source.body_loss else { return };
        let hydrant_id = ask.source.hydrant_id.as_deref();
        let from = match hydrant_id {
            _ if problem.source.body_loss_assumed => FigureFrom::Handbook,
            Some(_) => FigureFrom::Stated,
            None => FigureFrom::Given,
        };
        let whose = Whose { figure: FigureName::HydrantBody, id: hydrant_id, from, own: None };
        self.note(whose, Some((k.psi_per_100gpm2(), PER_FLOW, None)));
    }

    fn hose(&mut self, id: Option<&str>, hose: &Hose) {
        let chosen = stored(&self.inputs.hose_types, id).map(|kind| self.figures.hose(kind));
        let (from, own) = chosen.map_or((FigureFrom::Given, None), |chosen| (chosen.from, chosen.own));
        let value = (hose.coefficient().psi_per_100gpm2_100ft(), PER_100FT, Some(hose.spread));
        self.note(Whose { figure: FigureName::Hose, id, from, own }, Some(value));
    }

    fn appliance(&mut self, id: Option<&str>, appliance: &Appliance) {
        let chosen = stored(&self.inputs.appliances, id).map(|kind| self.figures.appliance(kind));
        let (from, own) = chosen.map_or((FigureFrom::Given, None), |chosen| (chosen.from, chosen.own));
        let (value, unit) = match appliance.loss {
            ApplianceLoss::Squared(k) => (k.psi_per_100gpm2(), PER_FLOW),
            ApplianceLoss::Step { fixed, .. } => (fixed.psi(), "psi"),
        };
        self.note(Whose { figure: FigureName::Appliance, id, from, own }, Some((value, unit, Some(appliance.spread))));
    }

    /// The boosted legs and the hose beside them count only where a pumper joins.
    fn valve(&mut self, id: Option<&str>, valve: &HydrantValve, boosted: bool) {
        let legs = [
            (FigureName::ValveThrough, Leg::Through, valve.through, valve.spread.through),
            (FigureName::ValveToPump, Leg::ToPump, valve.to_pump, valve.spread.to_pump),
            (FigureName::ValveFromPump, Leg::FromPump, valve.from_pump, valve.spread.from_pump),
        ];
        for (figure, leg, k, spread) in legs.into_iter().filter(|(_, leg, ..)| boosted || *leg == Leg::Through) {
            self.leg(figure, id, leg, (k, spread));
        }
        let Some(kind) = stored(&self.inputs.hydrant_valves, id).filter(|_| boosted) else { return };
        let hoses = [(&kind.to_pump_hose, &valve.to_pump_hose), (&kind.from_pump_hose, &valve.from_pump_hose)];
        for (load, hose) in hoses {
            if let (Some(HoseLoad { hose_type_id, .. }), Some(hose)) = (load, hose) {
                self.hose(Some(hose_type_id.as_str()), hose);
            }
        }
    }

    fn leg(&mut self, figure: FigureName, id: Option<&str>, leg: Leg, (k, spread): (ApplianceCoefficient, Spread)) {
        let chosen = stored(&self.inputs.hydrant_valves, id).map(|kind| self.figures.leg(kind, leg));
        let (from, own) = chosen.map_or((FigureFrom::Given, None), |chosen| (chosen.from, chosen.own));
        self.note(Whose { figure, id, from, own }, Some((k.psi_per_100gpm2(), PER_FLOW, Some(spread))));
    }

    fn pumper(&mut self, id: Option<&str>) {
        let kept = stored(&self.inputs.pumpers, id);
        let chosen = kept.and_then(|kept| self.figures.pumper(kept));
        let (from, own) = chosen.map_or((FigureFrom::Given, None), |chosen| (chosen.from, chosen.own));
        self.note(Whose { figure: FigureName::PumperCurve, id, from, own }, None);
    }

    fn note(&mut self, whose: Whose<'_>, value: Option<Value>) {
        let Place { part, branch } = self.place;
        let Whose { figure, id, from, own } = whose;
        let end = |end| value.and_then(|(value, _, spread)| Some(spread?.end(value, end)));
        self.used.coefficients.push(CoefficientUsed {
            part_index: part,
            branch_index: branch,
            figure,
            id: id.map(str::to_owned),
            value: value.map(|(value, ..)| value),
            unit: value.map_or("", |(_, unit, _)| unit),
            from,
            test_id: own.as_ref().map(|own| own.test.id),
            tested_on: own.as_ref().map(|own| own.test.tested_on),
            method: own.as_ref().map(|own| own.test.method.clone()),
            readings: own.as_ref().map(|own| own.test.measured.readings()),
            low: end(End::Low),
            high: end(End::High),
        });
        let Some(own) = own else { return };
        let rated = stored(&self.inputs.pumpers, id).map(|pumper| pumper.rated_flow);
        self.used.findings.extend(own.figure.finding(rated).map(|finding| finding.at(part)));
        let formula = match own.figure {
            Figure::Hose(_) => &formula::FRICTION_TEST,
            Figure::Loss(_) => &formula::LOSS_TEST,
            Figure::Curve(_) => &formula::PUMP_TEST,
        };
        if !self.used.formulas.contains(&formula) {
            self.used.formulas.push(formula);
        }
    }
}

fn stored<'a, T>(loaded: &'a BTreeMap<AssetId, Arc<T>>, id: Option<&str>) -> Option<&'a T> {
    loaded.get(&AssetId::new(id?).ok()?).map(Arc::as_ref)
}
