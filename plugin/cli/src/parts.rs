//! The parts of a mix, one file each, measured side by side.

use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use brunt_engine::parts::remix::Planes;
use brunt_engine::parts::timing::edits;
use brunt_engine::parts::{PartRole, PartTrack, Session};
use brunt_engine::{Ceiling, Config, InputHealth, Meter, Sink};
use brunt_files::whole::{Whole, silence_bad};
use brunt_report::edits::MOST_MARKERS;
use brunt_report::report::{HitReport, Report, Source};
use rayon::prelude::*;

mod remeasure;
mod shown;

pub(crate) use shown::Shown;

use crate::analyse::{Mix, Options};
use crate::decode::AudioFile;
use crate::error::{Error, Fault, FileFault, LENGTH_DIFFERS_S, SHORTEST_S};
use crate::kept::Kept;

/// What stands for the mix's file where the sum of the parts is measured.
pub const SUM_OF_PARTS: &str = "sum of the parts";

/// A part as given on the command line: `ROLE=FILE`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartFile {
    /// What the part plays.
    pub role: PartRole,
    /// Its file.
    pub path: PathBuf,
}

impl FromStr for PartFile {
    type Err = String;

    /// Reads `ROLE=FILE`; the text of the error names what was expected.
    fn from_str(text: &str) -> Result<Self, String> {
        let roles = PartRole::ALL.map(PartRole::code).join(", ");
        let Some((role, path)) = text.split_once('=') else {
            return Err(format!("expected ROLE=FILE, ROLE one of {roles}"));
        };
        let role = PartRole::from_code(role)
            .ok_or_else(|| format!("role \"{role}\"; expected one of {roles}"))?;
        if path.is_empty() {
            return Err(format!("no file; expected {}=FILE", role.code()));
        }
        Ok(Self { role, path: PathBuf::from(path) })
    }
}

/// Audio of parts that is kept for the costs, bytes; what is beyond is read again. Ours: seven stereo
/// parts of a song of three minutes at 48 kHz.
const KEPT_BYTES: usize = 512 << 20;

/// The decoded samples of one file, one plane a channel.
struct Decoded {
    planes: Arc<Planes>,
    rate: u32,
    /// Frame of the file at which the passage starts.
    from: u64,
    /// Samples that are no audio: they are silence in the planes.
    input: InputHealth,
}

/// The measured parts, and their sum where it was asked for.
pub struct Parts {
    /// The parts on one timeline.
    pub session: Session,
    /// Of each part that is drums, what a limiter or clipper takes from its own hits: on a drum bus
    /// it hardly shows in the whole mix.
    ceilings: Vec<Option<Ceiling>>,
    /// Of each part, the samples that are no audio.
    inputs: Vec<InputHealth>,
    /// Sum of all parts, left and right, where there is no mix.
    sum: Option<Sum>,
    /// The parts' files, and that of the mix: they are read again for the costs, but for what is kept.
    files: Vec<PathBuf>,
    kept: Vec<Option<Arc<Planes>>>,
    mix: Option<PathBuf>,
}

struct Sum {
    planes: [Vec<f32>; 2],
    rate: u32,
    from: u64,
}

