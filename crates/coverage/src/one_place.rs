//! The hydrants that serve one place: for whoever asks with an engine on the road, and not for a city.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use crate::pieces::distance_ft;
use crate::rule::Rule;
use crate::snap::Foot;
use crate::streets::Streets;
use crate::ways::Lay;

/// The hydrants that serve a place with at most so many sections of hose, the nearest first, exactly as a run over it finds them; none where there are streets
/// and the place lies on none of them. Each lay's hydrant is an index into `hydrants`, feet in the plane.
pub fn lays_to(
    streets: &Streets,
    place: [f64; 2],
    hydrants: &[[f64; 2]],
    rule: &Rule,
    sections: u32,
) -> Option<Vec<Lay>> {
    let lay = |hydrant: usize, feet: f64| {
        let lay = Lay { sections: rule.sections(feet), hydrant: u32::try_from(hydrant).ok()? };
        (lay.sections <= sections).then_some(lay)
    };
    let mut lays: Vec<Lay> = if streets.is_empty() {
        let straight = |(i, hydrant): (usize, &[f64; 2])| lay(i, distance_ft(place, *hydrant) * rule.detour);
        hydrants.iter().enumerate().filter_map(straight).collect()
    } else {
        let foot = streets.snap(place, rule.place_within_ft)?;
        let from = WaysFrom::new(streets, foot, rule.path_ft(sections, foot.set_back_ft));
        let along = |(i, hydrant): (usize, &[f64; 2])| {
            let own = streets.snap(*hydrant, rule.hydrant_within_ft)?;
            lay(i, rule.along_ft(from.path_ft(&own)?, foot.set_back_ft + own.set_back_ft))
        };
        hydrants.iter().enumerate().filter_map(along).collect()
    };
    lays.sort_unstable();
    Some(lays)
}

/// The shortest ways along the streets from a point of them to others.
pub struct WaysFrom<'a> {
    streets: &'a Streets,
    foot: Foot,
    feet: HashMap<u32, f64>,
}

impl<'a> WaysFrom<'a> {
    /// To everything within a distance along the streets.
    pub fn new(streets: &'a Streets, foot: Foot, limit_ft: f64) -> Self {
        let mut from = Self { streets, foot, feet: HashMap::new() };
        let mut heap = BinaryHeap::new();
        let segment = &streets.segments[foot.segment as usize];
        let ends = segment.nodes.into_iter().zip([foot.along_ft, segment.ft - foot.along_ft]);
        ends.for_each(|(node, feet)| from.relax(&mut heap, node, feet, limit_ft));
        while let Some(Reverse((bits, node))) = heap.pop() {
            let feet = f64::from_bits(bits);
            if from.feet.get(&node).is_some_and(|known| feet > *known) {
                continue;
            }
            for way in streets.ways(node) {
                from.relax(&mut heap, way.to, feet + way.ft, limit_ft);
            }
        }
        from
    }

    /// The bits of numbers that are not less than nothing are in the numbers' own order.
    fn relax(&mut self, heap: &mut BinaryHeap<Reverse<(u64, u32)>>, node: u32, feet: f64, limit_ft: f64) {
        let known = self.feet.entry(node).or_insert(f64::INFINITY);
        if feet <= limit_ft && feet < *known {
            *known = feet;
            heap.push(Reverse((feet.to_bits(), node)));
        }
    }

    /// How far a point of the streets is, ft; none where it was not reached.
    pub fn path_ft(&self, to: &Foot) -> Option<f64> {
        let segment = self.streets.segments.get(to.segment as usize)?;
        let [a, b] = segment.nodes.map(|node| self.feet.get(&node).copied().unwrap_or(f64::INFINITY));
        let around = (a + to.along_ft).min(b + (segment.ft - to.along_ft));
        let here =
            if to.segment == self.foot.segment { (self.foot.along_ft - to.along_ft).abs() } else { f64::INFINITY };
        let path = around.min(here);
        path.is_finite().then_some(path)
    }
}
