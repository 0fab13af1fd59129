//! The file beside the mix: the mix before the limiter, or a reference.

use std::ops::Range;
use std::path::{Path, PathBuf};

use brunt_engine::{
    Alignment, Config, Hit, InputHealth, MAX_CHANNELS, Meter, Readings, Relation, ShapeStats,
    THIRDS, Thresholds, align_whole,
};
use brunt_files::resample::to_rate;
use brunt_files::whole::{Whole, silence_bad};
use brunt_report::listener::Version;
use brunt_report::report::{Report, Source};

use crate::decode::AudioFile;
use crate::error::{Error, Fault, FileFault};

/// A file to compare the mix with.
#[derive(Clone, Debug, PartialEq)]
pub enum Beside {
    /// The mix ahead of the limiter.
    Before(PathBuf),
    /// A reference track.
    Reference(PathBuf),
}

impl Beside {
    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::Before(path) | Self::Reference(path) => path,
        }
    }
}

/// Share of the mix from which the one before the limiter stands beside all of it. Ours: a count-in or a fade may
/// be missing.
const MOST_OF_MIX: f64 = 0.8;

/// The mix ahead of the limiter, brought onto the mix: at its rate and channels, and shifted.
pub(crate) struct BeforeMix {
    planes: Vec<Vec<f32>>,
    /// Frames by which the mix comes later, whole; 0 without a relation.
    shift: i64,
    /// What the search over both files found.
    pub(crate) alignment: Alignment,
    /// Its samples that are no audio: they are silence here.
    pub(crate) input: InputHealth,
}

impl BeforeMix {
    /// Reads `path` and finds the delay against the whole of `mix`.
    pub(crate) fn open(path: &Path, mix: &Path) -> Result<Self, Error> {
        let Whole { planes: mut main, sample_rate_hz: rate } = Whole::read(mix)?;
        let Whole { mut planes, sample_rate_hz: side_rate } = Whole::read(path)?;
        Fault::check_compare_rate(side_rate, rate).map_err(|fault| fault.of(path))?;
        silence_bad(&mut main);
        let input = silence_bad(&mut planes);
        let planes = with_channels(planes, main.len());
        let planes = to_rate(&planes, side_rate, rate)
            .map_err(|e| Fault::from(FileFault::NotAudio(e.0)).of(path))?;
        let alignment = align_whole(slices(&main), slices(&planes), f64::from(rate));
        let shift = match alignment.relation {
            Relation::Found => alignment.delay_frames.unwrap_or(0.0).round() as i64,
            Relation::Unknown | Relation::None => 0,
        };
        Ok(Self { planes, shift, alignment, input })
    }

    /// What is left of the delay once whole frames are taken out; `None` without a relation.
    pub(crate) fn rest(&self) -> Option<f64> {
        let found = self.alignment.relation == Relation::Found;
        self.alignment.delay_frames.filter(|_| found).map(|delay| delay - self.shift as f64)
    }

    /// Frames of the mix's delay that were taken out.
    pub(crate) fn shift(&self) -> i64 {
        self.shift
    }

    /// What counts of it for a listener, over the frames that lie beside `passage` of the mix, and
    /// its third octaves there, dBFS; `None` without a relation, loudness or hits, and where it holds under
    /// [`MOST_OF_MIX`] of it: loudness and hits of a part are not those of the whole.
    pub(crate) fn version(
        &self,
        config: Config,
        passage: Range<u64>,
    ) -> Option<(Version, [Option<f64>; THIRDS])> {
        const BLOCK: u64 = 4096;
        let (from, to) = (passage.start as usize, passage.end as usize);
        let most = self.covered(from, to) as f64 >= MOST_OF_MIX * (to - from) as f64;
        self.rest().filter(|_| most)?;
        let mut meter = Meter::new(config).ok()?;
        let mut hits: Vec<Hit> = Vec::new();
        let mut planes = Vec::new();
        let mut at = passage.start;
        while at < passage.end {
            let frames = BLOCK.min(passage.end - at);
            self.beside(at, frames as usize, &mut planes);
            meter.process(&slices(&planes)[..planes.len()], None, &mut hits);
            at += frames;
        }
        meter.finish(&mut hits);
        let readings = meter.readings();
        let report = Report::new(Source::default(), readings, &hits, Thresholds::default());
        Some((report.version()?, readings.balance.thirds_dbfs))
    }

    /// How many of the mix's frames from `from` to `to` it holds.
    pub(crate) fn covered(&self, from: usize, to: usize) -> usize {
        let last = self.planes.first().map_or(0, Vec::len) as i64;
        let at = |frame: usize| (frame as i64 - self.shift).clamp(0, last);
        (at(to) - at(from)) as usize
    }

    /// The frames that lie beside those of the mix from `from` on: silence outside the file, and no channel
    /// where all of them lie there.
    pub(crate) fn beside(&self, from: u64, frames: usize, out: &mut Vec<Vec<f32>>) {
        if self.covered(from as usize, from as usize + frames) == 0 {
            out.clear();
            return;
        }
        out.resize_with(self.planes.len(), Vec::new);
        for (out, plane) in out.iter_mut().zip(&self.planes) {
            out.clear();
            out.extend((0..frames).map(|n| {
                let at = usize::try_from(from as i64 + n as i64 - self.shift).ok();
                at.and_then(|at| plane.get(at)).copied().unwrap_or(0.0)
            }));
        }
    }
}

/// Measures a reference of a mix at `mix_hz` by itself: its readings, and the shape of its hits.
pub(crate) fn reference(path: &Path, mix_hz: u32) -> Result<(Readings, ShapeStats), Error> {
    let mut file = AudioFile::open(path)?;
    Fault::check_compare_rate(file.sample_rate_hz(), mix_hz).map_err(|fault| fault.of(path))?;
    let config =
        Config { sample_rate_hz: f64::from(file.sample_rate_hz()), channels: file.channels() };
    let mut meter =
        Meter::new(config).map_err(|e| Fault::from(FileFault::NotAudio(e.to_string())).of(path))?;
    let mut shape = ShapeStats::default();
    let mut planes = Vec::new();
    while file.next_block(&mut planes)? {
        meter.process(&slices(&planes)[..planes.len().min(MAX_CHANNELS)], None, &mut shape);
    }
    meter.finish(&mut shape);
    let readings = *meter.readings();
    if readings.loudness.integrated_lufs.is_none() {
        return Err(Fault::silent(readings.loudness.sample_peak_dbfs, readings.input).of(path));
    }
    Ok((readings, shape))
}

/// Planes in one or two channels: two become their mean, one becomes both.
fn with_channels(mut planes: Vec<Vec<f32>>, channels: usize) -> Vec<Vec<f32>> {
    match (planes.len(), channels) {
        (1, 2) => {
            let copy = planes[0].clone();
            planes.push(copy);
        }
        (2, 1) => {
            let right = planes.pop().unwrap_or_default();
            for (left, right) in planes[0].iter_mut().zip(right) {
                *left = 0.5 * (*left + right);
            }
        }
        _ => {}
    }
    planes
}

fn slices(planes: &[Vec<f32>]) -> [&[f32]; MAX_CHANNELS] {
    let mut slices = [&[][..]; MAX_CHANNELS];
    for (slice, plane) in slices.iter_mut().zip(planes) {
        *slice = plane;
    }
    slices
}
