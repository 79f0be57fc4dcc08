//! Reading and writing whole files in memory.

use chrono::{DateTime, NaiveDate, Utc};
use longlay_exchange::fault::Faults;
use longlay_exchange::kind::Exchanged;
use longlay_exchange::read::{self, Item, Reading, Source, Spoken};
use longlay_exchange::write::{Format, Writer};
use uuid::Uuid;

pub(crate) fn now() -> DateTime<Utc> {
    "2026-11-25T12:00:00Z".parse().unwrap()
}

pub(crate) fn new_id() -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(1, &[7; 10]).into_uuid()
}

pub(crate) fn reading(source: Source) -> Reading<'static> {
    Reading {
        source,
        spoken: Spoken::Query,
        ignore_unknown_columns: false,
        date_format: None,
        now: now(),
        latest_day: NaiveDate::from_ymd_opt(2026, 11, 26).unwrap(),
        new_id: &new_id,
    }
}

pub(crate) fn written<T: Exchanged>(records: &[T], format: Format) -> Vec<u8> {
    let mut writer = Writer::new(format);
    let mut out = Vec::new();
    writer.begin(&mut out);
    for record in records {
        writer.record(record, &mut out);
    }
    writer.end(&mut out);
    out
}

pub(crate) fn csv<T: Exchanged>(text: &str) -> Result<Vec<Item<T>>, Faults> {
    read::records(text.as_bytes(), &reading(Source::Csv)).map(|read| read.items)
}

pub(crate) fn records<T: Exchanged>(bytes: &[u8], source: Source) -> Vec<T> {
    let read = read::records::<T>(bytes, &reading(source));
    let items = read.unwrap_or_else(|faults| panic!("{faults:?} in {}", String::from_utf8_lossy(bytes))).items;
    assert!(items.iter().all(|item| item.is_named));
    items.into_iter().map(|item| item.record).collect()
}

/// Each fault as `row column code`.
pub(crate) fn told(faults: &Faults) -> Vec<String> {
    let column = |column: &Option<String>| column.clone().unwrap_or_else(|| "-".to_owned());
    faults.kept().iter().map(|fault| format!("{} {} {}", fault.row, column(&fault.column), fault.code)).collect()
}
