//! A progress bar on long files, where somebody is there to see it.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::analyse::Progress;

/// Audio from which a bar is shown, s: shorter files are done before it would be read.
const LONG_S: f64 = 60.0;

/// The bar. Drawn on standard error, and only on a terminal.
pub(super) struct Bar {
    bar: Option<ProgressBar>,
    quiet: bool,
}

impl Bar {
    pub(super) fn new(quiet: bool) -> Self {
        Self { bar: None, quiet }
    }

    pub(super) fn show(&mut self, progress: Progress) {
        let rate = f64::from(progress.sample_rate_hz);
        let length = progress.total.unwrap_or(progress.done);
        if self.quiet || length as f64 / rate < LONG_S {
            return;
        }
        let bar = self.bar.get_or_insert_with(|| new_bar(progress.total.is_some()));
        let seconds = |frames: u64| (frames as f64 / rate) as u64;
        if let Some(total) = progress.total {
            bar.set_length(seconds(total));
        }
        bar.set_position(seconds(progress.done));
    }

    /// Says what is done now, where the files were long enough for a bar.
    pub(super) fn stage(&mut self, what: &str) {
        if let Some(bar) = &self.bar {
            if let Ok(style) = ProgressStyle::with_template("{spinner} {msg}") {
                bar.set_style(style);
            }
            bar.enable_steady_tick(Duration::from_millis(250));
            bar.set_message(what.to_owned());
        }
    }

    pub(super) fn clear(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

fn new_bar(length_known: bool) -> ProgressBar {
    let template = if length_known {
        "measuring [{bar:40}] {pos} of {len} s"
    } else {
        "measuring {spinner} {pos} s"
    };
    // Hidden by the library where standard error is no terminal.
    let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr_with_hz(8));
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("=> "));
    }
    if !length_known {
        bar.enable_steady_tick(Duration::from_millis(250));
    }
    bar
}
