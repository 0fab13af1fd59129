//! The passage: how loud mix and side-chain are over the same stretch of the song.
//!
//! The song is cut into steps of 100 ms. Each keeps the K-weighted energy that was last heard
//! there of either bus, so that a loop counts every place once, as it was heard last. The
//! passage is what has been heard in the last minute since the last jump to a place not heard.
//! Its loudness is the integrated loudness of ITU-R BS.1770-5: blocks of four steps, an absolute
//! gate that both buses must pass, and each bus's own relative gate.

use brunt_engine::thresholds::ABSOLUTE_GATE_LUFS;
use brunt_engine::{Hop, lufs, power_of_lufs};

use super::limits::{JUMP_S, PASSAGE_STEPS, STEP_S, SURE_STEPS};
use crate::model::heard::Match;

/// Steps of a gating block.
const BLOCK: usize = 4;
/// Relative gate, LU under the mean above the absolute gate: ITU-R BS.1770-5.
const RELATIVE_GATE_LU: f64 = 10.0;
/// Share of a step that must have been heard for it to count.
const WHOLE: f64 = 0.85;

/// One bus's part of a step.
#[derive(Clone, Copy, Debug, Default)]
struct Part {
    energy: f64,
    frames: u64,
    /// The run of the transport in which it was heard.
    run: u32,
}

#[derive(Clone, Copy, Debug)]
struct Step {
    /// Number of the step in the song; `i64::MIN` where nothing was heard.
    number: i64,
    mix: Part,
    side: Part,
    /// Stream frame at which it was last heard.
    heard: u64,
}

impl Step {
    const NEVER: Self = Self {
        number: i64::MIN,
        mix: Part { energy: 0.0, frames: 0, run: 0 },
        side: Part { energy: 0.0, frames: 0, run: 0 },
        heard: 0,
    };
}

/// Measures the passage. [`Passage::new`] allocates, nothing else does.
#[derive(Clone, Debug)]
pub struct Passage {
    steps: Box<[Step]>,
    step_frames: i64,
    jump_frames: i64,
    /// Song position less stream position now, and since which stream frame.
    offset: i64,
    since: u64,
    /// The same before that.
    offset_before: i64,
    run: u32,
    started: bool,
    /// Step that the mix was last heard in.
    current: i64,
    found: Option<Match>,
}

