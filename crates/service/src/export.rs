//! A whole kind of record as a file, a piece at a time.

use longlay_exchange::kind::{Exchanged, Kind};
use longlay_exchange::write::{Format, Writer};
use longlay_records::demand::DemandPoint;
use longlay_records::equipment::{ApplianceType, HoseType, HydrantValveType, LayProfile, Pumper};
use longlay_records::flow_test::FlowTest;
use longlay_records::hydrant::Hydrant;
use longlay_store::{Listed, Snapshot, StoreError};

use crate::bulk::Pieces;

/// Records of one piece.
const RECORDS_AT_ONCE: u32 = 500;

/// The records of one type that are not written yet.
pub(crate) struct Records<T> {
    snapshot: Snapshot,
    writer: Writer<T>,
    after: Option<T>,
    written: u64,
    is_begun: bool,
    is_ended: bool,
}

impl<T: Exchanged + Listed> Records<T> {
    const fn new(snapshot: Snapshot, format: Format) -> Self {
        Self { snapshot, writer: Writer::new(format), after: None, written: 0, is_begun: false, is_ended: false }
    }

    async fn piece(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
        if self.is_ended {
            return Ok(None);
        }
        let mut bytes = Vec::new();
        if !self.is_begun {
            self.is_begun = true;
            self.writer.begin(&mut bytes);
        }
        let records = T::page(&mut self.snapshot, self.after.as_ref(), RECORDS_AT_ONCE).await?;
        for (record, place) in &records {
            self.writer.record_at(record, place.or_else(|| record.place()), &mut bytes);
        }
        self.written += records.len() as u64;
        if let Some((last, _)) = records.into_iter().next_back() {
            self.after = Some(last);
        } else {
            self.is_ended = true;
            self.writer.end(&mut bytes);
        }
        Ok((!bytes.is_empty()).then_some(bytes))
    }
}

/// The records of one kind, whichever it is.
macro_rules! kinds {
    ($($name:ident $record:ty;)*) => {
        pub(crate) enum Export {
            $($name(Records<$record>),)*
        }

        impl Export {
            /// Of this kind, in this format.
            pub(crate) const fn new(kind: Kind, snapshot: Snapshot, format: Format) -> Self {
                match kind {
                    $(Kind::$name => Self::$name(Records::new(snapshot, format)),)*
                }
            }

            /// How many records there are.
            pub(crate) async fn count(&mut self) -> Result<u64, StoreError> {
                match self {
                    $(Self::$name(records) => <$record>::count(&mut records.snapshot).await,)*
                }
            }

            /// How many of them are written.
            pub(crate) const fn written(&self) -> u64 {
                match self {
                    $(Self::$name(records) => records.written,)*
                }
            }
        }

        impl Pieces for Export {
            async fn next(&mut self) -> Result<Option<Vec<u8>>, StoreError> {
                match self {
                    $(Self::$name(records) => records.piece().await,)*
                }
            }
        }
    };
}

kinds! {
    Hydrants Hydrant;
    FlowTests FlowTest;
    HoseTypes HoseType;
    Appliances ApplianceType;
    HydrantValves HydrantValveType;
    Pumpers Pumper;
    LayProfiles LayProfile;
    DemandPoints DemandPoint;
}

/// Whether a kind is written in this format: only what has places is put on a map.
pub(crate) const fn is_written(kind: Kind, format: Format) -> bool {
    kind.has_places() || !matches!(format, Format::GeoJson)
}
