//! `speed`: what the meter costs, in time and in memory.
//!
//! Time is a claim only as a ratio: the meter and the `ebur128` crate (modes M, S, I, LRA and
//! TRUE_PEAK; asked for nothing while it runs) take turns on the same blocks, so that a busy
//! machine slows both. Instructions are counted by valgrind's callgrind, which no other program
//! disturbs; they show a regression where times do not.

mod against;
mod blocks;
mod count;
mod day;
mod growth;
mod hour;
mod listen;
mod live;
mod process;
mod signal;
mod turn;

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;

#[global_allocator]
static ALLOCATOR: live::Counting = live::Counting;

const USAGE: &str = "expected: speed [--short] [--brunt PROGRAM] [ratios|blocks|growth|memory|counts|file|listen]...";

/// Prints what a program takes that was built, shorter where asked.
type Print = fn(&Path, bool) -> Result<(), Box<dyn Error>>;

/// What to run, and how.
struct Asked {
    short: bool,
    /// The program `brunt`, for the file of one hour and what is written to listen to.
    brunt: Option<PathBuf>,
    parts: Vec<String>,
}

impl Asked {
    fn parse(arguments: &[String]) -> Result<Self, Box<dyn Error>> {
        let mut asked = Self { short: false, brunt: None, parts: Vec::new() };
        let mut arguments = arguments.iter();
        while let Some(argument) = arguments.next() {
            match argument.as_str() {
                "--short" => asked.short = true,
                "--brunt" => asked.brunt = Some(arguments.next().ok_or(USAGE)?.into()),
                "ratios" | "blocks" | "growth" | "memory" | "counts" | "file" | "listen" => {
                    asked.parts.push(argument.clone());
                }
                _ => return Err(format!("unknown argument {argument}: {USAGE}").into()),
            }
        }
        Ok(asked)
    }

    fn wants(&self, part: &str) -> bool {
        self.parts.is_empty() || self.parts.iter().any(|asked| asked == part)
    }
}

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
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [word, case] = &arguments[..]
        && word == count::CASE
    {
        return count::play(case);
    }
    let asked = Asked::parse(&arguments)?;
    let started = Instant::now();
    if asked.wants("ratios") {
        against::print(asked.short)?;
    }
    if asked.wants("blocks") {
        blocks::print(asked.short)?;
    }
    if asked.wants("growth") {
        growth::print(asked.short)?;
    }
    if asked.wants("counts") {
        count::print()?;
    }
    if asked.wants("memory") {
        day::print(asked.short)?;
    }
    let programs: [(&str, Print); 2] = [("file", hour::print), ("listen", listen::print)];
    for (part, print) in programs {
        match &asked.brunt {
            _ if !asked.wants(part) => {}
            Some(brunt) => print(brunt, asked.short)?,
            None => println!("\n{part}: left out, since no program was named with --brunt."),
        }
    }
    println!("\nThe whole took {:.0} s.", started.elapsed().as_secs_f64());
    Ok(())
}
