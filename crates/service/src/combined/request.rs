//! The question of several lines as it comes over HTTP.

use serde::Deserialize;
use utoipa::ToSchema;

use crate::faults::Faults;
use crate::lay::LayCalculation;

/// Several lines to one scene.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CombinedAsk {
    /// The lines, from 1 to 8.
    #[serde(deserialize_with = "crate::object::many")]
    #[schema(min_items = 1, max_items = 8)]
    pub(super) lines: Vec<CombinedLine>,
    /// Whether their hydrants stand on one main. Left out, the records say it: one `main_id` is one main; mains are two only where both `main_id` and
    /// `pressure_zone` differ; all else is not known, and counted as one.
    pub(super) mains: Option<MainsName>,
    /// The flow wanted of all of them together.
    #[schema(minimum = 1, maximum = 50_000)]
    pub(super) target_flow_gpm: Option<f64>,
}

/// One line.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CombinedLine {
    /// Its source and its lay, as of `POST /v1/lay-calculations`, without `target_flow_gpm`, `streams`, `fill_flow_gpm` and `tank`.
    #[serde(deserialize_with = "crate::object::one")]
    pub(super) lay: LayCalculation,
    /// The line before this one, counted from 0, whose hydrant this one leaves too. Lines of one `hydrant_id` do so without it.
    #[schema(minimum = 0, maximum = 7)]
    pub(super) same_hydrant_as: Option<usize>,
}

impl CombinedLine {
    /// What is asked of a lay and not of one line among several.
    pub(super) fn refuse_wishes(&self, faults: &mut Faults) {
        let wishes = [
            ("/lay/target_flow_gpm", self.lay.target_flow_gpm.is_some()),
            ("/lay/streams", self.lay.streams.is_some()),
            ("/lay/fill_flow_gpm", self.lay.fill_flow_gpm.is_some()),
            ("/lay/tank", self.lay.tank.is_some()),
        ];
        for (pointer, _) in wishes.into_iter().filter(|(_, given)| *given) {
            faults.note(pointer, "not_of_a_line", "is asked of a lay by itself, and not of one line among several");
        }
    }
}

/// Whether hydrants stand on one main.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum MainsName {
    /// All on one.
    Shared,
    /// Each on its own.
    Separate,
    /// Not known: counted as one.
    Unknown,
}
