//! What would close the gaps that a run found, in terms of the records.

use longlay_coverage::outcome::Outcome;
use longlay_coverage::remedies::{Change, Considered, LayChange, LayKind, Remedies, Step};
use longlay_coverage::summary::Summary;
use longlay_records::id::AssetId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::coverage::department::{ChangedLay, Department};
use crate::coverage::inputs::Inputs;
use crate::coverage::remedy_told::{Effect, told};
use crate::coverage::summary::AreaSummary;

/// Demand points of a remedy that are told by name.
const NAMED: usize = 100;
/// Hydrants to test that the shell tells.
const TOLD: usize = 10;

/// The few changes that close most gaps, one after another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct CoverageRemedies {
    /// Every demand point before any change.
    pub(crate) before: AreaSummary,
    /// The changes: each is made over those before it, and is the one that then closes most gaps for each change counted.
    pub(crate) remedies: Vec<Remedy>,
    /// Whether nothing more was found that closes a gap; else no more were asked for.
    pub(crate) is_all: bool,
    /// The hydrants that gaps are left for the want of a test of.
    #[serde(default)]
    pub(crate) to_test: Vec<HydrantToTest>,
    /// What hangs on a valve that the lay does not leave on the hydrant; null where it leaves one or no pumper boosts.
    pub(crate) without_valve: Option<WithoutValve>,
}

/// Demand points that the pumper covers only if the line is shut for it to join, because the lay leaves no valve on the hydrant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct WithoutValve {
    /// How many are covered only with the pumper: with no valve it must stand at the hydrant from the first, or the line is shut for it to join.
    boosted_count: u64,
    /// The valve that every lay could leave on the hydrant.
    hydrant_valve_id: String,
    /// Every demand point as the lay is.
    before: AreaSummary,
    /// With the valve on every lay: it costs the hydrant alone some pressure, and lets a later pumper join without shutting the line.
    after: AreaSummary,
}

/// A hydrant that nobody tested, and that gaps hang on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub(crate) struct HydrantToTest {
    /// Which.
    hydrant_id: String,
    /// Gaps of which it is the cause that it was not tested.
    gap_count: u64,
}

/// A change that closes gaps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct Remedy {
    /// In one sentence.
    told: String,
    /// What is changed.
    change: RemedyChange,
    /// As how many changes it counts: of hose each quarter of what is carried at first, in whole sections and one at the least.
    change_count: u32,
    /// Gaps that it closes.
    closes_count: u64,
    /// Demand points that were covered and are no more, as where a valve's loss is one too many.
    opens_count: u64,
    /// Gaps closed, for each change.
    closes_per_change: f64,
    /// Whether what it closes rests on a test that was not made there, by this remedy or by one before it: a borrowed curve, or a main that is yet to be worked on.
    /// Test before anything is built on it.
    is_assumed: bool,
    /// Every demand point before it.
    before: AreaSummary,
    /// Every demand point after it.
    after: AreaSummary,
    /// The demand points whose gap it closes, the first hundred.
    closed_demand_point_ids: Vec<String>,
    /// The demand points that it uncovers, the first hundred.
    opened_demand_point_ids: Vec<String>,
    /// What was looked at in its stead, this one first: every lay and length of hose that closes a gap, and the best hydrant to put back, to test and to set.
    considered: Vec<ConsideredChange>,
}

/// A change that was looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct ConsideredChange {
    /// What is changed.
    change: RemedyChange,
    /// As how many changes it counts.
    change_count: u32,
    /// Gaps that it was counted to close: of a hydrant that is not there yet those that it covers by itself.
    closes_count: u64,
}

