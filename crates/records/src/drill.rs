//! A drill: a lay that was really laid, what its gauges read and what they were predicted to read. Never edited, voided with a reason.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_hydraulics::lay::Station;
use longlay_hydraulics::loss::PSI_PER_FOOT;
use longlay_hydraulics::quantity::{MeterUncertainty, PositiveFlow, Pressure};
use uuid::Uuid;

use crate::flow_test::Voided;
use crate::id::AssetId;

/// A drill as it was recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Drill {
    /// Its id, given when it was recorded; version 7, so that it sorts by time of recording.
    pub id: Uuid,
    /// The day of the drill.
    pub drilled_on: NaiveDate,
    /// The lay, as JSON that whoever asks about lays can read again.
    pub lay: String,
    /// What stored things it used, each once.
    pub uses: Vec<DrillUse>,
    /// The flow measured.
    pub flow: PositiveFlow,
    /// How far it may be off.
    pub flow_uncertainty: MeterUncertainty,
    /// Whether pumpers were in the line.
    pub pumped: bool,
    /// Every gauge of the lay, hydrant to scene.
    pub gauges: Vec<DrillGauge>,
    /// Anything else.
    pub notes: Option<String>,
    /// When it was recorded.
    pub recorded_at: DateTime<Utc>,
    /// Set when the drill was voided.
    pub voided: Option<Voided>,
}

/// A stored thing that a drill used.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct DrillUse {
    /// Its kind.
    pub kind: UsedKind,
    /// Its id.
    pub id: AssetId,
}

/// Kinds of stored thing that a drill can use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UsedKind {
    /// The hydrant.
    Hydrant,
    /// A kind of hose.
    HoseType,
    /// A kind of appliance.
    Appliance,
    /// A kind of hydrant valve.
    HydrantValve,
    /// A pumper.
    Pumper,
}

/// One gauge of a drill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrillGauge {
    /// Where.
    pub station: Station,
    /// Height above the hydrant's ground, ft.
    pub elevation_ft: f64,
    /// What it was predicted to read when the drill was recorded, psi. Where the discharge of a pumper was read, that.
    pub predicted_psi: f64,
    /// What it read, if it was read.
    pub read: Option<Pressure>,
}

impl DrillGauge {
    /// What it read, where that can be held against anything: a gauge that reads nothing stands on its peg and does not tell how much is missing.
    fn on_scale(&self) -> Option<Pressure> {
        self.read.filter(|read| read.psi() > 0.0)
    }
}

/// What was lost between two gauges, one after the other and no pumper between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossMiss {
    /// The gauge upstream.
    pub from: Station,
    /// The gauge downstream.
    pub to: Station,
    /// Lost by the gauges, less the rise, psi.
    pub read_psi: f64,
    /// Predicted to be lost, psi.
    pub predicted_psi: f64,
}

impl LossMiss {
    /// Read less predicted, psi: more than nothing where more was lost.
    pub fn miss_psi(&self) -> f64 {
        self.read_psi - self.predicted_psi
    }

    /// The same as a percentage of what was predicted; none where nothing was.
    pub fn miss_percent(&self) -> Option<f64> {
        percent(self.miss_psi(), self.predicted_psi)
    }
}

/// What a drill says of the answers: its last gauge that was read and could have been missed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrillMiss {
    /// The day of the drill.
    pub drilled_on: NaiveDate,
    /// Gauges read.
    pub readings: u32,
    /// Read less predicted at the last of them, psi.
    pub miss_psi: f64,
    /// Predicted to be lost from the main or the last pumper to there, less the rise, psi.
    pub predicted_loss_psi: f64,
}

impl Drill {
    /// The losses between gauges that were read.
    pub fn losses(&self) -> Vec<LossMiss> {
        let mut found = Vec::new();
        let mut upstream: Option<(&DrillGauge, Pressure)> = None;
        for gauge in &self.gauges {
            if matches!(gauge.station, Station::PumperDischarge(_)) {
                upstream = None;
            }
            let Some(read) = gauge.on_scale() else { continue };
            if let Some((from, from_read)) = upstream {
                let rise_psi = rise_psi(from, gauge);
                found.push(LossMiss {
                    from: from.station,
                    to: gauge.station,
                    read_psi: from_read.psi() - read.psi() - rise_psi,
                    predicted_psi: from.predicted_psi - gauge.predicted_psi - rise_psi,
                });
            }
            upstream = Some((gauge, read));
        }
        found
    }

    /// Read less predicted at every gauge, psi. None where nothing was read or the gauge stood on its peg; none at a discharge, which is the operator's to set; and none behind a
    /// pumper whose discharge nobody read, because what it fed the line is not known.
    pub fn misses_psi(&self) -> Vec<Option<f64>> {
        let mut known = true;
        let miss = |gauge: &DrillGauge| {
            if matches!(gauge.station, Station::PumperDischarge(_)) {
                known = gauge.read.is_some();
                return None;
            }
            gauge.on_scale().filter(|_| known).map(|read| read.psi() - gauge.predicted_psi)
        };
        self.gauges.iter().map(miss).collect()
    }

