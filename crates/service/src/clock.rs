//! The only place that reads the time or makes an id: both are parameters everywhere else, so that tests compare whole answers.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use uuid::{ContextV7, Timestamp, Uuid};

/// The time now, from the system or from a test.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> DateTime<Utc> + Send + Sync>);

impl Clock {
    /// The system's time.
    #[expect(clippy::disallowed_methods, reason = "this is the one clock file")]
    pub fn system() -> Self {
        Self(Arc::new(Utc::now))
    }

    /// A time that stands still.
    pub fn fixed(at: DateTime<Utc>) -> Self {
        Self(Arc::new(move || at))
    }

    /// The time now.
    pub fn now(&self) -> DateTime<Utc> {
        (self.0)()
    }

    /// Today in UTC.
    pub fn today(&self) -> NaiveDate {
        self.now().date_naive()
    }

    /// The latest day it now is anywhere: a department east of Greenwich tests hydrants on a day that UTC has not reached.
    pub fn latest_today(&self) -> NaiveDate {
        const EASTERNMOST: TimeDelta = TimeDelta::hours(14);
        (self.now() + EASTERNMOST).date_naive()
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Clock").field(&self.now()).finish()
    }
}

/// Where ids of things without a number of their own come from: UUID version 7 of the clock's time.
#[derive(Clone)]
pub struct Ids(Arc<Mutex<dyn FnMut(DateTime<Utc>) -> Uuid + Send>>);

impl Ids {
    /// Random behind the time; those of one millisecond still rise.
    pub fn random() -> Self {
        let context = ContextV7::new();
        Self(Arc::new(Mutex::new(move |at: DateTime<Utc>| {
            let seconds = u64::try_from(at.timestamp()).unwrap_or_default();
            Uuid::new_v7(Timestamp::from_unix(&context, seconds, at.timestamp_subsec_nanos()))
        })))
    }

    /// The time, then 1, 2, 3: the same in every run.
    pub fn counted() -> Self {
        let mut count = 0_u64;
        Self(Arc::new(Mutex::new(move |at: DateTime<Utc>| {
            count += 1;
            let mut tail = [0; 10];
            tail[2..].copy_from_slice(&count.to_be_bytes());
            let millis = u64::try_from(at.timestamp_millis()).unwrap_or_default();
            uuid::Builder::from_unix_timestamp_millis(millis, &tail).into_uuid()
        })))
    }

    /// The next id.
    pub fn next(&self, now: DateTime<Utc>) -> Uuid {
        // A panic while holding the lock leaves a counter that still only rises.
        let mut make = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        make(now)
    }
}

impl fmt::Debug for Ids {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Ids")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noon() -> DateTime<Utc> {
        "2026-11-25T12:00:00Z".parse().unwrap()
    }

    #[test]
    fn ids_of_one_instant_rise() {
        for ids in [Ids::random(), Ids::counted()] {
            let made: Vec<_> = (0..1000).map(|_| ids.next(noon())).collect();
            assert!(made.is_sorted_by(|a, b| a < b));
            assert!(made.iter().all(|id| id.get_version_num() == 7));
        }
    }

    #[test]
    fn the_latest_day_is_that_of_the_easternmost_clock() {
        assert_eq!(Clock::fixed(noon()).today().to_string(), "2026-11-25");
        assert_eq!(Clock::fixed(noon()).latest_today().to_string(), "2026-11-26");
    }
}
