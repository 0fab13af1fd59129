//! Renders and measures sessions for the tests of this binary.

use brunt_engine::parts::{PartRole, PartTrack, PartsReading, Session};
use brunt_engine::{Config, Thresholds};
use brunt_lab::corpus::Stereo;
use brunt_lab::corpus::mix::Library;
use brunt_lab::session::plan::Sound;
use brunt_lab::session::{Layer, Plan, Rendered, render};
use rayon::prelude::*;

/// Rate of the renders, Hz.
pub const RATE: u32 = 48_000;

/// A measured session.
pub struct Measured {
    pub plan: Plan,
    pub rendered: Rendered,
    pub session: Session,
}

impl Measured {
    pub fn read(&self) -> PartsReading {
        self.session.read(&Thresholds::default())
    }
}

/// Renders and measures every plan.
pub fn measure_all(plans: Vec<Plan>) -> Vec<Measured> {
    plans
        .into_par_iter()
        .map_init(Library::default, |library, plan| {
            let rendered = render(&plan, RATE, library).unwrap_or_else(|e| panic!("{e}"));
            let tracks = rendered.stems.iter().map(|s| track(s.role, s.name, &s.audio)).collect();
            Measured { plan, rendered, session: Session { tracks } }
        })
        .collect()
}

pub fn track(role: PartRole, name: &str, audio: &Stereo) -> PartTrack {
    let config = Config { sample_rate_hz: f64::from(audio.rate), channels: 2 };
    PartTrack::measure(role, name, config, &audio.channels()).expect("a rate in range")
}

/// What the bars are stated for.
pub fn kind(layer: &Layer) -> &'static str {
    match (&layer.sound, layer.amp_db, layer.role) {
        (Sound::Kit(..), ..) => "drums",
        (_, Some(_), _) => "distorted",
        (_, None, PartRole::Guitars) => "clean",
        (.., role) => role.code(),
    }
}
