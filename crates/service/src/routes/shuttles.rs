//! Tankers that carry water: what they keep up, and how many a flow asks.

use longlay_hydraulics::caution::{ALWAYS, Caution};
use longlay_hydraulics::formula::{self, Formula};
use longlay_hydraulics::lay::planning_gpm;
use longlay_hydraulics::quantity::{Miles, Minutes, PositiveFlow, Volume};
use longlay_hydraulics::shuttle::{
    AlternativeSupply, Haul, MAX_TANKERS, SINGLE_DUMP_TANK_GPM, Shuttle, ShuttleError, ShuttleLimit, ShuttleRate,
    TankerRate, TankerRound,
};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::advice::{BasisFormula, CautionNote, FindingNote};
use crate::app::AppState;
use crate::extract::Json;
use crate::faults::Faults;
use crate::problem::Problem;

/// What a shuttle rests on.
const BASIS: [&Formula; 4] =
    [&formula::TANKER_RATE, &formula::SHUTTLE_FLOW, &formula::FIRST_WATER, &formula::ISO_ALTERNATIVE_SUPPLY];

/// What is asked of tankers.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ShuttleQuestion {
    /// The tankers, in the order they are called; unlike ones may stand side by side.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(min_items = 1, max_items = 200)]
    tankers: Vec<ShuttleTanker>,
    /// Tankers that can be filled at once. Waiting there is not counted unless given.
    #[schema(minimum = 1, maximum = 255)]
    fill_sites: Option<u8>,
    /// What one fill site flows. Not counted unless given with `fill_sites`.
    #[schema(minimum = 1, maximum = 50_000)]
    fill_flow_gpm: Option<f64>,
    /// Tankers that can dump at once, each into its portable tank. Waiting there is not counted unless given.
    #[schema(minimum = 1, maximum = 255)]
    dump_sites: Option<u8>,
    /// The flow wanted at the scene.
    #[schema(minimum = 1, maximum = 50_000)]
    target_flow_gpm: Option<f64>,
    /// When the shuttle's water flows, after the first engine arrived.
    #[schema(minimum = 0.1, maximum = 10_000)]
    water_after_first_engine_min: Option<f64>,
    /// What the water source holds for it.
    #[schema(minimum = 0, maximum = 1_000_000)]
    source_volume_gal: Option<f64>,
}

/// A tanker and its round. Exactly one of `round_trip_mi` and `one_way_mi`: sources take either for the other.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ShuttleTanker {
    /// What its tank holds.
    #[schema(minimum = 0, maximum = 1_000_000)]
    tank_gal: f64,
    /// Time at the fill site: positioning, coupling, filling, breaking off.
    #[schema(minimum = 0.1, maximum = 10_000)]
    fill_min: f64,
    /// Time at the dump site, likewise.
    #[schema(minimum = 0.1, maximum = 10_000)]
    dump_min: f64,
    /// From the fill site to the dump site and back.
    #[schema(minimum = 0, maximum = 1000)]
    round_trip_mi: Option<f64>,
    /// From the fill site to the dump site alone.
    #[schema(minimum = 0, maximum = 1000)]
    one_way_mi: Option<f64>,
}

/// What the shuttle keeps up. A planning answer.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShuttleAnswer {
    /// The flow it keeps up, exact.
    sustained_flow_gpm: f64,
    /// The same rounded down for planning.
    planning_flow_gpm: f64,
    /// What binds.
    limited_by: ShuttleLimitName,
    /// Every limit that is known, in order of flow.
    limits: Vec<ShuttleLimitFlow>,
    /// Each tanker by itself.
    tankers: Vec<ShuttleTankerRate>,
    /// Time until the first tanker begins to dump, with all of them empty at the fill site.
    first_water_min: f64,
    /// The flow wanted against it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    at_target: Option<ShuttleAtTarget>,
    /// Named tests of the supply.
    tests: Vec<SupplyTest>,
    /// What is weak about it.
    findings: Vec<FindingNote>,
    /// What the people must know.
    cautions: Vec<CautionNote>,
    /// The formulas used.
    basis: Vec<BasisFormula>,
}

/// What stops more water from being carried.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ShuttleLimitName {
    /// The tankers: more of them carry more.
    Tankers,
    /// What the fill sites flow.
    FillFlow,
    /// The places to fill: tankers wait.
    FillSites,
    /// The places to dump: tankers wait.
    DumpSites,
}

