//! What part instances cost beside a meter of the mix, and beside the `ebur128` crate.

use super::RATE;
use brunt_engine::parts::PartMeter;
use brunt_engine::{Config, Meter};
use brunt_tests::corpus::mix::Library;
use brunt_tests::corpus::{CorpusError, Stereo};
use brunt_tests::host::transport::Tempo;
use brunt_tests::host::{self, Audio, Block, Instance, Side};
use brunt_tests::session::{render, tuning};
use ebur128::{EbuR128, Mode};
use std::fs;
use std::thread;
use std::time::{Duration, Instant};

/// Parts of the session that the bar is stated for.
const PARTS: usize = 32;
/// Frames a block.
const BLOCK: usize = 512;

/// Prints the share of one core that 32 part meters and one meter of the mix take, at 48 kHz, and
/// that of `ebur128` with all modes on the mix.
pub fn print() -> Result<(), CorpusError> {
    let audio = song()?;
    let config = Config { sample_rate_hz: f64::from(RATE), channels: 2 };
    let (Ok(mut part), Ok(mut meter), Ok(mut reference)) =
        (PartMeter::new(config), Meter::new(config), EbuR128::new(2, RATE, Mode::all()))
    else {
        return Ok(());
    };
    // The quickest of many seconds: other programs only ever make one slower.
    let second = RATE as usize;
    let mut least = [f64::INFINITY; 3];
    for (left, right) in audio.left.chunks_exact(second).zip(audio.right.chunks_exact(second)) {
        let blocks = || left.chunks(BLOCK).zip(right.chunks(BLOCK));
        let mut time = |which: usize, work: &mut dyn FnMut(&[f32], &[f32])| {
            let start = Instant::now();
            blocks().for_each(|(left, right)| work(left, right));
            least[which] = start.elapsed().as_secs_f64().min(least[which]);
        };
        time(0, &mut |left, right| part.process(&[left, right], &mut ()));
        time(1, &mut |left, right| meter.process(&[left, right], None, &mut ()));
        time(2, &mut |left, right| {
            // Planes of one length: it cannot fail.
            let _ = reference.add_frames_planar_f32(&[left, right]);
        });
    }
    let [one, mix, reference] = least;
    let all = PARTS as f64 * one + mix;
    let row = |what: &str, time: f64| {
        println!(
            "{what:<24} {:>7.3} % of a core {:>7.2} x ebur128",
            100.0 * time,
            time / reference
        );
    };
    row("one part", one);
    row("the mix", mix);
    row("32 parts and the mix", all);
    row("ebur128, all modes", reference);
    Ok(())
}

/// Runs 32 part instances of the built plug-in and one on their mix for some seconds, at the pace
/// of a host, and prints what their audio threads and the thread that reads them take.
///
/// # Errors
/// When the plug-in is not built, or refuses.
pub fn instances(seconds: u64) -> Result<(), Box<dyn std::error::Error>> {
    let audio = song()?;
    let mut band = (0..=PARTS).map(|n| instance(n, PARTS)).collect::<host::Result<Vec<_>>>()?;
    let mut reference = EbuR128::new(2, RATE, Mode::all())?;
    let blocks = (audio.len() / BLOCK).min(u64::from(RATE) as usize * seconds as usize / BLOCK);
    let (mut parts, mut mix, mut beside) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
    let started = Instant::now();
    for block in 0..blocks {
        let at = block * BLOCK;
        let main = [&audio.left[at..at + BLOCK], &audio.right[at..at + BLOCK]];
        let seconds = at as f64 / f64::from(RATE);
        let transport = Tempo { bpm: 120.0, signature: (4, 4) }.at(seconds, true);
        let block = Block {
            main: &main,
            side: Side::Unconnected,
            transport: Some(&transport),
            ..Block::default()
        };
        for (n, (_, audio)) in band.iter_mut().enumerate() {
            audio.prepare(&block);
            let start = Instant::now();
            audio.run(&block)?;
            *(if n < PARTS { &mut parts } else { &mut mix }) += start.elapsed();
        }
        let start = Instant::now();
        reference.add_frames_planar_f32(&main)?;
        beside += start.elapsed();
        let due = Duration::from_secs_f64((at + BLOCK) as f64 / f64::from(RATE));
        thread::sleep(due.saturating_sub(started.elapsed()));
    }
    let lasted = blocks as f64 * BLOCK as f64 / f64::from(RATE);
    let reader = reader_s().unwrap_or(f64::NAN);
    let beside = beside.as_secs_f64();
    let row = |what: &str, time: f64| {
        println!(
            "{what:<36} {:>7.3} % of a core {:>7.2} x ebur128",
            100.0 * time / lasted,
            time / beside
        );
    };
    let (parts, mix) = (parts.as_secs_f64(), mix.as_secs_f64());
    println!("{lasted:.0} s at the pace of a host, blocks of {BLOCK}");
    row("32 part instances, audio thread", parts);
    row("mix instance, audio thread", mix);
    row("the thread that reads the parts", reader);
    row("all of it", parts + mix + reader);
    row("ebur128, all modes, on the mix", beside);
    for (mut plugin, audio) in band {
        plugin.deactivate(audio);
    }
    Ok(())
}

/// Instance `n`: a part, the first of them drums, or the mix where it is the last.
fn instance(n: usize, parts: usize) -> host::Result<(Instance, Audio)> {
    let mut plugin = Instance::load()?;
    if n < parts {
        let role = plugin.parameter("Role")?;
        plugin.set(&role, if n == 0 { 1.0 } else { 2.0 + (n % 4) as f64 })?;
    }
    let audio = plugin.activate(f64::from(RATE), BLOCK as u32)?;
    Ok((plugin, audio))
}

/// Processor time of the thread that reads the parts, s. Linux alone tells.
fn reader_s() -> Option<f64> {
    fs::read_dir("/proc/self/task").ok()?.flatten().find_map(|task| {
        let name = fs::read_to_string(task.path().join("comm")).ok()?;
        if name.trim() != "brunt-links" {
            return None;
        }
        // Nanoseconds on a processor, as /proc/PID/schedstat counts them.
        let line = fs::read_to_string(task.path().join("schedstat")).ok()?;
        Some(line.split_whitespace().next()?.parse::<f64>().ok()? * 1e-9)
    })
}

fn song() -> Result<Stereo, CorpusError> {
    let mut plan = tuning::all().swap_remove(0);
    plan.bars *= 2;
    Ok(render(&plan, RATE, &mut Library::default())?.mix())
}