/// Measures the parts, each on a thread of its own. `mix`: its report, which the parts must fit;
/// without it the sum of the parts is kept for [`Parts::report`].
///
/// # Errors
/// Any fault of a part's file; a rate or a length other than the mix's; parts that are all silent.
pub fn measure(
    files: &[PartFile],
    options: &Options,
    mix: Option<&Report>,
) -> Result<Parts, Error> {
    let kept_bytes = AtomicUsize::new(0);
    // Whether audio is kept has no bearing on any number, so neither has the order in which parts come.
    let keeps = |planes: &Planes| {
        let bytes = planes.iter().map(|plane| size_of_val(&plane[..])).sum::<usize>();
        kept_bytes.fetch_add(bytes, Ordering::Relaxed) + bytes <= KEPT_BYTES
    };
    let measured: Vec<(PartTrack, Option<Ceiling>, InputHealth, Option<Decoded>)> = files
        .par_iter()
        .map(|file| {
            let fault = |fault: Fault| fault.of(&file.path);
            let decoded = decode(&file.path, options)?;
            let rate = f64::from(decoded.rate);
            let frames = decoded.planes.first().map_or(0, Vec::len);
            let duration_s = frames as f64 / rate;
            if duration_s < SHORTEST_S {
                return Err(fault(Fault::Short { duration_s }));
            }
            if let Some(mix) = mix {
                fits(rate, duration_s, mix).map_err(fault)?;
            }
            let config = Config { sample_rate_hz: rate, channels: decoded.planes.len() };
            let planes: Vec<&[f32]> = decoded.planes.iter().map(Vec::as_slice).collect();
            let name = file.path.to_string_lossy();
            let track = PartTrack::measure(file.role, &name, config, &planes)
                .map_err(|e| fault(FileFault::NotAudio(e.to_string()).into()))?;
            let meter = (file.role == PartRole::Drums)
                .then(|| metered(&planes, config, options, &mut ()))
                .flatten();
            let ceiling = meter.map(|meter| meter.readings().leaks.ceiling);
            let kept = mix.is_none() || keeps(&decoded.planes);
            Ok((track, ceiling, decoded.input, kept.then_some(decoded)))
        })
        .collect::<Result<_, _>>()?;
    // One part may rest through a passage; where all do, there is nothing to read.
    if measured.iter().all(|(track, ..)| track.is_silent())
        && let (Some((track, _, input, _)), Some(file)) = (measured.first(), files.first())
    {
        let peak = track.peak();
        let peak_dbfs = (peak > 0.0).then(|| brunt_engine::decibels::magnitude_db(f64::from(peak)));
        return Err(Fault::silent(peak_dbfs, *input).of(&file.path));
    }
    let mut tracks = Vec::with_capacity(measured.len());
    let mut ceilings = Vec::with_capacity(measured.len());
    let mut inputs = Vec::with_capacity(measured.len());
    let mut kept = Vec::with_capacity(measured.len());
    let mut sum: Option<Sum> = None;
    for ((track, ceiling, input, decoded), file) in measured.into_iter().zip(files) {
        tracks.push(track);
        ceilings.push(ceiling);
        inputs.push(input);
        if let Some(decoded) = decoded.as_ref().filter(|_| mix.is_none()) {
            add(&mut sum, decoded).map_err(|fault| fault.of(&file.path))?;
        }
        let planes = decoded.map(|decoded| decoded.planes);
        kept.push(planes.filter(|planes| mix.is_some() || keeps(planes)));
    }
    Ok(Parts {
        session: Session { tracks },
        ceilings,
        inputs,
        sum,
        files: files.iter().map(|file| file.path.clone()).collect(),
        kept,
        mix: mix.map(|mix| PathBuf::from(&mix.mix.file)),
    })
}

/// A meter that has heard all of the planes, one a channel.
fn metered(
    planes: &[&[f32]],
    config: Config,
    options: &Options,
    sink: &mut dyn Sink,
) -> Option<Meter> {
    // The rate and the channels were checked with the parts.
    let mut meter = Meter::new(config).ok()?;
    meter.set_thresholds(options.thresholds);
    meter.process(planes, None, sink);
    meter.finish(sink);
    Some(meter)
}

/// Whether a file of that rate and length can be a part of the mix.
///
/// # Errors
/// [`Fault::PartRate`] or [`Fault::PartLength`].
pub(crate) fn fits(rate_hz: f64, duration_s: f64, mix: &Report) -> Result<(), Fault> {
    let mix = &mix.mix;
    if rate_hz != mix.sample_rate_hz {
        return Err(Fault::PartRate { rate_hz, mix_hz: mix.sample_rate_hz });
    }
    if (duration_s - mix.duration_s).abs() > LENGTH_DIFFERS_S {
        return Err(Fault::PartLength { duration_s, mix_s: mix.duration_s });
    }
    Ok(())
}

fn add(sum: &mut Option<Sum>, part: &Decoded) -> Result<(), Fault> {
    let (rate, from) = (part.rate, part.from);
    let sum = sum.get_or_insert_with(|| Sum { planes: [Vec::new(), Vec::new()], rate, from });
    if rate != sum.rate {
        return Err(Fault::PartRate { rate_hz: f64::from(rate), mix_hz: f64::from(sum.rate) });
    }
    // One channel lies on both sides.
    for (sum, plane) in sum.planes.iter_mut().zip(part.planes.iter().cycle()) {
        if sum.len() < plane.len() {
            sum.resize(plane.len(), 0.0);
        }
        sum.iter_mut().zip(plane).for_each(|(sum, x)| *sum += x);
    }
    Ok(())
}

