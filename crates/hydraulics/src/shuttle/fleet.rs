//! Several tankers, with the sites where they fill and dump.

use alloc::vec::Vec;

use thiserror::Error;

use crate::finding::{Finding, FindingCode};
use crate::quantity::PositiveFlow;
use crate::shuttle::round::{TankerRate, TankerRound};

/// Most tankers of a shuttle.
pub const MAX_TANKERS: usize = 200;
/// The flow from which one portable tank at the dump site is too little, gpm.
///
/// Source: `shuttle-outline` p. 9.
pub const SINGLE_DUMP_TANK_GPM: f64 = 300.0;

/// What is asked of a shuttle.
#[derive(Debug, Clone, PartialEq)]
pub struct Shuttle {
    /// The tankers, in the order they are called.
    pub tankers: Vec<TankerRound>,
    /// Tankers that can be filled at once; none where not known.
    pub fill_sites: Option<u8>,
    /// What one fill site flows; none where not known.
    pub fill_flow: Option<PositiveFlow>,
    /// Tankers that can dump at once, each into its tank; none where not known.
    pub dump_sites: Option<u8>,
}

/// A shuttle that is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum ShuttleError {
    /// No tanker, or more than [`MAX_TANKERS`].
    #[error("a shuttle has from 1 to {MAX_TANKERS} tankers, not {0}")]
    TankerCount(usize),
    /// Sites that are none.
    #[error("a site that is given is one at least")]
    NoSite,
}

/// What stops more water from being carried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShuttleLimit {
    /// The tankers: more of them carry more.
    Tankers,
    /// What the fill sites flow.
    FillFlow,
    /// The places to fill: tankers wait.
    FillSites,
    /// The places to dump: tankers wait.
    DumpSites,
}

impl ShuttleLimit {
    /// Its stable code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Tankers => "tankers",
            Self::FillFlow => "fill_flow",
            Self::FillSites => "fill_sites",
            Self::DumpSites => "dump_sites",
        }
    }
}

/// What a shuttle carries.
#[derive(Debug, Clone, PartialEq)]
pub struct ShuttleRate {
    /// The flow it keeps up, gpm.
    pub gpm: f64,
    /// What binds.
    pub limited_by: ShuttleLimit,
    /// Every limit that is known, in order of flow.
    pub limits: Vec<(ShuttleLimit, f64)>,
    /// Each tanker by itself.
    pub tankers: Vec<TankerRate>,
    /// Time until the first tanker begins to dump, with all empty at the fill site, min.
    pub first_water_min: f64,
}

/// Sums over tankers.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    gpm: f64,
    /// Tankers at the fill sites at any time, if none waits.
    filling: f64,
    /// The same at the dump sites.
    dumping: f64,
}

impl Sums {
    fn with(self, tanker: &TankerRound) -> Self {
        let rate = tanker.rate();
        let cycle = rate.handling_min + rate.travel_min;
        Self {
            gpm: self.gpm + rate.gpm,
            filling: self.filling + tanker.fill.minutes() / cycle,
            dumping: self.dumping + tanker.dump.minutes() / cycle,
        }
    }
}

impl Shuttle {
    /// # Errors
    /// No tankers or too many, no sites.
    fn check(&self) -> Result<(), ShuttleError> {
        if !(1..=MAX_TANKERS).contains(&self.tankers.len()) {
            return Err(ShuttleError::TankerCount(self.tankers.len()));
        }
        if self.fill_sites == Some(0) || self.dump_sites == Some(0) { Err(ShuttleError::NoSite) } else { Ok(()) }
    }

    fn limits(&self, sums: Sums) -> Vec<(ShuttleLimit, f64)> {
        let waiting = |sites: Option<u8>, there: f64| sites.map(|sites| sums.gpm * f64::from(sites) / there);
        let flow = self.fill_sites.zip(self.fill_flow).map(|(sites, flow)| f64::from(sites) * flow.gpm());
        let known = [
            (ShuttleLimit::Tankers, Some(sums.gpm)),
            (ShuttleLimit::FillFlow, flow),
            (ShuttleLimit::FillSites, waiting(self.fill_sites, sums.filling)),
            (ShuttleLimit::DumpSites, waiting(self.dump_sites, sums.dumping)),
        ];
        let mut limits: Vec<_> = known.into_iter().filter_map(|(limit, gpm)| Some((limit, gpm?))).collect();
        limits.sort_by(|a, b| a.1.total_cmp(&b.1));
        limits
    }

