//! Weak mids told from a plainly dark or bright mix, and one shape of weak mids from the other.

use std::ops::Range;

use crate::Shape;
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
}

impl Tone {
    /// From the deviation of each third octave, dB.
    pub(super) fn of(over: &[f64; THIRDS]) -> Self {
        let octaves = (centre(HIGH) - centre(TILT_LOW)) * std::f64::consts::LOG2_10 / 10.0;
        Self {
            deficit_db: t::DEFICIT_SCALE * hollow(over, [LOW, MIDS, HIGH]),
            scoop_db: hollow(over, [UNDER_SCOOP, SCOOP, OVER_SCOOP]),
            tilt_db: (mean(over, HIGH) - mean(over, TILT_LOW)) / octaves,
        }
    }

    /// The shape, with the deficit's limit from which there is one of weak mids, dB.
    pub(super) fn shape(&self, from_db: f64) -> Shape {
        let weak = self.deficit_db >= from_db;
        let tilted = self.tilt_db.abs() >= if weak { t::TILT_WEAK_DB } else { t::TILT_DB };
        if weak && self.scoop_db >= t::SCOOP_DB {
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
            assert_eq!(tone.shape(5.0), want);
        }
    }

    #[test]
    fn an_empty_band_counts_for_little() {
        let mut over = [0.0; THIRDS];
        over[28] = -300.0;
        let tone = Tone::of(&over);
        assert!(tone.deficit_db.abs() < 3.0, "{tone:?}");
    }
}
