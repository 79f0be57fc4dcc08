//! What to lay for this address now: which hydrants serve it along the streets, what each brings and what that takes.

mod ground;
mod near;
mod radio;
mod rank;
mod response;
mod ways;

use chrono::{DateTime, Utc};
use longlay_hydraulics::quantity::PositiveFlow;
use longlay_records::hydrant::Location;
use longlay_records::id::AssetId;
use longlay_store::{LayRefs, RecordKind};

use crate::app::AppState;
use crate::coverage::template::template;
use crate::faults::Faults;
use crate::problem::{Problem, Slug};
use crate::supply_options::rank::Laid;

pub(crate) use ground::GroundKeeper;
pub(crate) use response::SupplyOptions;

/// What is asked.
#[derive(Debug)]
pub(crate) struct Asked {
    /// Where the water is wanted.
    pub(crate) place: Location,
    /// Its ground, where that was said.
    pub(crate) elevation_ft: Option<f64>,
    /// Where the engine comes from, where that was said.
    pub(crate) from: Option<Location>,
    /// The flow wanted.
    pub(crate) needed: Option<PositiveFlow>,
    /// The hose carried; else what the profile carries.
    pub(crate) max_lay_ft: Option<f64>,
    /// The lay.
    pub(crate) lay_profile_id: AssetId,
    /// The pumper that may be sent to the hydrant.
    pub(crate) boost_pumper_id: Option<AssetId>,
    /// Most options told.
    pub(crate) most: usize,
}

impl Asked {
    /// What it refers to.
    fn refs(&self) -> LayRefs {
        LayRefs {
            lay_profile_id: Some(self.lay_profile_id.clone()),
            pumper_ids: self.boost_pumper_id.iter().cloned().collect(),
            ..LayRefs::default()
        }
    }
}

/// Answers the question.
pub(crate) async fn answer(app: &AppState, asked: &Asked) -> Result<SupplyOptions, Problem> {
    let as_of: DateTime<Utc> = app.clock.now();
    let today = app.clock.today();
    let town = app.store.town().await?;
    let ground = app.ground.ground(&app.store, &town).await?;
    let stands = ground.stands(&town).await?;
    let inputs = town.lay_inputs(&asked.refs(), today)?;
    let mut faults = Faults::of_query();
    let profile = inputs.lay_profile.as_ref();
    if profile.is_none() {
        faults.note(
            "/lay_profile_id",
            "unknown_reference",
            format!("there is no {} {}", RecordKind::LayProfile, asked.lay_profile_id),
        );
    }
    if let (Some(id), true) = (&asked.boost_pumper_id, inputs.pumpers.is_empty()) {
        faults.note("/boost_pumper_id", "unknown_reference", format!("there is no {} {id}", RecordKind::Pumper));
    }
    let profile = faults.finish(profile)?;
    let pumper = asked.boost_pumper_id.as_ref().map(AssetId::as_str);
    let problem = template(asked.lay_profile_id.as_str(), pumper, &inputs, Faults::of_query())?;
    let carried_ft = asked.max_lay_ft.unwrap_or(profile.carried.ft());
    let laid = Laid::new(problem).map_err(|error| Problem::new(Slug::InvalidQuery, error.to_string()))?;
    let near = near::Near::of((&ground, &stands), &town, asked, carried_ft, today)?;
    Ok(SupplyOptions::new(&near, &laid, asked, as_of))
}
