//! The program `brunt`: its options, what it prints, and its exit status.

mod completions;
mod failure;
mod inputs;
mod listen;
mod man;
mod outputs;
mod progress;
mod takes;

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use brunt_engine::{State, Thresholds};
use brunt_report::report::Report;
use brunt_report::words::terminal as say;
use clap::{CommandFactory, Parser, Subcommand, ValueEnum};

use crate::analyse::{Options, analyse_mix};
use crate::beside::Beside;
use crate::error::{Error, Fault};
use crate::history::history;
use crate::output::Target;
use crate::parts::{self, PartFile};
use crate::terminal;
use failure::{EXIT_INPUT, Failure, print};
use inputs::Inputs;

/// A leak reached the state given with `--fail-on`.
const EXIT_LEAK: u8 = 1;

/// Brunt measures how hard a mix hits, and what takes its punch away.
#[derive(Debug, Parser)]
#[command(name = "brunt", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(Check),
    History(HistoryArgs),
    Takes(takes::TakesArgs),
    Listen(listen::ListenArgs),
    Man(man::ManArgs),
    Completions(completions::CompletionsArgs),
}

/// Measure one mix: loudness, hits, balance and the five leaks.
///
/// Exit status: 0 measured; 1 a leak reached the --fail-on state; 2 bad input.
///
/// With --fail-on-unknown, 1 for an unknown leak too.
#[derive(Debug, clap::Args)]
struct Check {
    /// The mix: mono or stereo; WAV, AIFF, FLAC, MP3 or Ogg Vorbis.
    ///
    /// If omitted, the sum of the parts is measured.
    #[arg(required_unless_present = "part")]
    mix: Option<PathBuf>,

    /// A part of the mix; may be repeated.
    ///
    /// ROLE is drums, bass, guitars, vocals or other.
    ///
    /// Parts show timing, clutter and guitar gain.
    #[arg(long, value_name = "ROLE=FILE")]
    part: Vec<PartFile>,

    /// Compare with the mix before the limiter.
    #[arg(long, value_name = "FILE", conflicts_with = "reference", requires = "mix")]
    before: Option<PathBuf>,

    /// Compare with a reference track.
    #[arg(long, value_name = "FILE", requires = "mix")]
    reference: Option<PathBuf>,

    #[command(flatten)]
    outputs: outputs::Outputs,

    /// Start at this time, seconds.
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    from: Option<f64>,

    /// Stop at this time, seconds.
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    to: Option<f64>,

    /// Exit with 1 if a leak has this state: watch, leaking.
    ///
    /// A worse state counts too.
    ///
    /// UNKNOWN LEAKS PASS: a mix alone shows limiting and mids only.
    ///
    /// Add --fail-on-unknown to fail on unknown leaks as well.
    #[arg(long, value_name = "STATE", hide_possible_values = true)]
    fail_on: Option<FailOn>,

    /// With --fail-on: exit with 1 if a leak is unknown, too.
    #[arg(long, requires = "fail_on")]
    fail_on_unknown: bool,

    /// Print nothing but errors.
    #[arg(long, short)]
    quiet: bool,
}

/// Compare revisions of one mix: readings, leaks, and what changed.
///
/// Revisions may start at different times and differ in level and tone.
///
/// The passage that they share is found and measured.
///
/// Exit status: 0 measured; 2 bad input.
#[derive(Debug, clap::Args)]
struct HistoryArgs {
    /// The revisions, oldest first: two or more, as for check.
    #[arg(required = true, num_args = 2.., value_name = "MIX")]
    mixes: Vec<PathBuf>,

    /// Write the history as JSON; - means standard output.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,

    /// Replace an existing file.
    #[arg(long)]
    force: bool,

    /// Print nothing but errors.
    #[arg(long, short)]
    quiet: bool,
}

/// The states that `--fail-on` takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// A leak costs punch.
    Leaking,
    /// A leak to watch, or one that costs punch.
    Watch,
}

impl FailOn {
    fn reached(self, worst: State) -> bool {
        match self {
            Self::Leaking => worst == State::Leaking,
            Self::Watch => worst.loses(),
        }
    }
}

/// Runs the program on its command line.
#[must_use]
pub fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Check(check) => run(&check),
        Command::History(args) => run_history(&args),
        Command::Takes(args) => takes::run(&args),
        Command::Listen(args) => listen::run(&args),
        Command::Man(args) => man::run(&args, &Cli::command()),
        Command::Completions(args) => run_completions(&args),
    };
    match done {
        Ok(status) => status,
        Err(failure) => {
            // Nobody is left to hear it where even this cannot be written.
            let _ = writeln!(anstream::stderr(), "brunt: {failure}");
            ExitCode::from(EXIT_INPUT)
        }
    }
}

