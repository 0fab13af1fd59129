//! Plays two streams through meter and audition, as the plug-in does.

use brunt::audition::{Audition, Heard, Status, Wish};
use brunt_engine::{Config, Hop, Meter, Sink};
use ebur128::{EbuR128, Mode};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

pub const RATE_HZ: f64 = 48_000.0;

/// Meter and audition of one stereo stream.
pub struct Rig {
    meter: Meter,
    pub audition: Audition,
    frame: u64,
    block: usize,
}

struct ToAudition<'a>(&'a mut Audition);

impl Sink for ToAudition<'_> {
    fn hop(&mut self, hop: &Hop) {
        self.0.hop(hop);
    }
}

impl Rig {
    pub fn new(block: usize) -> Self {
        let config = Config { sample_rate_hz: RATE_HZ, channels: 2 };
        Self {
            meter: Meter::new(config).expect("a sound config"),
            audition: Audition::new(RATE_HZ, 2),
            frame: 0,
            block,
        }
    }

    /// Plays both and gives what is heard. `song` is the place in the song of the first frame.
    pub fn play(
        &mut self,
        mix: &[Vec<f32>],
        side: &[Vec<f32>],
        song: Option<i64>,
        wish: Wish,
    ) -> Vec<Vec<f32>> {
        let mut out = mix.to_vec();
        let frames = mix[0].len();
        for at in (0..frames).step_by(self.block) {
            let end = frames.min(at + self.block);
            let main: Vec<&[f32]> = mix.iter().map(|c| &c[at..end]).collect();
            let side: Vec<&[f32]> = side.iter().map(|c| &c[at..end]).collect();
            self.audition.block(self.frame, song.map(|song| song + at as i64));
            self.meter.process(&main, Some(&side), &mut ToAudition(&mut self.audition));
            self.frame += (end - at) as u64;
            let mut parts: Vec<&mut [f32]> = out.iter_mut().map(|c| &mut c[at..end]).collect();
            self.audition.process(&mut parts, Some(&side), &wish);
        }
        out
    }

    pub fn status(&self) -> Status {
        self.audition.status()
    }
}

pub fn wish(heard: Heard) -> Wish {
    Wish { heard, mix_after_side: None }
}

/// Integrated loudness, LUFS, by the `ebur128` crate.
pub fn integrated(channels: &[Vec<f32>]) -> f64 {
    let mut meter = EbuR128::new(channels.len() as u32, RATE_HZ as u32, Mode::I).expect("a meter");
    let planes: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&planes).expect("takes frames");
    meter.loudness_global().expect("a loudness")
}

/// Largest true peak of any channel, dBTP, by the `ebur128` crate.
pub fn true_peak(channels: &[Vec<f32>]) -> f64 {
    let mode = Mode::TRUE_PEAK;
    let mut meter = EbuR128::new(channels.len() as u32, RATE_HZ as u32, mode).expect("a meter");
    let planes: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&planes).expect("takes frames");
    let peaks = (0..channels.len() as u32).map(|c| meter.true_peak(c).expect("a peak"));
    20.0 * peaks.fold(0.0, f64::max).log10()
}

/// An invented song: decaying low tones and noise bursts over a bed, both of which swell and
/// fade from bar to bar.
pub fn song(seconds: f64, seed: u64) -> Vec<Vec<f32>> {
    let frames = (seconds * RATE_HZ) as usize;
    let mut random = Pcg64::seed_from_u64(seed);
    let bars: Vec<f64> =
        (0..(seconds / 2.0) as usize + 1).map(|_| random.random_range(0.25..1.0)).collect();
    (0..2)
        .map(|_| {
            (0..frames)
                .map(|frame| {
                    let t = frame as f64 / RATE_HZ;
                    let beat = t % 0.5;
                    let tone = (-beat * 18.0).exp() * (std::f64::consts::TAU * 60.0 * beat).sin();
                    let burst = (-beat * 60.0).exp() * random.random_range(-1.0..1.0);
                    let bed = 0.2 * random.random_range(-1.0..1.0);
                    let level = bars[(t / 2.0) as usize];
                    (level * (0.5 * tone + 0.3 * burst + bed)) as f32
                })
                .collect()
        })
        .collect()
}

/// The same, each sample times `gain_db` and bent by a hard ceiling: a louder, limited version.
pub fn limited(song: &[Vec<f32>], gain_db: f64, ceiling: f32) -> Vec<Vec<f32>> {
    let gain = 10_f64.powf(gain_db / 20.0) as f32;
    song.iter().map(|c| c.iter().map(|x| (x * gain).clamp(-ceiling, ceiling)).collect()).collect()
}

/// Frames `from..to` of every channel.
pub fn cut(channels: &[Vec<f32>], from: usize, to: usize) -> Vec<Vec<f32>> {
    channels.iter().map(|c| c[from..to].to_vec()).collect()
}
