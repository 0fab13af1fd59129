//! Runs a target on random bytes, from a seed that replays.

use std::cell::Cell;
use std::env;
use std::fs;
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::sync::Once;
use std::time::{Duration, Instant};

use rand::{Rng, RngCore, SeedableRng};
use rand_pcg::Pcg64;

use brunt_fuzz::targets;

thread_local! {
    /// Panics of this thread, caught ones too.
    static PANICS: Cell<u64> = const { Cell::new(0) };
}

/// Notes every panic before anybody can catch it. The plug-in is linked into this program, so its
/// own catching happens behind this hook.
pub fn watch_panics() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // The plug-in's logger would put a hook of its own over this one, later: so it goes first.
        let _ = brunt_host::Instance::load_linked(&brunt::clap_entry);
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !targets::is_theirs(info) {
                PANICS.set(PANICS.get() + 1);
                before(info);
            }
        }));
    });
}

/// Runs the kept inputs and then `executions` random ones, or as many, or for as long, as the
/// environment says: `BRUNT_FUZZ_EXECUTIONS`, `BRUNT_FUZZ_MINUTES`, `BRUNT_FUZZ_SEED`.
pub fn run(name: &str, executions: u64) {
    watch_panics();
    let target = targets::find(name);
    let mut count = 0;
    for (shown, bytes) in kept(name) {
        once(&target, &bytes, &shown);
        count += 1;
    }
    let number = |name: &str| {
        env::var(name).ok().map(|text| {
            text.parse::<u64>().unwrap_or_else(|_| panic!("{name}={text}: expected a number"))
        })
    };
    let limit = number("BRUNT_FUZZ_MINUTES").map(|minutes| Duration::from_secs(60 * minutes));
    let usual = if limit.is_some() { u64::MAX } else { executions };
    let executions = number("BRUNT_FUZZ_EXECUTIONS").unwrap_or(usual);
    let seed = number("BRUNT_FUZZ_SEED").unwrap_or(1);
    let mut random = Pcg64::seed_from_u64(seed);
    let start = Instant::now();
    let mut bytes = Vec::new();
    let (mut slowest, mut slowest_at) = (Duration::ZERO, 0);
    for index in 0..executions {
        if limit.is_some_and(|limit| start.elapsed() > limit) {
            break;
        }
        bytes.resize(random.random_range(0..=target.longest), 0);
        random.fill_bytes(&mut bytes);
        let began = Instant::now();
        once(&target, &bytes, &format!("seed {seed}, execution {index}"));
        if began.elapsed() > slowest {
            (slowest, slowest_at) = (began.elapsed(), index);
        }
        count += 1;
    }
    println!(
        "{name}: {count} executions in {:.0} s, seed {seed}; slowest {:.0} ms (execution \
         {slowest_at})",
        start.elapsed().as_secs_f64(),
        slowest.as_secs_f64() * 1e3,
    );
}

/// Runs a target once. A find is written to a file before it is told.
fn once(target: &targets::Target, bytes: &[u8], shown: &str) {
    let before = PANICS.get();
    let outcome = panic::catch_unwind(AssertUnwindSafe(|| (target.run)(bytes)));
    if outcome.is_ok() && PANICS.get() == before {
        return;
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz");
    let file = folder.join(format!("{}.hex", target.name));
    let written = fs::create_dir_all(&folder).and_then(|()| fs::write(&file, hex(bytes)));
    let place = written.map_or_else(|error| error.to_string(), |()| file.display().to_string());
    panic!("{}: {shown} panics; the input: {place}", target.name);
}

/// Inputs that found something once, or that reach far: `kept/TARGET.hex`, one a line.
fn kept(name: &str) -> Vec<(String, Vec<u8>)> {
    let file: PathBuf =
        [env!("CARGO_MANIFEST_DIR"), "kept", &format!("{name}.hex")].iter().collect();
    let text = fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
    let lines = text.lines().enumerate().filter(|(_, line)| !line.starts_with('#'));
    lines.map(|(k, line)| (format!("{}:{}", file.display(), k + 1), unhex(line))).collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex(line: &str) -> Vec<u8> {
    let digit = |byte: u8| (byte as char).to_digit(16).expect("a line of hexadecimal digits") as u8;
    line.trim().as_bytes().chunks(2).map(|pair| digit(pair[0]) << 4 | digit(pair[1])).collect()
}
