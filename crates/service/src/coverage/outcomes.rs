//! What comes out of a run, as the store keeps it.

use longlay_coverage::cause::Named;
use longlay_coverage::outcome::{Best, BestTwo, Outcome};
use longlay_records::id::AssetId;
use longlay_store::{Delivered, NamedHydrant, PointOutcome};

use crate::coverage::inputs::{Inputs, Point};

impl Inputs {
    /// The outcome of a point in terms of the records; none where an index leads nowhere, which no run gives.
    pub(crate) fn point_outcome(&self, point: &Point, outcome: &Outcome) -> PointOutcome {
        PointOutcome {
            demand_point_id: point.id.clone(),
            name: point.name.clone(),
            location: point.location,
            district_ids: point.districts.iter().filter_map(|i| self.district_ids.get(*i as usize).cloned()).collect(),
            need_gpm: outcome.need_gpm,
            cause: outcome.cause.code,
            named: outcome.cause.names.and_then(|named| self.named(named)),
            shortfall_gpm: outcome.shortfall_gpm,
            ground_unknown: outcome.ground_unknown,
            alone: outcome.alone.and_then(|best| self.best(best)),
            boosted: outcome.boosted.and_then(|best| self.best(best)),
            combined: outcome.combined.and_then(|two| self.best_two(two)),
        }
    }

    fn hydrant_id(&self, hydrant: u32) -> Option<AssetId> {
        self.hydrant_ids.get(hydrant as usize).cloned()
    }

    fn named(&self, named: Named) -> Option<NamedHydrant> {
        let hydrant_id = self.hydrant_id(named.hydrant)?;
        Some(NamedHydrant { hydrant_id, lay_ft: named.lay_ft, extra_ft: named.extra_ft, low_gpm: named.low_gpm })
    }

    fn best(&self, best: Best) -> Option<Delivered> {
        let lays = vec![(self.hydrant_id(best.hydrant)?, best.lay_ft)];
        Some(Delivered { lays, flow_gpm: best.arrives.gpm, low_gpm: best.arrives.low_gpm })
    }

    fn best_two(&self, two: BestTwo) -> Option<Delivered> {
        let lays = two.hydrants.into_iter().zip(two.lays_ft);
        let lays = lays.map(|(hydrant, ft)| Some((self.hydrant_id(hydrant)?, ft))).collect::<Option<_>>()?;
        Some(Delivered { lays, flow_gpm: two.arrives.gpm, low_gpm: two.arrives.low_gpm })
    }
}
