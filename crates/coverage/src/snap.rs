//! Where on a street a place or a hydrant belongs: at the nearest point that a straight line reaches without meeting a barrier.

use crate::streets::Streets;

/// A point of a street, and how far off it something stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foot {
    /// The index of the segment, in [`Streets::segments`].
    pub segment: u32,
    /// How far along it from its first end, ft.
    pub along_ft: f64,
    /// How far off it, ft.
    pub set_back_ft: f64,
}

impl Streets {
    /// The nearest point of a street within a distance; of two as near, that on the segment of the lower index.
    pub fn snap(&self, point: [f64; 2], within_ft: f64) -> Option<Foot> {
        if !point.iter().all(|ft| ft.is_finite()) || within_ft.is_nan() || within_ft < 0.0 {
            return None;
        }
        let mut best = Near { squared: within_ft * within_ft, segment: u32::MAX, share: 0.0 };
        self.grid.around(point, within_ft, |items, within| {
            let before = best.squared;
            for item in items {
                self.look(point, *item, &mut best);
            }
            if best.squared < before { best.squared.sqrt() } else { within }
        });
        let segment = self.segments.get(best.segment as usize)?;
        let set_back_ft = best.squared.sqrt();
        Some(Foot { segment: best.segment, along_ft: best.share * segment.ft, set_back_ft })
    }

    #[inline]
    fn look(&self, point: [f64; 2], item: u32, best: &mut Near) {
        let segment = &self.segments[item as usize];
        let ([ax, ay], [bx, by]) = (segment.ends[0], segment.ends[1]);
        let (dx, dy) = (bx - ax, by - ay);
        let (px, py) = (point[0] - ax, point[1] - ay);
        let share = ((px * dx + py * dy) / (segment.ft * segment.ft)).clamp(0.0, 1.0);
        let (ox, oy) = (px - share * dx, py - share * dy);
        let squared = ox * ox + oy * oy;
        if squared > best.squared || (squared == best.squared && item >= best.segment) {
            return;
        }
        let foot = [ax + share * dx, ay + share * dy];
        if self.barriers.as_ref().is_some_and(|barriers| barriers.block(point, foot, segment.levels)) {
            return;
        }
        *best = Near { squared, segment: item, share };
    }
}

struct Near {
    squared: f64,
    segment: u32,
    share: f64,
}
