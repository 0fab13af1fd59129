//! One file, or a passage of it, through the engine.

use std::num::NonZeroUsize;
use std::ops::Range;
use std::path::Path;

use brunt_engine::parts::levels::Stretch;
use brunt_engine::{
    Ahead, Compare, Config, ConfigError, HitShape, Leaks, Meter, Prepared, SideRole, Thresholds,
};
use brunt_files::ahead::ReadAhead;
use brunt_report::report::{CompareReport, Report, ShapeReport, Source, Tempo, ThirdDifference};

use crate::beside::{self, BeforeMix, Beside};
use crate::decode::AudioFile;
use crate::error::{Error, Fault, FileFault, SHORTEST_S};
use crate::kept::Kept;

/// What to measure of a file, and how.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// Start of the passage, s. From the file's start where `None`.
    pub from_s: Option<f64>,
    /// End of the passage, s. To the file's end where `None`.
    pub to_s: Option<f64>,
    /// Limits of the leaks' states.
    pub thresholds: Thresholds,
    /// Most frames given to the engine at a time; a block of the reader's where `None`. The numbers
    /// do not depend on it.
    pub block_frames: Option<NonZeroUsize>,
    /// The file to compare the mix with.
    pub beside: Option<Beside>,
    /// The song's tempo, for the bars of the notes to move.
    pub tempo: Option<Tempo>,
    /// Whether all of these are wanted, and not only the dearest.
    pub all_edits: bool,
}

/// How far an analysis has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Frames read.
    pub done: u64,
    /// Frames to read, where the file tells.
    pub total: Option<u64>,
    /// Sample rate, Hz.
    pub sample_rate_hz: u32,
}

/// Measures a file and reports.
///
/// `progress` is called once a block of the reader's.
///
/// # Errors
/// Any fault of the file or the passage; see [`Fault`].
pub fn analyse(
    path: &Path,
    options: &Options,
    progress: &mut dyn FnMut(Progress),
) -> Result<Report, Error> {
    analyse_mix(path, options, progress).map(|mix| mix.report)
}

/// A mix as it was measured, for who reads its parts as well.
pub(crate) struct Mix {
    /// Its report.
    pub(crate) report: Report,
    /// Its leaks as the engine has them.
    pub(crate) leaks: Leaks,
    /// The shape of each of its hits.
    pub(crate) shapes: Vec<HitShape>,
    /// How loud it is, stretch by stretch.
    pub(crate) levels: Vec<Stretch>,
}

/// The same with what its parts are read beside.
pub(crate) fn analyse_mix(
    path: &Path,
    options: &Options,
    progress: &mut dyn FnMut(Progress),
) -> Result<Mix, Error> {
    check_times(options).map_err(|fault| fault.of(path))?;
    let before = match &options.beside {
        Some(Beside::Before(file)) => Some(BeforeMix::open(file, path)?),
        _ => None,
    };
    analyse_with(path, options, before.as_ref(), progress)
}

