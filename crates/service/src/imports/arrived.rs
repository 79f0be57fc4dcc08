//! A file's records, each with the row it stood in.

use std::fs::File;
use std::io::BufReader;

use longlay_exchange::fault::Faults;
use longlay_exchange::kind::{Exchanged, Kind, column_naming};
use longlay_exchange::read::{self, Item, Reading, Records, Spoken};
use longlay_records::demand::DemandPoint;
use longlay_records::flow_test::FlowTest;
use longlay_store::{ArrivingTest, Batch, Imported, Refusal};

/// What a file holds.
#[derive(Debug)]
pub(crate) struct Arrived {
    /// Its records.
    pub(crate) batch: Batch,
    /// The row of each.
    pub(crate) rows: Vec<u64>,
    /// The columns that were passed over.
    pub(crate) ignored_columns: Vec<String>,
    /// Those records of which the file gave an area, by their index.
    pub(crate) of_area: Vec<usize>,
    /// How its sender says what is wanted.
    spoken: Spoken,
    /// SHA-256 of the file.
    pub(crate) sha256: [u8; 32],
}

impl Arrived {
    /// Reads a file from where it stands. Takes as long as the file is large: not for a thread that answers others.
    pub(crate) fn read(kind: Kind, file: File, sha256: [u8; 32], reading: &Reading<'_>) -> Result<Self, Faults> {
        let file = BufReader::new(file);
        let mut of_area = Vec::new();
        let (rows, batch, ignored_columns) = match kind {
            Kind::Hydrants => records(file, reading, Batch::Hydrants),
            Kind::FlowTests => flow_tests(file, reading),
            Kind::HoseTypes => records(file, reading, Batch::HoseTypes),
            Kind::Appliances => records(file, reading, Batch::Appliances),
            Kind::HydrantValves => records(file, reading, Batch::HydrantValves),
            Kind::Pumpers => records(file, reading, Batch::Pumpers),
            Kind::LayProfiles => records(file, reading, Batch::LayProfiles),
            Kind::DemandPoints => demand_points(file, reading, &mut of_area),
        }?;
        Ok(Self { batch, rows, ignored_columns, of_area, spoken: reading.spoken, sha256 })
    }

    /// What the store refused, at the rows it stood in.
    pub(crate) fn faults(&self, imported: &Imported) -> Faults {
        let mut faults = Faults::default();
        for (index, refusal) in &imported.refused {
            let (column, code) = match refusal {
                Refusal::UnknownReference(_, id) => (self.column_naming(*index, id), "unknown_reference"),
                Refusal::ReadOnly(..) => (Some("id"), "read_only_record"),
                Refusal::TestDiffers(_) => (Some("id"), "test_differs"),
                Refusal::TestNotVoided(_) => (Some("voided_at"), "test_differs"),
                Refusal::ReturnsToService(..) => (Some("in_service"), "returns_to_service"),
            };
            let mut detail = refusal.to_string();
            if matches!(refusal, Refusal::ReturnsToService(..)) {
                let say = self.spoken.switch("return_to_service");
                detail = format!("{detail}: say {say} where it was found to work, or give in_service no");
            }
            faults.note(self.row(*index), column, code, detail);
        }
        faults
    }

    /// The row of a record.
    pub(crate) fn row(&self, index: usize) -> u64 {
        self.rows.get(index).copied().unwrap_or_default()
    }

    fn column_naming(&self, index: usize, id: &str) -> Option<&'static str> {
        match &self.batch {
            Batch::Hydrants(records) => column_naming(records.get(index)?, id),
            Batch::FlowTests(tests) => column_naming(&tests.get(index)?.test, id),
            Batch::HoseTypes(records) => column_naming(records.get(index)?, id),
            Batch::Appliances(records) => column_naming(records.get(index)?, id),
            Batch::HydrantValves(records) => column_naming(records.get(index)?, id),
            Batch::Pumpers(records) => column_naming(records.get(index)?, id),
            Batch::LayProfiles(records) => column_naming(records.get(index)?, id),
            Batch::DemandPoints(records) => column_naming(records.get(index)?, id),
        }
    }
}

/// The row of each record, the records, and the columns that were passed over.
type Held = (Vec<u64>, Batch, Vec<String>);

fn records<T: Exchanged>(
    file: BufReader<File>,
    reading: &Reading<'_>,
    batch: fn(Vec<T>) -> Batch,
) -> Result<Held, Faults> {
    let Records { items, ignored_columns } = read::records::<T>(file, reading)?;
    let (rows, records) = items.into_iter().map(|item| (item.row, item.record)).unzip();
    Ok((rows, batch(records), ignored_columns))
}

fn demand_points(file: BufReader<File>, reading: &Reading<'_>, of_area: &mut Vec<usize>) -> Result<Held, Faults> {
    let Records { items, ignored_columns } = read::records::<DemandPoint>(file, reading)?;
    of_area.extend(items.iter().enumerate().filter(|(_, item)| item.is_of_area).map(|(index, _)| index));
    let (rows, points) = items.into_iter().map(|item| (item.row, item.record)).unzip();
    Ok((rows, Batch::DemandPoints(points), ignored_columns))
}

fn flow_tests(file: BufReader<File>, reading: &Reading<'_>) -> Result<Held, Faults> {
    let Records { items, ignored_columns } = read::records::<FlowTest>(file, reading)?;
    let arriving = |Item { row, is_named, record, .. }| (row, ArrivingTest { test: record, is_named });
    let (rows, tests) = items.into_iter().map(arriving).unzip();
    Ok((rows, Batch::FlowTests(tests), ignored_columns))
}
