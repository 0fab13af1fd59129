//! How cost grows with rate, block size, instances and length: linear or not at all.

use std::error::Error;
use std::time::Duration;

use crate::signal;
use crate::turn::{blocks, measure, meter, time};

/// Prints four rows, ns a frame each.
pub fn print(short: bool) -> Result<(), Box<dyn Error>> {
    let seconds = if short { 3.0 } else { 10.0 };
    println!("\nGrowth: main bus, ns a frame, quickest of three turns of {seconds} s");
    row("rate, kHz (block 512)", &[44, 48, 88, 96, 176, 192, 384], |khz| {
        let rate = if khz % 44 == 0 { khz as u32 / 44 * 44_100 } else { khz as u32 * 1_000 };
        cost(rate, 512, seconds, 1)
    })?;
    row("block, frames (48 kHz)", &[1, 16, 64, 256, 1024, 8192], |block| {
        cost(48_000, block, seconds, 1)
    })?;
    row("instances (48 kHz, block 512), each", &[1, 4, 16, 64], |instances| {
        cost(48_000, 512, seconds, instances)
    })?;
    let minutes: &[usize] = if short { &[1, 2, 4] } else { &[1, 10, 60] };
    row("after minutes (48 kHz, block 512)", minutes, |minutes| {
        after(60.0 * minutes as f64, seconds)
    })
}

fn row(
    what: &str,
    values: &[usize],
    cost: impl Fn(usize) -> Result<f64, Box<dyn Error>>,
) -> Result<(), Box<dyn Error>> {
    print!("  {what:<36}");
    for value in values {
        print!(" {value}: {:.1} ", cost(*value)?);
    }
    println!();
    Ok(())
}

/// ns a frame and instance; instances take turns block by block, as on a session's tracks.
fn cost(rate: u32, block: usize, seconds: f64, instances: usize) -> Result<f64, Box<dyn Error>> {
    let song = signal::limited(&signal::song(rate, seconds / instances as f64));
    let mut least = Duration::MAX;
    for _ in 0..3 {
        let mut meters =
            (0..instances).map(|_| meter(rate, false)).collect::<Result<Vec<_>, _>>()?;
        least = least.min(time(|| {
            for (main, _) in blocks(&song, None, block) {
                for meter in &mut meters {
                    meter.process(&main, None, &mut ());
                }
            }
        }));
    }
    Ok(least.as_secs_f64() * 1e9 / (song.frames() * instances) as f64)
}

/// ns a frame once `age` seconds have been measured.
fn after(age: f64, seconds: f64) -> Result<f64, Box<dyn Error>> {
    let song = signal::limited(&signal::song(48_000, seconds));
    let mut meter = meter(48_000, false)?;
    let mut heard = 0.0;
    while heard < age {
        measure(&mut meter, &song, None, 512);
        heard += seconds;
    }
    let least = (0..3).map(|_| time(|| measure(&mut meter, &song, None, 512))).min();
    Ok(least.unwrap_or_default().as_secs_f64() * 1e9 / song.frames() as f64)
}
