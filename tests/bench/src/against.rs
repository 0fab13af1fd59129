//! Ratios against the `ebur128` crate, at the rates and blocks that hosts use.

use std::error::Error;
use std::time::Duration;

use crate::signal::{self, Planes};
use crate::turn::{measure, measure_reference, meter, reference, time};

/// Turns of each; the quickest counts.
const TURNS: usize = 9;

/// Prints the table.
pub fn print(short: bool) -> Result<(), Box<dyn Error>> {
    let seconds = if short { 5.0 } else { 20.0 };
    println!(
        "Ratios: stereo, {seconds} s a turn, quickest of {TURNS} turns; ns a frame of one bus"
    );
    println!(
        "{:<8} {:<6} {:<24} {:>10} {:>10} {:>7} {:>9}",
        "rate", "block", "what", "Brunt", "ebur128", "ratio", "one core"
    );
    for rate in [48_000u32, 96_000] {
        let song = signal::song(rate, seconds);
        let limited = signal::limited(&song);
        for block in [64, 512] {
            let one = compare(rate, block, &limited, None)?;
            line(rate, block, "main", &one, 1);
            let two = compare(rate, block, &limited, Some(&song))?;
            line(rate, block, "main and side-chain", &two, 2);
        }
    }
    Ok(())
}

/// Time of a whole turn: ours, and the reference's.
struct Times {
    ours: Duration,
    reference: Duration,
    frames: usize,
}

fn compare(
    rate: u32,
    block: usize,
    main: &Planes,
    side: Option<&Planes>,
) -> Result<Times, Box<dyn Error>> {
    let mut times = Times { ours: Duration::MAX, reference: Duration::MAX, frames: main.frames() };
    for _ in 0..TURNS {
        let mut meter = meter(rate, side.is_some())?;
        times.ours = times.ours.min(time(|| measure(&mut meter, main, side, block)));
        std::hint::black_box(meter.readings());
        let mut sum = Duration::ZERO;
        for bus in [Some(main), side].into_iter().flatten() {
            let mut reference = reference(rate)?;
            sum += time(|| measure_reference(&mut reference, bus, block));
        }
        times.reference = times.reference.min(sum);
    }
    Ok(times)
}

fn line(rate: u32, block: usize, what: &str, times: &Times, buses: u32) {
    let per_frame =
        |time: Duration| time.as_secs_f64() * 1e9 / (times.frames as f64 * f64::from(buses));
    let share = times.ours.as_secs_f64() / (times.frames as f64 / f64::from(rate));
    println!(
        "{rate:<8} {block:<6} {what:<24} {:>10.1} {:>10.1} {:>7.2} {:>8.2}%",
        per_frame(times.ours),
        per_frame(times.reference),
        times.ours.as_secs_f64() / times.reference.as_secs_f64(),
        100.0 * share
    );
}