/// What is changed. Members that the kind of change has not are null.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct RemedyChange {
    /// What kind of change it is.
    pub(crate) kind: RemedyKind,
    /// The hydrant that is put back or tested, or whose main is worked on.
    #[schema(required = true)]
    pub(crate) hydrant_id: Option<String>,
    /// Where a new hydrant stands: on a street, degrees east of WGS 84.
    #[schema(required = true)]
    pub(crate) lon: Option<f64>,
    /// The same, degrees north.
    #[schema(required = true)]
    pub(crate) lat: Option<f64>,
    /// By whose test a hydrant is reckoned that has none: the weaker of the two nearest within 3000 ft that have one of their own, with a wider band.
    #[schema(required = true)]
    pub(crate) like_hydrant_id: Option<String>,
    /// How far from it that one stands.
    #[schema(required = true)]
    pub(crate) like_ft: Option<f64>,
    /// The hose carried from then on.
    #[schema(required = true)]
    pub(crate) hose_ft: Option<f64>,
    /// Lines side by side from then on.
    #[schema(required = true)]
    pub(crate) lines: Option<u8>,
    /// The kind of hose from then on.
    #[schema(required = true)]
    pub(crate) hose_type_id: Option<String>,
    /// The pumper that boosts from then on.
    #[schema(required = true)]
    pub(crate) pumper_id: Option<String>,
    /// The valve that every lay leaves on the hydrant from then on, so that the pumper can join; null where it leaves one already.
    #[schema(required = true)]
    pub(crate) hydrant_valve_id: Option<String>,
    /// How many times as much the hydrant gives at the pressures of its test.
    #[schema(required = true)]
    pub(crate) flow_times: Option<f64>,
}

/// A kind of change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum RemedyKind {
    /// A hydrant that is out of service is put back.
    BackInService,
    /// A hydrant is tested, and found no worse than its neighbours.
    TestHydrant,
    /// One more line beside every line, each with as much hose again.
    SecondLine,
    /// Bigger hose on every engine.
    BiggerHose,
    /// A pumper that boosts, or a bigger one.
    Pumper,
    /// More hose on every engine.
    MoreHose,
    /// A second pumper on the assignment, as strong as the first, for the second of two hydrants.
    SecondPumper,
    /// A new hydrant.
    NewHydrant,
    /// Work on a main, where nothing else helps.
    MainWork,
}

impl CoverageRemedies {
    /// As they were found, and what came out with a valve on every lay, where the lay leaves none.
    pub(crate) fn new(
        inputs: &Inputs,
        department: &Department,
        remedies: &Remedies,
        valve: Option<(&AssetId, Vec<Outcome>)>,
    ) -> Self {
        let before = AreaSummary::from(&remedies.before);
        let summaries = std::iter::once(&remedies.before).chain(remedies.steps.iter().map(|step| &step.after));
        let report = Report { inputs, department };
        Self {
            remedies: remedies.steps.iter().zip(summaries).map(|(step, before)| report.remedy(step, before)).collect(),
            is_all: remedies.is_all,
            to_test: remedies
                .to_test
                .iter()
                .filter_map(|(hydrant, gaps)| {
                    let hydrant_id = inputs.hydrant_ids.get(*hydrant as usize)?.to_string();
                    Some(HydrantToTest { hydrant_id, gap_count: u64::from(*gaps) })
                })
                .take(NAMED)
                .collect(),
            without_valve: valve.map(|(valve_id, outcomes)| WithoutValve {
                boosted_count: remedies.before.count(longlay_coverage::cause::CauseCode::CoveredIfBoosted) as u64,
                hydrant_valve_id: valve_id.to_string(),
                before: before.clone(),
                after: AreaSummary::from(&Summary::of(&outcomes)),
            }),
            before,
        }
    }

    /// What hangs on a valve that the lay does not leave on the hydrant, for people.
    pub(crate) fn without_valve(&self) -> Option<String> {
        let WithoutValve { boosted_count, hydrant_valve_id, .. } = self.without_valve.as_ref()?;
        (*boosted_count > 0).then(|| {
            format!(
                "The lay leaves no valve on the hydrant: {boosted_count} places are covered only if the pumper stands there from the first, or the line is shut for it. Valve {hydrant_valve_id} on every lay would do."
            )
        })
    }

    /// What nothing can be promised of, for people.
    pub(crate) fn untested(&self) -> Option<String> {
        let told = self.to_test.iter().take(TOLD).map(|one| format!("{} ({})", one.hydrant_id, one.gap_count));
        let told: Vec<_> = told.collect();
        let more = if self.to_test.len() > TOLD { " and others" } else { "" };
        (!told.is_empty()).then(|| {
            format!(
                "Not tested, and gaps hang on it, of which nothing can be promised: {}{more}. Test these first.",
                told.join(", ")
            )
        })
    }

