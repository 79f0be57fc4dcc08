//! The options as they go out.

use chrono::{DateTime, Utc};
use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::finding::{Finding, FindingCode};
use longlay_hydraulics::lay::{LayAnswer, planning_gpm};
use longlay_hydraulics::quantity::PositiveFlow;
use longlay_records::id::AssetId;
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, CautionNote, FindingNote};
use crate::coverage::summary::JoinedName;
use crate::lay::{Diagnosis, Gauge, PumperReading, record_cautions};
use crate::supply_options::near::{Direction, Near, NearLay};
use crate::supply_options::rank::{Choice, Laid, ranked, shares_main};
use crate::supply_options::ways::Way;
use crate::supply_options::{Asked, radio};

/// What can be laid for a place.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SupplyOptions {
    /// The moment of the records that this was worked of: what was acknowledged before it is in it.
    status_as_of: DateTime<Utc>,
    /// The first option in one sentence for the radio.
    radio: String,
    /// How the place and the hydrants were joined.
    joined: JoinedName,
    /// Whether the place lies on a street that is known; where not, no lay can be told.
    on_streets: bool,
    /// The flow wanted; null where none was said.
    #[schema(required = true)]
    needed_flow_gpm: Option<f64>,
    /// The hose carried that lays are kept within.
    max_lay_ft: f64,
    /// What can be laid, in the order in which to consider it: with a flow wanted, first what brings it at the low end of its band, and of that what no serious finding
    /// speaks against and what takes least; else what brings most.
    options: Vec<SupplyOption>,
    /// The best from another hydrant than the first option's, and where one is known, from another main: for when the first fails.
    #[schema(required = true)]
    fallback: Option<Fallback>,
    /// Hydrants that hose reaches and that no option uses, and why, the nearest first, at most 20.
    passed_over: Vec<PassedOver>,
    /// What is weak about the data.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// Something that can be laid.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SupplyOption {
    /// What it takes.
    way: WayName,
    /// The lays: one, or two.
    lays: Vec<OptionLay>,
    /// The pumper that goes to the hydrant; null where none does.
    #[schema(required = true)]
    pumper_at_hydrant: Option<String>,
    /// Whether the flow wanted arrives at the low end of the band; null where none was said.
    #[schema(required = true)]
    meets_need: Option<bool>,
    /// What to plan on: the low end, rounded down.
    planning_flow_gpm: f64,
    /// What arrives by the figures as read.
    flow_gpm: f64,
    /// The low end of the 90 % band.
    low_flow_gpm: f64,
    /// Whether two hydrants are known to be fed apart; null of one. Not known counts as not.
    #[schema(required = true)]
    mains_apart: Option<bool>,
    /// What stands between the crew and more water; null of two hydrants: ask `POST /v1/combined-supplies`.
    #[schema(required = true)]
    diagnosis: Option<Diagnosis>,
    /// What the gauges read, at the flow wanted where it arrives by the figures as read, else at what arrives; empty of two hydrants.
    gauges: Vec<Gauge>,
    /// What the pumper's gauges read then; empty without one.
    pumpers: Vec<PumperReading>,
    /// What is weak about the data of this option.
    findings: Vec<FindingNote>,
    /// What the people must know about it.
    cautions: Vec<CautionNote>,
}

/// What an option takes.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum WayName {
    /// One hydrant, its own pressure.
    HydrantAlone,
    /// One more line than the profile has, its own pressure.
    SecondLine,
    /// The pumper at the hydrant.
    Boosted,
    /// Two hydrants, each over a lay of its own, their own pressure.
    TwoHydrants,
}

impl From<Way> for WayName {
    fn from(way: Way) -> Self {
        match way {
            Way::HydrantAlone => Self::HydrantAlone,
            Way::SecondLine => Self::SecondLine,
            Way::Boosted => Self::Boosted,
            Way::TwoHydrants => Self::TwoHydrants,
        }
    }
}

