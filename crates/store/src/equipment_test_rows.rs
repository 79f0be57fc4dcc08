//! Rows of the tests of equipment, read back and checked again.

use longlay_hydraulics::friction_test::TwoGaugeReading;
use longlay_hydraulics::pump_test::PumpReading;
use longlay_hydraulics::quantity::{IntakePressure, Length, MeterUncertainty, PositiveFlow, Pressure, Rise};
use longlay_records::equipment_test::{EquipmentTest, Leg, Measured, TwoGauges};
use longlay_records::flow_test::Voided;

use crate::error::StoreError;
use crate::rows::Row;

/// The leg's stored name.
pub(crate) const fn leg_name(leg: Leg) -> &'static str {
    match leg {
        Leg::Through => "through",
        Leg::ToPump => "to_pump",
        Leg::FromPump => "from_pump",
    }
}

/// A test with one of its readings.
pub(crate) struct TestRow {
    pub(crate) id: String,
    pub(crate) hose_type_id: Option<String>,
    pub(crate) appliance_id: Option<String>,
    pub(crate) hydrant_valve_id: Option<String>,
    pub(crate) pumper_id: Option<String>,
    pub(crate) leg: Option<String>,
    pub(crate) tested_on: String,
    pub(crate) method: String,
    pub(crate) length_ft: Option<f64>,
    pub(crate) rise_ft: Option<f64>,
    pub(crate) meter_uncertainty_percent: Option<f64>,
    pub(crate) notes: Option<String>,
    pub(crate) recorded_at: String,
    pub(crate) voided_at: Option<String>,
    pub(crate) void_reason: Option<String>,
    pub(crate) flow_gpm: Option<f64>,
    pub(crate) upstream_psi: Option<f64>,
    pub(crate) downstream_psi: Option<f64>,
}

impl TestRow {
    /// Flow and both gauges; none where the test has no reading at all.
    fn reading(&self) -> Option<(f64, f64, f64)> {
        Some((self.flow_gpm?, self.upstream_psi?, self.downstream_psi?))
    }
}

/// A test as its rows: each holds the test, and one of its readings.
pub(crate) struct StoredTest<'a> {
    pub(crate) row: &'a TestRow,
    pub(crate) readings: &'a [TestRow],
}

impl StoredTest<'_> {
    pub(crate) fn test(&self) -> Result<EquipmentTest, StoreError> {
        let stored = self.row;
        let row = self.of("equipment_tests");
        let voided = match (&stored.voided_at, &stored.void_reason) {
            (None, None) => None,
            (Some(at), Some(reason)) => Some(Voided { reason: reason.clone(), at: row.time(at)? }),
            _ => return Err(row.corrupt("voided without a reason, or a reason without being voided")),
        };
        Ok(EquipmentTest {
            id: row.uuid(&stored.id)?,
            measured: self.measured()?,
            tested_on: row.day(&stored.tested_on)?,
            method: stored.method.clone(),
            notes: stored.notes.clone(),
            recorded_at: row.time(&stored.recorded_at)?,
            voided,
        })
    }

    const fn of(&self, table: &'static str) -> Row<'_> {
        Row::of(table, self.row.id.as_str())
    }

    fn measured(&self) -> Result<Measured, StoreError> {
        let (stored, row) = (self.row, self.of("equipment_tests"));
        match (&stored.hose_type_id, &stored.appliance_id, &stored.hydrant_valve_id, &stored.pumper_id) {
            (Some(id), None, None, None) => Ok(Measured::Hose {
                hose_type_id: row.asset_id(id)?,
                length: row
                    .maybe(stored.length_ft, Length::from_ft)?
                    .ok_or_else(|| row.corrupt("hose without its length"))?,
                gauges: self.gauges()?,
            }),
            (None, Some(id), None, None) => {
                Ok(Measured::Appliance { appliance_id: row.asset_id(id)?, gauges: self.gauges()? })
            }
            (None, None, Some(id), None) => {
                Ok(Measured::ValveLeg { hydrant_valve_id: row.asset_id(id)?, leg: self.leg()?, gauges: self.gauges()? })
            }
            (None, None, None, Some(id)) => {
                Ok(Measured::Pumper { pumper_id: row.asset_id(id)?, readings: self.pump_readings()? })
            }
            _ => Err(row.corrupt("a test of nothing, or of several things")),
        }
    }

    fn leg(&self) -> Result<Leg, StoreError> {
        match self.row.leg.as_deref() {
            Some("through") => Ok(Leg::Through),
            Some("to_pump") => Ok(Leg::ToPump),
            Some("from_pump") => Ok(Leg::FromPump),
            other => Err(self.of("equipment_tests").corrupt(format_args!("{other:?} is no leg"))),
        }
    }

    fn gauges(&self) -> Result<TwoGauges, StoreError> {
        let (stored, row) = (self.row, self.of("equipment_tests"));
        let rise = row.maybe(stored.rise_ft, Rise::from_ft)?;
        let meter = row.maybe(stored.meter_uncertainty_percent, MeterUncertainty::from_percent)?;
        let (Some(rise), Some(meter)) = (rise, meter) else {
            return Err(row.corrupt("two gauges without a rise or a meter"));
        };
        let row = self.of("equipment_test_readings");
        let reading = |(gpm, upstream, downstream)| {
            Ok(TwoGaugeReading {
                flow: row.good(PositiveFlow::from_gpm(gpm))?,
                upstream: row.good(Pressure::from_psi(upstream))?,
                downstream: row.good(Pressure::from_psi(downstream))?,
            })
        };
        let readings = self.readings.iter().filter_map(TestRow::reading).map(reading).collect::<Result<_, _>>()?;
        Ok(TwoGauges { rise, meter, readings })
    }

    fn pump_readings(&self) -> Result<Vec<PumpReading>, StoreError> {
        let row = self.of("equipment_test_readings");
        let reading = |(gpm, intake, discharge)| {
            Ok(PumpReading {
                flow: row.good(PositiveFlow::from_gpm(gpm))?,
                intake: row.good(IntakePressure::from_psi(intake))?,
                discharge: row.good(Pressure::from_psi(discharge))?,
            })
        };
        self.readings.iter().filter_map(TestRow::reading).map(reading).collect()
    }
}
