//! Progress of long work, on standard error when that is a terminal.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::answer::Answer;

/// A bar over `steps`; hidden where nobody would see it or quiet was asked for.
pub fn bar(answer: &Answer, what: &'static str, steps: u64) -> ProgressBar {
    let seen = std::io::stderr().is_terminal() && !answer.is_quiet();
    let target = if seen { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template("{msg} [{bar:32}] {pos}/{len}, {eta} left");
    let bar = ProgressBar::with_draw_target(Some(steps), target).with_message(what);
    match style {
        Ok(style) => bar.with_style(style.progress_chars("=> ")),
        Err(_) => bar,
    }
}
