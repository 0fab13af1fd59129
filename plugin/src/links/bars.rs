//! Which bar of the song a place lies in, as the host's transport told it while it was played.
//!
//! The audio thread's [`BarTeller`] tells the stretches that are played, each with a straight line
//! from frames to bars: a change of tempo or meter, a jump or a loop starts a new one. The thread of
//! the registry puts them into a [`BarMap`], in which a later pass replaces an earlier one place by
//! place. A host that tells no bars leaves the map empty, and no bar is said.

use std::collections::BTreeMap;

use brunt_engine::parts::timing::{Passage, TimingReading};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::song::Cue;

/// Stretches under way: a second each at least, unless the transport jumps or the tempo changes.
const RING: usize = 512;
/// Longest stretch that is not told yet, s.
const TELL_S: f64 = 1.0;
/// Distance from a line that makes a new one, bars. Ours: 4 ms of a bar of two seconds; a tempo that
/// ramps from 120 to 140 beats a minute in eight bars gets a line a second.
const SAME_LINE: f64 = 0.002;
/// Distance of a host's place from the expected one that is no jump, s. Ours: a cell.
const SAME_PLACE_S: f64 = 1e-3;
/// Shortest bar, quarter notes. Ours: what is shorter is no bar but a host's nonsense.
const SHORTEST: f64 = 1e-3;
/// Most stretches that are kept; the ones played longest ago leave first. Ours: an hour of a tempo
/// that never rests, in 200 kB.
const MOST: usize = 4096;
/// A place so near to a bar line counts as on its other side, s. Ours: what is played a bar's first
/// beat may come early by as much ([`OWN_MS`](brunt_engine::thresholds::arrangement::OWN_MS)).
const EDGE_S: f64 = 0.05;

/// A stretch of the song in which bars go by evenly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// First frame of the song.
    from: i64,
    /// Frame behind the last.
    to: i64,
    /// Place at `from`, bars: 1 at the start of the first bar.
    bar: f64,
    /// Growth a frame, bars.
    step: f64,
}

impl Stretch {
    fn at(&self, frame: i64) -> f64 {
        self.bar + self.step * (frame - self.from) as f64
    }

    /// What is left of it from `from` to `to`; `None` of nothing.
    fn cut(&self, from: i64, to: i64) -> Option<Self> {
        let (from, to) = (from.max(self.from), to.min(self.to));
        (from < to).then(|| Self { from, to, bar: self.at(from), ..*self })
    }

    /// Whether `next` goes on where this one ends, on the same line.
    fn goes_on(&self, next: &Self) -> bool {
        self.to == next.from
            && (self.at(next.from) - next.bar).abs() < SAME_LINE
            && (self.at(next.to) - next.at(next.to)).abs() < SAME_LINE
    }
}

/// The end of the audio thread. Nothing here allocates, locks or makes a system call after
/// [`BarTeller::connect`].
#[derive(Debug, Default)]
pub(super) struct BarTeller {
    out: Option<Producer<Stretch>>,
    rate_hz: f64,
    open: Option<Stretch>,
}

impl BarTeller {
    /// A new ring for a stream at that rate; gives its reading end. Allocates.
    pub(super) fn connect(&mut self, rate_hz: f64) -> Consumer<Stretch> {
        let (out, inbox) = RingBuffer::new(RING);
        *self = Self { out: Some(out), rate_hz, ..Self::default() };
        inbox
    }

    /// Takes one block of `frames` frames.
    pub(super) fn tell(&mut self, cue: &Cue, frames: usize) {
        let Some(out) = &mut self.out else { return };
        let frames = frames as i64;
        let near = SAME_PLACE_S * self.rate_hz;
        let off = |open: &Stretch, frame: i64| (frame - open.to) as f64;
        let place = cue.place(self.rate_hz).filter(|_| cue.playing);
        let mut now = place.and_then(|frame| line(cue, frame, frames, self.rate_hz));
        if let Some(open) = &mut self.open {
            // A host may round its place.
            let next = now.as_mut().filter(|now| off(open, now.from).abs() < near);
            if let Some(now) = next {
                (now.from, now.to) = (open.to, open.to + frames);
            }
            let same = now.is_some_and(|now| {
                open.to == now.from && (open.at(open.to) - now.bar).abs() < SAME_LINE
            });
            if same {
                open.to += frames;
                if (open.to - open.from) as f64 >= TELL_S * self.rate_hz && out.push(*open).is_ok()
                {
                    (open.bar, open.from) = (open.at(open.to), open.to);
                }
                return;
            }
            if open.from < open.to {
                // A full ring loses the bars of this stretch, and no other's.
                let _ = out.push(*open);
            }
        }
        self.open = now;
    }
}

