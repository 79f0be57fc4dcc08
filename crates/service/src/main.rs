//! The binary `longlay`.

use std::process::ExitCode;

fn main() -> ExitCode {
    longlay_service::cli::run()
}
