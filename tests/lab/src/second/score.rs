//! Who strikes when, in songs of the second kind.

use crate::corpus::drums::Drum;
use crate::take::Variant;
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Steps a bar.
const STEPS: usize = 16;
/// Bars of a song.
const BARS: usize = 12;
/// Time ahead of the first bar, s.
const LEAD_S: f64 = 0.4;

/// One stroke.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stroke {
    /// When, s.
    pub at_s: f64,
    /// How long until the player stops it, s.
    pub held_s: f64,
    /// How hard, 0 to 1.
    pub hard: f64,
    /// Piece of the kit; `None` of pitched parts.
    pub drum: Option<Drum>,
    /// MIDI key.
    pub key: i32,
    /// Whether the palm lies on the strings.
    pub muted: bool,
}

/// A song as rows of steps.
#[derive(Clone, Debug)]
pub struct Song {
    seed: u64,
    step_s: f64,
    kick: [bool; STEPS],
    snare: [bool; STEPS],
    cymbal: [bool; STEPS],
    swing: f64,
    keys: [i32; 4],
}

/// `count` strokes spread over a bar as evenly as can be, from step `first` on.
fn even(count: usize, first: usize) -> [bool; STEPS] {
    let mut row = [false; STEPS];
    for n in 0..count {
        row[(n * STEPS / count + first) % STEPS] = true;
    }
    row
}

impl Song {
    /// The song of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let mut snare = [false; STEPS];
        if random.random_bool(0.3) {
            snare[8] = true;
        } else {
            (snare[4], snare[12]) = (true, true);
        }
        let low = random.random_range(28..34);
        let keys = [0, 5, 3, 7].map(|above| low + above);
        Self {
            seed,
            step_s: 60.0 / random.random_range(88.0..168.0) / 4.0,
            kick: even(random.random_range(3..8), 0),
            snare,
            cymbal: even([4, 8, 8, 16][random.random_range(0..4)], 0),
            swing: if random.random_bool(0.3) { random.random_range(0.0..0.2) } else { 0.0 },
            keys,
        }
    }

    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        LEAD_S + (BARS * STEPS) as f64 * self.step_s + 1.2
    }

    /// Place of a step, s: every second one is late where the song swings.
    #[must_use]
    pub fn at_s(&self, step: usize) -> f64 {
        let late = if step % 2 == 1 { self.swing } else { 0.0 };
        LEAD_S + (step as f64 + late) * self.step_s
    }

    /// Key of a bar.
    #[must_use]
    pub fn key(&self, bar: usize) -> i32 {
        self.keys[bar % self.keys.len()]
    }

    /// Bars.
    #[must_use]
    pub fn bars(&self) -> usize {
        BARS
    }

    /// The drums, with the strays of a good drummer.
    #[must_use]
    pub fn drums(&self) -> Vec<Stroke> {
        let mut random = Pcg64Mcg::seed_from_u64(self.seed ^ 0xd5);
        let mut strokes = Vec::new();
        for step in 0..BARS * STEPS {
            let (n, at_s) = (step % STEPS, self.at_s(step) + random.random_range(-0.001..0.001));
            for (row, drum) in [
                (&self.kick, Drum::Kick),
                (&self.snare, Drum::Snare),
                (&self.cymbal, Drum::HatClosed),
            ] {
                if row[n] {
                    let hard = random.random_range(0.78..1.0);
                    strokes.push(Stroke { at_s, hard, drum: Some(drum), ..Stroke::default() });
                }
            }
        }
        strokes
    }

    /// The strokes of a player: 0 the bass, 1 and 2 the guitars.
    #[must_use]
    pub fn player(&self, number: usize, variant: Variant) -> Vec<Stroke> {
        let seed = self.seed ^ (number as u64 + 1).wrapping_mul(0x9e37);
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let accents: Vec<usize> = (0..STEPS).filter(|&n| self.kick[n] || self.snare[n]).collect();
        // With the drums: on all accents. Apart from them: as many, on other steps as far as there are.
        let mut row = accents.clone();
        if variant == Variant::Scattered {
            let mut free: Vec<usize> = (0..STEPS).filter(|n| !accents.contains(n)).collect();
            free.shuffle(&mut random);
            let mut taken = accents.clone();
            taken.shuffle(&mut random);
            row = free.into_iter().chain(taken).take(accents.len()).collect();
            row.sort_unstable();
        }
        let mut feel = Pcg64Mcg::seed_from_u64(seed ^ 0xfee1);
        let mut play = Pcg64Mcg::seed_from_u64(seed ^ 0x91a);
        let mut stray = 0.0;
        let mut strokes = Vec::new();
        for bar in 0..BARS {
            for (n, &step) in row.iter().enumerate() {
                let next = row.get(n + 1).copied().unwrap_or(STEPS + row[0]);
                let at = self.at_s(bar * STEPS + step);
                let sd_s = match variant {
                    Variant::Jitter(ms) => ms * 1e-3,
                    _ => 0.001,
                };
                // Half of a stray is left over from the stroke before.
                stray = 0.5 * stray + sd_s * 0.75f64.sqrt() * normal(&mut feel);
                let late_s = if let Variant::Late(ms) = variant { ms * 1e-3 } else { 0.0 };
                let muted = number > 0 && play.random_bool(0.25);
                let held = (next - step) as f64 * self.step_s;
                strokes.push(Stroke {
                    at_s: (at + stray + late_s).max(0.0),
                    held_s: held * if muted { 0.5 } else { 0.97 },
                    hard: play.random_range(0.7..1.0),
                    drum: None,
                    key: self.key(bar) + if number == 0 { 0 } else { 12 },
                    muted,
                });
            }
        }
        strokes
    }
}

/// A normal deviate within two and a half standard deviations.
fn normal(random: &mut Pcg64Mcg) -> f64 {
    let sum: f64 = (0..12).map(|_| random.random_range(0.0..1.0)).sum();
    (sum - 6.0).clamp(-2.5, 2.5)
}
