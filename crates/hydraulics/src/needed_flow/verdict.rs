//! Whether a lay gives the needed flow: by the low end of what it delivers, and never surer than its data.

use crate::finding::FindingCode;

/// Findings under which no flow of the answer is counted on. A test without a drop is none of them: what it proves it proves.
pub const DOUBTS_ANY: [FindingCode; 9] = [
    FindingCode::PressureImplausible,
    FindingCode::StaticDiffers,
    FindingCode::FlowDiffers,
    FindingCode::FloorLowered,
    FindingCode::DrillBias,
    FindingCode::DropUnder10Percent,
    FindingCode::NoPumperOutlet,
    FindingCode::HoseOverRating,
    FindingCode::BeyondCarriedHose,
];

/// Findings under which no boosted flow is counted on: a marking that is not known may not make the answer surer.
pub const DOUBTS_A_BOOST: [FindingCode; 2] = [FindingCode::HoseUnmarked, FindingCode::ValveStaysShut];

/// What arrives over a lay worked in one way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delivered {
    /// The figure, gpm.
    pub nominal_gpm: f64,
    /// The low end of its band, gpm.
    pub low_gpm: f64,
    /// Whether a finding forbids counting on it.
    pub doubted: bool,
}

impl Delivered {
    /// What is missing of the need at the low end, gpm.
    pub fn shortfall_gpm(self, need_gpm: f64) -> f64 {
        (need_gpm - self.low_gpm).max(0.0)
    }

    fn surely(self, need_gpm: f64) -> bool {
        !self.doubted && self.low_gpm >= need_gpm && self.nominal_gpm >= need_gpm
    }

    fn perhaps(self, need_gpm: f64) -> bool {
        self.nominal_gpm >= need_gpm
    }
}

/// What is to be said of a need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The hydrant alone gives it, at the low end too.
    Met,
    /// With the pumpers of the lay it is given, at the low end too.
    MetIfBoosted,
    /// The figure reaches it, and its low end or its data does not bear it out.
    InDoubt,
    /// It is not reached.
    Short,
}

/// What is to be said of a need, from the hydrant alone and with the pumpers of the lay.
///
/// # Formula
/// Short where the flow with the pumpers given is under the need. Else met where the low end alone is not, met if boosted where only the boosted low
/// end is not, and in doubt where no low end that may be counted on reaches it.
/// # Units
/// gpm.
/// # Range
/// Any; what is no number reaches nothing.
/// # Examples
/// ```
/// # use longlay_hydraulics::needed_flow::{Delivered, Verdict, verdict};
/// let alone = Delivered { nominal_gpm: 600.0, low_gpm: 450.0, doubted: false };
/// assert_eq!(verdict(450.0, alone, None), Verdict::Met);
/// assert_eq!(verdict(500.0, alone, None), Verdict::InDoubt);
/// assert_eq!(verdict(601.0, alone, None), Verdict::Short);
/// ```
/// # Source
/// `derived`.
pub fn verdict(need_gpm: f64, alone: Delivered, boosted: Option<Delivered>) -> Verdict {
    // A pumper written into a lay can bring less than the hydrant alone: what is asked about is the lay as it stands.
    let asked = boosted.unwrap_or(alone);
    if !asked.perhaps(need_gpm) {
        Verdict::Short
    } else if alone.surely(need_gpm) && asked.low_gpm >= need_gpm {
        Verdict::Met
    } else if asked.surely(need_gpm) {
        Verdict::MetIfBoosted
    } else {
        Verdict::InDoubt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn line(nominal_gpm: f64, low_gpm: f64) -> Delivered {
        Delivered { nominal_gpm, low_gpm, doubted: false }
    }

    #[test]
    fn only_the_low_end_meets_a_need() {
        for (low, said) in [(1000.0, Verdict::Met), (999.9, Verdict::InDoubt), (0.0, Verdict::InDoubt)] {
            assert_eq!(verdict(1000.0, line(1000.0, low), None), said);
        }
        assert_eq!(verdict(1000.0, line(999.9, 999.9), None), Verdict::Short);
    }

    #[test]
    fn a_boost_counts_by_its_own_low_end() {
        let alone = line(500.0, 400.0);
        assert_eq!(verdict(800.0, alone, Some(line(900.0, 800.0))), Verdict::MetIfBoosted);
        assert_eq!(verdict(850.0, alone, Some(line(900.0, 800.0))), Verdict::InDoubt);
        assert_eq!(verdict(950.0, alone, Some(line(900.0, 800.0))), Verdict::Short);
        // The hydrant may do it alone and surely does it boosted: that is no doubt.
        assert_eq!(verdict(450.0, alone, Some(line(900.0, 800.0))), Verdict::MetIfBoosted);
        assert_eq!(verdict(400.0, alone, Some(line(900.0, 800.0))), Verdict::Met);
    }

    #[test]
    fn a_doubted_flow_meets_nothing_and_is_not_short_either() {
        let doubted = Delivered { doubted: true, ..line(900.0, 900.0) };
        assert_eq!(verdict(800.0, doubted, None), Verdict::InDoubt);
        assert_eq!(verdict(800.0, line(500.0, 500.0), Some(doubted)), Verdict::InDoubt);
        assert_eq!(verdict(400.0, line(500.0, 500.0), Some(doubted)), Verdict::Met);
        assert_eq!(verdict(901.0, doubted, None), Verdict::Short);
    }

    #[test]
    fn a_lay_as_written_is_judged_as_written() {
        assert_eq!(verdict(550.0, line(600.0, 600.0), Some(line(500.0, 500.0))), Verdict::Short);
        assert_eq!(verdict(550.0, line(600.0, 600.0), Some(line(560.0, 540.0))), Verdict::InDoubt);
    }

    #[test]
    fn what_is_no_number_meets_nothing() {
        let nan = f64::NAN;
        assert_eq!(verdict(nan, line(900.0, 800.0), None), Verdict::Short);
        assert_eq!(verdict(500.0, line(nan, 800.0), None), Verdict::Short);
        assert_eq!(verdict(500.0, line(900.0, nan), None), Verdict::InDoubt);
    }

    #[test]
    fn the_shortfall_is_counted_from_the_low_end() {
        assert_eq!(line(900.0, 700.0).shortfall_gpm(800.0), 100.0);
        assert_eq!(line(900.0, 700.0).shortfall_gpm(700.0), 0.0);
    }
}