/// A limit and its flow.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShuttleLimitFlow {
    /// The limit.
    limit: ShuttleLimitName,
    /// The most it lets through.
    flow_gpm: f64,
}

/// One tanker that never waits.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShuttleTankerRate {
    /// What it delivers each round.
    usable_gal: f64,
    /// Time at both sites.
    handling_min: f64,
    /// Time on the road.
    travel_min: f64,
    /// The rate it keeps up.
    flow_gpm: f64,
}

/// The flow wanted against the shuttle.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShuttleAtTarget {
    /// Whether it is kept up.
    met: bool,
    /// How much is missing.
    shortfall_gpm: f64,
    /// Tankers that keep it up: the first of those given, then more like the one that carries least. Null where the sites hold it under the flow,
    /// or 200 do not carry it.
    #[schema(required = true)]
    tankers_needed: Option<usize>,
}

/// Whether a test is met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum TestVerdict {
    /// It is.
    Met,
    /// It is not.
    NotMet,
    /// What it turns on was not given: count it as not met.
    Unknown,
}

/// A named test of a supply, with each of its parts.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SupplyTest {
    /// Its name.
    name: &'static str,
    /// Whether all of it is met.
    verdict: TestVerdict,
    /// 250 gpm.
    flow: TestVerdict,
    /// Within 5 minutes of the first engine, by `water_after_first_engine_min`.
    start: TestVerdict,
    /// For 2 hours, by `source_volume_gal`.
    duration: TestVerdict,
}

impl From<Option<bool>> for TestVerdict {
    fn from(met: Option<bool>) -> Self {
        match met {
            Some(true) => Self::Met,
            Some(false) => Self::NotMet,
            None => Self::Unknown,
        }
    }
}

/// The question converted.
struct Asked {
    shuttle: Shuttle,
    rate: ShuttleRate,
    /// The flow wanted, and how many tankers keep it up.
    target: Option<(PositiveFlow, Option<usize>)>,
    supply: AlternativeSupply,
}

impl ShuttleQuestion {
    fn asked(&self) -> Result<Asked, Problem> {
        let mut faults = Faults::of_body();
        let tankers = faults.list("/tankers", &self.tankers, MAX_TANKERS, tanker);
        let fill_flow = faults.optional("/fill_flow_gpm", self.fill_flow_gpm, PositiveFlow::from_gpm);
        let target = faults.optional("/target_flow_gpm", self.target_flow_gpm, PositiveFlow::from_gpm);
        let after = "/water_after_first_engine_min";
        let after = faults.optional(after, self.water_after_first_engine_min, Minutes::from_min);
        let source = faults.optional("/source_volume_gal", self.source_volume_gal, Volume::from_gal);
        for (at, sites) in [("/fill_sites", self.fill_sites), ("/dump_sites", self.dump_sites)] {
            if sites == Some(0) {
                faults.note(at, "out_of_bounds", ShuttleError::NoSite.to_string());
            }
        }
        if self.tankers.is_empty() {
            faults.note("/tankers", "too_few", ShuttleError::TankerCount(0).to_string());
        }
        let (fill_sites, dump_sites) = (self.fill_sites, self.dump_sites);
        let shuttle =
            tankers.zip(fill_flow).map(|(tankers, fill_flow)| Shuttle { tankers, fill_sites, fill_flow, dump_sites });
        let given = shuttle.zip(target).zip(after).zip(source).filter(|_| faults.is_empty());
        let asked = given.and_then(|(((shuttle, target), water_after_first_engine), source)| {
            let rate = faults.good("/tankers", shuttle.rate())?;
            let needed = |flow| shuttle.tankers_needed(flow).map(|needed| (flow, needed));
            let target = faults.good("/tankers", target.map(needed).transpose())?;
            let supply = AlternativeSupply { gpm: rate.gpm, water_after_first_engine, source };
            Some(Asked { shuttle, rate, target, supply })
        });
        faults.finish(asked)
    }
}

