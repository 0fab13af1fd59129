//! How the players stray from the score.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg32;

use super::score::{BAR, Drum, Stroke};
use super::{TEMPO_BPM, Version};

/// One player's hands.
pub struct Feel {
    rng: Pcg32,
    offset_s: f64,
    spread_s: f64,
}

impl Feel {
    /// A player of their own: `seed` tells players apart, `offset_ms` is how late they play as a
    /// rule (early if negative), `spread_ms` how much they stray (standard deviation).
    pub fn new(seed: u64, offset_ms: f64, spread_ms: f64) -> Self {
        Self {
            rng: Pcg32::seed_from_u64(seed),
            offset_s: offset_ms / 1000.0,
            spread_s: spread_ms / 1000.0,
        }
    }

    /// When a note of the score is really played, s. No note strays more than two deviations.
    pub fn at_s(&mut self, step: f64) -> f64 {
        let stray = self.normal().clamp(-2.0, 2.0) * self.spread_s;
        (at_s(step) + self.offset_s + stray).max(0.0)
    }

    /// A normal deviate.
    pub fn normal(&mut self) -> f64 {
        // Twelve uniform numbers: close enough to normal for hands, and free of logarithms.
        (0..12).map(|_| self.rng.random::<f64>()).sum::<f64>() - 6.0
    }

    /// A number from -1 to 1.
    pub fn noise(&mut self) -> f64 {
        self.rng.random::<f64>() * 2.0 - 1.0
    }
}

/// When a place in the score is due, s. The song proper starts after one bar of counting in, so
/// that its bars are the host's bars too.
pub fn at_s(step: f64) -> f64 {
    length_s(BAR + step)
}

/// How long so many sixteenths last, s.
pub fn length_s(steps: f64) -> f64 {
    steps * 15.0 / TEMPO_BPM
}

/// How late or early (ms) and how unsteady (standard deviation, ms) a part is played.
pub struct Habit {
    pub offset_ms: f64,
    pub spread_ms: f64,
}

/// The parts whose timing differs between versions.
#[derive(Clone, Copy)]
pub enum Player {
    Bass,
    LeftGuitar,
    RightGuitar,
}

/// A tight band strays by 2 to 3 ms; the untidy one lies 10 to 30 ms off, each in its own way.
pub fn habit(player: Player, version: Version) -> Habit {
    let (offset_ms, spread_ms) = match (version, player) {
        (Version::Timing, Player::Bass) => (26.0, 8.0),
        (Version::Timing, Player::LeftGuitar) => (22.0, 9.0),
        (Version::Timing, Player::RightGuitar) => (-18.0, 9.0),
        (_, Player::Bass) => (1.0, 2.0),
        (_, Player::LeftGuitar | Player::RightGuitar) => (0.0, 2.5),
    };
    Habit { offset_ms, spread_ms }
}

/// The drummer's strokes with their true times, s, and levels, dB: 1 ms and 0.8 dB of stray.
pub fn drummer(strokes: &[Stroke]) -> Vec<(Stroke, f64)> {
    let mut feel = Feel::new(0x00d2_0001, 0.0, 1.0);
    strokes
        .iter()
        .map(|stroke| {
            let at = feel.at_s(stroke.step);
            let level_db = stroke.level_db + 0.8 * feel.normal().clamp(-2.0, 2.0);
            (Stroke { level_db, ..*stroke }, at)
        })
        .collect()
}

/// When kick, snare and toms are struck, s, in order; ghost notes left out.
pub fn main_hits_s(strokes: &[Stroke]) -> Vec<f64> {
    let mut hits: Vec<f64> = drummer(strokes)
        .into_iter()
        .filter(|(stroke, _)| matches!(stroke.drum, Drum::Kick | Drum::Snare | Drum::Tom(_)))
        .filter(|(stroke, _)| stroke.level_db > -10.0)
        .map(|(_, at)| at)
        .collect();
    hits.sort_by(f64::total_cmp);
    // Kick and snare together are one hit.
    hits.dedup_by(|later, earlier| *later - *earlier < 0.02);
    hits
}
