//! Nothing is acknowledged before the disk was told to keep it: between each request and its answer the write-ahead log is
//! flushed at least once. Killing cannot show that, because the kernel still writes what a dead process left.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use longlay_service::clock::Clock;
use reqwest::Method;

use crate::bodies;
use crate::ground::Ground;
use crate::server::Town;

pub(crate) async fn prove(ground: Ground) -> String {
    if Command::new("strace").arg("-V").output().is_err() {
        return "SKIPPED: strace is not here".to_owned();
    }
    let writes = ground.size(200, 2000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let trace = folder.path().join("trace");
    let mut town = Town::at(folder.path().join("town.db"));
    let words = ["strace", "-f", "-ttt", "-T", "-y", "-qq", "-e", "trace=fsync,fdatasync", "-o"];
    town.under = words.into_iter().map(str::to_owned).chain([trace.display().to_string()]).collect();
    let server = town.start();
    let clock = Clock::system();
    let mut acknowledged = Vec::new();
    for number in 0..writes {
        let sent = seconds(&clock);
        if number % 2 == 0 {
            server.put("H-1", &bodies::hydrant(number)).await.good();
        } else {
            let key = format!("fsync-{number}");
            let body = bodies::flow_test(number);
            let path = "/v1/hydrants/H-1/flow-tests";
            server.send(Method::POST, path, &[("idempotency-key", &key)], Some(&body)).await.expect("an answer").good();
        }
        acknowledged.push((sent, seconds(&clock)));
    }
    // The tracer would stop no one: the traced program is its child, and both end.
    stop_child(&server);
    drop(server);
    let flushed = flushes(&trace);
    for (n, (sent, answered)) in acknowledged.iter().enumerate() {
        let within = |(begun, done): &&(f64, f64)| begun >= sent && done <= answered;
        assert!(flushed.iter().any(|flush| within(&flush)), "write {n} was acknowledged before the log was flushed");
    }
    format!(
        "{writes} acknowledged writes, {} flushes of the log, each write with one of its own between request and answer",
        flushed.len()
    )
}

#[expect(clippy::cast_precision_loss, reason = "microseconds of this century fit")]
fn seconds(clock: &Clock) -> f64 {
    clock.now().timestamp_micros() as f64 / 1e6
}

fn stop_child(server: &crate::server::Server) {
    let process = server.process();
    let children = fs::read_to_string(format!("/proc/{process}/task/{process}/children")).expect("its children");
    for child in children.split_whitespace() {
        crate::server::signal(child.parse().expect("a process"), "TERM");
    }
    std::thread::sleep(Duration::from_secs(1));
}

/// When flushes of the log began and were done.
fn flushes(trace: &Path) -> Vec<(f64, f64)> {
    let text = fs::read_to_string(trace).expect("a trace");
    let mut begun: std::collections::BTreeMap<&str, f64> = std::collections::BTreeMap::new();
    let mut flushes = Vec::new();
    for line in text.lines() {
        let mut words = line.split_whitespace();
        let (Some(thread), Some(at)) = (words.next(), words.next().and_then(|at| at.parse::<f64>().ok())) else {
            continue;
        };
        if line.contains("resumed>") {
            let taken = taken(line).zip(begun.remove(thread));
            flushes.extend(taken.map(|(taken, begun)| (begun, begun + taken)));
        } else if line.contains("-wal>") {
            if line.contains("<unfinished") {
                begun.insert(thread, at);
            } else if line.contains("= 0 <") {
                flushes.extend(taken(line).map(|taken| (at, at + taken)));
            }
        }
    }
    flushes
}

/// How long a call took that went well.
fn taken(line: &str) -> Option<f64> {
    let (_, after) = line.split_once("= 0 <")?;
    after.trim_end_matches('>').parse().ok()
}
