//! Weak mids told from a plainly dark or bright mix, and one shape of weak mids from the other.

use std::ops::Range;

use crate::Shape;
use crate::records::AmongRecords;
use crate::spectrum::THIRDS;
use crate::thresholds as t;

/// End of the third octaves that count: 16 kHz is the last.
pub(super) const TOP: usize = 29;

/// Low extreme of the mid deficit: 31.5 to 63 Hz.
const LOW: Range<usize> = 1..5;
/// Mids of the mid deficit: 200 Hz to 1.6 kHz.
const MIDS: Range<usize> = 9..19;
/// High extreme of the mid deficit: 6.3 to 16 kHz.
const HIGH: Range<usize> = 24..29;
/// Where a scoop is deepest: 400 Hz to 1.25 kHz; and its neighbours, 200 to 315 Hz and 1.6 to 4 kHz.
const SCOOP: Range<usize> = 12..18;
const UNDER_SCOOP: Range<usize> = 9..12;
const OVER_SCOOP: Range<usize> = 18..23;
/// Ends between which the tilt is taken: 31.5 to 125 Hz and 6.3 to 16 kHz.
const TILT_LOW: Range<usize> = 1..8;
/// Low end of what the state follows beside a reference: 25 to 160 Hz, wherever a kick and a bass are
/// tuned in it.
const LOW_END: Range<usize> = 0..9;
/// The middle of a dip, 500 to 800 Hz, and its neighbours, 200 to 315 Hz and 1.25 to 2 kHz: as far
/// under it as over it, so that a tilt changes nothing.
const DIP: Range<usize> = 13..16;
const UNDER_DIP: Range<usize> = 9..12;
const OVER_DIP: Range<usize> = 17..20;
/// Lows, 25 to 63 Hz, over low mids, 100 to 630 Hz; highs, 8 to 16 kHz, over high mids, 630 Hz to
/// 5 kHz: as far apart as those, so that a tilt changes nothing.
const LOWS: Range<usize> = 0..5;
const LOW_MIDS: Range<usize> = 6..15;
const HIGH_MIDS: Range<usize> = 14..24;
const HIGHS: Range<usize> = 25..29;

/// Numbers of a tone, all from deviations of third octaves from the published curve, dB. None
/// changes with gain.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Tone {
    /// Mid deficit, dB; see [`Balance::mid_deficit_db`](crate::Balance::mid_deficit_db).
    pub(super) deficit_db: f64,
    /// How far 400 Hz to 1.25 kHz lie under their neighbours, dB: sees dips and no shelves.
    pub(super) scoop_db: f64,
    /// Rise from the low end to the high end, dB an octave: bright is positive.
    pub(super) tilt_db: f64,
    /// How far the ends stand over the mids, dB: as the deficit, but the mids count by their power
    /// and the lows halfway between power and decibels, so that the strong bands of a range count
    /// for more than those that a song's instruments happen to leave empty.
    pub(super) ends_db: f64,
    /// How far 500 to 800 Hz lie under 200 to 315 Hz and 1.25 to 2 kHz, dB.
    pub(super) dip_db: f64,
    /// How far 25 to 63 Hz lie over 100 to 630 Hz, and 8 to 16 kHz over 630 Hz to 5 kHz, dB, the mean
    /// of both.
    pub(super) lift_db: f64,
}

impl Tone {
    /// From the deviation of each third octave, dB.
    pub(super) fn of(over: &[f64; THIRDS]) -> Self {
        let octaves = (centre(HIGH) - centre(TILT_LOW)) * std::f64::consts::LOG2_10 / 10.0;
        Self {
            deficit_db: t::DEFICIT_SCALE * hollow(over, [LOW, MIDS, HIGH]),
            scoop_db: hollow(over, [UNDER_SCOOP, SCOOP, OVER_SCOOP]),
            tilt_db: (mean(over, HIGH) - mean(over, TILT_LOW)) / octaves,
            ends_db: t::LOW_END_SHARE * power_mean(over, LOW_END, t::LOW_END_POWER)
                + (1.0 - t::LOW_END_SHARE) * mean(over, HIGH)
                - power_mean(over, MIDS, 1.0),
            dip_db: hollow(over, [UNDER_DIP, DIP, OVER_DIP]),
            lift_db: 0.5
                * (mean(over, LOWS) - mean(over, LOW_MIDS) + mean(over, HIGHS)
                    - mean(over, HIGH_MIDS)),
        }
    }

