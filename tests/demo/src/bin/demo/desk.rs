//! The host's session: an instance of the plug-in on each part and one on the mix.

use std::thread::sleep;
use std::time::{Duration, Instant};

use brunt_demo::song::{SAMPLE_RATE_HZ, TEMPO_BPM};
use brunt_engine::parts::PartRole;
use brunt_host::transport::Tempo;
use brunt_host::{Audio, Block, Blocks, Instance, Side, Song, bundle, render};
use brunt_report::report::Report;

use super::Result;

/// The host's block length, frames: a common choice in studios (common practice, no source).
const BLOCK_FRAMES: usize = 512;
/// What is played before the parts' reader gets a moment, frames: far less than they hold for it.
const BREATH_FRAMES: usize = SAMPLE_RATE_HZ as usize;
/// That moment.
const BREATH: Duration = Duration::from_millis(20);
/// How long the reading of the parts has to stay as it is to be the last.
const STEADY: Duration = Duration::from_millis(2500);
/// Longest wait for it.
const PATIENCE: Duration = Duration::from_secs(60);
/// The value *Off* of the side-chain's role.
const SIDE_OFF: u8 = 0;
/// The value *Reference*.
const SIDE_REFERENCE: u8 = 2;
/// The transport, at rest or not.
const TEMPO: Tempo = Tempo { bpm: TEMPO_BPM, signature: (4, 4) };

/// A part as it is played: its name and role, and a vector a channel.
pub struct Part {
    /// Name of its track.
    pub name: &'static str,
    /// What it plays.
    pub role: PartRole,
    /// Its samples.
    pub samples: Vec<Vec<f32>>,
}

/// Instances on all tracks, playing together.
pub struct Desk {
    parts: Vec<(Instance, Audio)>,
    mix: Instance,
    audio: Audio,
    /// What the mix's side-chain carries, a vector a channel; empty for nothing.
    side: Vec<Vec<f32>>,
}

impl Desk {
    /// Puts an instance on each part and one on the mix, whose side-chain gets the `reference`, a vector a
    /// channel, where there is one.
    pub fn new(parts: &[Part], reference: Option<Vec<Vec<f32>>>) -> Result<Self> {
        let path = bundle::find()?;
        let start = |name: &str, role: usize, side: u8| -> Result<(Instance, Audio)> {
            let mut plugin = Instance::load_on(&path, Some(name))?;
            for (name, value) in [("Role", role as f64), ("Side-chain role", f64::from(side))] {
                let parameter = plugin.parameter(name)?;
                plugin.set(&parameter, value)?;
            }
            let audio = plugin.activate(f64::from(SAMPLE_RATE_HZ), BLOCK_FRAMES as u32)?;
            Ok((plugin, audio))
        };
        // The mix is the parameter's first value; the parts' roles follow in this order.
        let role = |part: &Part| 1 + part.role as usize;
        let players = parts.iter().map(|part| start(part.name, role(part), SIDE_OFF));
        let players = players.collect::<Result<Vec<_>>>()?;
        let side = if reference.is_some() { SIDE_REFERENCE } else { SIDE_OFF };
        let (mix, audio) = start("Mix", 0, side)?;
        Ok(Self { parts: players, mix, audio, side: reference.unwrap_or_default() })
    }

    /// Plays the frames `start..end` of the song; whether every instance gave each sample as it came.
    pub fn play(
        &mut self,
        parts: &[Part],
        mix: &[Vec<f32>],
        (start, end): (usize, usize),
    ) -> Result<bool> {
        let mut same = true;
        for from in (start..end).step_by(BREATH_FRAMES) {
            let to = end.min(from + BREATH_FRAMES);
            for ((_, audio), part) in self.parts.iter_mut().zip(parts) {
                same &= stretch(audio, &part.samples, &[], (from, to))?;
            }
            same &= stretch(&mut self.audio, mix, &self.side, (from, to))?;
            sleep(BREATH);
        }
        Ok(same)
    }

    /// Stops the transport, which ends the parts' passes. The mix hears nothing of it.
    pub fn stop(&mut self) -> Result<()> {
        let silence = [0.0; 64];
        let still = TEMPO.at(0.0, false);
        for (_, audio) in &mut self.parts {
            let main = [&silence[..]; 2];
            let (side, transport) = (Side::Channels(&main), Some(&still));
            audio.process(&Block { main: &main, side, transport, ..Block::default() })?;
        }
        Ok(())
    }

    /// What the mix's instance has measured, read from the state that it saves with the host's
    /// session, once all parts are in it and nothing moves any more.
    pub fn report(&mut self) -> Result<Report> {
        let started = Instant::now();
        let mut last: Option<(Report, Instant)> = None;
        loop {
            let report =
                self.mix.save()?.report()?.ok_or("the plug-in's saved state holds no reading")?;
            match &last {
                Some((known, since)) if *known == report => {
                    if report.parts.len() == self.parts.len() && since.elapsed() > STEADY {
                        return Ok(report);
                    }
                }
                _ => last = Some((report, Instant::now())),
            }
            if started.elapsed() > PATIENCE {
                return Err("the parts' reading does not come to rest".into());
            }
            sleep(Duration::from_millis(100));
        }
    }

    /// The instance on the mix.
    pub fn mix(&mut self) -> &mut Instance {
        &mut self.mix
    }

    /// Takes the session down.
    pub fn close(mut self) {
        for (mut plugin, audio) in self.parts {
            plugin.deactivate(audio);
        }
        self.mix.deactivate(self.audio);
    }
}

/// Plays the frames `from..to` at their place in the song, and those of the side-chain with them; whether
/// the song's came back as they were.
fn stretch(
    audio: &mut Audio,
    samples: &[Vec<f32>],
    side: &[Vec<f32>],
    (from, to): (usize, usize),
) -> Result<bool> {
    let cut = |channels: &[Vec<f32>]| -> Vec<Vec<f32>> {
        channels.iter().map(|channel| channel[from..to].to_vec()).collect()
    };
    let (main, side) = (cut(samples), cut(side));
    let from_s = from as f64 / f64::from(SAMPLE_RATE_HZ);
    let song = Song { main: &main, side: &side, tempo: Some(TEMPO), from_s, ..Song::default() };
    let out = render::play(audio, &song, &Blocks::Even(BLOCK_FRAMES))?;
    let bits = |channels: &[Vec<f32>]| -> Vec<u32> {
        channels.iter().flatten().map(|sample| sample.to_bits()).collect()
    };
    Ok(bits(&out) == bits(&main))
}
