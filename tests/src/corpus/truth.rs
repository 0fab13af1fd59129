//! What is known of a render: onsets, how far each event stands out, peaks and loudness.
//!
//! Loudness comes from the `ebur128` crate, not from the engine under test.

use super::audio::to_db;
use super::drums::Drum;
use super::mix::Clip;
use super::player::{Event, Instrument};
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
    /// How hard, 0 to 1.
    pub velocity: f64,
    /// Peak of the event alone in the mix, dBFS. `None` for parts whose bus is distorted.
    pub peak_dbfs: Option<f64>,
    /// Level of the event's first 10 ms alone over the mix in the 20 ms before it, dB.
    pub rise_db: Option<f64>,
    /// The same after a first difference (6 dB an octave up): a hat over a ringing kick.
    pub rise_bright_db: Option<f64>,
}

impl Truth {
    /// Whether it is a kick or a snare.
    #[must_use]
    pub fn is_backbone(&self) -> bool {
        matches!(self.instrument, Instrument::Drum(Drum::Kick | Drum::Snare))
    }
}

/// The truth of one event whose clip stands in `mix` with the factor `gain`.
#[must_use]
pub fn of_event(event: &Event, clip: &Clip, gain: f32, mix: &Stereo) -> Truth {
    let rate = f64::from(mix.rate);
    let late = clip.onset_20 as f64 - clip.onset as f64;
    let known = !matches!(event.instrument, Instrument::GuitarLeft | Instrument::GuitarRight);
    let ms = |ms: f64| (ms * 1e-3 * rate) as usize;
    let first = (clip.onset, (clip.onset + ms(10.0)).min(clip.audio.len()));
    // The clip itself may start a little ahead of its onset, and a limb next to it likewise.
    let before = (event.frame.saturating_sub(ms(25.0)), event.frame.saturating_sub(ms(5.0)).max(1));
    let factor = f64::from(gain).powi(2).max(1e-20);
    let rise = |bright: bool| {
        let own = factor * power(&clip.audio, first, bright);
        let rest = power(mix, before, bright);
        10.0 * ((own + 1e-12) / (rest + 1e-12)).log10()
    };
    Truth {
        instrument: event.instrument,
        time_s: event.frame as f64 / rate,
        time_20_s: (event.frame as f64 + late) / rate,
        velocity: event.velocity,
        peak_dbfs: known.then(|| to_db(clip.audio.peak() * gain)),
        rise_db: known.then(|| rise(false)),
        rise_bright_db: known.then(|| rise(true)),
    }
}

/// Mean square over a range of frames, both channels; of the first difference where `bright`.
fn power(audio: &Stereo, (from, to): (usize, usize), bright: bool) -> f64 {
    let mut sum = 0.0;
    for channel in audio.channels() {
        for i in from.max(1)..to.min(channel.len()) {
            let x = if bright { channel[i] - channel[i - 1] } else { channel[i] };
            sum += f64::from(x).powi(2);
        }
    }
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
