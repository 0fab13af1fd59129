//! One loudness for all versions of a passage, as loud as the loudest peak among them allows.

use brunt_engine::{Config, Loudness, Meter, Readings};

/// True peak that no version exceeds, dBTP (EBU R 128: -1 dBTP at most).
pub(super) const MOST_DBTP: f64 = -1.0;
/// Room under it by the standard's interpolator, dB. Ours: a longer one reads up to 0.5 dB more.
const ROOM_DB: f64 = 0.5;
/// Length of the fades at both ends, s. Ours: no click, and shorter than any attack's lead.
const FADE_S: f64 = 0.01;

/// Loudness and peak of a version.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Level {
    pub(super) loudness_lufs: f64,
    pub(super) true_peak_dbtp: f64,
}

impl Level {
    /// Of planes at `rate_hz`; `None` for silence and for a rate that cannot be measured.
    pub(super) fn of(planes: &[Vec<f32>], rate_hz: f64) -> Option<Self> {
        Self::read(&readings(planes, rate_hz)?.loudness)
    }

    /// Of what was read; `None` of silence.
    pub(super) fn read(loudness: &Loudness) -> Option<Self> {
        Some(Self {
            loudness_lufs: loudness.integrated_lufs?,
            true_peak_dbtp: loudness.true_peak_dbtp?,
        })
    }
}

/// What the meter reads of planes at `rate_hz`; `None` for a rate that cannot be measured.
pub(super) fn readings(planes: &[Vec<f32>], rate_hz: f64) -> Option<Readings> {
    let config = Config { sample_rate_hz: rate_hz, channels: planes.len() };
    let mut meter = Meter::new(config).ok()?;
    let slices: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
    meter.process(&slices, None, &mut ());
    meter.finish(&mut ());
    Some(*meter.readings())
}

/// The loudness to which all versions are brought: that of the first, or less, so that none peaks
/// over [`MOST_DBTP`].
pub(super) fn common_lufs(levels: &[Level]) -> f64 {
    let fits = |level: &Level| level.loudness_lufs - level.true_peak_dbtp + MOST_DBTP - ROOM_DB;
    let first = levels.first().map_or(0.0, |level| level.loudness_lufs);
    levels.iter().map(fits).fold(first, f64::min)
}

/// Fades both ends, so that a cut does not click.
pub(super) fn fade(planes: &mut [Vec<f32>], rate_hz: f64) {
    for plane in planes {
        let fade = ((FADE_S * rate_hz) as usize).min(plane.len() / 2);
        let last = plane.len();
        for n in 0..fade {
            let share = 0.5 - 0.5 * (std::f64::consts::PI * (n as f64 + 0.5) / fade as f64).cos();
            plane[n] *= share as f32;
            plane[last - 1 - n] *= share as f32;
        }
    }
}

/// Turns planes up or down by `gain_db`.
pub(super) fn turn(planes: &mut [Vec<f32>], gain_db: f64) {
    let gain = 10f64.powf(gain_db / 20.0) as f32;
    planes.iter_mut().flatten().for_each(|x| *x *= gain);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loudness_is_the_first_s_unless_a_peak_is_in_the_way() {
        let level = |loudness_lufs, true_peak_dbtp| Level { loudness_lufs, true_peak_dbtp };
        assert_eq!(common_lufs(&[level(-14.0, -3.0), level(-16.0, -6.0)]), -14.0);
        // The second would peak at +2 dBTP at -14 LUFS: 3.5 dB lower it fits with room.
        assert_eq!(common_lufs(&[level(-14.0, -3.0), level(-20.0, -4.0)]), -17.5);
    }

    #[test]
    fn fades_start_and_end_at_nothing_and_leave_the_middle() {
        let mut planes = vec![vec![1.0f32; 48_000]; 2];
        fade(&mut planes, 48_000.0);
        for plane in &planes {
            assert!(plane[0] < 1e-4 && plane[47_999] < 1e-4);
            assert!(plane[480..47_520].iter().all(|x| *x == 1.0));
            assert!(plane.windows(2).all(|w| (w[1] - w[0]).abs() < 0.004), "no step");
        }
    }
}
