//! What is known of a render: onsets, how far each event stands out, peaks and loudness.
//!
//! Loudness comes from the `ebur128` crate, not from the engine under test.

use super::amp::Biquad;
use super::audio::to_db;
use super::clip::Clip;
use super::drums::Drum;
use super::player::{Event, Instrument};
use super::tone::Tone;
use super::{Stereo, resample};

/// One event of a render.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Who plays.
    pub instrument: Instrument,
    /// Onset, s: the clip's first sample at -30 dB of its first 50 ms (see [`super::onset`]).
    pub time_s: f64,
    /// The same at -20 dB: how late another honest definition would be.
    pub time_20_s: f64,
    /// The same at -10 dB, when even a loud bed no longer hides it.
    pub time_10_s: f64,
    /// How hard, 0 to 1.
    pub velocity: f64,
    /// Peak of the event's first 50 ms alone in the mix, dBFS. `None` for parts whose bus is distorted.
    pub peak_dbfs: Option<f64>,
    /// Rise, dB: K-weighted level (BS.1770-5) of the event's first 10 ms alone over the K-weighted
    /// mix from 25 to 5 ms before it. `None` as above.
    pub rise_db: Option<f64>,
}

impl Truth {
    /// Whether its [`Truth::rise_db`] reaches [`AUDIBLE_RISE_DB`].
    #[must_use]
    pub fn is_audible(&self) -> bool {
        self.rise_db.is_some_and(|db| db >= AUDIBLE_RISE_DB)
    }

    /// Whether it is a kick or a snare.
    #[must_use]
    pub fn is_backbone(&self) -> bool {
        matches!(self.instrument, Instrument::Drum(Drum::Kick | Drum::Snare))
    }
}

/// Rise from which an event is demanded of a detector, dB: its own power is then twice that of
/// what sounds before it. A ghost note under a ringing crash is programmed and carries no rhythm.
pub const AUDIBLE_RISE_DB: f64 = 3.0;

/// The truth of one event whose clip stands with the factor `gain` and through `tone` in a mix;
/// `weighted` is that mix after [`k_weighted`].
#[must_use]
pub fn of_event(event: &Event, clip: &Clip, gain: f32, tone: Tone, weighted: &Stereo) -> Truth {
    let rate = f64::from(weighted.rate);
    let at = |onset: usize| (event.frame + onset - clip.onset) as f64 / rate;
    let known = !matches!(event.instrument, Instrument::GuitarLeft | Instrument::GuitarRight);
    let ms = |ms: f64| (ms * 1e-3 * rate) as usize;
    let first = (clip.onset, (clip.onset + ms(10.0)).min(clip.audio.len()));
    // The clip itself may start a little ahead of its onset, and a limb next to it likewise.
    let before = (event.frame.saturating_sub(ms(25.0)), event.frame.saturating_sub(ms(5.0)));
    let alone = || {
        let end = (clip.onset + ms(50.0)).min(clip.audio.len());
        let mut start = Stereo {
            rate: clip.audio.rate,
            left: clip.audio.left[..end].to_vec(),
            right: clip.audio.right[..end].to_vec(),
        };
        start.gain(gain);
        tone.apply(&start)
    };
    let alone = known.then(alone);
    let rise = |alone: &Stereo| {
        let own = power(&k_weighted(alone), first);
        10.0 * ((own + 1e-12) / (power(weighted, before) + 1e-12)).log10()
    };
    Truth {
        instrument: event.instrument,
        time_s: event.frame as f64 / rate,
        time_20_s: at(clip.onset_20),
        time_10_s: at(clip.onset_10),
        velocity: event.velocity,
        peak_dbfs: alone.as_ref().map(|a| to_db(a.peak())),
        rise_db: alone.as_ref().map(rise),
    }
}

/// Both channels through the K-weighting of BS.1770-5. The standard's coefficients are those of
/// 48 kHz; other rates are off by a few tenths of a decibel in the treble, no matter here.
#[must_use]
pub fn k_weighted(audio: &Stereo) -> Stereo {
    let mut out = audio.clone();
    for channel in [&mut out.left, &mut out.right] {
        let mut shelf = Biquad::with(
            [1.53512485958697, -2.69169618940638, 1.19839281085285],
            [-1.69065929318241, 0.73248077421585],
        );
        let mut high = Biquad::with([1.0, -2.0, 1.0], [-1.99004745483398, 0.99007225036621]);
        channel.iter_mut().for_each(|x| *x = high.run(shelf.run(*x)));
    }
    out
}

/// Mean square over a range of frames, sum of both channels.
fn power(audio: &Stereo, (from, to): (usize, usize)) -> f64 {
    let to = to.min(audio.len());
    let sum: f64 = audio
        .channels()
        .iter()
        .flat_map(|c| &c[from.min(to)..to])
        .map(|x| f64::from(*x).powi(2))
        .sum();
    sum / to.saturating_sub(from).max(1) as f64
}

/// Integrated loudness, LUFS (`ebur128`), or `None` under the gate.
#[must_use]
pub fn loudness(audio: &Stereo) -> Option<f64> {
    let mut meter = ebur128::EbuR128::new(2, audio.rate, ebur128::Mode::I).ok()?;
    meter.add_frames_planar_f32(&audio.channels()).ok()?;
    meter.loudness_global().ok().filter(|l| l.is_finite())
}

/// True peak, linear, of frames `from` to `to`: four times oversampled with a kernel of our own,
/// longer than the one of BS.1770-5 Annex 2, so the under-read is smaller.
#[must_use]
pub fn true_peak(audio: &Stereo, from: usize, to: usize) -> f32 {
    const MARGIN: usize = 32;
    let to = to.min(audio.len());
    let (start, end) = (from.saturating_sub(MARGIN), (to + MARGIN).min(audio.len()));
    let mut peak = 0.0_f32;
    for channel in audio.channels() {
        if start >= end {
            continue;
        }
        let over = resample::channel(&channel[start..end], audio.rate, 4 * audio.rate);
        let (first, last) = (4 * (from - start), 4 * (to.max(from) - start));
        let inside = over.get(first..last.min(over.len())).unwrap_or_default();
        peak = inside.iter().fold(peak, |p, x| p.max(x.abs()));
    }
    peak
}