    /// What it says of the answers; none where nothing was read that could have been missed.
    pub fn miss(&self) -> Option<DrillMiss> {
        let misses = self.misses_psi();
        let last = misses.iter().rposition(Option::is_some)?;
        let starts = |gauge: &&DrillGauge| matches!(gauge.station, Station::Main | Station::PumperDischarge(_));
        let start = self.gauges[..=last].iter().rev().find(starts)?;
        let last_gauge = &self.gauges[last];
        let readings = self.gauges.iter().filter(|gauge| gauge.read.is_some()).count();
        Some(DrillMiss {
            drilled_on: self.drilled_on,
            readings: u32::try_from(readings).ok()?,
            miss_psi: misses[last]?,
            predicted_loss_psi: start.predicted_psi - last_gauge.predicted_psi - rise_psi(start, last_gauge),
        })
    }
}

fn rise_psi(from: &DrillGauge, to: &DrillGauge) -> f64 {
    PSI_PER_FOOT * (to.elevation_ft - from.elevation_ft)
}

/// The misses of several drills as a percentage of what was predicted to be lost in them; none where nothing was.
pub fn mean_miss_percent_of_loss(misses: &[DrillMiss]) -> Option<f64> {
    percent(misses.iter().map(|one| one.miss_psi).sum(), misses.iter().map(|one| one.predicted_loss_psi).sum())
}

fn percent(part: f64, whole: f64) -> Option<f64> {
    // Under this a loss is nothing but rounding, and its percentage no number to read.
    const LEAST_LOSS_PSI: f64 = 1e-6;
    (whole > LEAST_LOSS_PSI).then(|| 100.0 * part / whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gauge(station: Station, elevation_ft: f64, predicted_psi: f64, read: Option<f64>) -> DrillGauge {
        let read = read.map(|psi| Pressure::from_psi(psi).unwrap());
        DrillGauge { station, elevation_ft, predicted_psi, read }
    }

    fn drill(gauges: Vec<DrillGauge>) -> Drill {
        Drill {
            id: Uuid::nil(),
            drilled_on: "2026-05-01".parse().unwrap(),
            lay: "{}".to_owned(),
            uses: Vec::new(),
            flow: PositiveFlow::from_gpm(1000.0).unwrap(),
            flow_uncertainty: MeterUncertainty::from_percent(3.0).unwrap(),
            pumped: true,
            gauges,
            notes: None,
            recorded_at: DateTime::UNIX_EPOCH,
            voided: None,
        }
    }

    /// A pumper at the hydrant, its discharge and the scene read; the scene stands 100 ft higher.
    fn uphill() -> Drill {
        drill(vec![
            gauge(Station::Main, 0.0, 60.0, None),
            gauge(Station::Hydrant, 0.0, 58.0, Some(56.0)),
            gauge(Station::PumperIntake(1), 0.0, 55.0, Some(54.0)),
            gauge(Station::PumperDischarge(1), 0.0, 150.0, Some(150.0)),
            gauge(Station::Scene, 100.0, 50.0, Some(44.3)),
        ])
    }

    #[test]
    fn losses_are_told_between_gauges_and_never_over_a_pumper() {
        let found = uphill().losses();
        let between: Vec<_> = found.iter().map(|loss| (loss.from, loss.to)).collect();
        let (intake, discharge) = (Station::PumperIntake(1), Station::PumperDischarge(1));
        assert_eq!(between, [(Station::Hydrant, intake), (discharge, Station::Scene)]);
        // 3 psi predicted and 2 read; then 150 - 50 - 43.4 predicted and 150 - 44.3 - 43.4 read.
        assert!((found[0].miss_psi() + 1.0).abs() < 1e-12);
        assert!((found[1].predicted_psi - 56.6).abs() < 1e-12 && (found[1].read_psi - 62.3).abs() < 1e-12);
        assert!((found[1].miss_percent().unwrap() - 100.0 * 5.7 / 56.6).abs() < 1e-9);
    }

    #[test]
    fn a_drill_is_summed_up_by_its_last_gauge() {
        let miss = uphill().miss().unwrap();
        assert_eq!(miss.readings, 4);
        assert!((miss.miss_psi + 5.7).abs() < 1e-12 && (miss.predicted_loss_psi - 56.6).abs() < 1e-12);
        assert!((mean_miss_percent_of_loss(&[miss, miss]).unwrap() + 100.0 * 5.7 / 56.6).abs() < 1e-9);
    }

    #[test]
    fn a_discharge_is_the_operators_and_no_miss() {
        let mut gauges = uphill().gauges;
        gauges[4].read = None;
        // The intake is then the last that could have been missed.
        assert_eq!(drill(gauges.clone()).miss().unwrap().miss_psi, -1.0);
        (gauges[1].read, gauges[2].read) = (None, None);
        assert_eq!(drill(gauges).miss(), None);
    }

    #[test]
    fn behind_a_pumper_that_nobody_read_nothing_is_missed() {
        let mut gauges = uphill().gauges;
        gauges[3].read = None;
        assert_eq!(drill(gauges).misses_psi(), [None, Some(-2.0), Some(-1.0), None, None]);
    }

    #[test]
    fn a_gauge_on_its_peg_is_held_against_nothing() {
        let mut gauges = uphill().gauges;
        gauges[4].read = Pressure::from_psi(0.0).ok();
        assert_eq!(drill(gauges.clone()).misses_psi()[4], None);
        assert_eq!(drill(gauges).losses().len(), 1);
    }

    #[test]
    fn of_no_loss_there_is_no_percentage() {
        let same =
            drill(vec![gauge(Station::Main, 0.0, 60.0, Some(60.0)), gauge(Station::Hydrant, 0.0, 60.0, Some(59.0))]);
        assert_eq!(same.losses()[0].miss_percent(), None);
        assert_eq!(mean_miss_percent_of_loss(&[]), None);
    }
}