/// The same with the mix before the limiter opened already, where [`Options::beside`] names it.
pub(crate) fn analyse_with(
    path: &Path,
    options: &Options,
    before: Option<&BeforeMix>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Mix, Error> {
    let fault = |fault: Fault| fault.of(path);
    let file = AudioFile::open(path)?;
    let rate = file.sample_rate_hz();
    let frame = |s: f64| (s * f64::from(rate)).round() as u64;
    let from = options.from_s.map_or(0, frame);
    let to = options.to_s.map_or(u64::MAX, frame);
    let config = Config { sample_rate_hz: f64::from(rate), channels: file.channels() };
    // The rate and the channels were checked on opening.
    let unfit = |e: ConfigError| fault(FileFault::NotAudio(e.to_string()).into());
    let mut meter = Meter::new(config).map_err(unfit)?;
    let mut ahead = Ahead::new(config).map_err(unfit)?;
    meter.set_thresholds(options.thresholds);

    let reference = match &options.beside {
        Some(Beside::Reference(file)) => Some(beside::reference(file, rate)?),
        _ => None,
    };
    if let Some((reference, _)) = &reference {
        meter.assume_reference(reference.balance.thirds_dbfs);
    }
    if let Some(before) = before {
        meter.set_side_role(SideRole::Before);
        if let Some(rest) = before.rest() {
            meter.assume_side_delay(rest);
        }
    }

    let mut kept = Kept::default();
    let mut side = Vec::new();
    let mut planes = Vec::new();
    let mut passage = Passage { from, to, at: 0 };
    let total = file.stated_frames().map(|frames| frames.min(to));
    let mut reading = passage.clone();
    let mut file = ReadAhead::new(file, move |planes: &Vec<Vec<f32>>| {
        let range = reading.of_block(planes[0].len());
        ahead.process(&parts_of(planes, &range))
    });
    while passage.at < to
        && let Some(prepared) = file.next_block(&mut planes)?
    {
        let frames = planes.first().map_or(0, Vec::len);
        if let Some(before) = before {
            before.beside(passage.at, frames, &mut side);
        }
        let range = passage.of_block(frames);
        feed(&mut meter, (&planes, &side), range, (options.block_frames, prepared), &mut kept);
        progress(Progress { done: passage.at, total, sample_rate_hz: rate });
    }
    let at = passage.at;
    meter.finish(&mut kept);
    meter.settle(&mut kept.hits);

    let seconds = |frames: u64| frames as f64 / f64::from(rate);
    check_end(options, seconds(at), (from, to, at)).map_err(fault)?;
    let duration_s = seconds(at.min(to) - from);
    if duration_s < SHORTEST_S {
        return Err(fault(Fault::Short { duration_s }));
    }
    let readings = meter.readings();
    if readings.loudness.integrated_lufs.is_none() {
        return Err(fault(Fault::silent(readings.loudness.sample_peak_dbfs, readings.input)));
    }
    let source = Source {
        file: path.to_string_lossy().into_owned(),
        sample_rate_hz: f64::from(rate),
        channels: config.channels,
        duration_s,
        from_s: seconds(from),
    };
    let file = options.beside.as_ref().map(|beside| beside.path().to_string_lossy().into_owned());
    let mut compare = match (before, &reference) {
        (Some(before), _) => {
            let compare = whole(readings.compare.unwrap_or_default(), before, f64::from(rate));
            Some(CompareReport::new(&compare, file).of_hits(readings.punch.hits))
        }
        (None, Some((other, _))) => Some(CompareReport::reference(readings, other, file)),
        (None, None) => None,
    };
    if let Some(compare) = &mut compare {
        let other = reference.as_ref().map_or(&kept.side_shape, |(_, shape)| shape);
        compare.shape = ShapeReport::of(other);
        let beside = before.map(|before| before.input);
        compare.input = beside.or(reference.as_ref().map(|(reference, _)| reference.input));
    }
    let mut report = Report::new(source, readings, &kept.hits, options.thresholds);
    kept.add_to(&mut report.punch);
    report.compare = compare;
    if let Some((version, thirds)) =
        before.and_then(|before| before.version(config, from..at.min(to)))
    {
        report.set_before(&version);
        if let Some(compare) = &mut report.compare {
            compare.thirds = ThirdDifference::of(&readings.balance.thirds_dbfs, &thirds);
        }
    }
    let report = report.with_history(&kept.timeline);
    Ok(Mix { report, leaks: readings.leaks, shapes: kept.shapes, levels: kept.levels })
}

/// The comparison with the delay that was taken out before put back in.
fn whole(compare: Compare, before: &BeforeMix, rate_hz: f64) -> Compare {
    let mut alignment = compare.alignment;
    let shift = before.shift() as f64;
    alignment.delay_frames = alignment.delay_frames.map(|delay| delay + shift);
    alignment.delay_ms = alignment.delay_frames.map(|delay| delay / rate_hz * 1e3);
    if alignment.likeness.is_none() {
        alignment.likeness = before.alignment.likeness;
    }
    Compare { role: SideRole::Before, alignment, ..compare }
}

/// The part of a file that is measured, frames, and how far the file has been read.
#[derive(Clone)]
struct Passage {
    from: u64,
    to: u64,
    at: u64,
}

impl Passage {
    /// The part of the next block that lies in the passage, frames of the block.
    fn of_block(&mut self, frames: usize) -> Range<usize> {
        let (at, end) = (self.at, self.at + frames as u64);
        self.at = end;
        let within = |frame: u64| (frame.clamp(at, end) - at) as usize;
        within(self.from)..within(self.to)
    }
}

/// Measures a part of a block, of which filters and peaks are `prepared`; all anew where it is given in
/// steps.
fn feed(
    meter: &mut Meter,
    (planes, side): (&[Vec<f32>], &[Vec<f32>]),
    range: Range<usize>,
    (step, prepared): (Option<NonZeroUsize>, Prepared),
    kept: &mut Kept,
) {
    let Some(step) = step else {
        let (planes, side) = (parts_of(planes, &range), parts_of(side, &range));
        meter.process_prepared(&planes, (!side.is_empty()).then_some(&side), prepared, kept);
        return;
    };
    let mut start = range.start;
    while start < range.end {
        let end = range.end.min(start.saturating_add(step.get()));
        let (planes, side) = (parts_of(planes, &(start..end)), parts_of(side, &(start..end)));
        meter.process(&planes, (!side.is_empty()).then_some(&side), kept);
        start = end;
    }
}

fn parts_of<'a>(planes: &'a [Vec<f32>], range: &Range<usize>) -> Vec<&'a [f32]> {
    planes.iter().map(|plane| &plane[range.clone()]).collect()
}

/// Checks the times by themselves, before the file is read.
fn check_times(options: &Options) -> Result<(), Fault> {
    for (option, value) in [("--from", options.from_s), ("--to", options.to_s)] {
        if let Some(value_s) = value
            && !(value_s.is_finite() && value_s >= 0.0)
        {
            return Err(Fault::Time { option, value_s });
        }
    }
    match (options.from_s, options.to_s) {
        (Some(from_s), Some(to_s)) if from_s >= to_s => Err(Fault::Order { from_s, to_s }),
        _ => Ok(()),
    }
}

/// Checks the times against the length that the file turned out to have.
fn check_end(
    options: &Options,
    duration_s: f64,
    (from, to, end): (u64, u64, u64),
) -> Result<(), Fault> {
    for (option, value, frame) in [("--from", options.from_s, from), ("--to", options.to_s, to)] {
        if let Some(value_s) = value
            && frame > end
        {
            return Err(Fault::Beyond { option, value_s, duration_s });
        }
    }
    Ok(())
}
