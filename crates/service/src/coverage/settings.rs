//! What a coverage run is asked.

use longlay_coverage::rule::Rule;
use longlay_records::id::AssetId;
use longlay_store::{LayInputs, LayRefs};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::faults::Faults;

/// Changes that are looked for where nothing is said.
const REMEDIES: u8 = 5;
/// The most that may be asked for.
const MOST_REMEDIES: u8 = 20;

/// A coverage run to be made: with which lay and pumper, and how hose is counted.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CoverageRunBody {
    /// The lay that every place is served with: its valve, hose, lines, appliances and floors.
    pub(crate) lay_profile_id: String,
    /// The pumper that boosts. Without one nothing is boosted.
    pub(crate) boost_pumper_id: Option<String>,
    /// Only demand points in this district. Hydrants serve from wherever they stand.
    pub(crate) district_id: Option<String>,
    /// Whether two hydrants may be laid from together. Default true.
    pub(crate) hydrants_combined: Option<bool>,
    /// Whether a second pumper, as strong as the first, comes with it, so that each of two hydrants together is boosted. Default false: one pumper stands at one
    /// hydrant.
    pub(crate) second_pumper: Option<bool>,
    /// How many changes that close gaps are looked for at the most, see `/remedies`. Default 5; 0 for none. Each takes about as long as the run itself.
    #[schema(minimum = 0, maximum = 20)]
    pub(crate) remedies: Option<u8>,
    /// The hose carried. Default what the profile carries. Hydrants are searched for as far as three times this.
    #[schema(minimum = 1, maximum = 100_000)]
    pub(crate) max_lay_ft: Option<f64>,
    /// Length of a section of hose: lays are rounded up to whole ones. Default 100.
    #[schema(minimum = 1, maximum = 1000)]
    pub(crate) section_ft: Option<f64>,
    /// Hose laid for each foot of street. Default 1.1.
    #[schema(minimum = 1, maximum = 10)]
    pub(crate) slack: Option<f64>,
    /// Hose laid for each foot of straight distance, where no streets were imported. Default 1.4.
    #[schema(minimum = 1, maximum = 10)]
    pub(crate) detour: Option<f64>,
    /// How far off a street a demand point may lie. Default 500.
    #[schema(minimum = 0, maximum = 10_000)]
    pub(crate) place_within_ft: Option<f64>,
    /// How far off a street a hydrant may stand. Default 200.
    #[schema(minimum = 0, maximum = 10_000)]
    pub(crate) hydrant_within_ft: Option<f64>,
}

/// What was asked, with every default filled in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct CoverageSettings {
    /// The lay that every place is served with.
    pub(crate) lay_profile_id: String,
    /// The pumper that boosts; null without one.
    #[schema(required = true)]
    pub(crate) boost_pumper_id: Option<String>,
    /// The district that the demand points lie in; null for all of them.
    #[schema(required = true)]
    pub(crate) district_id: Option<String>,
    /// Whether two hydrants may be laid from together.
    pub(crate) hydrants_combined: bool,
    /// Whether a second pumper, as strong as the first, comes with it, so that each of two hydrants together is boosted.
    #[serde(default)]
    pub(crate) second_pumper: bool,
    /// How many changes that close gaps are looked for at the most.
    #[serde(default)]
    pub(crate) remedies: u8,
    /// The hose carried.
    pub(crate) max_lay_ft: f64,
    /// Length of a section of hose.
    pub(crate) section_ft: f64,
    /// Hose laid for each foot of street.
    pub(crate) slack: f64,
    /// Hose laid for each foot of straight distance, where no streets were imported.
    pub(crate) detour: f64,
    /// How far off a street a demand point may lie.
    pub(crate) place_within_ft: f64,
    /// How far off a street a hydrant may stand.
    pub(crate) hydrant_within_ft: f64,
}

