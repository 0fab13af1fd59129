//! `cargo xtask`: everything that is done with the project beside plain `cargo build`.
//!
//! Each subcommand is one file. The heavy work (rendering audio, loading the plug-in) is in the
//! crates that it concerns; this program finds, builds, calls and reports.

mod audio_unit;
mod bench;
mod bundle;
mod demo;
mod fuzz;
mod hosts;
mod install;
mod jack;
mod licences;
mod macos;
mod mutants;
mod package;
mod platforms;
mod property_list;
mod records;
mod report;
mod screen;
mod setup;
mod songs;
mod test;
mod tidy;
mod windows;
mod workspace;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

use setup::Group;

#[derive(Parser)]
#[command(name = "cargo xtask", about = "Set-up, bundling, demo and tests of Brunt")]
struct Arguments {
    #[command(subcommand)]
    command: Task,
}

#[derive(Subcommand)]
enum Task {
    /// Play an invented session through the built plug-in and print what it reads
    Demo {
        /// Folder for the sounds, pictures and numbers [default: demo in cargo's target folder]
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
    },
    /// Run every check that the project has, set-up included
    Test,
    /// Install the system packages that are missing (Debian and Ubuntu)
    Setup {
        /// Only say what is missing; exit status 1 if anything is
        #[arg(long)]
        check: bool,
        /// What to prepare for; may repeat
        #[arg(long = "group", value_enum, default_values_t = [Group::Test])]
        groups: Vec<Group>,
    },
    /// Build the plug-in and put Brunt.clap and Brunt.vst3 into target/bundled
    Bundle {
        /// Build with full optimisation, as for real use
        #[arg(long)]
        release: bool,
        /// Make an Audio Unit, too (on macOS; never tried by us)
        #[arg(long)]
        audio_unit: bool,
    },
    /// Build for real use and copy both plug-ins to your own plug-in folders
    Install {
        /// Overwrite what is there, even if it is newer or not Brunt
        #[arg(long)]
        force: bool,
    },
    /// Print what the meter costs in time and memory, as ratios of one run
    Bench {
        /// A minute where the whole takes an hour, half an hour where it takes a day
        #[arg(long)]
        short: bool,
        /// Only these: ratios, blocks, growth, counts, memory, file, listen
        parts: Vec<String>,
    },
    /// Print how well limiting is read from the mix alone, on songs that no fit has seen
    BenchCeiling {
        /// Two songs and four processors only
        #[arg(long)]
        short: bool,
    },
    /// Print costs of timing, clutter and guitar gain against what the hits really lost
    BenchCosts {
        /// Songs of each kind
        #[arg(long, default_value_t = 6)]
        songs: u64,
    },
    /// Print how well limiting and mids are read on records of other people (fetches 420 MB)
    BenchRecords {
        /// Only fetch the records that the fit for limiting sees (390 MB)
        #[arg(long)]
        fit: bool,
    },
    /// Measure finished records and rewrite the engine's table of percentiles (fetches 1.1 GB)
    Records,
    /// Feed the fuzz targets for longer than the tests do
    Fuzz(fuzz::Arguments),
    /// Put mistakes into measurements of the engine, and name those that no test sees
    Mutants(mutants::Arguments),
    /// Compile for the systems that are not tested, and look for advisories
    Platforms,
    /// Scan, load, play, save and reopen both plug-ins in real hosts
    Hosts {
        /// Build with full optimisation, as for real use
        #[arg(long)]
        release: bool,
    },
    /// Make what a user downloads, with its sums, in target/packages
    Package(package::Arguments),
    /// Check the licences of all crates that are linked, and write THIRD-PARTY.md
    Licences,
    /// Build for Windows and run it under wine: validator, hosts, editor, numbers (Debian)
    Windows(windows::Arguments),
    /// Check the rules that the compiler does not know
    Tidy,
}

fn main() -> ExitCode {
    let result = workspace::enter().and_then(|()| match Arguments::parse().command {
        Task::Demo { out } => demo::run(out),
        Task::Test => test::run(&Arguments::command()),
        Task::Setup { check, groups } => setup::command(&groups, check),
        Task::Bundle { release, audio_unit } => {
            let make = if audio_unit { bundle::with_audio_unit } else { bundle::run };
            make(&bundle::Build::here(release)).map(|_| ExitCode::SUCCESS)
        }
        Task::Install { force } => install::run(force),
        Task::Bench { short, parts } => bench::speed(short, &parts),
        Task::BenchCeiling { short } => bench::ceiling(short),
        Task::BenchCosts { songs } => bench::costs(songs),
        Task::BenchRecords { fit } => records::bench(fit),
        Task::Records => records::table(),
        Task::Fuzz(arguments) => fuzz::run(&arguments),
        Task::Hosts { release } => hosts::run(release),
        Task::Package(arguments) => package::run(&arguments),
        Task::Licences => licences::run(),
        Task::Mutants(arguments) => mutants::run(&arguments),
        Task::Platforms => platforms::run(),
        Task::Windows(arguments) => windows::run(&arguments),
        Task::Tidy => tidy::command(&Arguments::command()),
    });
    match result {
        Ok(code) => code,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}
