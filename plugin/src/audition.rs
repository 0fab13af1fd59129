//! Audition: the side-chain in place of the mix, or the difference, at the mix's loudness.
//!
//! - Off, nothing is touched: the output is the input, bit for bit. The switch takes 17 ms at
//!   equal power; what is heard besides the mix is 1.2 ms late (the guard's look-ahead), the mix
//!   never is.
//! - The side-chain's gain is the difference of integrated loudness over the same passage
//!   ([`Passage`]), at most 12 dB either way, and moves at 6 dB a second while it is heard.
//! - The *difference* is the matched side-chain less the mix, both brought together to a fraction
//!   of a frame: what the limiter took, where the side-chain is the mix ahead of it.
//! - The [`Guard`] holds the true peak under -1 dBTP while the side-chain is boosted, and that of
//!   the difference always; otherwise under full scale.
//! - [`Audition::new`] allocates; nothing after it allocates, locks or makes a system call.

mod desk;
mod guard;
pub mod limits;
mod passage;
mod ring;
mod shift;
mod switch;

use brunt_engine::decibels::{magnitude_db, magnitude_ratio};
use brunt_engine::{Hop, MAX_CHANNELS};

pub use crate::model::heard::{Heard, Held, Match, Status};
pub use desk::{Asked, Desk};
pub use guard::{CHUNK, Guard};
use limits as l;
pub use passage::Passage;
use ring::Ring;
use shift::{Shift, TAPS};
use switch::{Shared, Switch};

/// What to do in a block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wish {
    /// What to let be heard.
    pub heard: Heard,
    /// How many frames the mix comes after the side-chain; negative where it comes before.
    /// `None` where that is not known: they are then taken to lie together.
    pub mix_after_side: Option<f64>,
}

/// One of the things that can be heard, and with which shift.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Source {
    heard: Heard,
    shift: Shift,
}

const MIX: Source = Source { heard: Heard::Mix, shift: Shift::NONE };

/// One instance's audition, owned by the audio thread.
#[derive(Clone, Debug)]
pub struct Audition {
    rate_hz: f64,
    channels: usize,
    mix: Ring,
    side: Ring,
    passage: Passage,
    switch: Switch<Source>,
    shift: Shift,
    /// Most frames of a shift.
    most: usize,
    guard: Guard,
    /// Weight of the mix in the frames that the guard still holds.
    weights: Box<[f32]>,
    weight_place: usize,
    /// Frames since the guard was last given anything but silence.
    idle: usize,
    /// Gain of the side-chain, linear: at the start of the piece at hand and at its end.
    gain: (f64, f64),
    /// Whether the gain stems from a match.
    matched: bool,
    /// Least gain of the guard lately, linear, and how many frames ago.
    lowest: f32,
    lowest_age: f64,
}

type Buses = [[f32; CHUNK]; MAX_CHANNELS];

impl Audition {
    /// For a stream of `rate_hz` with `channels` channels, one or two. Allocates.
    #[must_use]
    pub fn new(rate_hz: f64, channels: usize) -> Self {
        let guard = Guard::new(rate_hz);
        let most = (rate_hz * l::MAX_DELAY_S) as usize;
        let past = most + l::CORRELATION_FRAMES.max(CHUNK) + 2 * TAPS;
        Self {
            rate_hz,
            channels: channels.clamp(1, MAX_CHANNELS),
            mix: Ring::new(past),
            side: Ring::new(past),
            passage: Passage::new(rate_hz),
            switch: Switch::new(MIX, rate_hz),
            shift: Shift::NONE,
            most,
            weights: vec![1.0; guard.delay()].into(),
            weight_place: 0,
            idle: guard.delay(),
            guard,
            gain: (1.0, 1.0),
            matched: false,
            lowest: 1.0,
            lowest_age: 0.0,
        }
    }

    /// A block starts: see [`Passage::block`].
    pub fn block(&mut self, frame: u64, song: Option<i64>) {
        self.passage.block(frame, song);
    }

    /// Takes the energy of a hop of both buses.
    pub fn hop(&mut self, hop: &Hop) {
        self.passage.hop(hop, self.shift.frames() as i64);
    }

    /// The meter has been reset: frames are counted from 0 again, and a new passage starts. A gain
    /// in use stays until there is a new match.
    pub fn restart(&mut self) {
        self.passage.reset();
    }

    /// Another signal comes over the side-chain: what was found of the old one does not match it. The mix is heard,
    /// and the new one fades in, turned up by nothing until it has been measured.
    pub fn replace_side(&mut self) {
        self.passage.forget();
        self.stop();
        self.side.clear();
        self.gain = (self.gain.1.min(1.0), self.gain.1.min(1.0));
        self.matched = false;
    }

