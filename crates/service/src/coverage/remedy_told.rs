//! A remedy in one sentence, for a council.

use crate::coverage::remedies::{RemedyChange, RemedyKind};

/// What is to be done, and how many of so many gaps it closes.
pub(crate) fn told(change: &RemedyChange, closes: usize, gaps: usize) -> String {
    let RemedyChange { hydrant_id, like_hydrant_id, hose_ft, hose_type_id, pumper_id, hydrant_valve_id, .. } = change;
    let hydrant = hydrant_id.as_ref().map_or_else(|| "the new hydrant".to_owned(), |id| format!("hydrant {id}"));
    let like = like_hydrant_id.as_deref().unwrap_or_default();
    let (text, if_so) = match change.kind {
        RemedyKind::BackInService if like_hydrant_id.is_some() => {
            (format!("Put {hydrant} back in service and test it"), format!(", if it gives what {like} does"))
        }
        RemedyKind::BackInService => (format!("Put {hydrant} back in service"), String::new()),
        RemedyKind::TestHydrant => (format!("Test {hydrant}"), format!(", if it gives what {like} does")),
        RemedyKind::SecondLine => {
            ("Lay a second line beside the first, from an engine with as much hose".to_owned(), String::new())
        }
        RemedyKind::BiggerHose => {
            (format!("Carry {} hose", hose_type_id.as_deref().unwrap_or("bigger")), String::new())
        }
        RemedyKind::Pumper => {
            let pumper = pumper_id.as_deref().unwrap_or("a bigger pumper");
            let valve = hydrant_valve_id.as_ref().map(|valve| format!(", and leave valve {valve} on every lay"));
            (format!("Boost with {pumper}{}", valve.unwrap_or_default()), String::new())
        }
        RemedyKind::MoreHose => (format!("Carry {:.0} ft of hose in all", hose_ft.unwrap_or_default()), String::new()),
        RemedyKind::SecondPumper => ("Send a second pumper, for the second of two hydrants".to_owned(), String::new()),
        RemedyKind::NewHydrant => {
            let at = change.longitude.zip(change.latitude).map(|(lon, lat)| format!(" at {lon:.5}, {lat:.5}"));
            (format!("Set a new hydrant{}", at.unwrap_or_default()), format!(", if it gives what {like} does"))
        }
        RemedyKind::MainWork => {
            let times = change.flow_times.unwrap_or(1.0);
            (format!("Work on the main at {hydrant}, to give {times} times the flow of its test"), String::new())
        }
    };
    format!("{text}: closes {closes} of {gaps} gaps{if_so}.")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(kind: RemedyKind) -> RemedyChange {
        serde_json::from_value(serde_json::json!({ "kind": kind, "hydrant_id": "H-7", "like_hydrant_id": "H-8" }))
            .unwrap()
    }

    #[test]
    fn what_was_not_tested_is_told_with_an_if() {
        assert_eq!(
            told(&change(RemedyKind::TestHydrant), 3, 9),
            "Test hydrant H-7: closes 3 of 9 gaps, if it gives what H-8 does."
        );
        let tested = RemedyChange { like_hydrant_id: None, ..change(RemedyKind::BackInService) };
        assert_eq!(told(&tested, 3, 9), "Put hydrant H-7 back in service: closes 3 of 9 gaps.");
    }
}
