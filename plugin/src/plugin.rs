//! The plug-in as hosts see it: buses, parameters, and the path of a block.

use std::sync::Arc;

use brunt_engine::{Config, MAX_CHANNELS};
use nice_plug::prelude::*;

use crate::audition::{Asked, Desk, Heard};
use crate::bridge::Bridge;
use crate::contain::{Place, contained, survives, trip};
use crate::editor;
use crate::links::{self, Publisher};
use crate::measure::{Measure, Settings};
use crate::params::{BruntParams, Role, SideRole};
use crate::reference::Deck;
use crate::song::{BarCounter, Cue};
use crate::state;

/// Name of what the side-chain carries, among parts.
const SIDE_CHAIN: &str = crate::words::editor::SIDE_CHAIN;

/// One instance.
pub struct Brunt {
    params: Arc<BruntParams>,
    measure: Measure,
    desk: Desk,
    deck: Deck,
    publisher: Publisher,
    /// The side-chain, where it carries another part.
    partner: Publisher,
    bars: BarCounter,
    /// What the side-chain was in the last block: its role, and which file stood in for the bus, if any.
    side: Option<(SideRole, Option<u64>)>,
    /// Whether the host runs at a rate that cannot be measured: audio passes, and that is all.
    refused: bool,
    /// A block has failed outside of the meter and the audition: blocks pass untouched until a
    /// reset or an activation.
    failed: bool,
    /// Seconds of silence after which a standing host may put the plug-in to sleep, in frames.
    tail_frames: u32,
}

impl Default for Brunt {
    fn default() -> Self {
        let params = Arc::<BruntParams>::default();
        let deck = params.bridge().reference().deck();
        let publisher = Publisher::new(Arc::clone(params.bridge().links()));
        let partner = Publisher::new(Arc::default());
        partner.entry().set_own_name(SIDE_CHAIN);
        publisher.entry().set_partner(Arc::clone(partner.entry()));
        links::join(publisher.entry());
        Self {
            params,
            measure: Measure::default(),
            desk: Desk::default(),
            deck,
            publisher,
            partner,
            bars: BarCounter::default(),
            side: None,
            refused: false,
            failed: false,
            tail_frames: 0,
        }
    }
}

impl Drop for Brunt {
    fn drop(&mut self) {
        links::leave(self.publisher.entry());
    }
}

impl Brunt {
    /// A layout with as many channels on the main bus as on the side-chain, or without one.
    const fn layout(
        channels: u32,
        side: &'static [NonZeroU32],
        name: &'static str,
    ) -> AudioIOLayout {
        AudioIOLayout {
            main_input_channels: NonZeroU32::new(channels),
            main_output_channels: NonZeroU32::new(channels),
            aux_input_ports: side,
            aux_output_ports: &[],
            names: PortNames {
                layout: Some(name),
                // The framework names both ports by the first of the two, and JACK takes no two of one
                // name: without one they are *Input* and *Output*.
                main_input: if cfg!(feature = "standalone") { None } else { Some("Mix") },
                main_output: Some("Mix"),
                aux_inputs: &["Side-chain"],
                aux_outputs: &[],
            },
        }
    }

    /// The bridge to the GUI side, for hosts in the same program: tests look through it.
    #[must_use]
    pub fn bridge(&self) -> &Arc<Bridge> {
        self.params.bridge()
    }
}

impl Plugin for Brunt {
    const NAME: &'static str = "Brunt";
    const VENDOR: &'static str = "The Brunt contributors";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");

    // The first is the default. The ones without a side-chain are for hosts that offer none.
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[
        Self::layout(2, &[new_nonzero_u32(2)], "Stereo with side-chain"),
        Self::layout(1, &[new_nonzero_u32(1)], "Mono with side-chain"),
        Self::layout(2, &[], "Stereo"),
        Self::layout(1, &[], "Mono"),
    ];

