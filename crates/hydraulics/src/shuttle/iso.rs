//! Whether a supply without hydrants counts as an alternative supply.

use crate::quantity::{Minutes, Volume};

/// The flow an alternative supply keeps up, gpm. Source: `dry-hydrants-iso`.
pub const ISO_ALTERNATIVE_FLOW_GPM: f64 = 250.0;
/// How long it keeps it up, min. Source: `dry-hydrants-iso`.
pub const ISO_ALTERNATIVE_MINUTES: f64 = 120.0;
/// Within how long of the first engine it begins, min. Source: `dry-hydrants-iso`.
pub const ISO_ALTERNATIVE_START_MIN: f64 = 5.0;

/// What is known of a supply. What is not known leaves its test undecided: it never passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlternativeSupply {
    /// The flow it keeps up, gpm.
    pub gpm: f64,
    /// When its water flows, after the first engine arrived.
    pub water_after_first_engine: Option<Minutes>,
    /// What the water source holds for it.
    pub source: Option<Volume>,
}

/// Each test by itself, and all of them together; none where what it turns on is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IsoAlternative {
    /// 250 gpm.
    pub flow: bool,
    /// Within 5 minutes of the first engine.
    pub start: Option<bool>,
    /// For 2 hours.
    pub duration: Option<bool>,
    /// All three: not met as soon as one is not, met only when all are.
    pub met: Option<bool>,
}

impl AlternativeSupply {
    /// Whether it counts.
    ///
    /// # Formula
    /// `Q >= 250`, `start <= 5`, `source >= 250 x 120`.
    /// # Units
    /// gpm, min, gal.
    /// # Range
    /// Areas without hydrants; the survey in use decides.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::shuttle::AlternativeSupply;
    /// let supply = AlternativeSupply { gpm: 300.0, water_after_first_engine: None, source: None };
    /// assert_eq!(supply.iso_alternative().met, None);
    /// ```
    /// # Source
    /// `dry-hydrants-iso`; 250 gpm for 2 hours also `iso-credit`.
    pub fn iso_alternative(&self) -> IsoAlternative {
        let flow = self.gpm >= ISO_ALTERNATIVE_FLOW_GPM;
        let start = self.water_after_first_engine.map(|after| after.minutes() <= ISO_ALTERNATIVE_START_MIN);
        let duration = self.source.map(|source| source.gal() >= ISO_ALTERNATIVE_FLOW_GPM * ISO_ALTERNATIVE_MINUTES);
        let tests = [Some(flow), start, duration];
        let met = if tests.contains(&Some(false)) { Some(false) } else { (!tests.contains(&None)).then_some(true) };
        IsoAlternative { flow, start, duration, met }
    }
}
