//! What part instances cost beside a meter of the mix, and beside the `ebur128` crate.

use brunt_engine::parts::PartMeter;
use brunt_engine::{Config, Meter};
use brunt_host::transport::Tempo;
use brunt_host::{Audio, Block, Instance, Side};
use brunt_lab::corpus::mix::Library;
use brunt_lab::corpus::{CorpusError, Stereo};
use brunt_lab::session::{render, tuning};
use ebur128::{EbuR128, Mode};
use rustix::time::{ClockId, clock_gettime};
use std::cell::RefCell;
use std::error::Error;
use std::fs;
use std::process::ExitCode;
use std::thread;
use std::time::{Duration, Instant};

const USAGE: &str = "\
usage: parts-speed                 32 part meters and one of the mix, as a share of one core
       parts-speed SECONDS         the same with instances of the built plug-in, as fast as it goes
                                   and at the pace of a host, with the thread that reads them";

/// Rate of everything, Hz.
const RATE: u32 = 48_000;
/// Parts of the session that the bar is stated for.
const PARTS: usize = 32;
/// Frames a block.
const BLOCK: usize = 512;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let result = match &args[..] {
        [] => meters().map_err(Into::into),
        [seconds] => seconds.parse().map_err(|_| USAGE.into()).and_then(instances),
        _ => Err(USAGE.into()),
    };
    if let Err(error) = result {
        eprintln!("{error}");
        return ExitCode::from(2);
    }
    ExitCode::SUCCESS
}

/// Prints the share of one core that 32 part meters and one meter of the mix take, at 48 kHz, and
/// that of `ebur128` with all modes on the mix.
fn meters() -> Result<(), CorpusError> {
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

/// How fast blocks come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pace {
    /// As in playback: the thread sleeps between blocks, and finds its memory cold.
    Host,
    /// One after another, as in a bounce.
    Full,
}

/// Runs 32 part instances of the built plug-in and one on their mix for some seconds of a song, as
/// fast as it goes and at the pace of a host, and prints the processor time that their audio threads
/// and the thread that reads them take, as a share of the song's time; `ebur128` runs beside them. Of
/// each also the quickest second, since other programs, and other machines on the same processor,
/// only ever make one slower; the thread that reads does not work in each, and is given by its mean.
///
/// # Errors
/// When the plug-in is not built, or refuses.
fn instances(seconds: u64) -> Result<(), Box<dyn Error>> {
    let song = song()?;
    let mut plugins = Vec::with_capacity(PARTS + 1);
    let (mut parts, mut mix) = (Vec::with_capacity(PARTS), Vec::with_capacity(1));
    for n in 0..=PARTS {
        let (plugin, audio) = instance(n, PARTS)?;
        plugins.push(plugin);
        let thread = if n < PARTS { &mut parts } else { &mut mix };
        thread.push(audio);
    }
    let blocks = (song.len() / BLOCK).min(u64::from(RATE) as usize * seconds as usize / BLOCK);
    for pace in [Pace::Full, Pace::Host] {
        measured(&song, blocks, pace, &mut parts, &mut mix)?;
    }
    for (plugin, audio) in plugins.iter_mut().zip(parts.into_iter().chain(mix)) {
        plugin.deactivate(audio);
    }
    Ok(())
}

