//! A remedy in one sentence, for a council.

use crate::coverage::remedies::{RemedyChange, RemedyKind};

/// What a remedy comes to.
pub(crate) struct Effect {
    /// Gaps that it closes.
    pub(crate) closes: usize,
    /// Places that it uncovers.
    pub(crate) opens: usize,
    /// Gaps before it.
    pub(crate) gaps: usize,
    /// Whether it rests on a test that was not made there.
    pub(crate) is_assumed: bool,
}

/// What is to be done, what comes of it, and what that hangs on.
pub(crate) fn told(change: &RemedyChange, effect: &Effect) -> String {
    let Effect { closes, opens, gaps, is_assumed } = effect;
    let opens = if *opens > 0 { format!(" and uncovers {opens} places") } else { String::new() };
    let rests = match (&change.like_hydrant_id, change.kind) {
        (Some(like), _) => {
            let far = change.like_ft.map(|feet| format!(", {feet:.0} ft away,"));
            format!(", if it gives what hydrant {like}{} does", far.unwrap_or_default())
        }
        (None, RemedyKind::MainWork) => ", if the work brings that".to_owned(),
        (None, _) if *is_assumed => ", if a hydrant that has no test of its own gives what was reckoned".to_owned(),
        (None, _) => String::new(),
    };
    format!("{}: closes {closes} of {gaps} gaps{opens}{rests}.", done(change))
}

fn done(change: &RemedyChange) -> String {
    let RemedyChange { hydrant_id, like_hydrant_id, lines, hose_ft, hose_type_id, pumper_id, hydrant_valve_id, .. } =
        change;
    let hydrant = hydrant_id.as_deref().unwrap_or_default();
    match change.kind {
        RemedyKind::BackInService if like_hydrant_id.is_some() => {
            format!("Put hydrant {hydrant} back in service and test it")
        }
        RemedyKind::BackInService => format!("Put hydrant {hydrant} back in service"),
        RemedyKind::TestHydrant => format!("Test hydrant {hydrant}"),
        RemedyKind::SecondLine => {
            format!("Lay {} lines side by side, each with as much hose as one", lines.unwrap_or(2))
        }
        RemedyKind::BiggerHose => format!("Carry {} hose", hose_type_id.as_deref().unwrap_or("bigger")),
        RemedyKind::Pumper => {
            let valve = hydrant_valve_id.as_ref().map(|valve| format!(", and leave valve {valve} on every lay"));
            let pumper = pumper_id.as_deref().unwrap_or("a bigger pumper");
            format!("Boost with {pumper}{}", valve.unwrap_or_default())
        }
        RemedyKind::MoreHose => format!("Carry {:.0} ft of hose in all", hose_ft.unwrap_or_default()),
        RemedyKind::SecondPumper => {
            "Send a second pumper, as strong as the first, for the second of two hydrants".to_owned()
        }
        RemedyKind::NewHydrant => {
            let at = change.lon.zip(change.lat).map(|(lon, lat)| format!(" at {lon:.5}, {lat:.5}"));
            format!("Set a new hydrant{}", at.unwrap_or_default())
        }
        RemedyKind::MainWork => {
            let times = change.flow_times.unwrap_or(1.0);
            format!("Work on the main at hydrant {hydrant}, to give {times} times the flow of its test")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(kind: RemedyKind) -> RemedyChange {
        serde_json::from_value(serde_json::json!({ "kind": kind, "hydrant_id": "H-7", "lines": 3 })).unwrap()
    }

    fn effect(opens: usize, is_assumed: bool) -> Effect {
        Effect { closes: 3, opens, gaps: 9, is_assumed }
    }

    #[test]
    fn what_was_not_tested_is_told_with_an_if() {
        let like = RemedyChange {
            like_hydrant_id: Some("H-8".to_owned()),
            like_ft: Some(931.4),
            ..change(RemedyKind::TestHydrant)
        };
        assert_eq!(
            told(&like, &effect(0, true)),
            "Test hydrant H-7: closes 3 of 9 gaps, if it gives what hydrant H-8, 931 ft away, does."
        );
        let back = change(RemedyKind::BackInService);
        assert_eq!(told(&back, &effect(0, false)), "Put hydrant H-7 back in service: closes 3 of 9 gaps.");
        assert!(
            told(&back, &effect(0, true))
                .ends_with(", if a hydrant that has no test of its own gives what was reckoned.")
        );
    }

    #[test]
    fn what_a_remedy_uncovers_is_told_with_what_it_closes() {
        assert_eq!(
            told(&change(RemedyKind::SecondLine), &effect(2, false)),
            "Lay 3 lines side by side, each with as much hose as one: closes 3 of 9 gaps and uncovers 2 places."
        );
    }
}