    /// How the mids compare with those of finished records.
    pub(super) fn among_records(&self) -> AmongRecords {
        AmongRecords::of(self.dip_db, self.lift_db)
    }

    /// How weak the mids are beside the ends, dB: what the state follows. A dip adds to it beyond
    /// what it takes from the mids' power, and gaps in the mids take from it: where drums lead, their
    /// lows and highs stand over mids that play now and then. `gaps_db` as in [`Gaps::db`].
    pub(super) fn weakness_db(&self, gaps_db: f64) -> f64 {
        let dip_db = (self.scoop_db - t::DIP_FROM_DB).max(0.0);
        self.ends_db + t::DIP_WEIGHT * dip_db - t::GAPS_WEIGHT * gaps_db
    }

    /// Its numbers less those of another programme.
    pub(super) fn less(&self, other: &Self) -> Self {
        Self {
            deficit_db: self.deficit_db - other.deficit_db,
            scoop_db: self.scoop_db - other.scoop_db,
            tilt_db: self.tilt_db - other.tilt_db,
            ends_db: self.ends_db - other.ends_db,
            dip_db: self.dip_db - other.dip_db,
            lift_db: self.lift_db - other.lift_db,
        }
    }

    /// The shape, with whether the mids are weak, and whether by a dip.
    pub(super) fn shape(&self, weak: bool, dipped: bool) -> Shape {
        let tilted = self.tilt_db.abs() >= if weak { t::TILT_WEAK_DB } else { t::TILT_DB };
        if weak && dipped {
            Shape::Scooped
        } else if tilted && self.tilt_db < 0.0 {
            Shape::Dark
        } else if tilted {
            Shape::Bright
        } else if weak {
            Shape::BoostedExtremes
        } else {
            Shape::Even
        }
    }
}

/// How far the middle one of three ranges lies under the straight line between the other two, dB:
/// a tilt of the whole spectrum changes nothing.
fn hollow(over: &[f64; THIRDS], [low, mid, high]: [Range<usize>; 3]) -> f64 {
    let part =
        (centre(high.clone()) - centre(mid.clone())) / (centre(high.clone()) - centre(low.clone()));
    part * mean(over, low) + (1.0 - part) * mean(over, high) - mean(over, mid)
}

/// Middle of a range, in third octaves.
fn centre(range: Range<usize>) -> f64 {
    (range.start + range.end - 1) as f64 / 2.0
}

/// Mean of a range, dB. A band with next to nothing in it, as a codec leaves over its corner,
/// counts as [`t::THIRD_FLOOR_DB`] under the strongest of its range.
fn mean(over: &[f64; THIRDS], range: Range<usize>) -> f64 {
    let bands = &over[range];
    let strongest = bands.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    bands.iter().map(|db| db.max(strongest - t::THIRD_FLOOR_DB)).sum::<f64>() / bands.len() as f64
}

/// Mean of a range, dB, of the deviations' powers raised to `power`: 1 gives that of the powers
/// themselves, smaller ones come nearer to that of the decibels.
fn power_mean(over: &[f64; THIRDS], range: Range<usize>, power: f64) -> f64 {
    let bands = &over[range];
    let scale = power * std::f64::consts::LN_10 / 10.0;
    // A silent range has powers that round to nothing; its strongest band is taken out first.
    let strongest = bands.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = bands.iter().map(|db| (scale * (db - strongest)).exp()).sum();
    strongest + (sum / bands.len() as f64).ln() / scale
}

/// How uneven the mids are over time, from their energies in hops of 10 ms.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Gaps {
    energies: f64,
    amplitudes: f64,
    hops: u64,
}

impl Gaps {
    /// Takes the energy of a hop of the programme, any unit.
    pub(crate) fn hop(&mut self, energy: f64) {
        self.energies += energy;
        self.amplitudes += energy.max(0.0).sqrt();
        self.hops += 1;
    }

