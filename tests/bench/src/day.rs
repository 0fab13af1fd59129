//! Memory of an instance, and a day of programme through it.
//!
//! The reference beside it is written out in double precision from ITU-R BS.1770-5: the standard's
//! two filters at 48 kHz by its own coefficients, blocks of 400 ms every 100 ms, all of them kept,
//! both gates over all of them at the end.

use std::error::Error;

use brunt_engine::{Config, Meter};

use crate::live;
use crate::signal;
use crate::turn::meter;

const RATE: u32 = 48_000;
/// A whole number of the reference's steps, and of the meter's cells and hops.
const BLOCK: usize = 4_800;

/// Prints bytes, and what a day does to them and to the loudness.
pub fn print(short: bool) -> Result<(), Box<dyn Error>> {
    println!("\nMemory: bytes an instance, everything on");
    for (rate, channels) in [(44_100, 2), (48_000, 1), (48_000, 2), (96_000, 2), (192_000, 2)] {
        let (before, _) = live::now();
        let meter = Box::new(Meter::new(Config { sample_rate_hz: f64::from(rate), channels })?);
        let (after, _) = live::now();
        println!("  {rate} Hz, {channels} channels: {:.2} MB", (after - before) as f64 / 1e6);
        drop(meter);
    }
    let hours = if short { 0.5 } else { 24.0 };
    let mut meter = meter(RATE, false)?;
    let mut reference = Reference::default();
    let song = signal::limited(&signal::song(RATE, 20.0));
    let mut gained = [vec![0.0f32; BLOCK], vec![0.0f32; BLOCK]];
    let mut at = 0;
    let (bytes, calls) = live::now();
    for index in 0..(hours * 36_000.0) as usize {
        let [left, right] = song.part(at, at + BLOCK);
        let gain = level(index);
        for (out, input) in gained.iter_mut().zip([left, right]) {
            for (out, x) in out.iter_mut().zip(input) {
                *out = gain * x;
            }
        }
        meter.process(&[&gained[0], &gained[1]], None, &mut ());
        reference.step(&gained);
        at = (at + BLOCK) % song.frames();
    }
    let (bytes_then, calls_then) = live::now();
    // The reference keeps its blocks: its own bytes do not count.
    let kept = reference.steps.capacity() * size_of::<f64>();
    let grown = bytes_then as i64 - bytes as i64 - kept as i64;
    let ours = meter.readings().loudness.integrated_lufs.ok_or("no loudness")?;
    let want = reference.integrated_lufs();
    println!(
        "  after {hours} h: {grown} bytes more, {} calls for memory by the meter; integrated {ours:.4} \
         LUFS, double-precision reference {want:.4}: {:.5} LU apart (bar 0.01)",
        calls_then - calls - reference.grew,
        (ours - want).abs()
    );
    if grown != 0 || (ours - want).abs() > 0.01 {
        return Err("memory or loudness after a long programme is off".into());
    }
    Ok(())
}

/// Gain of a tenth of a second: songs of four minutes at their own levels, pauses of five seconds
/// between them, and once an hour ten minutes of next to nothing.
fn level(index: usize) -> f32 {
    let second = index / 10;
    if second % 3600 >= 3000 {
        return 1e-4;
    }
    let (song, within) = (second / 245, second % 245);
    if within >= 240 {
        return 0.0;
    }
    10f32.powf(-((song * 7 % 19) as f32) / 20.0)
}

/// BS.1770-5 written out.
#[derive(Default)]
struct Reference {
    state: [[f64; 4]; 2],
    /// Weighted sum of squares of each 100 ms, both channels.
    steps: Vec<f64>,
    /// Times that its own vector grew.
    grew: usize,
}

/// Annex 1, Table 1 and Table 2.
const SHELF: [f64; 5] =
    [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585];
const HIGH_PASS: [f64; 5] = [1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621];

impl Reference {
    fn step(&mut self, planes: &[Vec<f32>; 2]) {
        let mut sum = 0.0;
        for (state, plane) in self.state.iter_mut().zip(planes) {
            for x in plane {
                let [s1, s2, h1, h2] = state;
                let y = section(f64::from(*x), SHELF, s1, s2);
                let y = section(y, HIGH_PASS, h1, h2);
                sum += y * y;
            }
        }
        let capacity = self.steps.capacity();
        self.steps.push(sum);
        self.grew += usize::from(self.steps.capacity() != capacity);
    }

    fn integrated_lufs(&self) -> f64 {
        let blocks: Vec<f64> = self
            .steps
            .windows(4)
            .map(|steps| steps.iter().sum::<f64>() / (4.0 * 4_800.0))
            .collect();
        let lufs = |power: f64| -0.691 + 10.0 * power.log10();
        let mean_above = |gate: f64| {
            let above = blocks.iter().filter(|power| lufs(**power) > gate);
            above.clone().sum::<f64>() / above.count() as f64
        };
        let gate = lufs(mean_above(-70.0)) - 10.0;
        lufs(mean_above(gate.max(-70.0)))
    }
}

fn section(x: f64, [b0, b1, b2, a1, a2]: [f64; 5], s1: &mut f64, s2: &mut f64) -> f64 {
    let y = b0 * x + *s1;
    *s1 = b1 * x - a1 * y + *s2;
    *s2 = b2 * x - a2 * y;
    y
}
