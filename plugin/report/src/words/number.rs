//! Numbers as text: one decimal, a unit, and no negative zero.

use brunt_engine::InputHealth;

use crate::report::Source;

/// Stands for a number that is not known.
pub const UNKNOWN: &str = "unknown";

/// One decimal, without a negative zero.
fn one_decimal(x: f64) -> String {
    let text = format!("{x:.1}");
    if text == "-0.0" { "0.0".to_owned() } else { text }
}

/// A number with its unit, such as `-14.2 LUFS`; [`UNKNOWN`] without one.
#[must_use]
pub fn value(x: Option<f64>, unit: &str) -> String {
    match x {
        Some(x) if x.is_finite() => join(&one_decimal(x), unit),
        _ => UNKNOWN.to_owned(),
    }
}

/// The same with a sign, for differences: `+1.3 dB`.
#[must_use]
pub fn signed(x: Option<f64>, unit: &str) -> String {
    match x {
        Some(x) if x.is_finite() => {
            let text = one_decimal(x);
            let sign = if text.starts_with('-') || text == "0.0" { "" } else { "+" };
            join(&format!("{sign}{text}"), unit)
        }
        _ => UNKNOWN.to_owned(),
    }
}

/// A time on an axis or of a section: `1:05`, or `1:02:05` from an hour on.
#[must_use]
pub fn clock(s: f64) -> String {
    let s = s.max(0.0).round() as u64;
    let (h, m, s) = (s / 3600, s / 60 % 60, s % 60);
    if h > 0 { format!("{h}:{m:02}:{s:02}") } else { format!("{m}:{s:02}") }
}

/// A range with its unit, such as `1.8 to 4.6 dB`.
#[must_use]
pub fn span(low: f64, high: f64, unit: &str) -> String {
    join(&format!("{} to {}", one_decimal(low), one_decimal(high)), unit)
}

/// A count with its noun, such as `1 hit` and `12 hits`.
#[must_use]
pub fn count(n: u64, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// How many samples were no audio, and what was made of them; `None` where all were.
#[must_use]
pub fn input_says(input: &InputHealth) -> Option<String> {
    (input.nan_samples > 0 || input.inf_samples > 0).then(|| {
        format!(
            "{} not a number, {} infinite or over +60 dBFS: measured as silence",
            count(input.nan_samples, "sample"),
            input.inf_samples,
        )
    })
}

/// A time from the start of the programme: `12.345 s`, or `3:05.120` from one minute on.
#[must_use]
pub fn seconds(s: f64) -> String {
    let ms = (s.max(0.0) * 1_000.0).round() as u64;
    if ms < 60_000 {
        format!("{}.{:03} s", ms / 1_000, ms % 1_000)
    } else {
        format!("{}:{:02}.{:03}", ms / 60_000, ms / 1_000 % 60, ms % 1_000)
    }
}

fn join(number: &str, unit: &str) -> String {
    if unit.is_empty() { number.to_owned() } else { format!("{number} {unit}") }
}

/// The measured stream in one line: channels, rate, length, and where the passage starts.
#[must_use]
pub fn stream(mix: &Source) -> String {
    let channels = if mix.channels == 1 { "mono" } else { "stereo" };
    let rate = mix.sample_rate_hz / 1_000.0;
    let mut facts = format!("{channels}, {rate} kHz, {}", seconds(mix.duration_s));
    if mix.from_s > 0.0 {
        facts.push_str(&format!(" from {}", seconds(mix.from_s)));
    }
    facts
}

/// A step to try, dB, in halves: at least half a decibel, at most 6 dB at a time.
pub(super) fn step(db: f64) -> String {
    value(Some(((db * 2.0).round() / 2.0).clamp(0.5, 6.0)), "dB")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_a_clock() {
        assert_eq!(
            (clock(5.0), clock(125.0), clock(3725.0)),
            ("0:05".into(), "2:05".into(), "1:02:05".into())
        );
    }

    #[test]
    fn numbers_carry_their_unit_and_no_negative_zero() {
        assert_eq!(value(Some(-14.24), "LUFS"), "-14.2 LUFS");
        assert_eq!(value(Some(-0.04), "dB"), "0.0 dB");
        assert_eq!(value(None, "dB"), "unknown");
        assert_eq!(value(Some(f64::NAN), "dB"), "unknown");
        assert_eq!(signed(Some(1.26), "dB"), "+1.3 dB");
        assert_eq!(signed(Some(-1.26), "dB"), "-1.3 dB");
        assert_eq!(signed(Some(-0.01), "dB"), "0.0 dB");
        assert_eq!(span(1.84, 4.6, "dB"), "1.8 to 4.6 dB");
    }

    #[test]
    fn counts_and_times_read_as_a_person_writes_them() {
        assert_eq!(count(1, "hit"), "1 hit");
        assert_eq!(count(0, "hit"), "0 hits");
        assert_eq!(seconds(12.3454), "12.345 s");
        assert_eq!(seconds(59.9996), "1:00.000");
        assert_eq!(seconds(185.12), "3:05.120");
    }
}
