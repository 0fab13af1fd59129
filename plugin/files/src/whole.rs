//! A file, or a passage of it, in memory.

use std::ops::Range;
use std::path::Path;

use brunt_engine::InputHealth;

use crate::decode::AudioFile;
use crate::error::Error;

/// Samples in memory, one plane a channel, all of one length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Whole {
    /// One plane a channel, one or two of them; full scale is 1.
    pub planes: Vec<Vec<f32>>,
    /// Sample rate, Hz.
    pub sample_rate_hz: u32,
}

impl Whole {
    /// Reads all of a file.
    ///
    /// # Errors
    /// Those of [`AudioFile::open`] and [`AudioFile::next_block`].
    pub fn read(path: &Path) -> Result<Self, Error> {
        let read = Self::passage(AudioFile::open(path)?, 0..u64::MAX, &mut |_| true)?;
        Ok(read.unwrap_or_default())
    }

    /// Reads the frames of a passage of `file`, from where it starts: as many of them as there are.
    /// `going` is asked after each packet, told the frames in memory; `Ok(None)` once it says no.
    ///
    /// # Errors
    /// Those of [`AudioFile::next_block`].
    pub fn passage(
        mut file: AudioFile,
        frames: Range<u64>,
        going: &mut dyn FnMut(u64) -> bool,
    ) -> Result<Option<Self>, Error> {
        let mut planes = vec![Vec::new(); file.channels()];
        let (mut block, mut at) = (Vec::new(), 0);
        while at < frames.end && file.next_block(&mut block)? {
            let there = block.first().map_or(0, Vec::len) as u64;
            let first = (frames.start.max(at) - at).min(there) as usize;
            let last = (frames.end.min(at + there) - at) as usize;
            for (plane, samples) in planes.iter_mut().zip(&block) {
                plane.extend_from_slice(&samples[first.min(last)..last]);
            }
            at += there;
            if !going(planes[0].len() as u64) {
                return Ok(None);
            }
        }
        Ok(Some(Self { planes, sample_rate_hz: file.sample_rate_hz() }))
    }
}

/// Makes silence of what the engine measures as silence, and counts it: see [`InputHealth::silence`].
pub fn silence_bad(planes: &mut [Vec<f32>]) -> InputHealth {
    let mut health = InputHealth::default();
    planes.iter_mut().for_each(|plane| health.silence(plane));
    health
}

#[cfg(test)]
mod tests {
    use brunt_engine::thresholds::LARGEST_SAMPLE;

    use super::*;

    /// Ten frames that count up, as a file.
    fn counting(folder: &Path) -> std::path::PathBuf {
        let path = folder.join("counting.wav");
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 48_000,
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let mut writer = hound::WavWriter::create(&path, spec).expect("made");
        (0..10u8).for_each(|n| writer.write_sample(f32::from(n)).expect("written"));
        writer.finalize().expect("written");
        path
    }

    #[test]
    fn what_is_no_number_is_silenced_and_counted() {
        let (nan, inf) = (f32::NAN, f32::INFINITY);
        let mut planes = [vec![0.5, nan, -LARGEST_SAMPLE], vec![-inf, 1e30, nan]];
        let health = silence_bad(&mut planes);
        assert_eq!((health.nan_samples, health.inf_samples), (2, 2));
        assert_eq!(planes, [[0.5, 0.0, -LARGEST_SAMPLE], [0.0; 3]]);
        assert_eq!(silence_bad(&mut planes), InputHealth::default());
    }

    #[test]
    fn a_passage_is_cut_to_what_there_is_and_can_be_called_off() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = counting(folder.path());
        let open = || AudioFile::open(&path).expect("opens");
        let passage = |frames| Whole::passage(open(), frames, &mut |_| true).expect("reads");
        assert_eq!(passage(3..5).expect("read").planes, [[3.0, 4.0]]);
        assert_eq!(passage(8..40).expect("read").planes, [[8.0, 9.0]]);
        assert_eq!(passage(40..50).expect("read").planes, [Vec::<f32>::new()]);
        assert_eq!(Whole::read(&path).expect("reads").planes[0].len(), 10);
        assert_eq!(Whole::passage(open(), 0..10, &mut |_| false).expect("reads"), None);
    }
}