/// The line of a block; `None` where the host tells no bars.
fn line(cue: &Cue, from: i64, frames: i64, rate_hz: f64) -> Option<Stretch> {
    let (beat, tempo, number) = (cue.beat?, cue.tempo_bpm?, cue.bar_number?);
    let (start, length) = (cue.bar_start_beat?, cue.bar_beats?);
    let bar = f64::from(number) + 1.0 + (beat - start) / length;
    let step = tempo / 60.0 / rate_hz / length;
    let sound = length >= SHORTEST && bar.is_finite() && step.is_finite() && step > 0.0;
    sound.then_some(Stretch { from, to: from + frames, bar, step })
}

/// The bars of the song as they were told last at each place. Not for the audio thread.
#[derive(Debug, Default)]
pub(super) struct BarMap {
    /// By first frame; with when each was told.
    stretches: BTreeMap<i64, (Stretch, u64)>,
    told: u64,
}

impl BarMap {
    /// How much was told; changes with whatever a place's bar depends on.
    pub(super) fn told(&self) -> u64 {
        self.told
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.stretches.clear();
        self.told += 1;
    }

    /// Takes what comes next.
    pub(super) fn take(&mut self, mut new: Stretch) {
        self.told += 1;
        let before = self.stretches.range(..new.from).next_back().map(|(from, _)| *from);
        let over: Vec<i64> = before
            .into_iter()
            .chain(self.stretches.range(new.from..new.to).map(|(from, _)| *from))
            .collect();
        for from in over {
            let Some((old, told)) = self.stretches.remove(&from) else { continue };
            let pieces = [old.cut(i64::MIN, new.from), old.cut(new.to, i64::MAX)];
            for piece in pieces.into_iter().flatten() {
                self.stretches.insert(piece.from, (piece, told));
            }
        }
        if let Some((_, &(old, _))) = self.stretches.range(..new.from).next_back()
            && old.goes_on(&new)
        {
            new = Stretch { to: new.to, ..old };
        }
        if let Some(&(next, _)) = self.stretches.get(&new.to)
            && new.goes_on(&next)
        {
            self.stretches.remove(&next.from);
            new.to = next.to;
        }
        self.stretches.insert(new.from, (new, self.told));
        while self.stretches.len() > MOST {
            let oldest = self.stretches.iter().min_by_key(|(_, (_, told))| *told);
            let Some(from) = oldest.map(|(from, _)| *from) else { return };
            self.stretches.remove(&from);
        }
    }

    /// Place in bars at a frame of the song: 1 at the start of the first bar. `None` where none was
    /// told.
    fn at(&self, frame: i64) -> Option<f64> {
        let (_, (stretch, _)) = self.stretches.range(..=frame).next_back()?;
        (frame < stretch.to).then(|| stretch.at(frame))
    }

    /// First and last bar of a passage of the song, s, at `rate_hz`; `None` where none was told.
    fn bars(&self, from_s: f64, to_s: f64, rate_hz: f64) -> Option<(i64, i64)> {
        let bar = |time_s: f64| self.at((time_s * rate_hz).round() as i64).map(f64::floor);
        let first = bar(from_s + EDGE_S)?;
        let last = bar(to_s - EDGE_S).unwrap_or(first).max(first);
        Some((first as i64, last as i64))
    }

    /// The bar of a hit of the song, s, at `rate_hz`; `None` where none was told.
    pub(super) fn bar(&self, hit_s: f64, rate_hz: f64) -> Option<i64> {
        self.at(((hit_s + EDGE_S) * rate_hz).round() as i64).map(|bar| bar.floor() as i64)
    }

    /// Says of every passage of a reading which bars it lies in.
    pub(super) fn fill(&self, timing: &mut TimingReading, rate_hz: f64) {
        let parts = timing.parts.iter_mut().flatten();
        let doubles = timing.doubles.iter_mut().map(|double| &mut double.deviation);
        for deviation in parts.chain(doubles) {
            for passage in &mut deviation.passages {
                let Passage { from_s, to_s, .. } = *passage;
                passage.bars = self.bars(from_s, to_s, rate_hz);
            }
        }
    }
}

#[cfg(test)]
mod tests;