impl CoverageRunBody {
    /// What it refers to, as far as its ids are ids.
    pub(crate) fn refs(&self) -> LayRefs {
        let id = |text: &Option<String>| text.as_deref().and_then(|text| AssetId::new(text).ok());
        LayRefs {
            lay_profile_id: AssetId::new(self.lay_profile_id.as_str()).ok(),
            pumper_ids: id(&self.boost_pumper_id).into_iter().collect(),
            ..LayRefs::default()
        }
    }

    /// With every default, or none with every fault noted. `inputs` holds what [`Self::refs`] names; `district_is_there` whether there is the district.
    pub(crate) fn settings(
        &self,
        inputs: &LayInputs,
        district_is_there: bool,
        faults: &mut Faults,
    ) -> Option<CoverageSettings> {
        let profile = inputs.lay_profile.as_ref();
        let unknown = [
            ("/lay_profile_id", "lay profile", Some(&self.lay_profile_id), profile.is_some()),
            ("/boost_pumper_id", "pumper", self.boost_pumper_id.as_ref(), !inputs.pumpers.is_empty()),
            ("/district_id", "district", self.district_id.as_ref(), district_is_there),
        ];
        for (pointer, kind, id, is_there) in unknown {
            if let (Some(id), false) = (id, is_there) {
                faults.note(pointer, "unknown_reference", format!("there is no {kind} {id}"));
            }
        }
        let carried_ft = self.max_lay_ft.or_else(|| profile.map(|profile| profile.carried.ft()));
        let usual = Rule::with_hose(carried_ft.unwrap_or(1.0));
        let settings = CoverageSettings {
            lay_profile_id: self.lay_profile_id.clone(),
            boost_pumper_id: self.boost_pumper_id.clone(),
            district_id: self.district_id.clone(),
            hydrants_combined: self.hydrants_combined.unwrap_or(true),
            second_pumper: self.second_pumper.unwrap_or(false),
            remedies: self.remedies.unwrap_or(REMEDIES),
            max_lay_ft: usual.hose_ft,
            section_ft: self.section_ft.unwrap_or(usual.section_ft),
            slack: self.slack.unwrap_or(usual.slack),
            detour: self.detour.unwrap_or(usual.detour),
            place_within_ft: self.place_within_ft.unwrap_or(usual.place_within_ft),
            hydrant_within_ft: self.hydrant_within_ft.unwrap_or(usual.hydrant_within_ft),
        };
        if settings.remedies > MOST_REMEDIES {
            let detail = format!("must be from 0 to {MOST_REMEDIES}, not {}", settings.remedies);
            faults.note("/remedies", "out_of_bounds", detail);
        }
        if settings.second_pumper && settings.boost_pumper_id.is_none() {
            faults.note("/second_pumper", "without_first", "goes with boost_pumper_id");
        }
        if settings.second_pumper && !settings.hydrants_combined {
            faults.note("/second_pumper", "without_two_hydrants", "goes with hydrants_combined");
        }
        if let Err(wrong) = settings.rule().check() {
            for fault in wrong.0 {
                let name = if fault.name == "hose_ft" { "max_lay_ft" } else { fault.name };
                let detail = format!("must be from {} to {}, not {}", fault.least, fault.most, fault.value);
                faults.note(&format!("/{name}"), "out_of_bounds", detail);
            }
        }
        faults.is_empty().then_some(settings)
    }
}

impl CoverageSettings {
    /// How hose is counted.
    pub(crate) const fn rule(&self) -> Rule {
        Rule {
            hose_ft: self.max_lay_ft,
            section_ft: self.section_ft,
            slack: self.slack,
            detour: self.detour,
            place_within_ft: self.place_within_ft,
            hydrant_within_ft: self.hydrant_within_ft,
            combined: self.hydrants_combined,
            second_pumper: self.second_pumper,
        }
    }

    /// What the lay refers to.
    pub(crate) fn refs(&self) -> LayRefs {
        let body = CoverageRunBody {
            lay_profile_id: self.lay_profile_id.clone(),
            boost_pumper_id: self.boost_pumper_id.clone(),
            ..CoverageRunBody::default()
        };
        body.refs()
    }
}
