//! Where along the streets a new hydrant might stand.

use std::collections::HashSet;

use crate::number::signed;
use crate::remedies::open::Open;
use crate::rule::Rule;
use crate::snap::Foot;
use crate::ways::Ways;

/// Spots are no nearer to each other than about this share of the hose carried: nearer ones serve nearly the same places.
const APART: f64 = 0.25;

/// The points of the streets before places whose gap is open, one for each square; none without streets.
pub(crate) fn spots(ways: &Ways<'_>, open: &Open, rule: &Rule) -> Vec<([f64; 2], Foot)> {
    let Ways::Streets { streets, places, .. } = ways else { return Vec::new() };
    let side_ft = (rule.carried_ft() * APART).max(rule.section_ft);
    let mut taken = HashSet::new();
    let spot = |rank: &u32| {
        let foot = places.seats[*rank as usize].foot;
        let segment = streets.segments.get(foot.segment as usize)?;
        let [a, b] = segment.ends;
        let share = foot.along_ft / segment.ft;
        let at = [0, 1].map(|axis| a[axis] + share * (b[axis] - a[axis]));
        let square = at.map(|ft| signed((ft / side_ft).floor()));
        taken.insert(square).then_some((at, Foot { set_back_ft: 0.0, ..foot }))
    };
    open.ranks.iter().filter_map(spot).collect()
}
