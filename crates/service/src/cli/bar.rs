//! How far a file has come, for whoever waits at a terminal.

use std::io::{self, IsTerminal};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar over so many records; nothing where nobody looks.
pub(super) fn bar(records: u64) -> ProgressBar {
    if !is_seen() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(records), ProgressDrawTarget::stderr());
    match ProgressStyle::with_template("{wide_bar} {human_pos}/{human_len} {eta}") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// Whether anybody would see it.
pub(super) fn is_seen() -> bool {
    io::stderr().is_terminal()
}
