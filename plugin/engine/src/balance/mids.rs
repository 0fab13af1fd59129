//! The mids leak.

use super::Curve;
use super::shape::{Gaps, Tone};
use crate::spectrum::{THIRDS, third_hz};
use crate::thresholds as t;
use crate::{Cost, Mids, Need, Shape, State, Thresholds};

impl Curve {
    /// The mids leak. Its state follows [`Tone::weakness_db`]; its cost is what the hits would gain
    /// in the band of a small speaker, at one loudness of the whole, were the mid deficit taken
    /// out. `tone` and `thirds` are those of the balance.
    pub(crate) fn mids(
        &self,
        tone: Option<&Tone>,
        thirds: &[f64; THIRDS],
        gaps: &Gaps,
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
        let Some(tone) = tone else {
            return Mids { need: Need::SampleRate, ..Mids::default() };
        };
        // The limits of the cost can be set; those of the weakness go along.
        let usual = Thresholds::default();
        let watch_db = t::MIDS_WEAK_DB * limits.watch_db / usual.watch_db;
        let leaking_db = t::MIDS_WEAK_DB * limits.leaking_db / usual.leaking_db;
        let weakness_db = tone.weakness_db(gaps.db());
        let shape = tone.shape(weakness_db >= watch_db);
        let state = match shape {
            _ if weakness_db < watch_db => State::Clear,
            Shape::Scooped | Shape::BoostedExtremes if weakness_db >= leaking_db => State::Leaking,
            // Twice the limit is no matter of taste any more.
            _ if weakness_db >= 2.0 * leaking_db => State::Leaking,
            // One end alone stands out: a matter of taste before it is one of weak mids.
            _ => State::Watch,
        };
        let db = self.changes.cost_db(thirds, tone, shape);
        let (under, over) = t::MIDS_COST_RANGE_DB;
        let cost = Cost { db, low_db: (db - under).max(0.0), high_db: db + over };
        Mids {
            state,
            need: Need::Nothing,
            cost: Some(cost),
            mid_deficit_db: Some(tone.deficit_db),
            weakness_db: Some(weakness_db),
            shape: Some(shape),
        }
    }
}

/// Nepers of power in a decibel.
const NEPERS: f64 = std::f64::consts::LN_10 / 10.0;

/// What the cost is worked out from, a third octave: it is asked for ten times a second.
#[derive(Clone, Debug)]
pub(super) struct Changes {
    /// Both changes of tone, nepers of power a dB of their size.
    dip: [f64; THIRDS],
    shelves: [f64; THIRDS],
    /// K-weighting, and that part of it in the band of a small speaker up to the end of the mids.
    weight: [f64; THIRDS],
    band_weight: [f64; THIRDS],
}

impl Changes {
    pub(super) fn new() -> Self {
        let weight = |index: usize| 10f64.powf(t::K_THIRDS_DB[index] / 10.0);
        Self {
            dip: std::array::from_fn(|index| dip_db(third_hz(index)) * NEPERS),
            shelves: std::array::from_fn(|index| shelves_db(third_hz(index)) * NEPERS),
            weight: std::array::from_fn(weight),
            band_weight: std::array::from_fn(|index| {
                let hz = third_hz(index);
                let low = 1.0 / (1.0 + (t::SMALL_SPEAKER_HZ / hz).powi(4));
                weight(index) * low / (1.0 + (hz / t::MID_HIGH_HZ).powi(4))
            }),
        }
    }

    /// Level that the band of a small speaker, up to the end of the mids, would gain in the
    /// K-weighted whole, were the deficit taken out by the change of tone that fits the shape, dB.
    fn cost_db(&self, thirds: &[f64; THIRDS], tone: &Tone, shape: Shape) -> f64 {
        let (change, response) = match shape {
            Shape::Scooped => (&self.dip, t::DEFICIT_OF_DIP),
            _ => (&self.shelves, t::DEFICIT_OF_SHELVES),
        };
        let size = (tone.deficit_db / response).clamp(0.0, t::MOST_TAKEN_OUT_DB);
        if size == 0.0 {
            return 0.0;
        }
        let mut mended = *thirds;
        for (power, change) in mended.iter_mut().zip(change) {
            *power *= (-size * change).exp();
        }
        (self.share_db(&mended) - self.share_db(thirds)).max(0.0)
    }

    /// K-weighted share of a small speaker's band, up to the end of the mids, in the whole, dB.
    fn share_db(&self, thirds: &[f64; THIRDS]) -> f64 {
        let sum = |weights: &[f64; THIRDS]| -> f64 {
            thirds.iter().zip(weights).map(|(power, weight)| power * weight).sum()
        };
        10.0 * (sum(&self.band_weight) / sum(&self.weight)).log10()
    }
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
