//! How hose is counted: what is carried, in which sections, and how much longer than the street it lies.

use thiserror::Error;

use crate::number::whole;

/// How far hydrants are searched for, in times the hose carried: more than twice the hose again is no matter of hose any more.
pub const SEARCH_TIMES: f64 = 3.0;

/// More hose than this is not reckoned with, ft.
pub(crate) const MOST_HOSE_FT: f64 = 100_000.0;

/// A length is not rounded up for less than this, ft: the same way added up in another order differs by less.
const NO_LENGTH_FT: f64 = 1e-6;

/// How hose is counted.
///
/// The lay is the way along the streets, from the point nearest the hydrant to the point nearest the place, times the slack, and both their distances
/// off the street as they are: those are short, straight and laid by hand. It is rounded up to whole sections.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    /// The hose carried, ft.
    pub hose_ft: f64,
    /// A section of it, ft.
    pub section_ft: f64,
    /// Hose laid for each foot of street.
    pub slack: f64,
    /// Hose laid for each foot of straight distance, where there are no streets.
    pub detour: f64,
    /// How far off a street a place may lie, ft.
    pub place_within_ft: f64,
    /// How far off a street a hydrant may lie, ft.
    pub hydrant_within_ft: f64,
    /// Whether two hydrants may be laid from together.
    pub combined: bool,
    /// Whether a pumper stands at each of two hydrants laid from together; else both are on their own pressure, because one pumper stands at one hydrant.
    pub second_pumper: bool,
}

impl Rule {
    /// The usual allowances with so much hose: 100 ft sections, a tenth more than the street, 1.4 times the straight distance where there are none.
    pub const fn with_hose(hose_ft: f64) -> Self {
        Self {
            hose_ft,
            section_ft: 100.0,
            slack: 1.1,
            detour: 1.4,
            place_within_ft: 500.0,
            hydrant_within_ft: 200.0,
            combined: true,
            second_pumper: false,
        }
    }

    /// Whether it can be reckoned with.
    ///
    /// # Errors
    /// Every figure that is no number or out of its bounds.
    pub fn check(&self) -> Result<(), RuleFaults> {
        let bounds = [
            ("hose_ft", self.hose_ft, 1.0, MOST_HOSE_FT),
            ("section_ft", self.section_ft, 1.0, 1000.0),
            ("slack", self.slack, 1.0, 10.0),
            ("detour", self.detour, 1.0, 10.0),
            ("place_within_ft", self.place_within_ft, 0.0, 10_000.0),
            ("hydrant_within_ft", self.hydrant_within_ft, 0.0, 10_000.0),
        ];
        let fault = |(name, value, least, most): (&'static str, f64, f64, f64)| {
            let good = value >= least && value <= most;
            (!good).then_some(RuleFault { name, value, least, most })
        };
        let faults: Vec<_> = bounds.into_iter().filter_map(fault).collect();
        if faults.is_empty() { Ok(()) } else { Err(RuleFaults(faults)) }
    }

    /// Whole sections carried.
    pub fn carried(&self) -> u32 {
        whole((self.hose_ft + NO_LENGTH_FT) / self.section_ft)
    }

    /// Whole sections that are searched for.
    pub fn searched(&self) -> u32 {
        whole((self.hose_ft * SEARCH_TIMES + NO_LENGTH_FT) / self.section_ft)
    }

    /// The hose carried, in whole sections, ft.
    pub fn carried_ft(&self) -> f64 {
        self.feet(self.carried())
    }

    /// How long so many sections are, ft.
    pub fn feet(&self, sections: u32) -> f64 {
        f64::from(sections) * self.section_ft
    }

    /// Sections for so many feet of hose; never none, because a hydrant at the door still takes one.
    pub(crate) fn sections(&self, feet: f64) -> u32 {
        let sections = (feet - NO_LENGTH_FT) / self.section_ft;
        let whole = whole(sections);
        // Rounded up by hand, for `ceil` is a call.
        whole.saturating_add(u32::from(f64::from(whole) < sections)).max(1)
    }

    /// Hose for a way along the streets and the distances off them, ft.
    pub(crate) fn along_ft(&self, path_ft: f64, set_back_ft: f64) -> f64 {
        path_ft * self.slack + set_back_ft
    }

    /// The longest way along the streets that so many sections cover, ft, with no more than this off them; a hair more than it is.
    pub(crate) fn path_ft(&self, sections: u32, set_back_ft: f64) -> f64 {
        (self.feet(sections) + 2.0 * NO_LENGTH_FT - set_back_ft) / self.slack
    }
}

/// Figures that no hose is counted by.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
pub struct RuleFaults(pub Vec<RuleFault>);

/// A figure that no hose is counted by.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{name} must be from {least} to {most}, not {value}")]
pub struct RuleFault {
    /// Which.
    pub name: &'static str,
    /// What was given.
    pub value: f64,
    /// The least it may be.
    pub least: f64,
    /// The most it may be.
    pub most: f64,
}
