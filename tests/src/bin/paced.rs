//! Asks at a steady rate, whether answers come or not, and tells how long each kind of question took from when it was due: for `tests/bench/dispatch`.

use std::collections::BTreeMap;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use tokio::task::JoinSet;
use tokio::time::{MissedTickBehavior, interval};

const USAGE: &str = "paced FILE RATE SECONDS: each line of FILE is a kind and an address; of every kind RATE addresses a second are asked, in turn. The key is in PACED_KEY";

#[tokio::main]
async fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().and_then(|path| std::fs::read_to_string(path).ok());
    let mut number = || arguments.next().and_then(|text| text.parse::<u32>().ok()).filter(|number| *number > 0);
    let (Some(file), Some(rate), Some(seconds)) = (file, number(), number()) else {
        eprintln!("{USAGE}");
        return ExitCode::FAILURE;
    };
    let mut kinds: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (kind, address) in file.lines().filter_map(|line| line.split_once(' ')) {
        kinds.entry(kind).or_default().push(address.to_owned());
    }
    let mut failed = false;
    for (kind, answers) in asked(&kinds, rate, seconds).await {
        failed |= answers.failures > 0;
        let at = |share: f64| answers.at(share).map_or(f64::NAN, |took| took.as_secs_f64() * 1e3);
        let (count, failures) = (answers.took.len(), answers.failures);
        println!(
            "{kind} count {count} failures {failures} p50_ms {:.3} p99_ms {:.3} most_ms {:.3}",
            at(0.5),
            at(0.99),
            at(1.0)
        );
    }
    if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

#[derive(Default)]
struct Answers {
    took: Vec<Duration>,
    failures: usize,
}

impl Answers {
    /// Within what time so large a share of them came.
    fn at(&self, share: f64) -> Option<Duration> {
        let mut took = self.took.clone();
        took.sort_unstable();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "a rank"
        )]
        let rank = (share * took.len() as f64).ceil() as usize;
        took.get(rank.saturating_sub(1)).copied()
    }
}

async fn asked<'a>(kinds: &BTreeMap<&'a str, Vec<String>>, rate: u32, seconds: u32) -> BTreeMap<&'a str, Answers> {
    let client = reqwest::Client::new();
    let key = std::env::var("PACED_KEY").unwrap_or_default();
    let mut ticks = interval(Duration::from_secs(1) / rate);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Burst);
    let mut asked = JoinSet::new();
    for turn in 0..rate as usize * seconds as usize {
        let due = ticks.tick().await.into_std();
        for (kind, addresses) in kinds {
            let request = client.get(&addresses[turn % addresses.len()]).bearer_auth(&key);
            let kind = (*kind).to_owned();
            asked.spawn(async move {
                let whole = match request.send().await.and_then(reqwest::Response::error_for_status) {
                    Ok(answer) => answer.bytes().await.is_ok(),
                    Err(_) => false,
                };
                (kind, Instant::now().duration_since(due), whole)
            });
        }
    }
    let mut answers: BTreeMap<&str, Answers> = kinds.keys().map(|kind| (*kind, Answers::default())).collect();
    while let Some(done) = asked.join_next().await {
        let Ok((kind, took, whole)) = done else { continue };
        if let Some(own) = answers.get_mut(kind.as_str()) {
            own.took.push(took);
            own.failures += usize::from(!whole);
        }
    }
    answers
}
