//! Target `process`: a host's calls in any order, with any blocks, rates and samples.
//!
//! Every block must come out as it went in, bit for bit, unless something else was asked to be
//! heard since the plug-in was activated; what is heard then must be finite where all that went in
//! was, and no louder than the mix or the audition's guard allow.

use arbitrary::{Result, Unstructured};
use brunt_host::transport::Tempo;
use brunt_host::{Audio, Block, Instance, Parameter, Side};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

use crate::{json, sample};

/// Most frames of one execution: what a second of playing takes at 48 kHz.
const MOST_FRAMES: usize = 48_000;
const RATES_HZ: &[f64] = &[
    8_000.0,
    16_000.0,
    44_100.0,
    48_000.0,
    96_000.0,
    192_000.0,
    384_000.0,
    11_025.5,
    7_999.0,
    400_000.0,
    0.0,
    -1.0,
    1e9,
    f64::NAN,
    f64::INFINITY,
];
const LENGTHS: &[usize] = &[0, 1, 2, 3, 16, 31, 64, 65, 127, 512, 1_000, 2_048, 4_096];

pub fn run(bytes: &[u8]) {
    let plugin = Instance::load_linked(&brunt::clap_entry).expect("the linked plug-in");
    let mut host = Host {
        plugin,
        audio: None,
        channels: 2,
        longest: 0,
        frames: 0,
        exact: true,
        noise: Pcg64::seed_from_u64(1),
        saved: Vec::new(),
    };
    let _ = host.play(&mut Unstructured::new(bytes));
    if let Some(audio) = host.audio.take() {
        host.plugin.deactivate(audio);
    }
    // Whatever was played, what is saved can be read back.
    let saved = host.plugin.save().expect("saves");
    for field in ["pass", "kept"] {
        let value = saved.field(field).expect("is JSON");
        brunt_report::bounds::check(&value).expect("within bounds");
    }
}

struct Host {
    plugin: Instance,
    audio: Option<Audio>,
    channels: usize,
    longest: usize,
    frames: usize,
    /// Whether nothing but the mix was asked for since the activation.
    exact: bool,
    noise: Pcg64,
    saved: Vec<u8>,
}

impl Host {
    fn play(&mut self, u: &mut Unstructured) -> Result<()> {
        while !u.is_empty() && self.frames < MOST_FRAMES {
            match u.int_in_range(0..=31)? {
                0..=2 => self.activate(u)?,
                3 => self.deactivate(),
                4 => self.choose_layout(u)?,
                5 => self.saved = self.plugin.save().expect("saves").bytes,
                6 => drop(self.plugin.restore(&self.saved)),
                7 => self.restore(u)?,
                8 => self.set(u)?,
                9 => self.texts(u)?,
                10 => drop(self.plugin.render_offline(u.arbitrary()?)),
                11 => drop(self.plugin.pump()),
                12 => {
                    let _ = (self.plugin.latency(), self.plugin.ports(u.arbitrary()?).len());
                }
                13 => self.on_audio(Audio::reset),
                14 => self.on_audio(Audio::stop),
                15 => self.on_audio(|audio| audio.start().expect("starts")),
                16 => self.on_audio(|audio| {
                    let _ = audio.tail();
                }),
                _ => self.blocks(u)?,
            }
        }
        Ok(())
    }

    fn on_audio(&mut self, act: impl FnOnce(&mut Audio)) {
        if let Some(audio) = &mut self.audio {
            act(audio);
        }
    }

    fn activate(&mut self, u: &mut Unstructured) -> Result<()> {
        self.deactivate();
        // Good rates first: a host that is refused plays nothing.
        let many = if u.ratio(3, 4)? { 7 } else { RATES_HZ.len() };
        let rate_hz = RATES_HZ[u.choose_index(many)?];
        self.longest = LENGTHS[u.int_in_range(1..=LENGTHS.len() - 1)?];
        self.audio = self.plugin.activate(rate_hz, self.longest as u32).ok();
        assert!(self.audio.is_some() || many > 7, "{rate_hz} Hz refused");
        // The audition begins anew with an activation, and what is asked for stays.
        self.exact &= !self.listens();
        Ok(())
    }

    fn deactivate(&mut self) {
        if let Some(audio) = self.audio.take() {
            self.plugin.deactivate(audio);
            self.exact = !self.listens();
        }
    }

    fn listens(&mut self) -> bool {
        let listen = self.plugin.parameter("Listen").expect("a parameter");
        self.plugin.value(&listen) != Some(0.0)
    }

    fn choose_layout(&mut self, u: &mut Unstructured) -> Result<()> {
        self.deactivate();
        let layouts = self.plugin.layouts();
        let layout = u.choose(&layouts)?;
        self.plugin.choose(layout).expect("offered");
        self.channels = layout.channels.0 as usize;
        Ok(())
    }

    /// A state that something has been done to.
    fn restore(&mut self, u: &mut Unstructured) -> Result<()> {
        let mut state = sample::STATE.clone();
        if u.arbitrary()? {
            json::edit(&mut state, u)?;
        }
        let bytes = brunt_host::SavedState::from_json(&state).bytes;
        let _ = self.plugin.restore(&bytes);
        Ok(())
    }

