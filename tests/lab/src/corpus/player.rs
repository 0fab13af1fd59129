//! Turns a song into events: which instrument, on which frame, how hard.

use super::drums::Drum;
use super::song::{DrumRow, Section, Song};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// Who plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instrument {
    /// A piece of the kit.
    Drum(Drum),
    /// Bass guitar.
    Bass,
    /// Saturated guitar, left.
    GuitarLeft,
    /// Saturated guitar, right.
    GuitarRight,
    /// Clean guitar.
    Clean,
    /// Strings or pad.
    Pad,
    /// Organ.
    Organ,
}

impl Instrument {
    /// Name in truth files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Drum(drum) => drum.name(),
            Self::Bass => "bass",
            Self::GuitarLeft => "guitar-left",
            Self::GuitarRight => "guitar-right",
            Self::Clean => "clean-guitar",
            Self::Pad => "pad",
            Self::Organ => "organ",
        }
    }
}

/// One programmed event.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Who plays.
    pub instrument: Instrument,
    /// Frame of the onset.
    pub frame: usize,
    /// How hard, 0 to 1.
    pub velocity: f64,
    /// MIDI keys; empty for drums.
    pub keys: Vec<i32>,
    /// Frames held; 0 for drums.
    pub held: usize,
    /// Whether the strings are muted by the palm.
    pub muted: bool,
}

/// Silence before the first bar, s.
pub const LEAD_IN_S: f64 = 0.5;
/// Room for decay after the last bar, s.
pub const TAIL_S: f64 = 1.5;

/// All events of a song at `rate`, in order of time, and the frames of the whole.
#[must_use]
pub fn play(song: &Song, rate: u32) -> (Vec<Event>, usize) {
    let mut player = Player {
        song,
        rate: f64::from(rate),
        random: Pcg64::seed_from_u64(song.seed),
        events: Vec::new(),
    };
    let mut bar = 0;
    for section in song.sections {
        let bars = section.repeats * section.chords.len();
        for n in 0..bars {
            let fill = !section.fill.is_empty() && n + 1 == bars;
            player.drums(if fill { section.fill } else { section.drums }, bar, n);
            if section.crash && n == 0 {
                player.hit(Drum::Crash, 1.0, bar, 0, 0.0);
            }
            player.parts(section, bar, n);
            bar += 1;
        }
    }
    let length = LEAD_IN_S + bar as f64 * song.step_s() * song.steps_a_bar() as f64 + TAIL_S;
    player.events.sort_by_key(|e| (e.frame, e.instrument));
    (player.events, (length * f64::from(rate)) as usize)
}

struct Player<'a> {
    song: &'a Song,
    rate: f64,
    random: Pcg64,
    events: Vec<Event>,
}

impl Player<'_> {
    fn drums(&mut self, rows: &[DrumRow], bar: usize, n: usize) {
        let steps = self.song.steps_a_bar();
        for step in 0..steps {
            // All that falls on one step is early or late together: one drummer, one pulse.
            let shift = self.normal() * self.song.loose_ms * 1e-3;
            for &(drum, row) in rows {
                let velocity = match at(row, n * steps + step) {
                    'X' => 1.0,
                    'x' => 0.8,
                    'o' => 0.35,
                    _ => continue,
                };
                self.hit(drum, velocity, bar, step, shift);
            }
        }
    }

    fn hit(&mut self, drum: Drum, velocity: f64, bar: usize, step: usize, shift: f64) {
        let velocity = velocity * (1.0 + self.normal() * self.song.dynamics);
        let shift = shift + self.normal() * self.song.limbs_ms * 1e-3;
        self.push(Event {
            instrument: Instrument::Drum(drum),
            frame: self.frame(bar, step, shift),
            velocity: velocity.clamp(0.1, 1.1),
            keys: Vec::new(),
            held: 0,
            muted: false,
        });
    }

    fn parts(&mut self, section: &Section, bar: usize, n: usize) {
        let (root, minor) = section.chords[n % section.chords.len()];
        self.line(Instrument::Bass, section.bass, bar, n, 2.0, |c| match c {
            'R' | 'C' => Some(vec![root]),
            'F' => Some(vec![root + 7]),
            'O' => Some(vec![root + 12]),
            _ => None,
        });
        let guitar = |c| match c {
            'P' => Some(vec![root + 12, root + 19, root + 24]),
            'm' | 'R' => Some(vec![root + 12]),
            'F' => Some(vec![root + 19]),
            'O' => Some(vec![root + 24]),
            _ => None,
        };
        self.line(Instrument::GuitarLeft, section.guitars, bar, n, 3.0, guitar);
        self.line(Instrument::GuitarRight, section.guitars, bar, n, 3.0, guitar);
        let third = if minor { 3 } else { 4 };
        let chord = |low: i32| {
            move |c| match c {
                'C' => Some(vec![low, low + third, low + 7, low + 12]),
                'R' => Some(vec![low]),
                'T' => Some(vec![low + third]),
                'F' => Some(vec![low + 7]),
                'O' => Some(vec![low + 12]),
                _ => None,
            }
        };
        self.line(Instrument::Clean, section.clean, bar, n, 2.0, chord(root + 24));
        self.line(Instrument::Pad, section.pad, bar, n, 0.0, chord(root + 24));
        self.line(Instrument::Organ, section.organ, bar, n, 2.0, chord(root + 24));
    }

    /// One bar of a part: a note lasts over the `-` that follow it, at most to the bar's end.
    fn line(
        &mut self,
        instrument: Instrument,
        row: &str,
        bar: usize,
        n: usize,
        loose_ms: f64,
        keys: impl Fn(char) -> Option<Vec<i32>>,
    ) {
        let steps = self.song.steps_a_bar();
        for step in 0..steps {
            let c = at(row, n * steps + step);
            let Some(keys) = keys(c) else { continue };
            let held = 1 + (step + 1..steps).take_while(|s| at(row, n * steps + s) == '-').count();
            let loose = if self.song.loose_ms > 0.0 { loose_ms } else { 0.0 };
            let shift = self.normal() * loose * 1e-3;
            let velocity = (0.75 * (1.0 + self.normal() * self.song.dynamics)).clamp(0.3, 1.0);
            self.push(Event {
                instrument,
                frame: self.frame(bar, step, shift),
                velocity,
                keys,
                held: (held as f64 * self.song.step_s() * 0.95 * self.rate) as usize,
                muted: c == 'm',
            });
        }
    }

    fn push(&mut self, event: Event) {
        self.events.push(event);
    }

    fn frame(&self, bar: usize, step: usize, shift_s: f64) -> usize {
        let steps = (bar * self.song.steps_a_bar() + step) as f64;
        ((LEAD_IN_S + steps * self.song.step_s() + shift_s) * self.rate).round() as usize
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