    /// Off, at once and without a fade: what follows is the mix, untouched.
    pub fn stop(&mut self) {
        if self.is_on() {
            self.switch.jump(MIX);
            self.guard.reset();
            self.weights.fill(1.0);
            self.idle = self.weights.len();
        }
    }

    /// Whether the output is anything but the mix.
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.switch.is_moving()
            || self.switch.to().heard != Heard::Mix
            || self.idle < self.weights.len()
    }

    /// How it stands.
    #[must_use]
    pub fn status(&self) -> Status {
        let found = self.passage.found();
        let reduction = -magnitude_db(f64::from(self.lowest));
        Status {
            heard: self.switch.to().heard,
            gain_db: self.matched.then(|| magnitude_db(self.gain.1)),
            found,
            out_of_reach_lu: found.map_or(0.0, |m| (m.gain_db().abs() - l::MAX_GAIN_DB).max(0.0)),
            guard_db: (self.is_on() && reduction >= l::GUARD_ACTS_DB).then_some(reduction),
        }
    }

    /// Lets `wish` be heard. `out` holds the mix, a slice a channel, all of one length, and is
    /// changed in place; `side` is the side-chain of the same length, or `None`. While off,
    /// `out` is not written to.
    pub fn process(&mut self, out: &mut [&mut [f32]], side: Option<&[&[f32]]>, wish: &Wish) {
        let frames = out.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let out = match out.len() {
            0 => return,
            n => &mut out[..n.min(self.channels)],
        };
        let Some(side) = side.filter(|side| !side.is_empty()) else {
            // No side-chain, nothing to hear but the mix.
            self.side.clear();
            self.mix.clear();
            if self.is_on() {
                self.pieces(out, &[], frames, MIX);
            }
            return;
        };
        self.follow(wish.mix_after_side);
        let target = match wish.heard {
            Heard::Mix => MIX,
            Heard::Side => Source { heard: Heard::Side, shift: self.whole_shift() },
            Heard::Difference => Source { heard: Heard::Difference, shift: self.shift },
        };
        self.pieces(out, side, frames, target);
    }

    fn pieces(&mut self, out: &mut [&mut [f32]], side: &[&[f32]], frames: usize, target: Source) {
        let mut at = 0;
        while at < frames {
            let n = CHUNK.min(frames - at);
            self.remember(out, side, at, n);
            self.move_gain(n);
            if target != self.switch.to() {
                self.aim(target);
            }
            if self.is_on() {
                self.hear(out, at, n);
            }
            at += n;
        }
    }

    fn remember(&mut self, out: &[&mut [f32]], side: &[&[f32]], at: usize, n: usize) {
        let mut mix = [&[][..]; MAX_CHANNELS];
        for (slice, channel) in mix.iter_mut().zip(out) {
            *slice = channel;
        }
        self.mix.write(&mix[..out.len()], at, n);
        self.side.write(side, at, n);
    }

    /// Takes a new delay where it differs enough from the one in use.
    fn follow(&mut self, delay: Option<f64>) {
        let delay = delay.unwrap_or(0.0);
        if !self.shift.is_near(delay)
            && let Some(shift) = Shift::new(delay, self.most)
        {
            self.shift = shift;
        }
    }

    /// The shift of the side-chain alone: whole frames, and never ahead of its time.
    fn whole_shift(&self) -> Shift {
        let frames = self.shift.frames().round().max(0.0);
        Shift::new(frames, self.most).unwrap_or(Shift::NONE)
    }

    /// Brings the gain nearer to the match: at once while it is not heard, else slowly.
    fn move_gain(&mut self, frames: usize) {
        self.gain.0 = self.gain.1;
        let Some(found) = self.passage.found() else { return };
        let wanted = found.gain_db().clamp(-l::MAX_GAIN_DB, l::MAX_GAIN_DB);
        let wanted = if found.sure { wanted } else { wanted.min(0.0) };
        self.matched = true;
        if !self.is_on() {
            self.gain = (magnitude_ratio(wanted), magnitude_ratio(wanted));
            return;
        }
        let now = magnitude_db(self.gain.1);
        if (wanted - now).abs() > l::GAIN_SLACK_DB {
            let most = l::GAIN_RAMP_DB_PER_S * frames as f64 / self.rate_hz;
            self.gain.1 = magnitude_ratio(now + (wanted - now).clamp(-most, most));
        }
    }

    fn aim(&mut self, target: Source) {
        let shared = if self.switch.is_moving() {
            Shared::default()
        } else {
            self.shared(self.switch.to(), target)
        };
        self.switch.aim(target, |_, _| shared);
    }

    /// Powers of two sources, and what they share, as they will meet at the output.
    fn shared(&self, from: Source, to: Source) -> Shared {
        let delay = |source: Source| {
            if source.heard == Heard::Mix { 0 } else { self.guard.delay() }
        };
        let (mut a, mut b) = ([0.0; CHUNK], [0.0; CHUNK]);
        let mut shared = Shared::default();
        for channel in 0..self.channels {
            for piece in 0..l::CORRELATION_FRAMES / CHUNK {
                let back = piece * CHUNK;
                self.read(from, channel, back + delay(from), self.gain, &mut a);
                self.read(to, channel, back + delay(to), self.gain, &mut b);
                for (a, b) in a.iter().zip(&b) {
                    let (a, b) = (f64::from(*a), f64::from(*b));
                    shared.from += a * a;
                    shared.to += b * b;
                    shared.both += a * b;
                }
            }
        }
        shared
    }

    /// Reads the frames of a source that end `back` frames ago.
    fn read(&self, from: Source, channel: usize, back: usize, gain: (f64, f64), out: &mut [f32]) {
        let Source { heard, shift } = from;
        match (heard, shift.taps) {
            (Heard::Mix, _) => {
                self.mix.read(channel, back, out);
                return;
            }
            (_, None) => self.side.read(channel, back + shift.side, out),
            (_, Some(taps)) => {
                let mut wide = [0.0; CHUNK + TAPS];
                let wide = &mut wide[..out.len() + TAPS - 1];
                self.side.read(channel, back + shift.side, wide);
                for (k, out) in out.iter_mut().enumerate() {
                    *out = wide[k..k + TAPS].iter().zip(&taps).map(|(x, tap)| x * tap).sum();
                }
            }
        }
        let step = (gain.1 - gain.0) / out.len().max(1) as f64;
        for (k, x) in out.iter_mut().enumerate() {
            *x *= (gain.0 + step * (k + 1) as f64) as f32;
        }
        if heard == Heard::Difference {
            let mut mix = [0.0; CHUNK];
            let mix = &mut mix[..out.len()];
            self.mix.read(channel, back + shift.mix, mix);
            for (x, mix) in out.iter_mut().zip(mix) {
                *x -= *mix;
            }
        }
    }

    /// Puts what is to be heard in the place of `n` frames of the mix, from `at` on.
    fn hear(&mut self, out: &mut [&mut [f32]], at: usize, n: usize) {
        let (from, to) = (self.switch.from(), self.switch.to());
        let mut going: Buses = [[0.0; CHUNK]; MAX_CHANNELS];
        let mut coming: Buses = [[0.0; CHUNK]; MAX_CHANNELS];
        let moving = self.switch.is_moving();
        for channel in 0..out.len() {
            if to.heard != Heard::Mix {
                self.read(to, channel, 0, self.gain, &mut coming[channel][..n]);
            }
            if moving && from.heard != Heard::Mix {
                self.read(from, channel, 0, self.gain, &mut going[channel][..n]);
            }
        }
        let mut mix_weights = [0.0; CHUNK];
        for k in 0..n {
            let (goes, comes) = self.switch.step();
            for (coming, going) in coming.iter_mut().zip(&going) {
                coming[k] = comes * coming[k] + goes * going[k];
            }
            let of = |source: Source, weight: f32| {
                if source.heard == Heard::Mix { weight } else { 0.0 }
            };
            // The guard hands its frames on late, so the mix's weight waits for as long.
            let weight = of(from, goes) + of(to, comes);
            mix_weights[k] = std::mem::replace(&mut self.weights[self.weight_place], weight);
            self.weight_place = (self.weight_place + 1) % self.weights.len();
            let resting = to.heard == Heard::Mix && !self.switch.is_moving();
            self.idle = if resting { (self.idle + 1).min(self.weights.len()) } else { 0 };
        }
        let raised = self.gain.1 > 1.0
            || to.heard == Heard::Difference
            || (moving && from.heard == Heard::Difference);
        let ceiling = if raised { l::CEILING_DBTP } else { l::FULL_SCALE_DBTP };
        let least = self.guard.process(&mut coming[..out.len()], n, ceiling);
        self.note(least, n);
        for (out, heard) in out.iter_mut().zip(&coming) {
            for ((y, heard), weight) in out[at..at + n].iter_mut().zip(heard).zip(&mix_weights) {
                let mix = if y.is_finite() { *y } else { 0.0 };
                *y = weight * mix + heard;
            }
        }
    }

    /// Keeps the guard's largest reduction for a while.
    fn note(&mut self, least: f32, frames: usize) {
        self.lowest_age += frames as f64;
        if least <= self.lowest || self.lowest_age > l::GUARD_HOLD_S * self.rate_hz {
            (self.lowest, self.lowest_age) = (least, 0.0);
        }
    }
}
