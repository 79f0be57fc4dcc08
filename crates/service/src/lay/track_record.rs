//! What drills with a lay's equipment made of the service's predictions, told with every answer they bear on.

use chrono::NaiveDate;
use longlay_hydraulics::drill_bias::Bias;
use longlay_hydraulics::formula;
use longlay_records::drill::{DrillMiss, mean_miss_percent_of_loss};
use serde::Serialize;
use utoipa::ToSchema;

use crate::advice::{BasisFormula, FindingNote};
use crate::lay::response::LayAnswer;

/// How drills that share a hose type, a valve, an appliance or a pumper with the lay came out. Voided ones do not count, nor those recorded before
/// their equipment's figures were last written. A miss is what the last gauge read less what was predicted there when the drill was recorded: less than
/// nothing was promised too much.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TrackRecord {
    /// How many drills; the newest 1000 at most.
    drills: usize,
    /// How many gauges were read in them.
    readings: u64,
    /// Mean miss.
    mean_miss_psi: f64,
    /// The misses as a percentage of the losses predicted; absent where no loss was.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    mean_miss_percent_of_loss: Option<f64>,
    /// The lowest miss.
    worst_miss_psi: f64,
    /// The day of the latest.
    last_drilled_on: NaiveDate,
}

/// Adds the record, with the finding where it shows a bias. None where no drill bears on the lay, which is not a good record.
pub(super) fn add(answer: &mut LayAnswer, misses: &[DrillMiss]) {
    let by_drill: Vec<_> = misses.iter().map(|miss| miss.miss_psi).collect();
    let last = misses.iter().map(|miss| miss.drilled_on).max();
    let (Some(bias), Some(last_drilled_on)) = (Bias::of(&by_drill), last) else { return };
    answer.findings.extend(bias.finding().as_ref().map(FindingNote::from));
    answer.basis.push(BasisFormula::from(&formula::DRILL_BIAS));
    answer.track_record = Some(TrackRecord {
        drills: bias.drills,
        readings: misses.iter().map(|miss| u64::from(miss.readings)).sum(),
        mean_miss_psi: bias.mean_psi,
        mean_miss_percent_of_loss: mean_miss_percent_of_loss(misses),
        worst_miss_psi: bias.worst_psi,
        last_drilled_on,
    });
}