/// The samples of a file's passage.
fn decode(path: &Path, options: &Options) -> Result<Decoded, Error> {
    let file = AudioFile::open(path)?;
    let rate = file.sample_rate_hz();
    let frame = |s: f64| (s * f64::from(rate)).round() as u64;
    let from = options.from_s.map_or(0, frame);
    let to = options.to_s.map_or(u64::MAX, frame);
    let read = Whole::passage(file, from..to.max(from), &mut |_| true)?;
    let mut planes = read.unwrap_or_default().planes;
    let input = silence_bad(&mut planes);
    Ok(Decoded { planes: Arc::new(planes), rate, from, input })
}

impl Parts {
    /// The sum of the parts as it was measured, for want of a mix; `None` where a mix was given.
    pub(crate) fn summed(&self, options: &Options) -> Option<Mix> {
        let sum = self.sum.as_ref()?;
        let rate = f64::from(sum.rate);
        let config = Config { sample_rate_hz: rate, channels: 2 };
        let mut kept = Kept::default();
        let meter = metered(&[&sum.planes[0], &sum.planes[1]], config, options, &mut kept)?;
        let source = Source {
            file: SUM_OF_PARTS.to_owned(),
            sample_rate_hz: rate,
            channels: 2,
            duration_s: sum.planes[0].len() as f64 / rate,
            from_s: sum.from as f64 / rate,
        };
        let mut report = Report::new(source, meter.readings(), &kept.hits, options.thresholds);
        kept.add_to(&mut report.punch);
        report.mix_is_sum = true;
        Some(Mix {
            report,
            leaks: meter.readings().leaks,
            shapes: kept.shapes,
            levels: kept.levels,
        })
    }

    /// Brings the parts to their levels in the mix, and adds what they show to its report: costs measured
    /// on their audio, and the drums' strokes that the mix drowns. Gives what was read, and what it was
    /// measured on.
    ///
    /// # Errors
    /// Where a file that was measured before cannot be read any more.
    pub(crate) fn add_to(&mut self, mix: &mut Mix, options: &Options) -> Result<Shown, Error> {
        let Mix { report, leaks, shapes, levels } = mix;
        self.session.bring_to_levels_of(levels);
        let frame = |hit: &HitReport| {
            ((hit.time_s - report.mix.from_s) * report.mix.sample_rate_hz).round() as i64
        };
        let hits: Vec<i64> = report.hits.iter().map(frame).collect();
        let estimated = self.session.read_at(&options.thresholds, &hits);
        let mut reading = estimated.clone();
        let heard = self.remeasure(report, &mut reading, options)?;
        report.set_parts(&self.session, &reading, leaks);
        report.set_part_history(&reading);
        report.set_drum_shapes(&self.session, shapes);
        let mut edits = edits(&self.session.tracks);
        if !options.all_edits {
            edits.truncate(MOST_MARKERS);
        }
        report.set_edits(&self.session, &edits, options.tempo.as_ref());
        for (part, input) in report.parts.iter_mut().zip(&self.inputs) {
            part.input = Some(*input);
        }
        for (part, ceiling) in self.ceilings.iter().enumerate() {
            if let Some(ceiling) = ceiling {
                report.set_part_ceiling(part, ceiling.into());
            }
        }
        Ok(Shown { estimated, reading, heard })
    }

    /// The audio of a part's passage, one plane a channel.
    pub(crate) fn audio(&self, part: usize, options: &Options) -> Result<Arc<Planes>, Error> {
        match &self.kept[part] {
            Some(planes) => Ok(Arc::clone(planes)),
            None => decode(&self.files[part], options).map(|part| part.planes),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_a_role_and_a_file() {
        let part: PartFile = "guitars=takes/a=b.wav".parse().expect("a part");
        assert_eq!(part, PartFile { role: PartRole::Guitars, path: "takes/a=b.wav".into() });
        for (text, want) in [
            ("drums.wav", "expected ROLE=FILE, ROLE one of drums, bass, guitars, vocals, other"),
            ("horn=a.wav", "role \"horn\"; expected one of drums, bass, guitars, vocals, other"),
            ("bass=", "no file; expected bass=FILE"),
        ] {
            assert_eq!(text.parse::<PartFile>().expect_err("a fault"), want);
        }
    }
}