    /// For people, a line each.
    pub(crate) fn lines(&self) -> impl Iterator<Item = &str> {
        self.remedies.iter().map(|remedy| remedy.told.as_str())
    }
}

struct Report<'a> {
    inputs: &'a Inputs,
    department: &'a Department,
}

impl Report<'_> {
    fn remedy(&self, step: &Step, before: &Summary) -> Remedy {
        let like_ft = step.considered.first().and_then(|first| first.like_ft);
        let change = RemedyChange { like_ft, ..self.change(step.change) };
        let (closes, opens) = (step.closed.len(), step.opened.len());
        let ids = |places: &[u32]| {
            let id = |place: &u32| self.inputs.points.get(*place as usize).map(|point| point.id.to_string());
            places.iter().filter_map(id).take(NAMED).collect()
        };
        Remedy {
            told: told(&change, &Effect { closes, opens, gaps: before.gaps(), is_assumed: step.is_assumed }),
            change_count: step.changes,
            closes_count: closes as u64,
            opens_count: opens as u64,
            closes_per_change: per(closes, step.changes),
            is_assumed: step.is_assumed,
            before: before.into(),
            after: (&step.after).into(),
            closed_demand_point_ids: ids(&step.closed),
            opened_demand_point_ids: ids(&step.opened),
            considered: step.considered.iter().map(|other| self.considered(other)).collect(),
            change,
        }
    }

    fn considered(&self, other: &Considered) -> ConsideredChange {
        ConsideredChange {
            change: RemedyChange { like_ft: other.like_ft, ..self.change(other.change) },
            change_count: other.changes,
            closes_count: u64::from(other.closes),
        }
    }

    fn change(&self, change: Change) -> RemedyChange {
        let id = |hydrant: u32| self.inputs.hydrant_ids.get(hydrant as usize).map(ToString::to_string);
        let of = RemedyChange::of;
        match change {
            Change::BackInService { hydrant, like } => RemedyChange {
                hydrant_id: id(hydrant),
                like_hydrant_id: like.and_then(id),
                ..of(RemedyKind::BackInService)
            },
            Change::Test { hydrant, like } => {
                RemedyChange { hydrant_id: id(hydrant), like_hydrant_id: id(like), ..of(RemedyKind::TestHydrant) }
            }
            Change::Lay(change) => self.lay(change),
            Change::MoreHose { hose_ft } => RemedyChange { hose_ft: Some(hose_ft), ..of(RemedyKind::MoreHose) },
            Change::SecondPumper => of(RemedyKind::SecondPumper),
            Change::NewHydrant { at, like } => {
                let place = self.inputs.plane.place(at);
                RemedyChange {
                    lon: place.map(|place| place.lon()),
                    lat: place.map(|place| place.lat()),
                    like_hydrant_id: id(like),
                    ..of(RemedyKind::NewHydrant)
                }
            }
            Change::MainWork { hydrant, times } => {
                RemedyChange { hydrant_id: id(hydrant), flow_times: Some(times), ..of(RemedyKind::MainWork) }
            }
        }
    }

    fn lay(&self, change: LayChange) -> RemedyChange {
        let ChangedLay { lines, hose, pumper, valve_id } = self.department.changed(change);
        let kind = match change.kind {
            LayKind::SecondLine => RemedyKind::SecondLine,
            LayKind::BiggerHose => RemedyKind::BiggerHose,
            LayKind::Pumper => RemedyKind::Pumper,
        };
        RemedyChange {
            lines,
            hose_type_id: hose.map(|hose| hose.id.to_string()),
            pumper_id: pumper.map(|pumper| pumper.id.to_string()),
            hydrant_valve_id: valve_id.map(ToString::to_string),
            ..RemedyChange::of(kind)
        }
    }
}

impl RemedyChange {
    const fn of(kind: RemedyKind) -> Self {
        Self {
            kind,
            hydrant_id: None,
            lon: None,
            lat: None,
            like_hydrant_id: None,
            like_ft: None,
            hose_ft: None,
            lines: None,
            hose_type_id: None,
            pumper_id: None,
            hydrant_valve_id: None,
            flow_times: None,
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts of places are far under 2^52")]
fn per(count: usize, changes: u32) -> f64 {
    count as f64 / f64::from(changes.max(1))
}
