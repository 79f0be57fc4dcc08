//! Unequal lines side by side, where a branch holds an appliance that steps.
//!
//! All branches lose the same pressure. Against that common loss `p`, the flow of a branch is continuous and never falls: it grows with
//! the root of `p`, and rests at a step while `p` climbs over the step's fixed loss. So is their sum, and the loss at a total flow is the
//! largest `p` whose sum does not exceed it.

use alloc::vec::Vec;

use crate::root::largest_holding;

/// One branch: squared loss `r q²` (psi, q in gpm) and its steps, (gpm, psi), flows rising.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SteppedBranch {
    r: f64,
    steps: Vec<(f64, f64)>,
}

impl SteppedBranch {
    /// From a loss per (100 gpm)² and steps in any order.
    pub(super) fn new(squared: f64, mut steps: Vec<(f64, f64)>) -> Self {
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { r: squared / 1e4, steps }
    }

    /// Flow at a loss, gpm, and its slope, gpm per psi.
    fn flow_and_slope(&self, p: f64) -> (f64, f64) {
        let mut offset = 0.0;
        for &(flow, fixed) in &self.steps {
            let reached = self.r * flow * flow + offset;
            if p < reached {
                break;
            }
            if p < reached + fixed {
                return (flow, 0.0);
            }
            offset += fixed;
        }
        let head = (p - offset).max(0.0);
        let flow = libm::sqrt(head / self.r);
        (flow, if flow > 0.0 { 0.5 / (self.r * flow) } else { 0.0 })
    }

    fn loss_with_all_steps(&self, flow: f64) -> f64 {
        self.r * flow * flow + self.steps.iter().map(|step| step.1).sum::<f64>()
    }
}

/// The branches, with the losses at which one of them comes to a step or leaves it, and the total flow there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SteppedGroup {
    branches: Vec<SteppedBranch>,
    knots: Vec<(f64, f64)>,
}

impl SteppedGroup {
    pub(super) fn new(branches: Vec<SteppedBranch>) -> Self {
        let mut group = Self { branches, knots: Vec::new() };
        let mut losses = Vec::new();
        for branch in &group.branches {
            let mut offset = 0.0;
            for &(flow, fixed) in &branch.steps {
                let reached = branch.r * flow * flow + offset;
                losses.extend([reached, reached + fixed]);
                offset += fixed;
            }
        }
        losses.sort_by(f64::total_cmp);
        group.knots = losses.into_iter().map(|p| (p, group.total_and_slope(p).0)).collect();
        group
    }

    fn total_and_slope(&self, p: f64) -> (f64, f64) {
        self.branches.iter().map(|branch| branch.flow_and_slope(p)).fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
    }

    /// Common loss at a total flow, psi, and its slope, psi per gpm.
    pub(super) fn loss_and_slope(&self, gpm: f64) -> (f64, f64) {
        let after = self.knots.partition_point(|knot| knot.1 <= gpm);
        let low = if after == 0 { 0.0 } else { self.knots[after - 1].0 };
        let high = self.knots.get(after).map_or_else(
            // Past the last step no branch loses more than if it carried everything.
            || self.branches.iter().map(|b| b.loss_with_all_steps(gpm)).fold(f64::MAX, f64::min).max(low),
            |knot| knot.0,
        );
        let loss = largest_holding(low, high, |p| {
            let (total, slope) = self.total_and_slope(p);
            (gpm - total, -slope)
        });
        let slope = self.total_and_slope(loss).1;
        (loss, if slope > 0.0 { 1.0 / slope } else { 0.0 })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use alloc::vec;

    #[test]
    fn a_branch_rests_at_its_step_while_the_other_takes_more() {
        // 0.08 x 5 = 0.4 and 4.0 psi/(100 gpm)²; the first steps by 10 psi at 350 gpm, where it has lost 4.9 psi.
        let group =
            SteppedGroup::new(vec![SteppedBranch::new(0.4, vec![(350.0, 10.0)]), SteppedBranch::new(4.0, vec![])]);
        // At a common loss of 9 psi the first rests at 350 and the second takes 100 sqrt(9/4) = 150.
        let (loss, _) = group.loss_and_slope(500.0);
        assert!((loss - 9.0).abs() < 1e-12, "{loss}");
        // Past the step: 24.9 psi puts 100 sqrt(14.9/0.4) = 610.33 through the first and 249.50 through the second.
        let total = 100.0 * libm::sqrt(14.9 / 0.4) + 100.0 * libm::sqrt(24.9 / 4.0);
        assert!((group.loss_and_slope(total).0 - 24.9).abs() < 1e-10);
    }

    #[test]
    fn a_master_stream_branch_waits_for_its_fixed_loss() {
        let group =
            SteppedGroup::new(vec![SteppedBranch::new(1.0, vec![(0.0, 25.0)]), SteppedBranch::new(1.0, vec![])]);
        assert!((group.loss_and_slope(400.0).0 - 16.0).abs() < 1e-12);
        assert_eq!(group.loss_and_slope(0.0).0, 0.0);
    }
}
