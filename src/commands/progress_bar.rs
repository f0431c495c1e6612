//! How far a long piece of work is, on standard error.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar for so many takes; where standard error is no terminal, nothing is drawn.
pub fn of(takes: usize) -> ProgressBar {
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} takes, {eta} to go");
    let bar = ProgressBar::new(takes as u64);
    match style {
        Ok(style) => bar.with_style(style.progress_chars("=> ")),
        Err(error) => unreachable!("the template is a good one: {error}"),
    }
}