    type Editor = editor::BruntEditor;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<Self::Editor> {
        contained(|| None, || editor::create_joined(self.params.clone(), self.bridge().clone()))
    }

    fn filter_state(saved: &mut PluginState) {
        let sound = survives(|| {
            trip(Place::Admit);
            state::admit(saved);
        });
        if !sound {
            // Nothing of a state is applied that could not be looked at.
            saved.params.clear();
            saved.fields.clear();
        } else if !saved.fields.is_empty() {
            state::begin_loading();
        }
    }

    fn activate(
        &mut self,
        layout: &AudioIOLayout,
        buffers: &BufferConfig,
        context: &mut impl ActivateContext<Self>,
    ) -> bool {
        let mode = match context.plugin_api() {
            // The framework's VST3 wrapper tells the mode of the activation before this one. So this may be a
            // bounce, and only the mix may get into it: what is heard has to be chosen again.
            PluginApi::Vst3 => {
                self.bridge().set_chosen(false);
                ProcessMode::Realtime
            }
            _ => buffers.process_mode,
        };
        contained(|| false, || self.prepare(layout, buffers, mode))
    }

    // `reset()` stays empty on purpose. Hosts call it when they stop, locate, or wake a plug-in;
    // a meter that lost its pass there would be of no use. Resets are the user's: the button, the
    // parameter, or the transport's start where that is switched on.

    fn process(
        &mut self,
        buffer: &mut Buffer,
        aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        // The output is the input: the framework has copied it already, and nothing below writes
        // to it, the audition apart. NaN and infinities pass with every bit, too.
        if self.refused {
            return ProcessStatus::Normal;
        }
        if self.failed {
            if !self.measure.reset_is_asked(&self.settings(), self.params.bridge()) {
                return ProcessStatus::Normal;
            }
            self.failed = false;
        }
        let mut status = ProcessStatus::Normal;
        let mut cue = cue(context.transport());
        self.bars.count(&mut cue, buffer.samples());
        self.failed = !survives(|| status = self.block(buffer, aux, &cue));
        if self.failed {
            self.measure.fail(self.params.bridge());
            self.desk.fail();
        }
        status
    }
}

/// Time after the end of sound until every reading stands still, seconds: the short-term window.
const TAIL_S: f64 = 3.0;

impl Brunt {
    fn prepare(
        &mut self,
        layout: &AudioIOLayout,
        buffers: &BufferConfig,
        mode: ProcessMode,
    ) -> bool {
        trip(Place::Activate);
        let config = Config {
            sample_rate_hz: f64::from(buffers.sample_rate),
            channels: layout.main_input_channels.map_or(0, |n| n.get() as usize),
        };
        let measured = self.measure.activate(config, self.params.bridge());
        let ready = measured
            .and_then(|()| self.publisher.activate(config))
            .and_then(|()| self.partner.activate(config));
        self.refused = ready.is_err();
        if let Err(refused) = ready {
            // A session that Brunt cannot measure still plays, and the screen says why it is still.
            nice_error!("Brunt measures nothing here: {refused}");
            self.measure.refuse(config, self.params.bridge());
            return true;
        }
        let offline = mode == ProcessMode::Offline;
        self.desk.activate(config.sample_rate_hz, config.channels, offline);
        self.deck.activate(buffers.max_buffer_size as usize, config.channels);
        self.bridge().reference().set_rate(config.sample_rate_hz);
        self.bars.set_rate(config.sample_rate_hz);
        self.tail_frames = (TAIL_S * config.sample_rate_hz) as u32;
        self.failed = false;
        true
    }

