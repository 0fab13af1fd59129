//! What `process()` does apart from the host's types: resets, the meter, and the bridge. No
//! allocation, lock or system call after [`Measure::activate`].

use brunt_engine::thresholds::ABSOLUTE_GATE_LUFS;
use brunt_engine::{Ceiling, Config, ConfigError, Meter, SideRole, Thresholds};

use crate::audition::Audition;
use crate::bridge::Bridge;
use crate::bridge::Feed;
use crate::contain::{Place, survives, trip};
use crate::links::{HitTeller, LevelTeller};
use crate::song::{Cue, PlaceTeller, SongClock};

/// Snapshots a second of programme: the meter brings its readings up to date at this rate.
const SNAPSHOTS_PER_S: f64 = 100.0;

/// The parameters as they stand in a block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Settings {
    /// Measuring off.
    pub bypass: bool,
    /// Presses of the reset parameter so far; every new one resets.
    pub presses: u64,
    /// A start of the transport resets.
    pub follow_transport: bool,
    /// Limits of the leaks' states.
    pub thresholds: Thresholds,
    /// What the side-chain carries.
    pub side_role: SideRole,
}

/// One instance's measuring, owned by the audio thread.
#[derive(Debug, Default)]
pub struct Measure {
    meter: Option<Meter>,
    song: SongClock,
    place: PlaceTeller,
    levels: LevelTeller,
    hits: HitTeller,
    /// Frames measured since the last reset.
    frames: u64,
    /// Ten-millisecond step of the last snapshot published.
    tick: u64,
    epoch: u64,
    resets_seen: u64,
    presses_seen: u64,
    restarts_seen: u64,
    was_playing: bool,
    fault: bool,
}

impl Measure {
    /// Gets ready for a stream. A running pass survives when the stream is the same as before:
    /// hosts activate anew for a mere change of block size, and a user's readings must not vanish
    /// for that. Of another stream they stay on display until something plays. Allocates, and locks what is
    /// displayed.
    ///
    /// # Errors
    /// [`ConfigError`] when the rate or the layout is out of range; nothing has changed then.
    pub fn activate(&mut self, config: Config, bridge: &Bridge) -> Result<(), ConfigError> {
        config.validate()?;
        let same = self.meter.as_ref().is_some_and(|meter| meter.config() == config);
        if same && !self.fault {
            return Ok(());
        }
        let meter = Meter::new(config)?;
        if !same {
            bridge.keep_showing();
        }
        self.meter = Some(meter);
        self.fault = false;
        bridge.set_fault(false);
        bridge.set_format(config.sample_rate_hz, config.channels);
        self.begin(bridge);
        Ok(())
    }

    /// Measures nothing of a stream that cannot be measured: its rate is told, and nothing else.
    pub fn refuse(&mut self, config: Config, bridge: &Bridge) {
        bridge.keep_showing();
        self.meter = None;
        self.fault = false;
        bridge.set_fault(false);
        bridge.set_format(config.sample_rate_hz, config.channels);
        self.begin(bridge);
    }

    /// Measures one block. `main` and `side` as for [`Meter::process`]; the audition, where there
    /// is one, is told how loud both are.
    pub fn process(
        &mut self,
        main: &[&[f32]],
        side: Option<&[&[f32]]>,
        cue: &Cue,
        settings: &Settings,
        bridge: &Bridge,
        mut audition: Option<&mut Audition>,
    ) {
        bridge.set_flags(cue.playing, settings.bypass);
        if self.reset_if_asked(cue, settings, bridge)
            && let Some(audition) = &mut audition
        {
            audition.restart();
        }
        let Some(meter) = self.meter.as_mut().filter(|_| !settings.bypass && !self.fault) else {
            return;
        };
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let rate_hz = meter.config().sample_rate_hz;
        let epoch = self.epoch;
        self.song.advance(self.frames, frames, rate_hz, cue, |bar| bridge.push_bar(epoch, bar));
        if let Some(mark) = self.place.advance(self.frames, rate_hz, cue) {
            bridge.push_place(epoch, mark);
        }
        bridge.set_thresholds(settings.thresholds);
        let place = cue.place(rate_hz).filter(|_| cue.playing);
        if let Some(audition) = &mut audition {
            audition.block(self.frames, place);
        }
        self.levels.block(self.frames, place, rate_hz);
        self.hits.block(self.frames, place, rate_hz);
        let (song, levels, hits) = (&self.song, Some(&mut self.levels), Some(&mut self.hits));
        let mut feed = Feed { bridge, song, epoch, audition, levels, hits };
        let sound = survives(|| {
            meter.set_thresholds(settings.thresholds);
            meter.set_side_role(settings.side_role);
            trip(Place::Meter);
            meter.process(main, side, &mut feed);
        });
        if !sound {
            // The meter's state may be half changed, so it is not used again before it is built
            // anew or reset.
            self.fail(bridge);
            return;
        }
        self.frames += frames as u64;
        // A block count would make the display depend on the block size; programme time does not.
        let tick = (self.frames as f64 * SNAPSHOTS_PER_S / rate_hz) as u64;
        if tick != self.tick {
            self.tick = tick;
            bridge.publish(epoch, meter.readings());
        }
    }

