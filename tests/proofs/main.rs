//! Proofs that records are kept: each brings one fault on, and says what it counted. `proofs` runs them all, `proofs kill_loop
//! wal_cuts` some. Sizes are for CI; `PROOF_LONG=1` is the long run, `PROOF_SEED` repeats a drawing.

#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a proof fails by panicking, as a test does, and prints what it counted"
)]

mod backup;
mod bodies;
mod disk_full;
mod fsyncs;
mod ground;
mod kill_imports;
mod kill_loop;
mod kill_writes;
mod model;
mod mount;
mod random;
mod read_only;
mod server;
mod sheets;
mod stopping;
mod wal_cuts;
mod wire;

use std::time::Instant;

use ground::Ground;

const PROOFS: [&str; 8] = ["model", "backup", "wal_cuts", "fsyncs", "disk_full", "read_only", "stopping", "kill_loop"];

#[tokio::main]
async fn main() {
    let asked: Vec<_> = std::env::args().skip(1).collect();
    let ground = Ground::of_environment();
    let names: Vec<_> = if asked.is_empty() { PROOFS.map(str::to_owned).to_vec() } else { asked };
    for name in names {
        println!("{name}: from seed {}", ground.seed);
        let begun = Instant::now();
        let counted = prove(&name, ground).await;
        println!("{name}: {counted} ({:.1} s)", begun.elapsed().as_secs_f64());
    }
}

async fn prove(name: &str, ground: Ground) -> String {
    match name {
        "backup" => backup::prove(ground).await,
        "model" => model::prove(ground).await,
        "wal_cuts" => wal_cuts::prove(ground).await,
        "fsyncs" => fsyncs::prove(ground).await,
        "disk_full" => disk_full::prove(ground).await,
        "read_only" => read_only::prove(ground).await,
        "stopping" => stopping::prove(ground).await,
        "kill_loop" => kill_loop::prove(ground).await,
        other => panic!("{other} is no proof: {}", PROOFS.join(", ")),
    }
}
