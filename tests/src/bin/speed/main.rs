//! `speed`: what the meter costs beside the `ebur128` crate on the same audio in the same run.
//!
//! Both take turns on the same blocks, so that a busy machine slows both; the figure of a turn is
//! the quickest of [`TURNS`], and only the ratio is a claim. `ebur128` runs with the modes M, S, I,
//! LRA and TRUE_PEAK, and is asked for nothing while it runs.

mod signal;

use std::error::Error;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use brunt_engine::{Config, Meter, SideRole};
use ebur128::{EbuR128, Mode};

/// Turns of each; the quickest counts.
const TURNS: usize = 7;
/// Audio of one turn, s.
const SECONDS: f64 = 20.0;

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("speed: {error}");
            ExitCode::from(2)
        }
    }
}

fn run() -> Result<(), Box<dyn Error>> {
    println!("stereo, {SECONDS} s a turn, quickest of {TURNS} turns; ns a frame of one bus\n");
    println!(
        "{:<8} {:<6} {:<24} {:>10} {:>10} {:>7} {:>9}",
        "rate", "block", "what", "Brunt", "ebur128", "ratio", "one core"
    );
    for rate in [48_000u32, 96_000] {
        let signal = signal::song(rate, SECONDS);
        let other = signal::limited(&signal);
        for block in [64, 512] {
            let one = compare(rate, block, &other, None)?;
            line(rate, block, "main", &one, 1);
            let two = compare(rate, block, &other, Some(&signal))?;
            line(rate, block, "main and side-chain", &two, 2);
        }
    }
    println!();
    for (what, side) in [("main", false), ("main and side-chain", true)] {
        let signal = signal::song(48_000, SECONDS);
        let limited = signal::limited(&signal);
        spread(what, &limited, side.then_some(&signal))?;
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
    main: &signal::Planes,
    side: Option<&signal::Planes>,
) -> Result<Times, Box<dyn Error>> {
    let mut times = Times { ours: Duration::MAX, reference: Duration::MAX, frames: main.frames() };
    for _ in 0..TURNS {
        let mut meter = meter(rate, side.is_some())?;
        times.ours = times.ours.min(time(|| {
            for (main, side) in blocks(main, side, block) {
                meter.process(&main, side.as_ref().map(|side| &side[..]), &mut ());
            }
        }));
        std::hint::black_box(meter.readings());
        let mut sum = Duration::ZERO;
        for bus in [Some(main), side].into_iter().flatten() {
            let mut reference = EbuR128::new(2, rate, Mode::all())?;
            sum += time(|| {
                for (main, _) in blocks(bus, None, block) {
                    // Planes of one length each: it cannot fail.
                    let _ = std::hint::black_box(reference.add_frames_planar_f32(&main));
                }
            });
        }
        times.reference = times.reference.min(sum);
    }
    Ok(times)
}

fn meter(rate: u32, side: bool) -> Result<Meter, Box<dyn Error>> {
    let mut meter = Meter::new(Config { sample_rate_hz: f64::from(rate), channels: 2 })?;
    if side {
        meter.set_side_role(SideRole::Before);
    }
    Ok(meter)
}

fn blocks<'a>(
    main: &'a signal::Planes,
    side: Option<&'a signal::Planes>,
    block: usize,
) -> impl Iterator<Item = ([&'a [f32]; 2], Option<[&'a [f32]; 2]>)> {
    (0..main.frames()).step_by(block).map(move |at| {
        let to = (at + block).min(main.frames());
        (main.part(at, to), side.map(|side| side.part(at, to)))
    })
}

fn time(work: impl FnOnce()) -> Duration {
    let started = Instant::now();
    work();
    started.elapsed()
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

/// The slowest blocks of 64 frames against the median block.
fn spread(
    what: &str,
    main: &signal::Planes,
    side: Option<&signal::Planes>,
) -> Result<(), Box<dyn Error>> {
    const BLOCK: usize = 64;
    const LEAST: usize = 100_000;
    let mut meter = meter(48_000, side.is_some())?;
    let mut times = Vec::with_capacity(2 * LEAST);
    while times.len() < LEAST {
        for (main, side) in blocks(main, side, BLOCK) {
            times.push(time(|| meter.process(&main, side.as_ref().map(|side| &side[..]), &mut ())));
        }
    }
    times.sort_unstable();
    let at = |q: f64| times[((times.len() - 1) as f64 * q) as usize].as_secs_f64() * 1e6;
    println!(
        "{what}: {} blocks of {BLOCK}: median {:.2} us, p99 {:.2}, p99.9 {:.2} ({:.1} times the \
         median), slowest {:.0}",
        times.len(),
        at(0.5),
        at(0.99),
        at(0.999),
        at(0.999) / at(0.5),
        at(1.0)
    );
    Ok(())
}