    fn parameter(&mut self, u: &mut Unstructured) -> Result<(Parameter, f64)> {
        let parameters = self.plugin.parameters();
        let parameter = u.choose(&parameters)?.clone();
        let value = *u.choose(&[0.0, 0.25, 1.0 / 3.0, 0.5, 2.0 / 3.0, 1.0, -1.0, 7.0, f64::NAN])?;
        self.exact &= parameter.name != "Listen";
        Ok((parameter, value))
    }

    fn set(&mut self, u: &mut Unstructured) -> Result<()> {
        let (parameter, value) = self.parameter(u)?;
        if self.audio.is_none() {
            let _ = self.plugin.set(&parameter, value);
        }
        Ok(())
    }

    fn texts(&mut self, u: &mut Unstructured) -> Result<()> {
        let parameters = self.plugin.parameters();
        let parameter = u.choose(&parameters)?;
        let text: String = u.arbitrary::<&str>()?.chars().filter(|c| *c != '\0').take(60).collect();
        let value = self.plugin.parse(parameter, &text).unwrap_or(u.arbitrary()?);
        let _ = self.plugin.text(parameter, value);
        Ok(())
    }

    /// Some blocks of one kind.
    fn blocks(&mut self, u: &mut Unstructured) -> Result<()> {
        let length = (*u.choose(LENGTHS)?).min(self.longest);
        let count = *u.choose(&[1, 1, 2, 5, 40])?;
        let kinds: [u8; 2] = u.arbitrary()?;
        let (side, in_place, moves) = (u.int_in_range(0..=3)?, u.arbitrary()?, u.arbitrary()?);
        let playing: bool = u.arbitrary()?;
        let at_s = *u.choose(&[0.0, 1.0, -5.0, 1e9, 3.7])?;
        let tempo = Tempo {
            bpm: *u.choose(&[120.0, 0.0, -1.0, 1e9, f64::NAN, 180.0])?,
            signature: *u.choose(&[(4, 4), (7, 8), (0, 0), (1, 65_535)])?,
        };
        let mut changes = Vec::new();
        if moves {
            let (parameter, value) = self.parameter(u)?;
            changes.push(parameter.event(value));
        }
        for k in 0..count {
            if self.audio.is_none() || self.frames >= MOST_FRAMES {
                return Ok(());
            }
            self.frames += length.max(16);
            let buses = kinds.map(|kind| {
                (0..self.channels).map(|_| self.samples(kind, length)).collect::<Vec<_>>()
            });
            let [main, other] =
                buses.each_ref().map(|bus| bus.iter().map(Vec::as_slice).collect::<Vec<&[f32]>>());
            let transport = (side != 3).then(|| {
                let second = f64::from(k) * length as f64 / 48_000.0;
                tempo.at(at_s + second, playing)
            });
            let block = Block {
                main: &main,
                side: match side {
                    0 => Side::Missing,
                    1 => Side::Unconnected,
                    _ => Side::Channels(&other),
                },
                in_place,
                changes: &changes,
                transport: transport.as_ref(),
            };
            let Some(audio) = &mut self.audio else { return Ok(()) };
            let (_, out) = audio.process(&block).expect("processes");
            check(&main, &other, &out, self.exact);
        }
        Ok(())
    }

    /// A signal that somebody may send, with or without knowing.
    fn samples(&mut self, kind: u8, length: usize) -> Vec<f32> {
        let scale = [1.0, 1e-3, 30.0, 1e-30][usize::from(kind >> 4) % 4];
        let mut noise = || self.noise.random_range(-1.0f32..1.0);
        (0..length)
            .map(|k| match kind % 16 {
                0 => 0.0,
                1 => -0.0,
                2 => f32::from_bits(noise().to_bits().rotate_left(9)),
                3 => f32::MIN_POSITIVE * noise(),
                4 => {
                    if k % 7 == 0 {
                        f32::NAN
                    } else {
                        noise()
                    }
                }
                5 => f32::INFINITY,
                6 => f32::MAX * noise().signum(),
                7 => scale,
                8 => {
                    if k % 2 == 0 {
                        scale
                    } else {
                        -scale
                    }
                }
                9 => {
                    if k == 0 {
                        scale
                    } else {
                        0.0
                    }
                }
                10 => (k as f32 * 0.3).sin() * scale,
                // Bursts, for hits.
                11..=13 => noise() * scale * (-((k % 997) as f32) / 60.0).exp(),
                _ => noise() * scale,
            })
            .collect()
    }
}

fn check(main: &[&[f32]], other: &[&[f32]], out: &[&[f32]], exact: bool) {
    let bits = |bus: &[&[f32]]| -> Vec<u32> {
        bus.iter().flat_map(|channel| channel.iter().map(|x| x.to_bits())).collect()
    };
    if exact {
        assert!(bits(out) == bits(main), "the mix has changed");
        return;
    }
    let all = |bus: &[&[f32]]| bus.iter().flat_map(|channel| channel.iter().copied()).collect();
    let (main, other, out): (Vec<f32>, Vec<f32>, Vec<f32>) = (all(main), all(other), all(out));
    if main.iter().chain(&other).all(|x| x.is_finite()) {
        assert!(out.iter().all(|x| x.is_finite()), "no number where all were numbers");
    }
}