/// A lay of an option.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct OptionLay {
    /// From which hydrant.
    hydrant_id: String,
    /// Whole sections of hose, along the streets.
    lay_ft: f64,
    /// Ground at the place above that at the hydrant; null where it is not known: it is left out then, and the band is wider.
    #[schema(required = true)]
    rise_ft: Option<f64>,
    /// Whether the engine passes the hydrant on its way; null where it was not said from where it comes, or it cannot be told.
    #[schema(required = true)]
    direction: Option<DirectionName>,
}

/// How a hydrant lies to the way that the engine comes.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum DirectionName {
    /// The hydrant is passed on the way in: lay from it to the fire.
    HydrantOnTheWayIn,
    /// It is off the way, or past the fire: lay from the fire to it.
    ReverseLay,
}

/// What to fall back on.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Fallback {
    /// What it takes.
    way: WayName,
    /// From where.
    lays: Vec<OptionLay>,
    /// What to plan on.
    planning_flow_gpm: f64,
    /// Whether it is known to be fed apart from the first option.
    mains_apart: bool,
}

/// A hydrant that no option uses.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PassedOver {
    /// Which.
    hydrant_id: String,
    /// The lay from it.
    lay_ft: f64,
    /// Why.
    why: PassedOverFor,
}

/// Why no option uses a hydrant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum PassedOverFor {
    /// It is out of service.
    OutOfService,
    /// No usable test bears on it: what it brings is not known, which is not nothing.
    Untested,
    /// It takes more hose than is carried.
    BeyondHose,
}

/// Most hydrants passed over that are told.
const MOST_PASSED_OVER: usize = 20;

impl SupplyOptions {
    pub(crate) fn new(near: &Near, laid: &Laid, asked: &Asked, as_of: DateTime<Utc>) -> Self {
        let needed_gpm = asked.needed.map(PositiveFlow::gpm);
        let choices = ranked(near, laid, needed_gpm);
        let pumper = asked.boost_pumper_id.as_ref();
        let told: Vec<_> = choices.iter().take(asked.most).map(|choice| told(choice, laid, asked)).collect();
        let basis = told.iter().find_map(|(_, answer)| answer.as_ref());
        let basis = basis.map(|answer| answer.basis.iter().copied().map(BasisFormula::from).collect());
        let straight = near.straight.then(|| Finding::new(FindingCode::StraightLineLay, near.rule.detour));
        Self {
            status_as_of: as_of,
            radio: radio::said(near, choices.first(), needed_gpm, pumper.map(AssetId::as_str)),
            joined: if near.straight { JoinedName::StraightLine } else { JoinedName::AlongStreets },
            on_streets: near.on_streets,
            needed_flow_gpm: needed_gpm,
            max_lay_ft: near.rule.carried_ft(),
            fallback: choices.first().and_then(|first| fallback(first, &choices)),
            passed_over: near.lays.iter().filter_map(|lay| passed_over(near, lay)).take(MOST_PASSED_OVER).collect(),
            options: told.into_iter().map(|(option, _)| option).collect(),
            findings: straight.iter().map(FindingNote::from).collect(),
            cautions: ALWAYS.into_iter().chain([Caution::SupplyLost]).map(CautionNote::from).collect(),
            basis: basis.unwrap_or_default(),
        }
    }
}