    /// Another signal comes over the side-chain: see [`Meter::restart_side`].
    pub fn replace_side(&mut self, bridge: &Bridge) {
        let Some(meter) = self.meter.as_mut().filter(|_| !self.fault) else { return };
        if !survives(|| meter.restart_side()) {
            self.fail(bridge);
        }
    }

    /// Measures no more, and says so, until a reset or an activation.
    pub fn fail(&mut self, bridge: &Bridge) {
        self.fault = true;
        bridge.set_fault(true);
    }

    /// How many frames the main comes after the side-chain; `None` where that is not known.
    #[must_use]
    pub fn side_delay_frames(&self) -> Option<f64> {
        self.meter.as_ref()?.readings().compare?.alignment.delay_frames
    }

    /// What a limiter or clipper takes from the hits; unknown while nothing can be measured.
    #[must_use]
    pub fn ceiling(&self) -> Ceiling {
        let sound = self.meter.as_ref().filter(|_| !self.fault);
        sound.map_or_else(Ceiling::default, |meter| meter.readings().leaks.ceiling)
    }

    /// Whether the reset parameter has been pressed since the last block, where nothing is measured;
    /// each press counts once, whatever the role is later.
    pub fn takes_press(&mut self, presses: u64) -> bool {
        std::mem::replace(&mut self.presses_seen, presses) != presses
    }

    /// Whether the last block's short-term loudness was above the -70 LUFS gate: there is still
    /// something to see falling.
    #[must_use]
    pub fn is_decaying(&self) -> bool {
        let gate = |lufs: f64| lufs > ABSOLUTE_GATE_LUFS;
        self.meter
            .as_ref()
            .is_some_and(|meter| meter.readings().loudness.short_term_lufs.is_some_and(gate))
    }

    /// Whether a reset has been asked for since the last block.
    #[must_use]
    pub fn reset_is_asked(&self, settings: &Settings, bridge: &Bridge) -> bool {
        bridge.reset_requests() != self.resets_seen || settings.presses != self.presses_seen
    }

    /// Whether it has reset.
    fn reset_if_asked(&mut self, cue: &Cue, settings: &Settings, bridge: &Bridge) -> bool {
        // One look at the requests, to decide and to remember: see `Epochs::requests`.
        let requests = bridge.reset_requests();
        let asked = requests != self.resets_seen;
        let triggered = settings.presses != self.presses_seen;
        let started = cue.playing && !self.was_playing;
        let restarts = bridge.links().restarts();
        let restarted = restarts != self.restarts_seen;
        self.restarts_seen = restarts;
        self.resets_seen = requests;
        self.presses_seen = settings.presses;
        self.was_playing = cue.playing;
        if triggered {
            // One that is asked for has reached the parts already.
            bridge.links().reset();
        }
        let follows = settings.follow_transport || bridge.links().followed();
        if asked || triggered || restarted || (started && follows) {
            let Some(meter) = self.meter.as_mut() else { return false };
            self.fault = !survives(|| meter.reset());
            bridge.set_fault(self.fault);
            self.begin(bridge);
            return true;
        }
        false
    }

