//! `brunt listen`: versions of the passage in which most is lost, to be listened to.

use std::path::PathBuf;
use std::process::ExitCode;

use super::failure::{Failure, print};
use super::inputs::Inputs;
use super::{outputs, progress};
use crate::listen::{Folder, Format, Step, Wish, write};
use crate::parts::PartFile;
use crate::terminal;

/// Write a passage with each cause taken out, and a page to compare
///
/// The mix as it is, and with each cause that takes punch away taken out.
///
/// Each with what it should gain, and what its file gains when measured again.
///
/// Open index.html in the folder: instant switching, loop, blind comparison.
///
/// Listen at a moderate level.
///
/// Exit status: 0 written; 2 bad input.
#[derive(Debug, clap::Args)]
pub(super) struct ListenArgs {
    /// The mix: mono or stereo; WAV, AIFF, FLAC, MP3 or Ogg Vorbis.
    mix: PathBuf,

    /// The mix before the limiter: takes limiting out.
    #[arg(long, value_name = "FILE")]
    before: Option<PathBuf>,

    /// A reference track: its loudest passage goes along.
    ///
    /// Mids are then restored as far as there.
    #[arg(long, value_name = "FILE")]
    reference: Option<PathBuf>,

    /// A part of the mix; may be repeated.
    ///
    /// ROLE is drums, bass, guitars, vocals or other.
    ///
    /// Parts take timing, clutter and guitar gain out.
    #[arg(long, value_name = "ROLE=FILE")]
    part: Vec<PartFile>,

    /// Take B of a guitar part, heard in its place.
    ///
    /// The same notes at another gain, such as another amp; made as loud.
    ///
    /// May be repeated, in the order of the guitar parts.
    #[arg(long, value_name = "FILE", requires = "part")]
    take_b: Vec<PathBuf>,

    /// The folder to write into; made if it is not there.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,

    /// Start of the passage, seconds.
    ///
    /// The passage lasts 8 to 20 s. If omitted, where most is lost.
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    from: Option<f64>,

    /// End of the passage, seconds.
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    to: Option<f64>,

    /// wav or flac (24 bit), or wav-float.
    #[arg(long, value_name = "FORMAT", default_value = "wav", hide_possible_values = true)]
    format: Format,

    #[command(flatten)]
    edits: outputs::Edits,

    /// Replace existing files.
    #[arg(long)]
    force: bool,

    /// Print nothing but errors.
    #[arg(long, short)]
    quiet: bool,
}

pub(super) fn run(args: &ListenArgs) -> Result<ExitCode, Failure> {
    let inputs = Inputs::mix([&args.mix])
        .with("--before", &args.before)
        .with("--reference", &args.reference)
        .with_parts(&args.part)
        .with("--take-b", &args.take_b);
    inputs.check_distinct()?;
    let inputs = inputs.paths();
    let plan = args.edits.plan(&inputs, args.force)?;
    let wish = Wish {
        mix: args.mix.clone(),
        before: args.before.clone(),
        reference: args.reference.clone(),
        parts: args.part.clone(),
        takes: args.take_b.clone(),
        from_s: args.from,
        to_s: args.to,
        format: args.format,
        tempo: args.edits.tempo(),
    };
    let mut bar = progress::Bar::new(args.quiet);
    let mut folder = Folder::open(&args.out, &inputs, args.force)?;
    let written = write(&wish, &mut folder, &mut |step| match step {
        Step::Measuring(progress) => bar.show(progress),
        Step::Parts => bar.stage("reading the parts"),
        Step::Versions => bar.stage("making the versions"),
        Step::Writing(done, total) => bar.stage(&format!("writing, {done} of {total} files")),
    });
    bar.clear();
    let written = written?;
    let mut files = plan.write(&written.report)?;
    files.extend(written.files);
    if !plan.prints() && !args.quiet {
        let mut page = terminal::render_listen(&written.session);
        page.push_str(&terminal::damaged(&written.report));
        page.push_str(&terminal::written(&files));
        print(&page, &mut anstream::stdout().lock())?;
    }
    Ok(ExitCode::SUCCESS)
}
