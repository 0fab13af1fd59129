//! Plays signals to a meter.

use brunt_engine::{Config, Loudness, Meter};
use std::f64::consts::TAU;

/// The rates at which every case of the standards is run, Hz.
pub const RATES_HZ: [u32; 4] = [44_100, 48_000, 96_000, 192_000];

/// A meter and the place on its tape.
pub struct Rig {
    meter: Meter,
    rate_hz: u32,
    channels: usize,
    frame: u64,
    block: usize,
}

impl Rig {
    /// A fresh meter with `channels` channels, all of which get the same signal. It is fed 10 ms
    /// at a time.
    pub fn new(rate_hz: u32, channels: usize) -> Self {
        let config = Config { sample_rate_hz: f64::from(rate_hz), channels };
        let meter = Meter::new(config).expect("rates and channels of the standards are accepted");
        Self { meter, rate_hz, channels, frame: 0, block: rate_hz as usize / 100 }
    }

    /// Plays `seconds` of a sine of `dbfs` (peak), whose phase runs on from sine to sine.
    pub fn sine(&mut self, hz: f64, dbfs: f64, seconds: f64) {
        self.watched_sine(hz, dbfs, seconds, |_, _| ());
    }

    /// The same, and calls `watch` with the time since the start, s, and the readings every 10 ms.
    pub fn watched_sine(
        &mut self,
        hz: f64,
        dbfs: f64,
        seconds: f64,
        mut watch: impl FnMut(f64, &Loudness),
    ) {
        let amplitude = 10_f64.powf(dbfs / 20.0);
        let step = TAU * hz / f64::from(self.rate_hz);
        let first = self.frame;
        let mut wave = Wave::new(step, first);
        let frames = (seconds * f64::from(self.rate_hz)).round() as usize;
        let mut block = vec![0.0; self.block];
        let mut done = 0;
        while done < frames {
            let now = self.block.min(frames - done);
            for sample in &mut block[..now] {
                *sample = (amplitude * wave.next()) as f32;
            }
            self.play(&block[..now]);
            done += now;
            watch(self.frame as f64 / f64::from(self.rate_hz), &self.meter.readings().loudness);
        }
    }

    /// Plays `seconds` of silence.
    pub fn silence(&mut self, seconds: f64) {
        let frames = (seconds * f64::from(self.rate_hz)).round() as usize;
        self.play(&vec![0.0; frames]);
    }

    /// Plays samples, the same to all channels.
    pub fn play(&mut self, samples: &[f32]) {
        let main = [samples, samples];
        self.meter.process(&main[..self.channels], None, &mut ());
        self.frame += samples.len() as u64;
    }

    /// The readings as they stand. The meter measures whole milliseconds, so they may lack the
    /// last one.
    pub fn loudness(&self) -> Loudness {
        self.meter.readings().loudness
    }

    /// The readings after two more milliseconds of silence, which close the last hop of 10 ms
    /// that has ended, and no other.
    pub fn settled(&mut self) -> Loudness {
        self.silence(0.002);
        self.loudness()
    }
}

/// A sine as a turning pointer, set straight from time to time.
struct Wave {
    step: f64,
    at: u64,
    pointer: [f64; 2],
    turn: [f64; 2],
}

impl Wave {
    fn new(step: f64, at: u64) -> Self {
        let (sin, cos) = step.sin_cos();
        Self { step, at, pointer: pointer(step, at), turn: [cos, sin] }
    }

    fn next(&mut self) -> f64 {
        let [cos, sin] = self.pointer;
        self.at += 1;
        self.pointer = if self.at.is_multiple_of(256) {
            pointer(self.step, self.at)
        } else {
            [cos * self.turn[0] - sin * self.turn[1], sin * self.turn[0] + cos * self.turn[1]]
        };
        sin
    }
}

fn pointer(step: f64, at: u64) -> [f64; 2] {
    let (sin, cos) = (step * at as f64).sin_cos();
    [cos, sin]
}

/// Asserts that a reading is there and within `tolerance` of `want`.
#[track_caller]
pub fn close(what: &str, got: Option<f64>, want: f64, tolerance: f64) {
    within(what, got, want, tolerance, tolerance);
}

/// Asserts that a reading is there, at most `above` over and `below` under `want`.
#[track_caller]
pub fn within(what: &str, got: Option<f64>, want: f64, above: f64, below: f64) {
    let Some(got) = got else { panic!("{what}: no reading, expected {want}") };
    assert!(
        got <= want + above && got >= want - below,
        "{what}: read {got:.4}, expected {want} (+{above} -{below})"
    );
}

/// K gain, dB, at `hz`, from the coefficients that ITU-R BS.1770-5, Annex 1, Tables 1 and 2 gives
/// for 48 kHz.
pub fn k_gain_48k_db(hz: f64) -> f64 {
    let shelf = (
        [1.53512485958697, -2.69169618940638, 1.19839281085285],
        [1.0, -1.69065929318241, 0.73248077421585],
    );
    let high_pass = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621]);
    let w = TAU * hz / 48_000.0;
    let power = |c: [f64; 3]| {
        let re = c[0] + c[1] * w.cos() + c[2] * (2.0 * w).cos();
        let im = c[1] * w.sin() + c[2] * (2.0 * w).sin();
        re * re + im * im
    };
    let gain = |(b, a): ([f64; 3], [f64; 3])| power(b) / power(a);
    10.0 * (gain(shelf) * gain(high_pass)).log10()
}
