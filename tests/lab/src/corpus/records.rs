//! Records of other people: finished music out of Debian packages (`cargo xtask bench-records` names
//! them), which no song, kit or sound of ours has a part in.
//!
//! Whether a record went through a limiter is not known. So its phases are turned and its tone is
//! changed a little: a ceiling that it may have had is one no longer, and what is done to it
//! afterwards is known.

use super::ceiling::quantile;
use super::process::{equal, external};
use super::{CorpusError, Stereo};
use brunt_engine::records::{PERCENTILES, Percentiles};
use rand::Rng;
use std::path::{Path, PathBuf};

/// What is read of each record, s, from [`FROM`] of its length on.
pub const PASSAGE_S: f64 = 30.0;
/// Where the passage begins, as a share of the length: past an introduction.
const FROM: f64 = 0.3;
/// Names of files that may be records.
const EXTENSIONS: [&str; 5] = ["ogg", "opus", "mp3", "flac", "wav"];

/// Whether a record is one with drums, by the hits that the meter finds in its passage: two a second.
#[must_use]
pub fn has_drums(hits: usize) -> bool {
    drums_in(hits, PASSAGE_S)
}

/// The same for so many seconds.
#[must_use]
pub fn drums_in(hits: usize, seconds: f64) -> bool {
    hits as f64 >= 2.0 * seconds
}

/// The table of a reading over records, to a hundredth; `None` of no record. Quantiles by definition 7
/// of Hyndman & Fan 1996.
#[must_use]
pub fn percentiles(values: impl Iterator<Item = f64>) -> Option<Percentiles> {
    let values: Vec<f64> = values.collect();
    (!values.is_empty()).then(|| {
        Percentiles(std::array::from_fn(|step| {
            let share = step as f64 / (PERCENTILES - 1) as f64;
            (quantile(values.clone(), share) * 100.0).round() / 100.0
        }))
    })
}

/// All files under `folder` whose names say that they are audio, in order of their paths.
///
/// # Errors
/// [`CorpusError::File`] when a folder cannot be read, or holds none.
pub fn files(folder: &Path) -> Result<Vec<PathBuf>, CorpusError> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(open) = folders.pop() {
        for entry in std::fs::read_dir(&open).map_err(|e| CorpusError::file(&open, e))? {
            let entry = entry.map_err(|e| CorpusError::file(&open, e))?;
            let kind = entry.file_type().map_err(|e| CorpusError::file(entry.path(), e))?;
            let path = entry.path();
            let extension = path.extension().map(|e| e.to_string_lossy().to_lowercase());
            if kind.is_dir() {
                folders.push(path);
            } else if kind.is_file() && extension.is_some_and(|e| EXTENSIONS.contains(&&*e)) {
                files.push(path);
            }
        }
    }
    if files.is_empty() {
        return Err(CorpusError::file(folder, format!("no file of {}", EXTENSIONS.join(", "))));
    }
    files.sort();
    Ok(files)
}

/// A passage of a record at 48 kHz; `None` where it is shorter than that, or where ffmpeg cannot read
/// it, which is said.
///
/// # Errors
/// [`CorpusError`] when there is no room for the decoded file.
pub fn passage(path: &Path) -> Result<Option<Stereo>, CorpusError> {
    let Some(whole) = whole(path)? else { return Ok(None) };
    let frames = (PASSAGE_S * f64::from(whole.rate)) as usize;
    let from = ((whole.len() as f64 * FROM) as usize).min(whole.len().saturating_sub(frames));
    let cut = |side: &[f32]| side.get(from..from + frames).map(<[f32]>::to_vec);
    let sides = cut(&whole.left).zip(cut(&whole.right));
    Ok(sides.map(|(left, right)| Stereo { rate: whole.rate, left, right }))
}

/// A whole record at 48 kHz; `None` where ffmpeg cannot read it, which is said.
///
/// # Errors
/// [`CorpusError`] when there is no room for the decoded file.
pub fn whole(path: &Path) -> Result<Option<Stereo>, CorpusError> {
    let folder = tempfile::tempdir().map_err(|e| CorpusError::file("temporary folder", e))?;
    let wav = folder.path().join("record.wav");
    if let Err(error) = external::ffmpeg(path, &["-vn", "-ar", "48000", "-ac", "2"], &wav) {
        eprintln!("left out: {}: {error}", path.display());
        return Ok(None);
    }
    Stereo::read(&wav).map(Some)
}

/// The record without the ceiling that it may have had: two bells of up to 5 dB, three all-passes, all
/// drawn; its largest sample at -1 dBFS.
#[must_use]
pub fn lifted(record: &Stereo, rng: &mut impl Rng) -> Stereo {
    let mut audio = record.clone();
    for hz in [60.0, 800.0] {
        let gain = rng.random_range(2.5..5.0) * if rng.random_bool(0.5) { 1.0 } else { -1.0 };
        audio = equal::bell(&audio, hz * 8f64.powf(rng.random::<f64>()), 0.7, gain);
    }
    for _ in 0..3 {
        audio = equal::all_pass(&audio, 60.0 * 25f64.powf(rng.random::<f64>()), 0.5);
    }
    audio.gain(super::audio::db(-1.0) / audio.peak().max(f32::MIN_POSITIVE));
    audio
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// Closed form: of 0, 0.1, ..., 10 in any order, 5 % lie at 0.5 and so on; of one value all do there.
    #[test]
    fn a_table_holds_what_lies_under_its_steps() {
        let mut values: Vec<f64> = (0..=100).map(|n| f64::from(n) / 10.0).collect();
        values.rotate_left(37);
        let table = percentiles(values.into_iter()).expect("values");
        for (step, value) in table.0.iter().enumerate() {
            assert!((value - step as f64 / 2.0).abs() < 1e-9, "{table:?}");
        }
        assert_eq!(percentiles([1.234].into_iter()), Some(Percentiles([1.23; PERCENTILES])));
        assert_eq!(percentiles(std::iter::empty()), None);
    }

    /// Closed form: an all-pass keeps the energy, and turns the corner of a step, where samples stood
    /// at one height.
    #[test]
    fn a_ceiling_is_lifted() {
        let mut square = Stereo::silence(48_000, 48_000);
        for (i, (left, right)) in square.left.iter_mut().zip(&mut square.right).enumerate() {
            // Silent at the end, so that nothing of what rings on is cut off.
            let gain = if i < 40_000 { (i as f32 * 0.0007).sin() } else { 0.0 };
            let wave = gain * (i as f32 * 0.01).sin();
            [*left, *right] = [wave.clamp(-0.3, 0.3); 2];
        }
        let energy = |audio: &Stereo| audio.left.iter().map(|x| f64::from(x * x)).sum::<f64>();
        let turned = equal::all_pass(&square, 200.0, 0.5);
        assert!((energy(&turned) / energy(&square) - 1.0).abs() < 1e-3);
        let at_top = |audio: &Stereo| {
            let top = audio.peak() * 0.999;
            audio.left.iter().filter(|x| x.abs() >= top).count()
        };
        assert!(at_top(&square) > 10_000, "{}", at_top(&square));
        let lifted = lifted(&square, &mut rand_pcg::Pcg64Mcg::seed_from_u64(1));
        assert!(at_top(&lifted) < 100, "{}", at_top(&lifted));
        assert!((lifted.peak() - 0.891).abs() < 1e-3);
    }
}
