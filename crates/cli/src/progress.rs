//! Progress of long work, on standard error when that is a terminal.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::output::Output;

/// A bar over `steps`; hidden where standard error is no terminal, or quiet was asked for.
pub fn bar(output: &Output, what: &'static str, steps: u64) -> ProgressBar {
    let seen = std::io::stderr().is_terminal() && !output.is_quiet();
    let target = if seen { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template("{msg} [{bar:32}] {pos}/{len}, {eta} left");
    let bar = ProgressBar::with_draw_target(Some(steps), target).with_message(what);
    match style {
        Ok(style) => bar.with_style(style.progress_chars("=> ")),
        Err(_) => bar,
    }
}