    /// The flow it keeps up.
    ///
    /// # Formula
    /// The least of `Σ 0.9 tank/cycle`; that sum x `sites / Σ (time at the site / cycle)` for fill and dump sites; `fill sites x fill flow`.
    /// # Units
    /// gal, min, mi, gpm; gpm, min out.
    /// # Range
    /// Tankers that take turns as they come. A limit that is not known is not counted.
    /// # Errors
    /// No tankers or too many, no sites.
    /// # Examples
    /// ```
    /// # use longlay_hydraulics::{shuttle::{Haul, Shuttle, ShuttleLimit, TankerRound}, quantity::{Miles, Minutes, PositiveFlow, Volume}};
    /// // 0.9 x 3000 gal in 4 + 2.25 + 5.75 min is 225 gpm; three of them carry 675, and one site fills 500.
    /// let tanker = TankerRound {
    ///     tank: Volume::from_gal(3000.0)?,
    ///     fill: Minutes::from_min(4.0)?,
    ///     dump: Minutes::from_min(2.25)?,
    ///     haul: Haul::RoundTrip(Miles::from_mi(3.0)?),
    /// };
    /// let shuttle = Shuttle { tankers: vec![tanker; 3], fill_sites: Some(1), fill_flow: Some(PositiveFlow::from_gpm(500.0)?), dump_sites: None };
    /// let rate = shuttle.rate()?;
    /// assert_eq!((rate.gpm, rate.limited_by), (500.0, ShuttleLimit::FillFlow));
    /// # Ok::<(), Box<dyn core::error::Error>>(())
    /// ```
    /// # Source
    /// `shuttle-outline` p. 12-13 for the tankers; the sites are `derived`.
    pub fn rate(&self) -> Result<ShuttleRate, ShuttleError> {
        self.check()?;
        let sums = self.tankers.iter().fold(Sums::default(), Sums::with);
        let limits = self.limits(sums);
        let (limited_by, gpm) = limits.first().copied().unwrap_or((ShuttleLimit::Tankers, 0.0));
        let first = self.tankers.iter().map(TankerRound::first_water_min).fold(f64::MAX, f64::min);
        let tankers = self.tankers.iter().map(TankerRound::rate).collect();
        Ok(ShuttleRate { gpm, limited_by, limits, tankers, first_water_min: first })
    }

    /// How many tankers a flow asks: the first of those there are, then more like the one that carries least. None where the sites, and not the
    /// tankers, hold the flow under it, or [`MAX_TANKERS`] do not carry it.
    ///
    /// # Errors
    /// No tankers or too many, no sites.
    pub fn tankers_needed(&self, flow: PositiveFlow) -> Result<Option<usize>, ShuttleError> {
        self.check()?;
        let least = self.tankers.iter().min_by(|a, b| a.rate().gpm.total_cmp(&b.rate().gpm));
        let mut sums = Sums::default();
        for (i, tanker) in self.tankers.iter().chain(least.into_iter().cycle()).take(MAX_TANKERS).enumerate() {
            sums = sums.with(tanker);
            if self.limits(sums).first().is_some_and(|(_, gpm)| *gpm >= flow.gpm()) {
                return Ok(Some(i + 1));
            }
        }
        Ok(None)
    }

    /// What is weak about it.
    pub fn findings(&self) -> Vec<Finding> {
        let mut found = Vec::new();
        if self.fill_sites.is_none() || self.fill_flow.is_none() || self.dump_sites.is_none() {
            found.push(Finding::plain(FindingCode::SiteLimitUnknown));
        }
        let asked =
            self.tankers.iter().map(|tanker| tanker.rate().usable_gal / tanker.fill.minutes()).fold(0.0, f64::max);
        if self.fill_flow.is_some_and(|flow| asked > flow.gpm()) {
            found.push(Finding::new(FindingCode::FillTimeShort, asked));
        }
        found
    }
}
