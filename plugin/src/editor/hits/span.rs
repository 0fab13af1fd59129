//! Which part of the programme is in the picture, and where its lines stand.

use crate::display::Display;
use brunt_report::words::clock;

/// Wanted length of the picture, s. Ours: four bars at 120 beats a minute.
const LENGTH_S: f64 = 8.0;
/// Most bars in the picture.
const MAX_BARS: f64 = 8.0;

/// A line across the time axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Seconds since reset.
    pub time_s: f64,
    /// Number of the bar, or the time.
    pub label: String,
}

/// The stretch of time in the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// Its start, seconds since reset.
    pub from_s: f64,
    /// Its end.
    pub to_s: f64,
    /// Bar lines, or full seconds where the host gives no bars.
    pub lines: Vec<Line>,
    /// Whether `lines` are bars.
    pub bars: bool,
}

impl Span {
    /// The newest stretch of what was measured: whole bars where there are any.
    #[must_use]
    pub fn of(display: &Display) -> Self {
        let last_hit = display.hits.back().map_or(0.0, |placed| placed.hit.time_s);
        let now = display.readings.time_s.max(last_hit);
        let bar = bar_length(display, now);
        let length =
            bar.map_or(LENGTH_S, |bar| bar * (LENGTH_S / bar).round().clamp(1.0, MAX_BARS));
        let from_s = (now - length).max(0.0);
        let to_s = from_s + length;
        let lines = if bar.is_some() {
            let inside = |time: f64| (from_s..=to_s).contains(&time);
            let newest_first = display.bars.iter().rev().take_while(|bar| bar.time_s >= from_s);
            newest_first
                .filter(|bar| inside(bar.time_s))
                .map(|bar| Line { time_s: bar.time_s, label: bar.number.to_string() })
                .collect()
        } else {
            (from_s.ceil() as u64..=to_s.floor() as u64)
                .map(|s| Line { time_s: s as f64, label: label(s) })
                .collect()
        };
        Self { from_s, to_s, lines, bars: bar.is_some() }
    }

    /// Length, s.
    #[must_use]
    pub fn length_s(&self) -> f64 {
        self.to_s - self.from_s
    }
}

/// Length of the newest bar, s; `None` where the host gives no bars, or stopped giving them.
fn bar_length(display: &Display, now: f64) -> Option<f64> {
    let mut newest = display.bars.iter().rev();
    let (last, before) = (newest.next()?, newest.next()?);
    let length = last.time_s - before.time_s;
    // A jump of the song position puts two bar starts close together or far apart.
    let plausible = (0.2..=LENGTH_S).contains(&length);
    (plausible && now - last.time_s < LENGTH_S).then_some(length)
}

/// Seconds as `12 s`, from one minute on as a clock.
fn label(s: u64) -> String {
    if s < 60 { format!("{s} s") } else { clock(s as f64) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::BarLine;

    fn display(now: f64, bars: &[f64]) -> Display {
        let mut display = Display::default();
        display.readings.time_s = now;
        display.bars =
            bars.iter().zip(1..).map(|(&time_s, number)| BarLine { time_s, number }).collect();
        display
    }

    #[test]
    fn four_bars_at_120_beats_a_minute() {
        let span = Span::of(&display(
            21.0,
            &[0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0],
        ));
        assert!(span.bars);
        assert_eq!((span.from_s, span.to_s), (13.0, 21.0));
        let labels: Vec<&str> = span.lines.iter().map(|line| line.label.as_str()).collect();
        assert_eq!(labels, ["11", "10", "9", "8"]);
    }

    #[test]
    fn seconds_without_bars_or_when_they_stopped() {
        for (now, bars) in [(3.0, vec![]), (60.0, vec![0.0, 2.0, 4.0])] {
            let span = Span::of(&display(now, &bars));
            assert!(!span.bars, "{now}");
            assert_eq!(span.length_s(), 8.0);
            assert_eq!(span.lines.len(), 9);
        }
        assert_eq!(label(59), "59 s");
        assert_eq!(label(125), "2:05");
    }

    #[test]
    fn it_starts_at_the_left_and_fills_up() {
        let span = Span::of(&display(1.5, &[]));
        assert_eq!((span.from_s, span.to_s), (0.0, 8.0));
    }
}
