//! Changes of tone that weaken the mids, and what hits and small speakers gain without one.

use crate::bands::BANDS;
use crate::records::AmongRecords;
use crate::spectrum::{THIRDS, third_hz};
use crate::thresholds as t;
use crate::{Mids, Shape};

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
pub(super) struct Gain {
    /// K-weighted level of the hits at one loudness of the whole, dB. `None` before the first hit.
    pub(super) hits_db: Option<f64>,
    /// Level of the band of a small speaker, up to the end of the mids, at one loudness of the whole, dB.
    pub(super) carry_db: f64,
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
    pub(super) fn gain(
        &self,
        thirds: &[f64; THIRDS],
        hits: &HitTone,
        change: Change,
        size_db: f64,
    ) -> Gain {
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