    fn block(
        &mut self,
        buffer: &mut Buffer,
        aux: &mut AuxiliaryBuffers,
        cue: &Cue,
    ) -> ProcessStatus {
        let frames = buffer.samples();
        let mut main = [&[][..]; MAX_CHANNELS];
        let main = cut(buffer, frames, &mut main);
        trip(Place::Block);
        let place = self.params.role.value();
        let (part, metered) = (place != Role::Mix, place.is_metered());
        let role = self.params.side_role.value();
        // Most parts need neither: each parameter read is memory that went cold since the last block.
        let wanted = metered.then(|| self.settings());
        let asked = (metered || !self.desk.rests()).then(|| self.asked());
        if metered {
            self.deck.poll();
        }
        // What is not measured is compared with no reference.
        let takes_file = metered && role == SideRole::Reference;
        let (tracks, loading) = (self.deck.changes(), takes_file && self.deck.waits());
        let file = if takes_file { self.deck.next(frames, cue.playing) } else { None };
        let number = file.as_ref().map(|_| tracks);
        // Where the host gives no side-chain the framework's buffer keeps its greatest length,
        // full of zeros, so it is cut to the block.
        let mut side = [&[][..]; MAX_CHANNELS];
        let side = match aux.inputs.first_mut() {
            // A reference file stands in for the side-chain.
            _ if file.is_some() => file.as_ref().map(|file| &file[..main.len()]),
            // Until it is there, the bus is not what was chosen.
            Some(bus) if role != SideRole::Off && !loading => Some(cut(bus, frames, &mut side)),
            _ => None,
        };
        let bridge = self.params.bridge();
        let now = (role, number);
        if let Some(before) = self.side.replace(now).filter(|before| *before != now) {
            if let Some(audition) = self.desk.audition() {
                audition.replace_side();
            }
            // A role of its own the meter knows how to change.
            if before.1 != now.1 {
                self.measure.replace_side(bridge);
            }
        }
        let bypass = self.params.bypass.value();
        self.publisher.process(main, cue, part && !bypass);
        let other = side.filter(|_| part && role == SideRole::Partner);
        self.publisher.entry().set_partnered(other.is_some());
        if !part || other.is_some() {
            // Only who reads others says where.
            self.publisher.tell_bars(cue, frames);
        }
        if other.is_some() || !self.partner.rests() {
            self.partner.process(other.unwrap_or(&[]), cue, other.is_some() && !bypass);
        }
        if other.is_some() || wanted.is_some() {
            self.publisher.entry().set_limits(self.params.thresholds());
        }
        if let Some(settings) = wanted {
            self.publisher.entry().set_follows(settings.follow_transport);
            self.measure.process(main, side, cue, &settings, bridge, self.desk.audition());
            if part {
                self.publisher.tell_ceiling(&self.measure.ceiling());
            }
        } else {
            // Any other part costs little: it is not measured as a mix.
            bridge.set_flags(cue.playing, bypass);
            if self.measure.takes_press(self.params.presses()) {
                self.publisher.entry().reset();
            }
        }
        // Most parts have nothing to listen to but themselves, so nothing is kept for them.
        if let Some(asked) = asked {
            self.desk.process(buffer.as_slice(), side.filter(|_| metered), &asked);
            bridge.set_listening(self.desk.status());
        }
        self.status(cue.playing)
    }

    fn settings(&self) -> Settings {
        Settings {
            bypass: self.params.bypass.value(),
            presses: self.params.presses(),
            follow_transport: self.params.follow_transport.value(),
            thresholds: self.params.thresholds(),
            side_role: self.params.side_role.value().into(),
        }
    }

    fn asked(&self) -> Asked {
        Asked {
            // Matching needs the whole meter: without it there is nothing to listen to but the part.
            heard: if self.params.role.value().is_metered() {
                self.params.heard()
            } else {
                Heard::Mix
            },
            bypass: self.params.bypass.value(),
            role: self.params.side_role.value(),
            // Until the alignment gives the delay, the host's own delay compensation is trusted.
            mix_after_side: self.measure.side_delay_frames(),
        }
    }

