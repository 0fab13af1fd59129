//! A whole process: its time by the clock and of the processor, and its memory.

use std::error::Error;
use std::ffi::OsStr;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What one process took.
pub struct Taken {
    pub wall: Duration,
    pub cpu_s: f64,
    pub memory_mb: f64,
}

/// Runs a program to its end.
pub fn run(program: &OsStr, arguments: &[&OsStr]) -> Result<Taken, Box<dyn Error>> {
    let before = children_cpu_s();
    let started = Instant::now();
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|error| format!("{}: {error}", program.to_string_lossy()))?;
    let mut memory_mb = 0.0f64;
    let status = loop {
        if let Some(status) = child.try_wait()? {
            break status;
        }
        memory_mb = memory_mb.max(peak_memory_mb(child.id()).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(10));
    };
    let wall = started.elapsed();
    if !status.success() {
        return Err(format!("{}: {status}", program.to_string_lossy()).into());
    }
    Ok(Taken { wall, cpu_s: children_cpu_s() - before, memory_mb })
}

/// Processor time of all children that have ended, s, from `/proc` (fields 16 and 17, in hundredths
/// of a second); 0 on other systems.
fn children_cpu_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name in brackets may hold spaces: count from behind it, where field 3 is next.
    let fields = stat.rsplit_once(')').map_or("", |(_, rest)| rest).split_whitespace();
    fields.skip(13).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / 100.0
}

/// The most memory that a running process has had, MB.
fn peak_memory_mb(id: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1e3)
}