/// One run through `blocks` blocks of the song, and its table.
fn measured(
    song: &Stereo,
    blocks: usize,
    pace: Pace,
    parts: &mut Vec<Audio>,
    mix: &mut Vec<Audio>,
) -> Result<(), Box<dyn Error>> {
    let mut reference = EbuR128::new(2, RATE, Mode::all())?;
    let reads_s = || reader().and_then(|task| on_processor_s(&task)).unwrap_or(f64::NAN);
    let (read_before_s, started) = (reads_s(), Instant::now());
    // What it takes to lay out the blocks is the host's and not counted.
    let run = |prepare: &mut dyn FnMut(usize),
               work: &mut dyn FnMut(usize) -> brunt_host::Result<()>|
     -> brunt_host::Result<[f64; 2]> {
        let now = || Duration::try_from(clock_gettime(ClockId::ThreadCPUTime)).unwrap_or_default();
        let (mut time, mut second, mut least) = (Duration::ZERO, Duration::ZERO, Duration::MAX);
        let blocks_s = RATE as usize / BLOCK;
        for block in 0..blocks {
            prepare(block * BLOCK);
            let before = now();
            work(block * BLOCK)?;
            let own = now() - before;
            time += own;
            second += own;
            if (block + 1).is_multiple_of(blocks_s) {
                least = least.min(std::mem::take(&mut second));
            }
            if pace == Pace::Host {
                let due = Duration::from_secs_f64(((block + 1) * BLOCK) as f64 / f64::from(RATE));
                thread::sleep(due.saturating_sub(started.elapsed()));
            }
        }
        let lasted_s = (blocks * BLOCK) as f64 / f64::from(RATE);
        let least_s = (blocks_s * BLOCK) as f64 / f64::from(RATE);
        Ok([time.as_secs_f64() / lasted_s, least.as_secs_f64() / least_s])
    };
    let main = |at: usize| [&song.left[at..at + BLOCK], &song.right[at..at + BLOCK]];
    let transport =
        |at: usize| Tempo { bpm: 120.0, signature: (4, 4) }.at(at as f64 / f64::from(RATE), true);
    // The mix has a side-chain, parts have none.
    let play = |instances: &mut Vec<Audio>, has_side: bool| {
        let instances = RefCell::new(instances);
        let each =
            |at: usize, work: &mut dyn FnMut(&mut Audio, &Block) -> brunt_host::Result<()>| {
                let (main, transport) = (main(at), transport(at));
                let side = if has_side { Side::Channels(&main) } else { Side::Unconnected };
                let block =
                    Block { main: &main, side, transport: Some(&transport), ..Block::default() };
                instances.borrow_mut().iter_mut().try_for_each(|audio| work(audio, &block))
            };
        run(
            &mut |at| {
                // Laying out cannot fail.
                let _ = each(at, &mut |audio, block| {
                    audio.prepare(block);
                    Ok(())
                });
            },
            &mut |at| each(at, &mut |audio, block| audio.run(block).map(|_| ())),
        )
    };
    let shares = thread::scope(|scope| {
        let parts = scope.spawn(|| play(parts, false));
        let mix = scope.spawn(|| play(mix, true));
        let beside = run(&mut |_| (), &mut |at| {
            // Planes of one length: it cannot fail.
            let _ = reference.add_frames_planar_f32(&main(at));
            Ok(())
        });
        // A panic in there has been reported by its own thread.
        [parts, mix]
            .map(|thread| thread.join().unwrap_or(Ok([f64::NAN; 2])))
            .into_iter()
            .chain([beside])
            .collect::<brunt_host::Result<Vec<[f64; 2]>>>()
    })?;
    let [parts_share, mix_share, beside_share] = shares[..] else { return Ok(()) };
    let lasted = (blocks * BLOCK) as f64 / f64::from(RATE);
    let reader_share = [(reads_s() - read_before_s) / lasted; 2];
    let how = match pace {
        Pace::Host => "at the pace of a host",
        Pace::Full => "as fast as it goes",
    };
    println!("{lasted:.0} s of song {how}, blocks of {BLOCK}, processor time as a share of it");
    println!("{:<36} mean                    quickest second", "");
    let all = [0, 1].map(|n| parts_share[n] + mix_share[n] + reader_share[n]);
    for (what, share) in [
        ("32 part instances, audio thread", parts_share),
        ("mix instance, audio thread", mix_share),
        ("the thread that reads the parts", reader_share),
        ("all of it", all),
        ("ebur128, all modes, on the mix", beside_share),
    ] {
        print!("{what:<36}");
        for (share, beside) in share.into_iter().zip(beside_share) {
            print!(" {:>6.3} % {:>6.2} x ebur128 ", 100.0 * share, share / beside);
        }
        println!();
    }
    println!();
    Ok(())
}

/// Instance `n`: a part, the first of them drums, or the mix where it is the last.
fn instance(n: usize, parts: usize) -> brunt_host::Result<(Instance, Audio)> {
    let mut plugin = Instance::load()?;
    if n < parts {
        let role = plugin.parameter("Role")?;
        plugin.set(&role, if n == 0 { 1.0 } else { 2.0 + (n % 4) as f64 })?;
    }
    let audio = plugin.activate(f64::from(RATE), BLOCK as u32)?;
    Ok((plugin, audio))
}

/// Time that a thread has had a processor, s, as `/proc/TASK/schedstat` counts it in nanoseconds.
/// Linux alone tells.
fn on_processor_s(task: &str) -> Option<f64> {
    let line = fs::read_to_string(format!("/proc/{task}/schedstat")).ok()?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? * 1e-9)
}

/// The thread that reads the parts.
fn reader() -> Option<String> {
    fs::read_dir("/proc/self/task").ok()?.flatten().find_map(|task| {
        let name = fs::read_to_string(task.path().join("comm")).ok()?;
        let id = task.file_name().into_string().ok()?;
        (name.trim() == "brunt-links").then(|| format!("self/task/{id}"))
    })
}

fn song() -> Result<Stereo, CorpusError> {
    let mut plan = tuning::all().swap_remove(0);
    plan.bars *= 2;
    Ok(render(&plan, RATE, &mut Library::default())?.mix())
}
