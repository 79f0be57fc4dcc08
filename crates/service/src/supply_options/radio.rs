//! The answer in one sentence, short enough for the radio.

use longlay_hydraulics::lay::planning_gpm;

use crate::supply_options::near::{Direction, Near};
use crate::supply_options::rank::Choice;
use crate::supply_options::ways::Way;

/// What to say. `pumper` is what may be sent to the hydrant.
pub(crate) fn said(near: &Near, first: Option<&Choice<'_>>, needed_gpm: Option<f64>, pumper: Option<&str>) -> String {
    let Some(choice) = first else { return nothing(near) };
    let gpm = planning_gpm(choice.arrives.low_gpm);
    let from = choice
        .lays
        .iter()
        .map(|lay| format!("{}, {:.0} feet", lay.hydrant.id, lay.lay_ft))
        .collect::<Vec<_>>()
        .join(", and ");
    let reverse = choice.lays.iter().any(|lay| lay.direction == Some(Direction::Reverse));
    let lay = if reverse { ", reverse lay" } else { "" };
    let how = match choice.way {
        Way::HydrantAlone => String::new(),
        Way::SecondLine => ", one more line".to_owned(),
        Way::Boosted => format!(", {} to the hydrant", pumper.unwrap_or("a pumper")),
        Way::TwoHydrants => ", two lays".to_owned(),
    };
    let short = match needed_gpm {
        Some(needed) if !choice.meets(needed_gpm) => format!(", short of {needed:.0}"),
        _ => String::new(),
    };
    let doubt = if choice.is_doubtful() { ", by a weak test" } else { "" };
    format!("{from}{lay}{how}: plan on {gpm:.0} gpm{short}{doubt}.")
}

/// Why there is nothing to lay from. No data is not no water.
fn nothing(near: &Near) -> String {
    if !near.on_streets {
        return "This place is on no street that is known: no lay can be told.".to_owned();
    }
    let mut within = near.within().peekable();
    if within.peek().is_none() {
        let Some(next) = near.lays.iter().find(|lay| lay.in_service()) else {
            return "No hydrant is known within the hose carried.".to_owned();
        };
        let (id, feet, carried) = (&next.hydrant.id, next.lay_ft, near.rule.carried_ft());
        return format!("No hydrant is known within the hose carried: {id}, {feet:.0} feet, is past the {carried:.0}.");
    }
    match within.find(|lay| lay.in_service()) {
        Some(lay) => format!("{}, {:.0} feet, is not tested: flow not known.", lay.hydrant.id, lay.lay_ft),
        None => "Every hydrant known within the hose carried is out of service.".to_owned(),
    }
}
