//! What the listener gets: a player brings every song to one loudness, so the loudness of a master
//! is taken back, and what is left of it is how its hits stand in it.

use serde::{Deserialize, Serialize};

use crate::report::{HitReport, LoudnessReport};

/// Loudness to which players bring songs, LUFS: -16 for single songs and -14 for the loudest of an
/// album are AES TD1008's (2021), -23 is EBU R 128's.
pub const TARGETS_LUFS: [f64; 3] = [-14.0, -16.0, -23.0];
/// True peak at which a player stops turning up, dBTP: the most that EBU R 128 permits. A player
/// turns nothing down for its peaks.
pub const PEAKS_END_DBTP: f64 = -1.0;

/// What counts of one version of a mix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Version {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: f64,
    /// Largest true peak, dBTP.
    pub true_peak_dbtp: f64,
    /// Level of a hit, LUFS, median over hits.
    pub hit_level_lufs: f64,
    /// True peak of a hit, dBTP, median over hits.
    pub hit_peak_dbtp: f64,
}

impl Version {
    /// From a report's parts; `None` without loudness or hits.
    #[must_use]
    pub fn of(loudness: &LoudnessReport, hits: &[HitReport]) -> Option<Self> {
        Some(Self {
            integrated_lufs: loudness.integrated_lufs?,
            true_peak_dbtp: loudness.true_peak_dbtp?,
            hit_level_lufs: median(hits.iter().filter_map(|hit| hit.level_lufs))?,
            hit_peak_dbtp: median(hits.iter().filter_map(|hit| hit.true_peak_dbtp))?,
        })
    }

    /// The gain that a player gives this version for `target_lufs`, dB, and whether its peaks held
    /// the gain back.
    #[must_use]
    pub fn gain_db(&self, target_lufs: f64) -> (f64, bool) {
        let wanted = target_lufs - self.integrated_lufs;
        let room = (PEAKS_END_DBTP - self.true_peak_dbtp).max(0.0);
        if wanted > room { (room, true) } else { (wanted, false) }
    }
}

/// What the listener gets of one version at one loudness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ListenerReport {
    /// Loudness to which the player brings songs, LUFS.
    pub target_lufs: f64,
    /// Gain that the player gives this version, dB.
    pub gain_db: f64,
    /// Whether the version's peaks hold that gain back: it then plays under the loudness.
    pub held_by_peaks: bool,
    /// Level of its hits as played, LUFS, median.
    pub hit_level_lufs: f64,
    /// True peak of its hits as played, dBTP, median.
    pub hit_peak_dbtp: f64,
    /// Level of the other version's hits as played, LUFS, median.
    pub before_hit_level_lufs: Option<f64>,
    /// True peak of the other version's hits as played, dBTP, median.
    pub before_hit_peak_dbtp: Option<f64>,
    /// What this version's hits gain in level over the other's as played, dB: negative where they
    /// are lower.
    pub bought_db: Option<f64>,
    /// Integrated loudness of this version less the other's, LU: what the player takes back.
    #[serde(default)]
    pub louder_lu: Option<f64>,
}

/// What the listener gets of a version, against the one before it where that is known.
#[must_use]
pub fn listener(version: &Version, before: Option<&Version>) -> Vec<ListenerReport> {
    TARGETS_LUFS
        .into_iter()
        .map(|target_lufs| {
            let (gain_db, held_by_peaks) = version.gain_db(target_lufs);
            let hit_level_lufs = version.hit_level_lufs + gain_db;
            let other = before.map(|other| (other, other.gain_db(target_lufs).0));
            let before_hit_level_lufs = other.map(|(other, gain)| other.hit_level_lufs + gain);
            ListenerReport {
                target_lufs,
                gain_db,
                held_by_peaks,
                hit_level_lufs,
                hit_peak_dbtp: version.hit_peak_dbtp + gain_db,
                before_hit_level_lufs,
                before_hit_peak_dbtp: other.map(|(other, gain)| other.hit_peak_dbtp + gain),
                bought_db: before_hit_level_lufs.map(|level| hit_level_lufs - level),
                louder_lu: before.map(|other| version.integrated_lufs - other.integrated_lufs),
            }
        })
        .collect()
}

/// The median of values that are counted off.
pub(crate) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    brunt_engine::median(&values.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A master at -9 LUFS whose hits lost 3 dB in the limiter, and its mix at -15 LUFS.
    const MASTER: Version = Version {
        integrated_lufs: -9.0,
        true_peak_dbtp: -0.5,
        hit_level_lufs: -5.0,
        hit_peak_dbtp: -0.6,
    };
    const MIX: Version = Version {
        integrated_lufs: -15.0,
        true_peak_dbtp: -1.5,
        hit_level_lufs: -8.0,
        hit_peak_dbtp: -2.0,
    };

    /// Closed forms: both come down to -16 and -23 LUFS, so the difference is that of level less
    /// loudness: (-5 + 9) - (-8 + 15) = -3 dB. At -14 LUFS the mix may come up by 0.5 dB only and
    /// plays at -7.5 LUFS, half a decibel under what it wanted: -10 + 7.5 = -2.5 dB.
    #[test]
    fn loudness_is_taken_back_and_peaks_hold_the_gain() {
        let got = listener(&MASTER, Some(&MIX));
        let bought: Vec<f64> = got.iter().map(|x| x.bought_db.expect("known")).collect();
        for (got, want) in bought.iter().zip([-2.5, -3.0, -3.0]) {
            assert!((got - want).abs() < 1e-9, "{bought:?}");
        }
        assert_eq!(got.iter().map(|x| x.gain_db).collect::<Vec<_>>(), [-5.0, -7.0, -14.0]);
        assert!(got.iter().all(|x| x.louder_lu == Some(6.0)));
        assert!(got.iter().all(|x| !x.held_by_peaks));
        assert!(listener(&MIX, None)[0].held_by_peaks);
        assert!((listener(&MIX, None)[0].gain_db - 0.5).abs() < 1e-9);
    }

    /// A version already over -1 dBTP is turned up by nothing and down for nothing.
    #[test]
    fn no_peak_is_turned_down() {
        let hot = Version { true_peak_dbtp: 0.4, integrated_lufs: -16.0, ..MIX };
        assert_eq!(hot.gain_db(-14.0), (0.0, true));
        assert_eq!(hot.gain_db(-16.0), (0.0, false));
    }

    #[test]
    fn the_median_is_the_middle() {
        assert_eq!(median([3.0, 1.0, 2.0].into_iter()), Some(2.0));
        assert_eq!(median([4.0, 1.0].into_iter()), Some(2.5));
        assert_eq!(median(std::iter::empty()), None);
    }
}
