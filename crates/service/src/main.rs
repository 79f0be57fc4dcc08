//! The binary `longlay`.

use std::process::ExitCode;

/// An import makes and drops a dozen small values a row, on one thread and another: the system's allocator took nearly half of its time.
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> ExitCode {
    longlay_service::cli::run()
}
