//! The lays that a department could change to: with a second line, with bigger hose that it has on record, with a pumper or a bigger one.

use std::sync::Arc;

use longlay_coverage::remedies::{LayChange, LayKind, Lays};
use longlay_hydraulics::lay::many::ManyLays;
use longlay_hydraulics::loss::MAX_LINES;
use longlay_records::equipment::{HoseType, LayProfile, Origin, Pumper};
use longlay_records::id::AssetId;
use longlay_store::LayInputs;

use crate::coverage::settings::CoverageSettings;
use crate::coverage::template::template;
use crate::faults::Faults;

/// Kinds of hose, and pumpers, of each at the most: the next larger ones.
const MOST_OPTIONS: usize = 8;

/// A department's lay, and all that it could be made of.
pub(crate) struct Department {
    inputs: LayInputs,
    profile: Arc<LayProfile>,
    pumper_id: Option<AssetId>,
    hoses: Vec<Arc<HoseType>>,
    pumpers: Vec<Arc<Pumper>>,
    valve: Option<AssetId>,
    offers: Vec<LayChange>,
}

/// A changed lay in terms of the records: what is other than before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ChangedLay<'a> {
    pub(crate) lines: Option<u8>,
    pub(crate) hose: Option<&'a HoseType>,
    pub(crate) pumper: Option<&'a Pumper>,
    pub(crate) valve_id: Option<&'a AssetId>,
}

impl Department {
    /// `inputs` holds the lay of the run and every hose, valve and pumper there is; none without the lay.
    pub(crate) fn new(settings: &CoverageSettings, inputs: LayInputs) -> Option<Self> {
        let profile = Arc::clone(inputs.lay_profile.as_ref()?);
        let pumper_id = settings.boost_pumper_id.as_deref().and_then(|id| AssetId::new(id).ok());
        let hose = inputs.hose_types.get(&profile.hose_type_id)?;
        let mut hoses: Vec<_> =
            inputs.hose_types.values().filter(|other| other.diameter > hose.diameter).cloned().collect();
        hoses.sort_by(|a, b| a.diameter.inches().total_cmp(&b.diameter.inches()));
        let rated = pumper_id.as_ref().and_then(|id| Some(inputs.pumpers.get(id)?.rated_flow.gpm())).unwrap_or(0.0);
        let mut pumpers: Vec<_> =
            inputs.pumpers.values().filter(|other| other.rated_flow.gpm() > rated).cloned().collect();
        pumpers.sort_by(|a, b| a.rated_flow.gpm().total_cmp(&b.rated_flow.gpm()));
        hoses.truncate(MOST_OPTIONS);
        pumpers.truncate(MOST_OPTIONS);
        // One of its own before one of the library.
        let valves = || inputs.hydrant_valves.values();
        let own = valves().find(|valve| valve.origin == Origin::Department).or_else(|| valves().next());
        let valve = own.filter(|_| profile.hydrant_valve_id.is_none()).map(|valve| valve.id.clone());
        let options = |kind, count: usize| (0..count).zip(0..).map(move |(_, option)| LayChange { kind, option });
        let offers = options(LayKind::SecondLine, usize::from(profile.lines < MAX_LINES))
            .chain(options(LayKind::BiggerHose, hoses.len()))
            .chain(options(LayKind::Pumper, pumpers.len()))
            .collect();
        Some(Self { inputs, profile, pumper_id, hoses, pumpers, valve, offers })
    }

    /// What a change is in terms of the records.
    pub(crate) fn changed(&self, change: LayChange) -> ChangedLay<'_> {
        let none = ChangedLay { lines: None, hose: None, pumper: None, valve_id: None };
        let option = change.option as usize;
        match change.kind {
            LayKind::SecondLine => ChangedLay { lines: Some(self.profile.lines.saturating_add(1)), ..none },
            LayKind::BiggerHose => ChangedLay { hose: self.hoses.get(option).map(Arc::as_ref), ..none },
            LayKind::Pumper => {
                ChangedLay { pumper: self.pumpers.get(option).map(Arc::as_ref), valve_id: self.valve.as_ref(), ..none }
            }
        }
    }

    /// The valve that the lay could leave on the hydrant, where it leaves none and has a pumper that boosts: and the lay with it.
    pub(crate) fn with_valve(&self) -> Option<(&AssetId, ManyLays)> {
        let valve = self.valve.as_ref().filter(|_| self.pumper_id.is_some())?;
        let profile = LayProfile { hydrant_valve_id: Some(valve.clone()), ..LayProfile::clone(&self.profile) };
        Some((valve, self.lay(profile, self.pumper_id.as_ref())?))
    }

    fn lay(&self, profile: LayProfile, pumper_id: Option<&AssetId>) -> Option<ManyLays> {
        let mut inputs = self.inputs.clone();
        let id = profile.id.clone();
        inputs.lay_profile = Some(Arc::new(profile));
        let lay = template(id.as_str(), pumper_id.map(AssetId::as_str), &inputs, Faults::of_body()).ok()?;
        ManyLays::new(lay).ok()
    }
}

impl Lays for Department {
    fn offers(&self) -> &[LayChange] {
        &self.offers
    }

    fn with(&self, changes: &[LayChange]) -> Option<ManyLays> {
        let mut profile = LayProfile::clone(&self.profile);
        let mut pumper_id = self.pumper_id.as_ref();
        for change in changes {
            let changed = self.changed(*change);
            profile.lines = changed.lines.unwrap_or(profile.lines);
            if let Some(hose) = changed.hose {
                profile.hose_type_id = hose.id.clone();
            }
            if let Some(pumper) = changed.pumper {
                pumper_id = Some(&pumper.id);
                // Without a valve the line would have to be shut for the pumper to join.
                profile.hydrant_valve_id = profile.hydrant_valve_id.or_else(|| changed.valve_id.cloned());
            }
        }
        self.lay(profile, pumper_id)
    }
}
