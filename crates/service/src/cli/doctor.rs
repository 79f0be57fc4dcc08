//! `longlay doctor`: everything around a service that can go wrong, a line each, with what to do.

mod certificate;
mod start;

use std::env;
use std::path::Path;

use chrono::{DateTime, Utc};
use longlay_store::{Disk, inspect, is_served, sqlite_version};

use super::{Failure, tell};
use crate::clock::Clock;
use crate::config::{Given, Settings};
use crate::logs::{self, LogFormat};
use certificate::of_certificate;
use start::of_start;

/// A log larger than this was not folded in for a long time.
const LARGE_LOG_BYTES: u64 = 64 * 1024 * 1024;
/// Less room than this is soon none.
const LITTLE_ROOM_BYTES: u64 = 1024 * 1024 * 1024;
/// No day on which this program runs is before it was written.
const WRITTEN: &str = "2026-11-25T00:00:00Z";

/// How one thing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Ok,
    Warn,
    Fail,
}

/// One thing looked at: how it is, and what is found, with what to do.
#[derive(Debug)]
struct Finding(State, String);

pub(super) async fn run(given: &Given) -> Result<(), Failure> {
    let settings = Settings::settle(given, |name| env::var(name).ok())?;
    let database = settings.database()?;
    logs::start(LogFormat::Text)?;
    let now = Clock::system().now();
    let is_served = is_served(&database);
    let mut findings = of_start(&settings, !matches!(is_served, Ok(false))).await;
    let is_shared_allowed = settings.allow_network_folder().unwrap_or(false);
    match Disk::of(&database) {
        Ok(disk) => findings.extend(of_disk(&disk, is_shared_allowed)),
        Err(error) => findings.push(Finding(
            State::Fail,
            format!("{}: {error}. Give the path of the database that is served", database.display()),
        )),
    }
    findings.push(of_file(&database).await);
    findings.push(match is_served {
        Ok(true) => Finding(State::Ok, "a service has it open".to_owned()),
        Ok(false) => Finding(State::Ok, "no service has it open".to_owned()),
        Err(error) => Finding(
            State::Warn,
            format!("it cannot be told whether a service has it open: {error}. Ask as the user that serves"),
        ),
    });
    findings.push(of_sqlite().await);
    findings.push(of_clock(now));
    // What is wrong with the settings themselves is told already.
    if let Ok(tls) = settings.tls() {
        findings.extend(of_certificate(tls.as_ref(), now));
    }
    for Finding(state, said) in &findings {
        let state = match state {
            State::Ok => "ok",
            State::Warn => "warn",
            State::Fail => "fail",
        };
        tell(&format!("{state:<5} {said}"));
    }
    let failed = findings.iter().filter(|Finding(state, _)| *state == State::Fail).count();
    if failed > 0 { Err(Failure::Unwell(failed)) } else { Ok(()) }
}

fn of_disk(disk: &Disk, is_shared_allowed: bool) -> [Finding; 5] {
    let mib = |bytes: u64| bytes / (1024 * 1024);
    let folder = match disk.shared_by {
        None => Finding(State::Ok, "the folder is on a disk of this machine".to_owned()),
        Some(shared) => Finding(
            if is_shared_allowed { State::Warn } else { State::Fail },
            format!("the folder is {shared}, where the database can be corrupted: move it to a local disk"),
        ),
    };
    let writable = if disk.writable {
        Finding(State::Ok, "the file and its folder can be written by this user".to_owned())
    } else {
        Finding(State::Fail, "the file or its folder cannot be written: give both to the user that serves".to_owned())
    };
    let rights = match disk.mode {
        Some(mode) if mode & 0o077 != 0 => Finding(
            State::Warn,
            format!("others on this machine have rights on the file ({mode:o}): chmod 600 it, its -wal and its -shm"),
        ),
        _ => Finding(State::Ok, "the file is its owner's alone".to_owned()),
    };
    let free = mib(disk.free_bytes);
    let room = if disk.is_full() {
        Finding(State::Fail, format!("{free} MiB are free: nothing can be recorded until there is room"))
    } else if disk.free_bytes < LITTLE_ROOM_BYTES {
        Finding(State::Warn, format!("{free} MiB are free: make room before it is full"))
    } else {
        Finding(State::Ok, format!("{free} MiB are free"))
    };
    let log = mib(disk.log_bytes);
    let log = if disk.log_bytes > LARGE_LOG_BYTES {
        Finding(
            State::Warn,
            format!("the write-ahead log has {log} MiB: something reads without end; restart the service"),
        )
    } else {
        Finding(State::Ok, format!("the write-ahead log has {log} MiB"))
    };
    [folder, writable, rights, room, log]
}