fn run(check: &Check) -> Result<ExitCode, Failure> {
    let inputs = Inputs::mix(&check.mix)
        .with("--before", &check.before)
        .with("--reference", &check.reference)
        .with_parts(&check.part);
    inputs.check_distinct()?;
    let plan = check.outputs.plan(&inputs.paths())?;
    let options = Options {
        from_s: check.from,
        to_s: check.to,
        thresholds: Thresholds::default(),
        block_frames: None,
        beside: match (&check.before, &check.reference) {
            (Some(file), _) => Some(Beside::Before(file.clone())),
            (None, Some(file)) => Some(Beside::Reference(file.clone())),
            (None, None) => None,
        },
        tempo: check.outputs.tempo(),
        all_edits: check.outputs.wants_edits(),
    };
    let mut bar = progress::Bar::new(check.quiet);
    let report = measure(check, &options, &mut bar);
    bar.clear();
    let report = report?;

    let written = plan.write(&report)?;
    if !plan.prints() && !check.quiet {
        let mut page = terminal::render(&report);
        page.push_str(&terminal::written(&written));
        print(&page, &mut anstream::stdout().lock())?;
    }
    Ok(status(check, &report))
}

fn run_completions(args: &completions::CompletionsArgs) -> Result<ExitCode, Failure> {
    print(&args.text(Cli::command()), &mut io::stdout().lock())?;
    Ok(ExitCode::SUCCESS)
}

fn run_history(args: &HistoryArgs) -> Result<ExitCode, Failure> {
    let inputs = args.mixes.iter().map(PathBuf::as_path);
    let path = args.json.as_deref().filter(|path| *path != Path::new("-"));
    let target = path.map(|path| Target::check_all(path, inputs, args.force)).transpose()?;
    let mut bar = progress::Bar::new(args.quiet);
    let history = history(&args.mixes, &Options::default(), &mut |progress| bar.show(progress));
    bar.clear();
    let history = history?;
    if let Some(target) = &target {
        target.write(&history.to_json()?)?;
    }
    if args.json.is_some() && target.is_none() {
        print(&history.to_json()?, &mut io::stdout().lock())?;
    } else if !args.quiet {
        print(&terminal::render_history(&history), &mut anstream::stdout().lock())?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The mix or the sum of the parts, with what the parts show.
fn measure(check: &Check, options: &Options, bar: &mut progress::Bar) -> Result<Report, Error> {
    let mix = match &check.mix {
        Some(mix) => Some(analyse_mix(mix, options, &mut |progress| bar.show(progress))?),
        None => None,
    };
    let mix = match mix {
        Some(mix) if check.part.is_empty() => return Ok(mix.report),
        other => other,
    };
    let mut parts = parts::measure(&check.part, options, mix.as_ref().map(|mix| &mix.report))?;
    let first = check.part.first().map(|part| part.path.clone()).unwrap_or_default();
    let silent = || Fault::Silent { peak_dbfs: None }.of(&first);
    let mut mix = mix.or_else(|| parts.summed(options)).ok_or_else(silent)?;
    parts.add_to(&mut mix, options)?;
    Ok(mix.report)
}

/// The exit status that `--fail-on` asks for; what it could not judge is said on standard error.
fn status(check: &Check, report: &Report) -> ExitCode {
    let Some(limit) = check.fail_on else { return ExitCode::SUCCESS };
    let unknown = say::unjudged(|kind| report.leak(kind).state);
    if let Some(unknown) = unknown.as_ref().filter(|_| check.fail_on_unknown || !check.quiet) {
        let said = if check.fail_on_unknown {
            say::failed_unjudged(unknown)
        } else {
            say::passed_unjudged(unknown)
        };
        // Nobody is left to hear it where even this cannot be written.
        let _ = writeln!(anstream::stderr(), "brunt: {said}");
    }
    let fails = limit.reached(report.worst()) || check.fail_on_unknown && unknown.is_some();
    if fails { ExitCode::from(EXIT_LEAK) } else { ExitCode::SUCCESS }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;
    use crate::error::FORMATS;

    #[test]
    fn the_options_are_consistent_and_name_the_formats() {
        let mut command = Cli::command();
        command.clone().debug_assert();
        let check = command.find_subcommand_mut("check").expect("check");
        assert!(check.render_long_help().to_string().contains(FORMATS));
    }

    #[test]
    fn a_limit_is_reached_by_its_state_and_by_worse_ones() {
        let reached = |limit: FailOn| {
            [State::Unknown, State::Clear, State::Watch, State::Leaking].map(|s| limit.reached(s))
        };
        assert_eq!(reached(FailOn::Leaking), [false, false, false, true]);
        assert_eq!(reached(FailOn::Watch), [false, false, true, true]);
    }
}