/// An option with the exact answer behind it.
fn told(choice: &Choice<'_>, laid: &Laid, asked: &Asked) -> (SupplyOption, Option<LayAnswer>) {
    let needed_gpm = asked.needed.map(PositiveFlow::gpm);
    let first = choice.lays.first().copied();
    let answer = first.and_then(|lay| laid.exact(choice.way, lay, asked.needed)).map(|lay| lay.answer());
    let line = answer.as_ref().map(LayAnswer::answer);
    let at = answer.as_ref().and_then(|answer| answer.at_target.as_ref()).filter(|at| at.met);
    let gauges = at.map_or_else(|| line.map_or(&[][..], |line| &line.gauges), |at| &at.gauges);
    let pumpers = at.map_or_else(|| line.map_or(&[][..], |line| &line.pumpers), |at| &at.pumpers);
    let mut findings: Vec<FindingNote> = Vec::new();
    for lay in &choice.lays {
        let own = lay.supply.iter().flat_map(|supply| supply.findings.iter()).copied();
        let unknown = lay.rise_ft.is_none().then(|| Finding::plain(FindingCode::GroundUnknown));
        for note in own.chain(unknown).map(|finding| FindingNote::from(&finding)) {
            if findings.iter().all(|known| known.code != note.code) {
                findings.push(note);
            }
        }
    }
    let mut cautions: Vec<Caution> = choice.lays.iter().flat_map(|lay| record_cautions(&lay.hydrant)).collect();
    match (&answer, choice.way) {
        (Some(answer), Way::Boosted) => cautions.extend(answer.cautions.iter().copied()),
        (_, Way::TwoHydrants) => cautions.push(Caution::SharedMain),
        _ => cautions.push(Caution::MainFloor),
    }
    cautions.sort_unstable();
    cautions.dedup();
    cautions.retain(|caution| !ALWAYS.contains(caution));
    let apart = choice.lays.get(1).zip(first).map(|(second, first)| !shares_main(first, second));
    let option = SupplyOption {
        way: choice.way.into(),
        lays: choice.lays.iter().copied().map(OptionLay::from).collect(),
        pumper_at_hydrant: asked
            .boost_pumper_id
            .as_ref()
            .filter(|_| choice.way == Way::Boosted)
            .map(ToString::to_string),
        meets_need: needed_gpm.map(|_| choice.meets(needed_gpm)),
        planning_flow_gpm: planning_gpm(choice.arrives.low_gpm),
        flow_gpm: choice.arrives.gpm,
        low_flow_gpm: choice.arrives.low_gpm,
        mains_apart: apart,
        diagnosis: line.map(|line| (&line.diagnosis).into()),
        gauges: gauges.iter().map(Gauge::from).collect(),
        pumpers: pumpers.iter().map(PumperReading::from).collect(),
        findings,
        cautions: cautions.into_iter().map(CautionNote::from).collect(),
    };
    (option, answer)
}

/// Of what uses no hydrant of the first option, the best from another main, else the best.
fn fallback(first: &Choice<'_>, choices: &[Choice<'_>]) -> Option<Fallback> {
    let same = |choice: &Choice<'_>| {
        choice.lays.iter().any(|lay| first.lays.iter().any(|used| used.hydrant.id == lay.hydrant.id))
    };
    let apart =
        |choice: &Choice<'_>| choice.lays.iter().all(|lay| first.lays.iter().all(|used| !shares_main(used, lay)));
    let others = || choices.iter().filter(|choice| choice.way != Way::TwoHydrants && !same(choice));
    let chosen = others().find(|choice| apart(choice)).or_else(|| others().next())?;
    Some(Fallback {
        way: chosen.way.into(),
        lays: chosen.lays.iter().copied().map(OptionLay::from).collect(),
        planning_flow_gpm: planning_gpm(chosen.arrives.low_gpm),
        mains_apart: apart(chosen),
    })
}

fn passed_over(near: &Near, lay: &NearLay) -> Option<PassedOver> {
    let why = if !lay.in_service() {
        PassedOverFor::OutOfService
    } else if lay.supply.is_none() {
        PassedOverFor::Untested
    } else if lay.lay_ft > near.rule.carried_ft() {
        PassedOverFor::BeyondHose
    } else {
        return None;
    };
    Some(PassedOver { hydrant_id: lay.hydrant.id.to_string(), lay_ft: lay.lay_ft, why })
}

impl From<&NearLay> for OptionLay {
    fn from(lay: &NearLay) -> Self {
        Self {
            hydrant_id: lay.hydrant.id.to_string(),
            lay_ft: lay.lay_ft,
            rise_ft: lay.rise_ft,
            direction: lay.direction.map(|direction| match direction {
                Direction::Forward => DirectionName::HydrantOnTheWayIn,
                Direction::Reverse => DirectionName::ReverseLay,
            }),
        }
    }
}
