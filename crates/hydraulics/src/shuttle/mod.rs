//! Tanker shuttles: what one tanker keeps up, what several do between their sites, and whether that counts as an alternative supply.

mod fleet;
mod iso;
mod round;

pub use fleet::{MAX_TANKERS, SINGLE_DUMP_TANK_GPM, Shuttle, ShuttleError, ShuttleLimit, ShuttleRate};
pub use iso::{
    AlternativeSupply, ISO_ALTERNATIVE_FLOW_GPM, ISO_ALTERNATIVE_MINUTES, ISO_ALTERNATIVE_START_MIN, IsoAlternative,
};
pub use round::{
    Haul, TRAVEL_MIN_PER_MILE, TRAVEL_START_MIN, TankerRate, TankerRound, USABLE_SHARE, tanker_rate_gpm, travel_min,
};