fn tanker(faults: &mut Faults, at: &str, asked: &ShuttleTanker) -> Option<TankerRound> {
    let tank = faults.good(&format!("{at}/tank_gal"), Volume::from_gal(asked.tank_gal));
    let fill = faults.good(&format!("{at}/fill_min"), Minutes::from_min(asked.fill_min));
    let dump = faults.good(&format!("{at}/dump_min"), Minutes::from_min(asked.dump_min));
    let haul = match (asked.round_trip_mi, asked.one_way_mi) {
        (Some(miles), None) => faults.good(&format!("{at}/round_trip_mi"), Miles::from_mi(miles)).map(Haul::RoundTrip),
        (None, Some(miles)) => faults.good(&format!("{at}/one_way_mi"), Miles::from_mi(miles)).map(Haul::OneWay),
        _ => faults.exactly_one_of(at, &["round_trip_mi", "one_way_mi"]),
    };
    Some(TankerRound { tank: tank?, fill: fill?, dump: dump?, haul: haul? })
}

impl From<&Asked> for ShuttleAnswer {
    fn from(asked: &Asked) -> Self {
        let Asked { shuttle, rate, target, supply } = asked;
        let one_tank = shuttle.dump_sites.is_none_or(|sites| sites == 1);
        let wanted = target.map_or(rate.gpm, |(flow, _)| flow.gpm().max(rate.gpm));
        let single = (one_tank && wanted >= SINGLE_DUMP_TANK_GPM).then_some(Caution::SingleDumpTank);
        let cautions = single.into_iter().chain([Caution::SupplyLost, Caution::NonPotable]).chain(ALWAYS);
        Self {
            sustained_flow_gpm: rate.gpm,
            planning_flow_gpm: planning_gpm(rate.gpm),
            limited_by: rate.limited_by.into(),
            limits: rate
                .limits
                .iter()
                .map(|(limit, gpm)| ShuttleLimitFlow { limit: (*limit).into(), flow_gpm: *gpm })
                .collect(),
            tankers: rate.tankers.iter().map(ShuttleTankerRate::from).collect(),
            first_water_min: rate.first_water_min,
            at_target: target.map(|(flow, tankers_needed)| ShuttleAtTarget {
                met: rate.gpm >= flow.gpm(),
                shortfall_gpm: (flow.gpm() - rate.gpm).max(0.0),
                tankers_needed,
            }),
            tests: vec![supply.into()],
            findings: shuttle.findings().iter().map(FindingNote::from).collect(),
            cautions: cautions.map(CautionNote::from).collect(),
            basis: BASIS.into_iter().map(BasisFormula::from).collect(),
        }
    }
}

impl From<&AlternativeSupply> for SupplyTest {
    fn from(supply: &AlternativeSupply) -> Self {
        let found = supply.iso_alternative();
        Self {
            name: "iso alternative supply",
            verdict: found.met.into(),
            flow: Some(found.flow).into(),
            start: found.start.into(),
            duration: found.duration.into(),
        }
    }
}

impl From<&TankerRate> for ShuttleTankerRate {
    fn from(rate: &TankerRate) -> Self {
        let TankerRate { usable_gal, handling_min, travel_min, gpm } = *rate;
        Self { usable_gal, handling_min, travel_min, flow_gpm: gpm }
    }
}

impl From<ShuttleLimit> for ShuttleLimitName {
    fn from(limit: ShuttleLimit) -> Self {
        match limit {
            ShuttleLimit::Tankers => Self::Tankers,
            ShuttleLimit::FillFlow => Self::FillFlow,
            ShuttleLimit::FillSites => Self::FillSites,
            ShuttleLimit::DumpSites => Self::DumpSites,
        }
    }
}

/// What a shuttle of tankers keeps up, what holds it there, and how many tankers a flow asks.
///
/// Unlike tankers side by side, with the sites where they fill and dump; and whether it counts as an ISO alternative supply. Nothing is stored.
#[utoipa::path(post, path = "/v1/shuttles", tag = "other-sources",
    request_body(content = ShuttleQuestion, description = "The tankers, the sites and the flow wanted"),
    responses((status = 200, description = "The answer", body = ShuttleAnswer)))]
pub(crate) async fn create_shuttle(Json(ask): Json<ShuttleQuestion>) -> Result<Json<ShuttleAnswer>, Problem> {
    Ok(Json((&ask.asked()?).into()))
}

/// The route.
pub(crate) fn routes() -> OpenApiRouter<AppState> {
    OpenApiRouter::new().routes(routes!(create_shuttle))
}
