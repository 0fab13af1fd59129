//! The mids leak.

use super::Curve;
use super::shape::{Gaps, Tone};
use crate::bands::BANDS;
use crate::records::AmongRecords;
use crate::spectrum::{THIRDS, third_hz};
use crate::thresholds as t;
use crate::{BesideReference, Cost, Mids, Need, Shape, State, Thresholds};

impl Curve {
    /// The mids leak. Without a reference its state follows where the mids lie among finished records,
    /// with one how much weaker they are than its. Its cost is what the hits would gain at one
    /// loudness of the whole, were the mids as in the middle record, or as in the reference.
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
        let among = tone.among_records();
        let reference = heard.reference.and_then(|thirds| self.tone(thirds));
        let (beside, state, shape);
        if let Some(other) = &reference {
            let than = tone.less(other);
            // Of the reference's gaps nothing is kept.
            let weakness_db = tone.weakness_db(0.0) - other.weakness_db(0.0);
            state = beside_state(weakness_db, &than, limits);
            shape = than.shape(state.loses(), than.scoop_db >= t::SCOOP_BESIDE_DB);
            beside = Some(BesideReference { weakness_db, deficit_db: than.deficit_db });
        } else {
            state = match among.percentile {
                percent if percent >= t::MIDS_LEAKING_PERCENT => State::Leaking,
                percent if percent >= t::MIDS_WATCH_PERCENT => State::Watch,
                _ => State::Clear,
            };
            shape = tone.shape(state.loses(), among.dipped);
            beside = None;
        }
        let mut mids = Mids {
            state,
            need: Need::Nothing,
            cost: None,
            mid_deficit_db: Some(tone.deficit_db),
            weakness_db: Some(tone.weakness_db(heard.over_time.gaps.db())),
            dip_db: Some(tone.dip_db),
            lift_db: Some(tone.lift_db),
            percentile: Some(among.percentile),
            carry_db: None,
            beside,
            shape: Some(shape),
        };
        if let Some((change, size_db)) = Change::of(&mids) {
            let gain = self.changes.gain(heard.thirds, &heard.over_time.hits, change, size_db);
            let (under, over) = t::MIDS_COST_RANGE_DB;
            mids.cost = gain.hits_db.map(|db| Cost {
                db,
                low_db: (db - under).max(0.0),
                high_db: db + over,
            });
            mids.carry_db = Some(gain.carry_db);
        }
        mids
    }
}

/// The state beside a reference, of which the mids are weaker by so much; `than`: the tone less the
/// reference's.
fn beside_state(weakness_db: f64, than: &Tone, limits: &Thresholds) -> State {
    // The limits of the cost can be set; those of the weakness go along.
    let usual = Thresholds::default();
    let watch_db = t::MIDS_BESIDE_DB / 2.0 * limits.watch_db / usual.watch_db;
    let leaking_db = t::MIDS_BESIDE_DB * limits.leaking_db / usual.leaking_db;
    let shape = than.shape(weakness_db >= watch_db, than.scoop_db >= t::SCOOP_BESIDE_DB);
    match shape {
        _ if weakness_db < watch_db => State::Clear,
        Shape::Scooped | Shape::BoostedExtremes if weakness_db >= leaking_db => State::Leaking,
        // Twice the limit is no matter of taste any more.
        _ if weakness_db >= 2.0 * leaking_db => State::Leaking,
        // One end alone stands out: a matter of taste before it is one of weak mids.
        _ => State::Watch,
    }
}

/// What the mids are judged by.
pub(crate) struct Heard<'a> {
    /// Tone of the mix.
    pub(crate) tone: Option<&'a Tone>,
    /// Powers of its third octaves.
    pub(crate) thirds: &'a [f64; THIRDS],
    /// How uneven its mids are, and the tone of its hits.
    pub(crate) over_time: &'a OverTime,
    /// Programme above the gate, s.
    pub(crate) programme_s: f64,
    /// Third octaves of a reference of which enough was heard, dBFS.
    pub(crate) reference: Option<&'a [Option<f64>; THIRDS]>,
}

/// What the third octaves do not tell of the tone.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct OverTime {
    /// How uneven the mids are.
    pub(crate) gaps: Gaps,
    /// Tone of the hits.
    pub(crate) hits: HitTone,
}

/// How the hits' power is shared out among the three bands, summed over hits.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct HitTone {
    shares: [f64; BANDS],
}

impl HitTone {
    /// Takes a hit by the levels of its loudest 10 ms, dBFS.
    pub(crate) fn hit(&mut self, band_dbfs: &[f64; BANDS]) {
        let powers = band_dbfs.map(|db| 10f64.powf(db / 10.0));
        let whole: f64 = powers.iter().sum();
        if whole > 0.0 {
            for (share, power) in self.shares.iter_mut().zip(powers) {
                *share += power / whole;
            }
        }
    }
}

/// Nepers of power in a decibel.
const NEPERS: f64 = std::f64::consts::LN_10 / 10.0;

/// A change of tone that weakens the mids.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Change {
    Dip,
    Shelves,
}

