//! What to plan on, in words, and how sure that is.

use alloc::format;
use alloc::string::{String, ToString};

use crate::band::Band;
use crate::lay::limits::planning_gpm;

/// Of what a diagnosis speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Subject {
    /// A hydrant in a lay without pumpers.
    Hydrant,
    /// The hydrant alone, where pumpers are given.
    HydrantAlone,
    /// With the pumpers.
    Pumped,
    /// One line of several that are given.
    Line,
    /// Several lines.
    Lines,
}

impl Subject {
    pub(super) const fn brings(self) -> &'static str {
        match self {
            Self::Hydrant => "the hydrant brings",
            Self::HydrantAlone => "the hydrant alone brings",
            Self::Pumped => "the pumping given brings",
            Self::Line => "the line brings",
            Self::Lines => "the lines together bring",
        }
    }

    /// The start of what to plan on; named where the answer has more than one figure.
    const fn plan(self) -> &'static str {
        match self {
            Self::Hydrant | Self::Line => "Plan",
            Self::HydrantAlone => "Hydrant alone: plan",
            Self::Pumped => "With the pumping given: plan",
            Self::Lines => "The lines together: plan",
        }
    }
}

/// What to plan on, and how far the figure may be off. What a test without a drop proves has a low end, and no odds above it.
pub(super) fn planned(subject: Subject, band: &Band, no_drop: bool, target_gpm: Option<f64>) -> String {
    let low = planning_gpm(band.low);
    let nothing = low <= 0.0;
    let on = if nothing { "no water".to_string() } else { format!("{low} gpm") };
    let from = if nothing { "nothing".to_string() } else { low.to_string() };
    let up_to = band.high.map(|high| libm::ceil(high / 10.0) * 10.0);
    let arrives = match up_to {
        Some(high) if high <= 0.0 => "nothing arrives".to_string(),
        _ if no_drop && nothing => "the test showed no drop, and what arrives is not known".to_string(),
        _ if no_drop => format!("the test showed no drop, and how much over {low} gpm arrives is not known"),
        Some(high) => format!("between {from} and {high:.0} gpm arrive nine times in ten"),
        None if nothing => "nothing is sure to arrive, and no upper end is known".to_string(),
        None => format!("{low} gpm or more arrive nineteen times in twenty, and no upper end is known"),
    };
    let short = target_gpm.filter(|target| band.straddles(*target));
    let short = short.map_or("", |_| "; it may fall short of what is wanted");
    format!("{} on {on}, as {arrives}{short}.", subject.plan())
}

#[cfg(test)]
mod tests {
    use alloc::vec::Vec;

    use super::*;

    fn band(low: f64, high: Option<f64>) -> Band {
        Band { low, high, effects: Vec::new() }
    }

    #[test]
    fn no_water_is_said_in_words() {
        let said = |low, high| planned(Subject::Hydrant, &band(low, high), false, None);
        assert_eq!(said(0.0, Some(0.0)), "Plan on no water, as nothing arrives.");
        assert_eq!(
            said(4.0, Some(118.0)),
            "Plan on no water, as between nothing and 120 gpm arrive nine times in ten."
        );
    }

    #[test]
    fn a_figure_beside_another_names_its_subject() {
        let said = |subject| planned(subject, &band(479.0, Some(541.0)), false, None);
        assert!(said(Subject::HydrantAlone).starts_with("Hydrant alone: plan on 470 gpm, as between 470 and 550 gpm"));
        assert!(said(Subject::Pumped).starts_with("With the pumping given: plan on 470 gpm"));
    }

    #[test]
    fn a_test_without_a_drop_gives_no_odds() {
        for high in [None, Some(600.0)] {
            let said = planned(Subject::Hydrant, &band(479.0, high), true, Some(500.0));
            assert!(said.starts_with("Plan on 470 gpm, as the test showed no drop"), "{said}");
            assert!(!said.contains("times in") && said.ends_with("it may fall short of what is wanted."), "{said}");
        }
    }
}