impl Passage {
    /// For a stream of `rate_hz`. Allocates.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        Self {
            steps: vec![Step::NEVER; PASSAGE_STEPS].into(),
            step_frames: ((rate_hz * STEP_S).round() as i64).max(1),
            jump_frames: (rate_hz * JUMP_S) as i64,
            offset: 0,
            since: 0,
            offset_before: 0,
            run: 0,
            started: false,
            current: i64::MIN,
            found: None,
        }
    }

    /// A block starts at stream frame `frame`, counted as in [`Hop::start_frame`]; the host's song
    /// stands at `song` then, in frames, where it runs. Where it does not, positions go on.
    pub fn block(&mut self, frame: u64, song: Option<i64>) {
        let Some(song) = song else { return };
        let offset = song.saturating_sub(frame as i64);
        if self.started && (offset - self.offset).abs() <= self.jump_frames {
            return;
        }
        (self.offset_before, self.offset, self.since) = (self.offset, offset, frame);
        self.run = self.run.wrapping_add(1);
        self.started = true;
        let place = song.div_euclid(self.step_frames);
        // A loop comes back to a place that was heard; anything else is a new passage.
        if self.slot(place).number != place {
            self.forget();
        }
    }

    /// Takes a hop. `delay` is how many frames the mix comes after the side-chain.
    pub fn hop(&mut self, hop: &Hop, delay: i64) {
        let end = hop.start_frame + hop.frames as u64;
        let offset = if hop.start_frame >= self.since {
            self.offset
        } else if end <= self.since {
            self.offset_before
        } else {
            // It lies across a jump and belongs to no place.
            return;
        };
        let song = hop.start_frame as i64 + offset;
        let (run, frames) = (self.run, hop.frames as u64);
        let number = song.div_euclid(self.step_frames);
        let step = self.enter(number, hop.start_frame);
        add(&mut step.mix, hop.main_energy, frames, run);
        let ahead = song.saturating_add(delay).div_euclid(self.step_frames);
        let step = self.enter(ahead, hop.start_frame);
        add(&mut step.side, hop.side_energy, frames, run);
        if number != self.current {
            self.current = number;
            self.found = self.read(hop.start_frame);
        }
    }

    /// The match over the passage so far. `None` until both buses have been heard at once.
    #[must_use]
    pub fn found(&self) -> Option<Match> {
        self.found
    }

    /// Forgets the passage: the next one starts here.
    pub fn forget(&mut self) {
        self.steps.fill(Step::NEVER);
        self.current = i64::MIN;
        self.found = None;
    }

    /// Forgets the passage and the stream: frames are counted from 0 again.
    pub fn reset(&mut self) {
        self.forget();
        (self.offset, self.offset_before, self.since) = (0, 0, 0);
        self.started = false;
    }

    fn slot(&self, number: i64) -> &Step {
        &self.steps[number.rem_euclid(PASSAGE_STEPS as i64) as usize]
    }

    fn enter(&mut self, number: i64, frame: u64) -> &mut Step {
        let step = &mut self.steps[number.rem_euclid(PASSAGE_STEPS as i64) as usize];
        if step.number != number {
            *step = Step { number, ..Step::NEVER };
        }
        step.heard = frame;
        step
    }

    /// Sums the passage up. Once a step: some thousand additions.
    fn read(&self, now: u64) -> Option<Match> {
        let oldest = now.saturating_sub(self.step_frames as u64 * PASSAGE_STEPS as u64);
        let whole = (self.step_frames as f64 * WHOLE) as u64;
        let counts = |step: &Step| {
            step.heard >= oldest && step.mix.frames >= whole && step.side.frames >= whole
        };
        let gate = power_of_lufs(ABSOLUTE_GATE_LUFS);
        let block = |last: &Step| {
            let mut powers = [0.0; 2];
            for back in 0..BLOCK as i64 {
                let step = self.slot(last.number - back);
                if step.number != last.number - back || !counts(step) {
                    return None;
                }
                powers[0] += step.mix.energy / step.mix.frames as f64 / BLOCK as f64;
                powers[1] += step.side.energy / step.side.frames as f64 / BLOCK as f64;
            }
            (powers[0] > gate && powers[1] > gate).then_some(powers)
        };
        let known = || self.steps.iter().filter(|step| step.number != i64::MIN);
        let mut sums = [0.0; 2];
        let mut blocks = 0_usize;
        for powers in known().filter_map(block) {
            sums = [sums[0] + powers[0], sums[1] + powers[1]];
            blocks += 1;
        }
        if blocks == 0 {
            return None;
        }
        let mut loud = [(0.0, 0_usize); 2];
        let gates =
            sums.map(|sum| power_of_lufs(lufs(sum / blocks as f64) - RELATIVE_GATE_LU).max(gate));
        for powers in known().filter_map(block) {
            for (bus, loud) in loud.iter_mut().enumerate() {
                if powers[bus] > gates[bus] {
                    *loud = (loud.0 + powers[bus], loud.1 + 1);
                }
            }
        }
        let [mix_lufs, side_lufs] = loud.map(|(sum, count)| lufs(sum / count.max(1) as f64));
        let steps = known().filter(|step| counts(step)).count();
        Some(Match {
            mix_lufs,
            side_lufs,
            passage_s: steps as f64 * STEP_S,
            sure: blocks + BLOCK > SURE_STEPS,
        })
    }
}

/// Adds to a part; in another run of the transport the part starts afresh.
fn add(part: &mut Part, energy: f64, frames: u64, run: u32) {
    if part.run != run {
        *part = Part { energy: 0.0, frames: 0, run };
    }
    part.energy += energy;
    part.frames += frames;
}
