//! Loads a file: decode, measure, bring to the host's rate.

use std::fs;
use std::path::{Path, PathBuf};

use brunt_engine::{Config, Meter, Readings};
use brunt_files::decode::AudioFile;
use brunt_files::error::low_rate;
use brunt_files::resample;
use brunt_files::whole::{Whole, silence_bad};

use super::track::{FADE_MS, LONGEST_S, Track};
use crate::words::reference as say;
use crate::worker::Stop;

/// Frames measured between two looks at whether the load was called off.
const CHUNK: usize = 4096;

/// A file in memory, at its own rate.
pub(super) struct Loaded {
    channels: Vec<Vec<f32>>,
    rate_hz: u32,
    /// Everything the engine reads from the whole file.
    pub(super) readings: Readings,
}

/// The file that a text names: a path, or a `file:` address as file managers copy it.
#[must_use]
pub fn path_of(text: &str) -> PathBuf {
    let text = text.trim().trim_matches(|c| c == '"' || c == '\'');
    let Some(address) = text.strip_prefix("file://") else { return PathBuf::from(text) };
    let path = address.find('/').map_or(address, |at| &address[at..]);
    let mut bytes = Vec::with_capacity(path.len());
    let mut rest = path.as_bytes();
    while let Some((&first, tail)) = rest.split_first() {
        let code = (first == b'%').then(|| tail.get(..2)).flatten();
        let byte = code
            .and_then(|code| std::str::from_utf8(code).ok())
            .and_then(|code| u8::from_str_radix(code, 16).ok());
        match byte {
            Some(byte) => {
                bytes.push(byte);
                rest = &tail[2..];
            }
            None => {
                bytes.push(first);
                rest = tail;
            }
        }
    }
    PathBuf::from(String::from_utf8_lossy(&bytes).into_owned())
}

/// Decodes and measures. `Ok(None)` where `stop` has called it off.
///
/// # Errors
/// One line that names the file, the value and what was expected.
pub(super) fn load(path: &Path, stop: &Stop) -> Result<Option<Loaded>, String> {
    // A pipe or a device may give nothing for ever, and closing the plug-in waits for its loads.
    if fs::metadata(path).is_ok_and(|meta| !meta.is_file() && !meta.is_dir()) {
        return Err(say::no_file(&path.to_string_lossy()));
    }
    let file = AudioFile::open(path).map_err(|e| e.to_string())?;
    let most = (LONGEST_S * f64::from(file.sample_rate_hz())) as u64;
    // One frame more tells a file that is too long.
    let going = &mut |_| !stop.is_set();
    let read = Whole::passage(file, 0..most + 1, going).map_err(|e| e.to_string())?;
    let Some(Whole { planes: mut channels, sample_rate_hz: rate_hz }) = read else {
        return Ok(None);
    };
    silence_bad(&mut channels);
    if channels[0].len() as u64 > most {
        return Err(say::too_long(&path.to_string_lossy(), LONGEST_S));
    }
    let config = Config { sample_rate_hz: f64::from(rate_hz), channels: channels.len() };
    let mut meter = Meter::new(config).map_err(|e| format!("{}: {e}", path.display()))?;
    for at in (0..channels[0].len()).step_by(CHUNK) {
        if stop.is_set() {
            return Ok(None);
        }
        let end = channels[0].len().min(at + CHUNK);
        let part: Vec<&[f32]> = channels.iter().map(|c| &c[at..end]).collect();
        meter.process(&part, None, &mut ());
    }
    meter.finish(&mut ());
    if meter.readings().loudness.integrated_lufs.is_none() {
        return Err(say::silent(&path.to_string_lossy()));
    }
    Ok(Some(Loaded { channels, rate_hz, readings: *meter.readings() }))
}

impl Loaded {
    /// The track at the host's rate; `path` is the file's.
    ///
    /// # Errors
    /// The file's rate carries less of the top than is judged, or the resampler's own words.
    pub(super) fn track(self, path: &str, rate_hz: u32) -> Result<Track, String> {
        if let Some(reason) = low_rate(self.rate_hz, rate_hz) {
            return Err(format!("{path}: {reason}"));
        }
        let mut channels = resample::to_rate(&self.channels, self.rate_hz, rate_hz)
            .map_err(|resample::ResampleError(text)| text)?;
        let fade = (FADE_MS * f64::from(rate_hz) / 1e3) as usize;
        for channel in &mut channels {
            let length = channel.len();
            for k in 0..fade.min(length / 2) {
                let gain = (k as f32 + 0.5) / fade as f32;
                channel[k] *= gain;
                channel[length - 1 - k] *= gain;
            }
        }
        let mut channels = channels.into_iter();
        let left = channels.next().unwrap_or_default();
        let right = channels.next().unwrap_or_else(|| left.clone());
        Ok(Track { channels: [left, right] })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn a_device_is_not_waited_for() {
        let refused = load(Path::new("/dev/zero"), &Stop::default());
        assert!(refused.is_err_and(|text| text.contains("/dev/zero") && !text.contains('\n')));
    }

    #[test]
    fn paths_and_addresses_name_files() {
        for (text, want) in [
            ("/music/a b.wav", "/music/a b.wav"),
            ("  \"/music/a.wav\"\n", "/music/a.wav"),
            ("file:///music/a%20b%C3%A9.flac", "/music/a b\u{e9}.flac"),
            ("file://localhost/music/a.mp3", "/music/a.mp3"),
            ("file:///100%.wav", "/100%.wav"),
        ] {
            assert_eq!(path_of(text), PathBuf::from(want), "{text}");
        }
    }
}