    /// How far the mean power of the hops lies over the square of their mean amplitude, dB: 0 for
    /// a steady sound, 3 for one that sounds half of the time. 0 before the first sound.
    pub(super) fn db(&self) -> f64 {
        if self.amplitudes <= 0.0 {
            return 0.0;
        }
        10.0 * (self.energies * self.hops as f64 / self.amplitudes.powi(2)).log10()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a tilt of any size about any frequency, and a gain, change neither number; a
    /// tilt is read for what it is.
    #[test]
    fn a_tilt_is_a_tilt_and_no_weakness_of_the_mids() {
        for db in [-2.0, -1.0, 1.0, 2.0] {
            let octave = std::f64::consts::LOG2_10 / 10.0;
            let tone = Tone::of(&std::array::from_fn(|i| 7.0 + db * octave * i as f64));
            assert!(tone.deficit_db.abs() < 1e-9 && tone.scoop_db.abs() < 1e-9, "{tone:?}");
            assert!((tone.tilt_db - db).abs() < 1e-9, "{tone:?}");
            let want = if db < 0.0 { Shape::Dark } else { Shape::Bright };
            assert!(tone.dip_db.abs() < 1e-9 && tone.lift_db.abs() < 1e-9, "{tone:?}");
            assert_eq!(tone.shape(false, false), want);
            // The strong bands of a tilted range lie off its middle: this number moves, by less
            // than a decibel of shelves would move it for each dB an octave.
            assert!(tone.ends_db.abs() < 0.45 * db.abs(), "{tone:?}");
        }
    }

    #[test]
    fn an_empty_band_counts_for_little() {
        let mut over = [0.0; THIRDS];
        over[28] = -300.0;
        let tone = Tone::of(&over);
        assert!(tone.deficit_db.abs() < 3.0, "{tone:?}");
    }

    /// Closed form: ends that stand over the mids as a whole by 6 dB read as 6 dB, at any gain.
    #[test]
    fn ends_over_mids_read_as_what_they_are() {
        for gain in [-200.0, -40.0, 0.0, 20.0] {
            let tone = Tone::of(&std::array::from_fn(|i| {
                gain + if LOW_END.contains(&i) || HIGH.contains(&i) { 6.0 } else { 0.0 }
            }));
            assert!((tone.ends_db - 6.0).abs() < 1e-9, "{tone:?}");
        }
    }

    /// Closed form: of bands at 0 and -300 dB, half each, the mean power is 3.01 dB down, and that of
    /// the square roots 6.02 dB.
    #[test]
    fn an_empty_band_takes_no_more_than_its_share_from_a_power() {
        let over = std::array::from_fn(|i| if i % 2 == 0 { 0.0 } else { -300.0 });
        assert!((power_mean(&over, 0..8, 1.0) + 3.0103).abs() < 1e-3);
        assert!((power_mean(&over, 0..8, 0.5) + 6.0206).abs() < 1e-3);
        assert!((power_mean(&[-300.0; THIRDS], 0..8, 1.0) + 300.0).abs() < 1e-9);
    }

    /// Closed form: a sound that is there for one hop in `n` has `10 log10(n)` dB of gaps, at any
    /// gain.
    #[test]
    fn gaps_are_read_as_what_they_are() {
        assert_eq!(Gaps::default().db(), 0.0);
        for n in [1u32, 2, 4, 10] {
            for energy in [1e-6, 1.0, 50.0] {
                let mut gaps = Gaps::default();
                (0..100 * n).for_each(|i| gaps.hop(if i % n == 0 { energy } else { 0.0 }));
                let want = 10.0 * f64::from(n).log10();
                assert!((gaps.db() - want).abs() < 1e-9, "{n}: {} dB", gaps.db());
            }
        }
        let mut silence = Gaps::default();
        silence.hop(0.0);
        assert_eq!(silence.db(), 0.0);
    }

    /// A dip and gaps move the weakness in their directions, and a shallow scoop does not.
    #[test]
    fn weakness_grows_with_a_dip_and_falls_with_gaps() {
        let tone = Tone { ends_db: 2.0, scoop_db: 1.0, ..Tone::default() };
        assert!((tone.weakness_db(0.0) - 2.0).abs() < 1e-12);
        assert!(tone.weakness_db(3.0) < tone.weakness_db(1.0));
        let dipped = Tone { scoop_db: 9.0, ..tone };
        assert!(dipped.weakness_db(0.0) > 3.0, "{}", dipped.weakness_db(0.0));
    }
}