    /// While the transport runs the host must not put a meter to sleep in silence: measured time
    /// would stand still, and hits would no longer lie where they lie in the song. While it stands
    /// there is only the short-term reading to wait for, and then sleep is welcome.
    fn status(&self, playing: bool) -> ProcessStatus {
        if playing {
            ProcessStatus::KeepAlive
        } else if self.measure.is_decaying() {
            ProcessStatus::Tail(self.tail_frames)
        } else {
            ProcessStatus::Normal
        }
    }
}

/// The channels of a bus, each cut to `frames`, without allocating.
fn cut<'a, 'b>(
    bus: &'a mut Buffer,
    frames: usize,
    channels: &'b mut [&'a [f32]; MAX_CHANNELS],
) -> &'b [&'a [f32]] {
    let slices = bus.as_slice_immutable();
    let count = slices.len().min(MAX_CHANNELS);
    for (channel, slice) in channels.iter_mut().zip(slices) {
        *channel = &slice[..frames.min(slice.len())];
    }
    &channels[..count]
}

/// What the transport says of the song at the start of the block.
fn cue(transport: &Transport) -> Cue {
    let bar_beats = match (transport.time_sig_numerator, transport.time_sig_denominator) {
        (Some(upper), Some(lower)) if upper > 0 && lower > 0 => {
            Some(f64::from(upper) * 4.0 / f64::from(lower))
        }
        _ => None,
    };
    Cue {
        playing: transport.playing,
        song_frame: transport.pos_samples().filter(|_| transport.playing),
        tempo_bpm: transport.tempo,
        beat: transport.pos_beats(),
        bar_start_beat: transport.bar_start_pos_beats(),
        bar_number: transport.bar_number(),
        bar_counted: transport.bar_number.is_none(),
        bar_beats,
    }
}

impl ClapPlugin for Brunt {
    const CLAP_ID: &'static str = "org.brunt.brunt";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Measures how hard the hits of a mix come through, and what eats them");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] = &[
        ClapFeature::AudioEffect,
        ClapFeature::Analyzer,
        ClapFeature::Mixing,
        ClapFeature::Mastering,
        ClapFeature::Stereo,
        ClapFeature::Mono,
    ];
}

impl Vst3Plugin for Brunt {
    const VST3_CLASS_ID: [u8; 16] = *b"BruntPunchMeter1";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] =
        &[Vst3SubCategory::Fx, Vst3SubCategory::Analyzer];
}

nice_export_clap!(Brunt);
nice_export_vst3!(Brunt);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audition::Held;

    /// A host that speaks this interface.
    struct Host(PluginApi);

    impl ActivateContext<Brunt> for Host {
        fn plugin_api(&self) -> PluginApi {
            self.0
        }
        fn execute(&self, (): ()) {}
        fn set_latency_samples(&self, _samples: u32) {}
        fn set_current_voice_capacity(&self, _capacity: u32) {}
    }

    /// Of a bounce that a VST3 host starts the plug-in hears when it is over: so whatever was heard before it, the
    /// mix is heard from its start on. Played on, other things can be chosen again.
    #[test]
    fn the_mix_is_heard_after_an_activation_that_may_be_a_bounce() {
        for (api, stays, held) in
            [(PluginApi::Clap, true, Held::Offline), (PluginApi::Vst3, false, Held::NoSide)]
        {
            let mut brunt = Brunt::default();
            brunt.bridge().set_chosen(true);
            let buffers = BufferConfig {
                sample_rate: 48_000.0,
                min_buffer_size: None,
                max_buffer_size: 64,
                process_mode: ProcessMode::Offline,
            };
            let layout = Brunt::AUDIO_IO_LAYOUTS[0];
            assert!(brunt.activate(&layout, &buffers, &mut Host(api)));
            assert_eq!(brunt.bridge().is_chosen(), stays);
            let asked = Asked { heard: Heard::Side, ..Asked::default() };
            brunt.desk.process(&mut [&mut [0.0; 64], &mut [0.0; 64]], None, &asked);
            assert_eq!(brunt.desk.status().1, Some(held));
        }
    }
}
