//! The hydrants around the place, with their lays along the streets and what their tests say.

use std::sync::Arc;

use chrono::NaiveDate;
use longlay_coverage::one_place::{WaysFrom, lays_to};
use longlay_coverage::rule::Rule;
use longlay_hydraulics::lay::Source;
use longlay_records::hydrant::{Elevation, Hydrant, Status};
use longlay_records::supply::Supply;
use longlay_store::{StoreError, Town};

use crate::supply_options::Asked;
use crate::supply_options::ground::{Ground, Stand, Stands};

/// How much longer the way past a hydrant may be than the way straight to the place for the hydrant to be on it: about a block.
const ON_THE_WAY_FT: f64 = 400.0;
/// How far an engine is followed along the streets, ft: farther out it is not known yet from where it comes in.
const FOLLOWED_FT: f64 = 50_000.0;

/// What lies around.
pub(crate) struct Near {
    /// Whether the place could be put on a street; also true where there are no streets.
    pub(crate) on_streets: bool,
    /// Whether there are no streets, so that lays are straight distances times the detour factor.
    pub(crate) straight: bool,
    /// How hose is counted.
    pub(crate) rule: Rule,
    /// The hydrants, the nearest first.
    pub(crate) lays: Vec<NearLay>,
}

/// A hydrant that hose reaches, the hose that there is or three times as much.
pub(crate) struct NearLay {
    pub(crate) hydrant: Arc<Hydrant>,
    /// None where nobody tested it.
    pub(crate) supply: Option<Arc<Supply>>,
    pub(crate) lay_ft: f64,
    /// Ground at the place over that at the hydrant, ft; none where one of them is not known.
    pub(crate) rise_ft: Option<f64>,
    /// How it lies to the way that the engine comes.
    pub(crate) direction: Option<Direction>,
}

/// How a hydrant lies to the way that the engine comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Direction {
    /// Passed on the way in: the engine lays from it to the fire.
    Forward,
    /// Off the way or past the fire: the engine lays from the fire to it.
    Reverse,
}

impl NearLay {
    pub(crate) fn in_service(&self) -> bool {
        self.hydrant.status == Status::InService
    }

    pub(crate) fn source(&self) -> Option<Source> {
        let supply = self.supply.as_ref()?;
        Some(Source {
            curve: supply.curve,
            body_loss: supply.body_loss,
            body_loss_assumed: supply.body_loss_assumed,
            spread: supply.spread,
        })
    }
}

impl Near {
    pub(crate) fn of(
        (ground, stands): (&Ground, &Stands),
        town: &Town,
        asked: &Asked,
        carried_ft: f64,
        today: NaiveDate,
    ) -> Result<Self, StoreError> {
        let rule = Rule::with_hose(carried_ft);
        let place = ground.plane.feet(asked.place);
        let straight = ground.streets.is_empty();
        // No way along streets is shorter than the straight one.
        let stretch = if straight { rule.detour } else { 1.0 };
        let within_ft = rule.feet(rule.searched()) / stretch + rule.hydrant_within_ft;
        let stands = stands.around(place, within_ft);
        let feet: Vec<_> = stands.iter().map(|stand| stand.feet).collect();
        let found = lays_to(&ground.streets, place, &feet, &rule, rule.searched());
        let on_streets = found.is_some();
        let approach = asked.from.filter(|_| !straight).and_then(|from| Approach::new(ground, &rule, from, place));
        let height = asked.elevation_ft.or_else(|| ground.height_ft(asked.place));
        let lay = |lay: longlay_coverage::Lay| {
            let Some(stand) = stands.get(lay.hydrant as usize) else { return Ok(None) };
            let Some(supplied) = town.supplied(&stand.hydrant.id, today)? else { return Ok(None) };
            let own = supplied.hydrant.elevation.map(Elevation::ft);
            let own = own.or_else(|| ground.height_ft(supplied.hydrant.location));
            let direction = approach.as_ref().and_then(|approach| approach.direction(ground, &rule, stand));
            Ok(Some(NearLay {
                lay_ft: rule.feet(lay.sections),
                rise_ft: height.zip(own).map(|(place, hydrant)| place - hydrant),
                supply: supplied.supply.ok(),
                hydrant: supplied.hydrant,
                direction,
            }))
        };
        let lays = found.unwrap_or_default().into_iter().map(lay).collect::<Result<Vec<_>, StoreError>>()?;
        Ok(Self { on_streets, straight, rule, lays: lays.into_iter().flatten().collect() })
    }

    /// How hose is counted: what is within the hose carried.
    pub(crate) fn within(&self) -> impl Iterator<Item = &NearLay> {
        self.lays.iter().filter(|lay| lay.lay_ft <= self.rule.carried_ft())
    }
}

/// The way that the engine comes.
struct Approach<'a> {
    from: WaysFrom<'a>,
    place: WaysFrom<'a>,
    to_place_ft: f64,
}

impl<'a> Approach<'a> {
    /// None where it cannot be followed.
    fn new(ground: &'a Ground, rule: &Rule, from: longlay_records::hydrant::Location, place: [f64; 2]) -> Option<Self> {
        let to = ground.streets.snap(place, rule.place_within_ft)?;
        let foot = ground.streets.snap(ground.plane.feet(from), rule.place_within_ft)?;
        let from = WaysFrom::new(&ground.streets, foot, FOLLOWED_FT);
        let to_place_ft = from.path_ft(&to)?;
        let place = WaysFrom::new(&ground.streets, to, rule.feet(rule.searched()));
        Some(Self { from, place, to_place_ft })
    }

    fn direction(&self, ground: &Ground, rule: &Rule, stand: &Stand) -> Option<Direction> {
        let foot = ground.streets.snap(stand.feet, rule.hydrant_within_ft)?;
        let past_it_ft = self.from.path_ft(&foot)? + self.place.path_ft(&foot)?;
        let on_the_way = past_it_ft <= self.to_place_ft + ON_THE_WAY_FT;
        Some(if on_the_way { Direction::Forward } else { Direction::Reverse })
    }
}