impl Change {
    /// What is unusual about some mids, and its size, dB, not negative: against the reference where
    /// there is one, else against the middle one of finished records. `None` while they are unknown.
    pub(super) fn of(mids: &Mids) -> Option<(Self, f64)> {
        let among = AmongRecords::of(mids.dip_db?, mids.lift_db?);
        let (change, size_db) = match &mids.beside {
            Some(beside) if mids.shape == Some(Shape::Scooped) => {
                (Self::Dip, beside.deficit_db / Self::Dip.deficit())
            }
            Some(beside) => (Self::Shelves, beside.deficit_db / Self::Shelves.deficit()),
            None if among.dipped => (Self::Dip, among.over_middle_db / Self::Dip.unusual()),
            None => (Self::Shelves, among.over_middle_db / Self::Shelves.unusual()),
        };
        Some((change, size_db.clamp(0.0, t::MOST_TAKEN_OUT_DB)))
    }

    /// Its gain at a frequency, dB a dB of its size.
    pub(super) fn db(self, hz: f64) -> f64 {
        match self {
            Self::Dip => dip_db(hz),
            Self::Shelves => shelves_db(hz),
        }
    }

    /// Mid deficit a decibel of it, dB.
    fn deficit(self) -> f64 {
        match self {
            Self::Dip => t::DEFICIT_OF_DIP,
            Self::Shelves => t::DEFICIT_OF_SHELVES,
        }
    }

    /// What the number that it moves among records grows by a decibel of it, dB.
    fn unusual(self) -> f64 {
        match self {
            Self::Dip => t::DIP_OF_DIP,
            Self::Shelves => t::LIFT_OF_SHELVES,
        }
    }
}

/// What would come back were a change of tone taken out.
struct Gain {
    /// K-weighted level of the hits at one loudness of the whole, dB. `None` before the first hit.
    hits_db: Option<f64>,
    /// Level of the band of a small speaker, up to the end of the mids, at one loudness of the whole, dB.
    carry_db: f64,
}

/// What the cost is worked out from, a third octave: it is asked for ten times a second.
#[derive(Clone, Debug)]
pub(super) struct Changes {
    /// Both changes of tone, nepers of power a dB of their size.
    dip: [f64; THIRDS],
    shelves: [f64; THIRDS],
    /// K-weighting, and that part of it in the band of a small speaker up to the end of the mids.
    weight: [f64; THIRDS],
    band_weight: [f64; THIRDS],
    /// What each of the three bands of the hits takes of a third octave, as a share.
    split: [[f64; THIRDS]; BANDS],
}

impl Changes {
    pub(super) fn new() -> Self {
        let weight = |index: usize| 10f64.powf(t::K_THIRDS_DB[index] / 10.0);
        let split = |index: usize| {
            let hz = third_hz(index);
            let low = 1.0 / (1.0 + (hz / t::LOW_MID_HZ).powi(4));
            let high = (1.0 - low) / (1.0 + (t::MID_HIGH_HZ / hz).powi(4));
            [low, 1.0 - low - high, high]
        };
        Self {
            dip: std::array::from_fn(|index| Change::Dip.db(third_hz(index)) * NEPERS),
            shelves: std::array::from_fn(|index| Change::Shelves.db(third_hz(index)) * NEPERS),
            weight: std::array::from_fn(weight),
            band_weight: std::array::from_fn(|index| {
                let hz = third_hz(index);
                let low = 1.0 / (1.0 + (t::SMALL_SPEAKER_HZ / hz).powi(4));
                weight(index) * low / (1.0 + (hz / t::MID_HIGH_HZ).powi(4))
            }),
            split: std::array::from_fn(|band| std::array::from_fn(|index| split(index)[band])),
        }
    }

    /// K-weighted level of the band of a small speaker, up to the end of the mids, over the whole, dB.
    pub(super) fn carried_db(&self, thirds: &[f64; THIRDS]) -> f64 {
        10.0 * (sum(thirds, &self.band_weight) / sum(thirds, &self.weight)).log10()
    }

    /// What the hits would gain were `change` of that size taken out. Inside a band the hits count as
    /// having the programme's spectrum.
    fn gain(&self, thirds: &[f64; THIRDS], hits: &HitTone, change: Change, size_db: f64) -> Gain {
        let change = match change {
            Change::Dip => &self.dip,
            Change::Shelves => &self.shelves,
        };
        let mended: [f64; THIRDS] =
            std::array::from_fn(|index| thirds[index] * (-size_db * change[index]).exp());
        let ratio_db = |a: f64, b: f64| 10.0 * (a / b).log10();
        let all = [thirds, &mended].map(|thirds| sum(thirds, &self.weight));
        let louder_db = ratio_db(all[1], all[0]);
        let (mut before, mut after) = (0.0, 0.0);
        for (share, split) in hits.shares.iter().zip(&self.split) {
            let weighted: [f64; THIRDS] = std::array::from_fn(|i| self.weight[i] * split[i]);
            let plain = sum(thirds, split);
            if plain > 0.0 {
                before += share * sum(thirds, &weighted) / plain;
                after += share * sum(&mended, &weighted) / plain;
            }
        }
        let gained = |db: f64| db.max(0.0);
        Gain {
            hits_db: (before > 0.0).then(|| gained(ratio_db(after, before) - louder_db)),
            carry_db: gained(self.carried_db(&mended) - self.carried_db(thirds)),
        }
    }
}

fn sum(thirds: &[f64; THIRDS], weights: &[f64; THIRDS]) -> f64 {
    thirds.iter().zip(weights).map(|(power, weight)| power * weight).sum()
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
