//! The mids leak.

use super::Curve;
use super::shape::{Gaps, Tone};
use crate::spectrum::{THIRDS, third_hz};
use crate::thresholds as t;
use crate::{BesideReference, Cost, Mids, Need, Shape, State, Thresholds};

impl Curve {
    /// The mids leak. Its state follows [`Tone::weakness_db`], or how much weaker the mids are than
    /// those of a reference; its cost is what the hits would gain in the band of a small speaker, at
    /// one loudness of the whole, were the mid deficit, or what it has over the reference's, taken
    /// out. `tone` and `thirds` are those of the balance.
    pub(crate) fn mids(&self, heard: &Heard, limits: &Thresholds) -> Mids {
        if heard.programme_s < t::BALANCE_LEAST_S {
            let need = if heard.programme_s > 0.0 {
                Need::Programme {
                    have_s: heard.programme_s as f32,
                    want_s: t::BALANCE_LEAST_S as f32,
                }
            } else {
                Need::Signal
            };
            return Mids { need, ..Mids::default() };
        }
        let Some(tone) = heard.tone else {
            return Mids { need: Need::SampleRate, ..Mids::default() };
        };
        let weakness_db = tone.weakness_db(heard.gaps.db());
        let reference = heard.reference.and_then(|thirds| self.tone(thirds));
        let beside = reference.map(|other| BesideReference {
            // Of the reference's gaps nothing is kept.
            weakness_db: tone.weakness_db(0.0) - other.weakness_db(0.0),
            deficit_db: tone.deficit_db - other.deficit_db,
        });
        let against = reference.map_or(*tone, |other| tone.less(&other));
        // The limits of the cost can be set; those of the weakness go along.
        let usual = Thresholds::default();
        let (weak_db, [watch_db, leaking_db], scoop_db) = match beside {
            Some(beside) => {
                let from_db = [t::MIDS_BESIDE_DB / 2.0, t::MIDS_BESIDE_DB];
                (beside.weakness_db, from_db, t::SCOOP_BESIDE_DB)
            }
            None => (weakness_db, [t::MIDS_WEAK_DB; 2], t::SCOOP_DB),
        };
        let watch_db = watch_db * limits.watch_db / usual.watch_db;
        let leaking_db = leaking_db * limits.leaking_db / usual.leaking_db;
        let shape = against.shape(weak_db >= watch_db, scoop_db);
        let state = match shape {
            _ if weak_db < watch_db => State::Clear,
            Shape::Scooped | Shape::BoostedExtremes if weak_db >= leaking_db => State::Leaking,
            // Twice the limit is no matter of taste any more.
            _ if weak_db >= 2.0 * leaking_db => State::Leaking,
            // One end alone stands out: a matter of taste before it is one of weak mids.
            _ => State::Watch,
        };
        let db = self.changes.cost_db(heard.thirds, against.deficit_db, shape);
        let (under, over) = t::MIDS_COST_RANGE_DB;
        let cost = Cost { db, low_db: (db - under).max(0.0), high_db: db + over };
        Mids {
            state,
            need: Need::Nothing,
            cost: Some(cost),
            mid_deficit_db: Some(tone.deficit_db),
            weakness_db: Some(weakness_db),
            beside,
            shape: Some(shape),
        }
    }
}

/// What the mids are judged by.
pub(crate) struct Heard<'a> {
    /// Tone of the mix.
    pub(crate) tone: Option<&'a Tone>,
    /// Powers of its third octaves.
    pub(crate) thirds: &'a [f64; THIRDS],
    /// How uneven its mids are.
    pub(crate) gaps: &'a Gaps,
    /// Programme above the gate, s.
    pub(crate) programme_s: f64,
    /// Third octaves of a reference of which enough was heard, dBFS.
    pub(crate) reference: Option<&'a [Option<f64>; THIRDS]>,
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
    fn cost_db(&self, thirds: &[f64; THIRDS], deficit_db: f64, shape: Shape) -> f64 {
        let (change, response) = match shape {
            Shape::Scooped => (&self.dip, t::DEFICIT_OF_DIP),
            _ => (&self.shelves, t::DEFICIT_OF_SHELVES),
        };
        let size = (deficit_db / response).clamp(0.0, t::MOST_TAKEN_OUT_DB);
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