async fn of_file(database: &Path) -> Finding {
    match inspect(database).await {
        Ok(sound) if sound.schema < sound.newest_schema => Finding(
            State::Warn,
            format!(
                "schema {} is brought up to {} when it is served: make a backup first",
                sound.schema, sound.newest_schema
            ),
        ),
        Ok(sound) => Finding(State::Ok, format!("the file is sound, schema {}", sound.schema)),
        Err(error) => {
            Finding(State::Fail, format!("{error}. Keep the file as it is, and restore the newest sound backup"))
        }
    }
}

async fn of_sqlite() -> Finding {
    match sqlite_version().await {
        Ok(version) => Finding(State::Ok, format!("SQLite {version}")),
        Err(error) => Finding(State::Fail, error.to_string()),
    }
}

fn of_clock(now: DateTime<Utc>) -> Finding {
    let written = WRITTEN.parse::<DateTime<Utc>>().unwrap_or_default();
    if now < written {
        return Finding(
            State::Fail,
            format!("the clock says {}, before this program was written: set it", now.format("%Y-%m-%d %H:%M UTC")),
        );
    }
    Finding(State::Ok, format!("the clock says {}", now.format("%Y-%m-%d %H:%M UTC")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound() -> Disk {
        Disk {
            shared_by: None,
            free_bytes: 1 << 40,
            database_bytes: 1,
            log_bytes: 1,
            writable: true,
            mode: Some(0o600),
        }
    }

    fn states(disk: &Disk) -> [State; 5] {
        of_disk(disk, false).map(|Finding(state, _)| state)
    }

    #[test]
    fn a_sound_disk_is_well_and_each_fault_of_it_is_told_by_itself() {
        use State::{Fail, Ok, Warn};
        assert_eq!(states(&sound()), [Ok; 5]);
        assert_eq!(states(&Disk { shared_by: Some("a FUSE folder"), ..sound() }), [Fail, Ok, Ok, Ok, Ok]);
        let Finding(state, _) = &of_disk(&Disk { shared_by: Some("a FUSE folder"), ..sound() }, true)[0];
        assert_eq!(*state, Warn, "`serve` was told to take it");
        assert_eq!(states(&Disk { writable: false, ..sound() }), [Ok, Fail, Ok, Ok, Ok]);
        assert_eq!(states(&Disk { mode: Some(0o640), ..sound() }), [Ok, Ok, Warn, Ok, Ok]);
        assert_eq!(states(&Disk { free_bytes: 1 << 29, ..sound() }), [Ok, Ok, Ok, Warn, Ok]);
        assert_eq!(states(&Disk { free_bytes: 1 << 20, ..sound() }), [Ok, Ok, Ok, Fail, Ok]);
        assert_eq!(states(&Disk { log_bytes: 1 << 30, ..sound() }), [Ok, Ok, Ok, Ok, Warn]);
    }

    #[test]
    fn a_clock_before_the_program_is_wrong() {
        assert_eq!(of_clock("1970-01-02T00:00:00Z".parse().unwrap()).0, State::Fail);
        assert_eq!(of_clock("2027-01-01T00:00:00Z".parse().unwrap()).0, State::Ok);
    }
}
