//! From a plan to notes: who plays what, when, how hard and for how long.

use super::plan::{Layer, Plan, Sound};
use crate::corpus::drums::Drum;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Silence before the first bar, s.
pub const LEAD_IN_S: f64 = 0.5;
/// Room for decay after the last bar, s.
pub const TAIL_S: f64 = 1.0;

/// One programmed note or stroke.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// Its step, counted from the session's start: notes of two layers on one step belong together.
    pub step: usize,
    /// Its place on the grid, s.
    pub grid_s: f64,
    /// When it is played, s: the grid and the player's stray.
    pub time_s: f64,
    /// How hard, 0 to 1.
    pub velocity: f64,
    /// The piece of the kit, of a drum stroke.
    pub drum: Option<Drum>,
    /// MIDI keys, from the lowest; empty for drums.
    pub keys: Vec<i32>,
    /// Time until the player stops it, s.
    pub held_s: f64,
    /// Whether the palm lies on the strings.
    pub muted: bool,
}

/// The notes of one layer, in order of time.
#[must_use]
pub fn play(plan: &Plan, layer: &Layer) -> Vec<Note> {
    let mut player = Player {
        plan,
        layer,
        random: Pcg64Mcg::seed_from_u64(plan.seed.wrapping_mul(0x9e37_79b9) ^ layer.player),
        notes: Vec::new(),
    };
    match layer.sound {
        Sound::Kit(_, rows) => player.kit(rows),
        Sound::Font(_, above) | Sound::Strings(_, above) => player.line(above),
    }
    let mut notes = player.notes;
    notes.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    notes
}

/// Length of a session, s.
#[must_use]
pub fn length_s(plan: &Plan) -> f64 {
    LEAD_IN_S + (plan.bars * plan.steps_a_bar()) as f64 * plan.step_s() + TAIL_S
}

struct Player<'a> {
    plan: &'a Plan,
    layer: &'a Layer,
    random: Pcg64Mcg,
    notes: Vec<Note>,
}

impl Player<'_> {
    fn kit(&mut self, rows: &[(Drum, &str)]) {
        for step in 0..self.plan.bars * self.plan.steps_a_bar() {
            // All limbs on one step are early or late together: one drummer, one pulse.
            let time_s = self.time_s(step);
            for &(drum, row) in rows {
                let velocity = match at(row, step) {
                    'X' => 1.0,
                    'x' => 0.8,
                    'o' => 0.35,
                    _ => continue,
                };
                let velocity = self.velocity(velocity);
                let limb = if self.layer.feel.spread_ms > 0.0 { 0.5 } else { 0.0 };
                let time_s = time_s + self.normal() * limb * 1e-3;
                self.push(step, time_s, velocity, Some(drum), Vec::new(), 0.0, false);
            }
        }
    }

    fn line(&mut self, above: i32) {
        let total = self.plan.bars * self.plan.steps_a_bar();
        for step in 0..total {
            let bar = step / self.plan.steps_a_bar();
            let (root, minor) = self.plan.chords[bar % self.plan.chords.len()];
            let root = root + above;
            let c = at(self.layer.row, step);
            let keys = match c {
                'R' | 'm' => vec![root],
                'F' => vec![root + 7],
                'O' => vec![root + 12],
                'T' => vec![root + if minor { 3 } else { 4 }],
                'P' | 'M' => vec![root, root + 7, root + 12],
                'C' => vec![root, root + if minor { 3 } else { 4 }, root + 7, root + 12],
                _ => continue,
            };
            let held = 1 + (step + 1..total).take_while(|&s| at(self.layer.row, s) == '-').count();
            let velocity = self.velocity(0.8);
            let time_s = self.time_s(step);
            let held_s = held as f64 * self.plan.step_s();
            self.push(step, time_s, velocity, None, keys, held_s, matches!(c, 'm' | 'M'));
        }
    }

    fn push(
        &mut self,
        step: usize,
        time_s: f64,
        velocity: f64,
        drum: Option<Drum>,
        keys: Vec<i32>,
        held_s: f64,
        muted: bool,
    ) {
        let grid_s = self.grid_s(step);
        self.notes.push(Note { step, grid_s, time_s, velocity, drum, keys, held_s, muted });
    }

    fn grid_s(&self, step: usize) -> f64 {
        LEAD_IN_S + step as f64 * self.plan.step_s()
    }

    fn time_s(&mut self, step: usize) -> f64 {
        let feel = self.layer.feel;
        let grid_s = self.grid_s(step);
        let mut late_ms = feel.offset_ms + feel.spread_ms * self.normal();
        late_ms += feel.drift_ms * (grid_s - LEAD_IN_S) / 60.0;
        let bar = step / self.plan.steps_a_bar();
        if let Some((from, to, more_ms)) = feel.passage
            && (from..to).contains(&bar)
        {
            late_ms += more_ms;
        }
        (grid_s + late_ms * 1e-3).max(0.0)
    }

    fn velocity(&mut self, plain: f64) -> f64 {
        (plain * (1.0 + self.layer.dynamics * self.normal())).clamp(0.1, 1.1)
    }

    /// A normal deviate, cut at two and a half: nobody plays further off on purpose.
    fn normal(&mut self) -> f64 {
        let sum: f64 = (0..12).map(|_| self.random.random_range(0.0..1.0)).sum();
        (sum - 6.0).clamp(-2.5, 2.5)
    }
}

/// Character `i` of a row that repeats; a rest where the row is empty.
fn at(row: &str, i: usize) -> char {
    if row.is_empty() { '.' } else { char::from(row.as_bytes()[i % row.len()]) }
}
