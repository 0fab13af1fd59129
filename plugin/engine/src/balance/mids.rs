//! The mids leak.

use super::Curve;
use super::shape::Tone;
use crate::spectrum::{THIRDS, third_hz};
use crate::thresholds as t;
use crate::{Balance, Cost, Mids, Need, Shape, State, Thresholds};

impl Curve {
    /// The mids leak. Its state follows the mid deficit; its cost is what the hits would gain in
    /// the band of a small speaker, at one loudness of the whole, were the deficit taken out.
    pub(crate) fn mids(
        &self,
        balance: &Balance,
        thirds: &[f64; THIRDS],
        programme_s: f64,
        limits: &Thresholds,
    ) -> Mids {
        if programme_s < t::BALANCE_LEAST_S {
            let need = if programme_s > 0.0 {
                Need::Programme { have_s: programme_s as f32, want_s: t::BALANCE_LEAST_S as f32 }
            } else {
                Need::Signal
            };
            return Mids { need, ..Mids::default() };
        }
        let Some(tone) = self.tone(thirds) else {
            return Mids { need: Need::SampleRate, ..Mids::default() };
        };
        // The limits of the cost can be set; those of the deficit go along.
        let usual = Thresholds::default();
        let watch_db = t::MID_DEFICIT_WATCH_DB * limits.watch_db / usual.watch_db;
        let leaking_db = t::MID_DEFICIT_LEAKING_DB * limits.leaking_db / usual.leaking_db;
        let shape = tone.shape(watch_db);
        let state = match shape {
            _ if tone.deficit_db < watch_db => State::Clear,
            Shape::Scooped | Shape::BoostedExtremes if tone.deficit_db >= leaking_db => {
                State::Leaking
            }
            // Twice the limit is no matter of taste any more.
            _ if tone.deficit_db >= 2.0 * leaking_db => State::Leaking,
            // One end alone stands out: a matter of taste before it is one of weak mids.
            _ => State::Watch,
        };
        let db = cost_db(thirds, &tone, shape);
        let (under, over) = t::MIDS_COST_RANGE_DB;
        let cost = Cost { db, low_db: (db - under).max(0.0), high_db: db + over };
        Mids {
            state,
            need: Need::Nothing,
            cost: Some(cost),
            mid_deficit_db: balance.mid_deficit_db,
            shape: Some(shape),
        }
    }
}

/// Level that the band of a small speaker, up to the end of the mids, would gain in the K-weighted
/// whole, were the deficit taken out by the change of tone that fits the shape, dB.
fn cost_db(thirds: &[f64; THIRDS], tone: &Tone, shape: Shape) -> f64 {
    let (change, response): (fn(f64) -> f64, f64) = match shape {
        Shape::Scooped => (dip_db, t::DEFICIT_OF_DIP),
        _ => (shelves_db, t::DEFICIT_OF_SHELVES),
    };
    let size = (tone.deficit_db / response).clamp(0.0, t::MOST_TAKEN_OUT_DB);
    let mut mended = *thirds;
    for (index, power) in mended.iter_mut().enumerate() {
        *power *= 10f64.powf(-size * change(third_hz(index)) / 10.0);
    }
    (share_db(&mended) - share_db(thirds)).max(0.0)
}

/// A wide dip near 700 Hz, dB a dB of its depth.
fn dip_db(hz: f64) -> f64 {
    let octaves = (hz / 700.0).log2();
    -1.0 / (1.0 + octaves * octaves)
}

/// Shelves near 60 Hz and 12 kHz, dB a dB of their gain.
fn shelves_db(hz: f64) -> f64 {
    1.0 / (1.0 + (hz / 60.0).powi(2)) + 1.0 / (1.0 + (12_000.0 / hz).powi(2))
}

/// K-weighted share of a small speaker's band, up to the end of the mids, in the whole, dB.
fn share_db(thirds: &[f64; THIRDS]) -> f64 {
    let (mut band, mut whole) = (0.0, 0.0);
    for (index, power) in thirds.iter().enumerate() {
        let hz = third_hz(index);
        let weighted = power * 10f64.powf(t::K_THIRDS_DB[index] / 10.0);
        let low = 1.0 / (1.0 + (t::SMALL_SPEAKER_HZ / hz).powi(4));
        whole += weighted;
        band += weighted * low / (1.0 + (hz / t::MID_HIGH_HZ).powi(4));
    }
    10.0 * (band / whole).log10()
}