    /// Starts counting from nothing.
    fn begin(&mut self, bridge: &Bridge) {
        self.song.reset();
        self.place = PlaceTeller::default();
        self.levels = LevelTeller::default();
        self.hits = HitTeller::default();
        self.frames = 0;
        self.tick = 0;
        self.epoch = bridge.next_epoch();
        if let Some(meter) = &self.meter {
            bridge.publish(self.epoch, meter.readings());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CONFIG: Config = Config { sample_rate_hz: 48_000.0, channels: 1 };

    fn ready(bridge: &Bridge) -> Measure {
        let mut measure = Measure::default();
        assert_eq!(measure.activate(CONFIG, bridge), Ok(()));
        measure
    }

    fn run(measure: &mut Measure, bridge: &Bridge, cue: &Cue, settings: &Settings) {
        measure.process(&[&[0.1; 4800]], None, cue, settings, bridge, None);
    }

    #[test]
    fn a_fault_stops_measuring_until_a_reset() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        measure.fault = true;
        bridge.set_fault(true);
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        assert_eq!(measure.frames, 0);
        assert!(bridge.collect().fault);
        bridge.request_reset();
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        assert_eq!(measure.frames, 4800);
        assert!(!bridge.collect().fault);
    }

    #[test]
    fn bypass_stops_measuring_and_keeps_the_pass() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        let off = Settings { bypass: true, ..Settings::default() };
        run(&mut measure, &bridge, &Cue::default(), &off);
        assert_eq!(measure.frames, 4800);
        assert!(bridge.collect().bypassed);
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        assert_eq!(measure.frames, 9600);
    }

    #[test]
    fn every_press_of_the_reset_parameter_acts_once() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        let pressed = |presses| Settings { presses, ..Settings::default() };
        run(&mut measure, &bridge, &Cue::default(), &pressed(1));
        run(&mut measure, &bridge, &Cue::default(), &pressed(1));
        assert_eq!(measure.frames, 9600, "one press acts once");
        run(&mut measure, &bridge, &Cue::default(), &pressed(2));
        assert_eq!(measure.frames, 4800);
    }

    /// The drums' own pass ends where the mix that hears them is told to forget.
    #[test]
    fn a_mix_that_forgets_has_its_drums_measured_anew() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        let block = |measure: &mut Measure| {
            run(measure, &bridge, &Cue::default(), &Settings::default());
            measure.frames
        };
        assert_eq!(block(&mut measure), 4800);
        bridge.links().restart();
        assert_eq!(block(&mut measure), 4800, "it started anew");
        assert_eq!(block(&mut measure), 9600, "once");
        // The same where the mix follows the transport, with the block that starts.
        let playing = Cue { playing: true, ..Cue::default() };
        bridge.links().set_followed(true);
        for frames in [4800, 9600] {
            run(&mut measure, &bridge, &playing, &Settings::default());
            assert_eq!(measure.frames, frames);
        }
    }

    #[test]
    fn the_transport_resets_only_when_followed() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        let playing = Cue { playing: true, ..Cue::default() };
        let follow = Settings { follow_transport: true, ..Settings::default() };
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        run(&mut measure, &bridge, &playing, &Settings::default());
        assert_eq!(measure.frames, 9600);
        run(&mut measure, &bridge, &Cue::default(), &follow);
        run(&mut measure, &bridge, &playing, &follow);
        assert_eq!(measure.frames, 4800);
        run(&mut measure, &bridge, &playing, &follow);
        assert_eq!(measure.frames, 9600, "only the start resets");
    }

    #[test]
    fn activating_for_the_same_stream_keeps_the_pass() {
        let bridge = Bridge::default();
        let mut measure = ready(&bridge);
        run(&mut measure, &bridge, &Cue::default(), &Settings::default());
        assert_eq!(measure.activate(CONFIG, &bridge), Ok(()));
        assert_eq!(measure.frames, 4800);
        let other = Config { sample_rate_hz: 96_000.0, ..CONFIG };
        assert_eq!(measure.activate(other, &bridge), Ok(()));
        assert_eq!(measure.frames, 0);
        let bad = Config { sample_rate_hz: 1.0, ..CONFIG };
        assert_eq!(measure.activate(bad, &bridge), Err(ConfigError::SampleRate(1.0)));
    }
}
