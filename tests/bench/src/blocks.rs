//! The slowest blocks of 64 frames against the median block.
//!
//! On a machine that does other things too, most of the slowest blocks are those in which another
//! program ran. So every block is played [`PASSES`] times, each time by a new meter that has heard
//! the same, and its quickest time counts: what the meter itself does slowly at a place of the
//! stream it does slowly each time.

use std::error::Error;

use crate::signal::{self, Planes};
use crate::turn::{blocks, meter, time};

const BLOCK: usize = 64;
const RATE: u32 = 48_000;
const PASSES: usize = 5;

/// Prints both lines.
pub fn print(short: bool) -> Result<(), Box<dyn Error>> {
    // Blocks of 64 frames at 48 kHz: 750 a second.
    let count = if short { 50_000 } else { 1_000_000 };
    println!(
        "\nBlocks: {count} of {BLOCK} frames at {RATE} Hz, us; first as they came in one pass, \
         then each block's quickest of {PASSES} passes"
    );
    let song = signal::song(RATE, 60.0);
    let limited = signal::limited(&song);
    for (what, side) in [("main", None), ("main and side-chain", Some(&song))] {
        let mut best = vec![u32::MAX; count];
        for pass in 0..PASSES {
            let times = pass_times(&limited, side, count)?;
            for (best, time) in best.iter_mut().zip(&times) {
                *best = (*best).min(*time);
            }
            if pass == 0 {
                line(&format!("{what}, as they came"), times);
            }
        }
        line(&format!("{what}, quickest"), best);
    }
    Ok(())
}

/// Time of each block, ns. The signal starts over where it ends.
fn pass_times(
    main: &Planes,
    side: Option<&Planes>,
    count: usize,
) -> Result<Vec<u32>, Box<dyn Error>> {
    let mut meter = meter(RATE, side.is_some())?;
    let mut times = Vec::with_capacity(count);
    while times.len() < count {
        for (main, side) in blocks(main, side, BLOCK).take(count - times.len()) {
            let taken = time(|| meter.process(&main, side.as_ref().map(|side| &side[..]), &mut ()));
            times.push(taken.as_nanos().min(u128::from(u32::MAX)) as u32);
        }
    }
    Ok(times)
}

fn line(what: &str, mut times: Vec<u32>) {
    times.sort_unstable();
    let at = |q: f64| f64::from(times[((times.len() - 1) as f64 * q) as usize]) / 1e3;
    println!(
        "  {what:<34} p50 {:.2}, p99 {:.2}, p99.9 {:.2} ({:.1} times p50), slowest {:.1}",
        at(0.5),
        at(0.99),
        at(0.999),
        at(0.999) / at(0.5),
        at(1.0)
    );
}
