//! Versions of one passage at one loudness, to be listened to.

mod encode;
mod folder;
mod level;
mod passage;
mod take;
mod versions;
mod wish;
mod work;

use std::path::PathBuf;

use brunt_engine::LeakKind;
use brunt_engine::parts::remix;
use brunt_files::whole::{Whole, silence_bad};
use brunt_report::listen::{ListenReport, PassageCut, SCHEMA};
use brunt_report::report::Report;
use brunt_report::words::listen as say;

pub use encode::Format;
pub use folder::Folder;
pub use wish::{Step, Wish};

use crate::analyse::{Options, analyse_with};
use crate::beside::{self, BeforeMix, Beside};
use crate::error::Error;
use crate::parts;
use passage::Loss;
use versions::{Draft, Song};
use work::Work;

/// What was written.
pub struct Written {
    /// The session, as in its JSON.
    pub session: ListenReport,
    /// The report on the whole mix.
    pub report: Report,
    /// The files, the page last.
    pub files: Vec<PathBuf>,
}

/// Measures a mix and writes the versions of its passage, the session's JSON and the page into `folder`.
///
/// # Errors
/// Any fault of an input, of the passage, or of the folder; nothing is left in it then.
pub fn write(
    wish: &Wish,
    folder: &mut Folder,
    step: &mut dyn FnMut(Step),
) -> Result<Written, Error> {
    take::check(&wish.takes, &wish.parts)?;
    let mut mix = Whole::read(&wish.mix)?;
    silence_bad(&mut mix.planes);
    let beside = match (&wish.before, &wish.reference) {
        (Some(file), _) => Some(Beside::Before(file.clone())),
        (None, Some(file)) => Some(Beside::Reference(file.clone())),
        (None, None) => None,
    };
    let options = Options { beside, tempo: wish.tempo, all_edits: true, ..Options::default() };
    let before = match &wish.before {
        Some(file) => Some(BeforeMix::open(file, &wish.mix)?),
        None => None,
    };
    let measuring = &mut |progress| step(Step::Measuring(progress));
    let mut song = analyse_with(&wish.mix, &options, before.as_ref(), measuring)?;
    let mut shown = None;
    if !wish.parts.is_empty() {
        step(Step::Parts);
        let mut parts = parts::measure(&wish.parts, &options, Some(&song.report))?;
        let what = parts.add_to(&mut song, &options)?;
        shown = Some((parts, what));
    }
    let report = song.report;
    step(Step::Versions);
    let reference = match &wish.reference {
        Some(file) => {
            let mut whole = Whole::read(file)?;
            silence_bad(&mut whole.planes);
            Some((beside::reference(file, mix.sample_rate_hz)?.0, whole))
        }
        None => None,
    };
    let song = Song {
        report: &report,
        parts: shown.as_ref().map(|(parts, what)| (parts, what)),
        before: before.as_ref(),
        reference: reference.as_ref().map(|(readings, _)| readings.balance.thirds_dbfs),
        takes: &wish.takes,
        mix: &mix.planes,
        options: &options,
    };
    let hits_s: Vec<f64> = report.hits.iter().map(|hit| hit.time_s).collect();
    let duration_s = report.mix.duration_s;
    let asked = (wish.from_s, wish.to_s);
    let passage = passage::choose(&hits_s, &losses(&song), duration_s, asked)
        .map_err(|fault| fault.of(&wish.mix))?;
    let span = song.frames(&passage);
    let (mut drafts, left_out) = song.versions(&passage)?;
    let hits = song.hits(span);
    let mut rates = vec![mix.sample_rate_hz; drafts.len()];
    if let Some((_, whole)) = &reference {
        rates.push(whole.sample_rate_hz);
        drafts.push(reference_draft(whole, passage.to_s - passage.from_s));
    }
    let session = ListenReport {
        schema: SCHEMA.to_owned(),
        made: report.made.clone(),
        mix: report.mix.clone(),
        passage: PassageCut {
            from_s: passage.from_s,
            to_s: passage.to_s,
            chosen_by: if passage.asked { "options" } else { "brunt" }.to_owned(),
            hits: hits.counted.len(),
        },
        most_dbtp: level::MOST_DBTP,
        format: wish.format.code().to_owned(),
        left_out,
        ..ListenReport::default()
    };
    let written = Work { wish, hits: &hits }.write(drafts, &rates, session, folder, step)?;
    let (session, files) = written;
    Ok(Written { session, report, files })
}

/// What the hits lose to all causes that are known, each at its place.
fn losses(song: &Song<'_>) -> Vec<Loss> {
    let mut losses: Vec<Loss> =
        song.report.hits.iter().filter_map(|hit| Some((hit.time_s, hit.lost_db?))).collect();
    if let Some((_, shown)) = song.parts {
        for leak in [LeakKind::Timing, LeakKind::Clutter, LeakKind::Drive] {
            let gains = versions::gains(&shown.reading, leak);
            losses.extend(gains.iter().map(|gain| (gain.time_s, gain.db)));
        }
    }
    losses
}

/// The loudest passage of a reference, K-weighted.
fn reference_draft(whole: &Whole, length_s: f64) -> Draft {
    let rate = f64::from(whole.sample_rate_hz);
    let hop = (0.1 * rate) as usize;
    let powers = remix::weighted_cells(&whole.planes, rate, hop.max(1));
    let hops = ((length_s * rate) as usize).div_ceil(hop.max(1)).clamp(1, powers.len().max(1));
    let sum = |powers: &[f32]| powers.iter().map(|x| f64::from(*x)).sum::<f64>();
    let loudest = powers
        .windows(hops)
        .enumerate()
        .max_by(|a, b| sum(a.1).total_cmp(&sum(b.1)))
        .map_or(0, |(n, _)| n);
    let frames = whole.planes.first().map_or(0, Vec::len);
    let from = (loudest * hop).min(frames);
    let to = (from + (length_s * rate).round() as usize).min(frames);
    Draft {
        id: "reference",
        name: say::REFERENCE.to_owned(),
        what: say::REFERENCE_WHAT.to_owned(),
        leak: None,
        against: None,
        planes: versions::cut(&whole.planes, (from, to)),
        estimated_db: None,
        predicted_db: None,
    }
}
