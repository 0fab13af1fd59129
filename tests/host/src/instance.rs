//! The main thread's side of one plug-in instance.

use std::cell::Cell;
use std::path::Path;

use clack_extensions::audio_ports::{AudioPortFlags, AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::audio_ports_config::{AudioPortsConfigBuffer, PluginAudioPortsConfig};
use clack_extensions::latency::PluginLatency;
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_extensions::track_info::PluginTrackInfo;
use clack_host::entry::EntryDescriptor;
use clack_host::prelude::*;

use super::handlers::{Handlers, MainThread, Shared};
use super::{Audio, Error, Result, SavedState, because, bundle};

/// An audio port as the plug-in describes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// Name.
    pub name: String,
    /// Channels.
    pub channels: u32,
    /// Whether it is the main port of its direction.
    pub main: bool,
}

/// A choice of ports that the plug-in offers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Name.
    pub name: String,
    /// Input and output ports.
    pub ports: (u32, u32),
    /// Channels of the main input and output.
    pub channels: (u32, u32),
    id: ClapId,
}

/// One plug-in, loaded. Stays on the thread that made it.
pub struct Instance {
    plugin: PluginInstance<Handlers>,
}

impl Instance {
    /// Loads the bundle that [`bundle::find`] finds.
    ///
    /// # Errors
    /// When there is no bundle or it does not load.
    pub fn load() -> Result<Self> {
        Self::load_from(&bundle::find()?)
    }

    /// Loads the plug-in at `path`.
    ///
    /// # Errors
    /// When it is no CLAP, holds no plug-in, or its plug-in cannot be made.
    pub fn load_from(path: &Path) -> Result<Self> {
        Self::load_on(path, None)
    }

    /// Loads the plug-in at `path` onto a track of that name; without one the host does not tell.
    ///
    /// # Errors
    /// As for [`Self::load_from`].
    pub fn load_on(path: &Path, track: Option<&str>) -> Result<Self> {
        let shown = path.display();
        // SAFETY: the library is our own build, and its initialisation has no precondition.
        let entry = unsafe { PluginEntry::load(path) }
            .map_err(|e| because(&format!("cannot load {shown}"), e))?;
        Self::of(&entry, &shown.to_string(), track)
    }

    /// Takes the plug-in that is linked into this program, such as one under fuzzing.
    ///
    /// # Errors
    /// When it holds no plug-in, or its plug-in cannot be made.
    pub fn load_linked(entry: &'static EntryDescriptor) -> Result<Self> {
        // SAFETY: the entry is our own, and its initialisation has no precondition.
        let entry = unsafe { PluginEntry::load_from_raw(entry, c"") }
            .map_err(|e| because("cannot load the linked plug-in", e))?;
        Self::of(&entry, "the linked plug-in", None)
    }

    fn of(entry: &PluginEntry, shown: &str, track: Option<&str>) -> Result<Self> {
        let factory =
            entry.get_plugin_factory().ok_or_else(|| Error(format!("{shown} has no factory")))?;
        let descriptor = factory
            .plugin_descriptors()
            .next()
            .ok_or_else(|| Error(format!("{shown} holds no plug-in")))?;
        let id = descriptor.id().ok_or_else(|| Error(format!("{shown}: plug-in without id")))?;
        let info = HostInfo::new("Brunt's host", "The Brunt contributors", "", "0")
            .map_err(|e| because("host information", e))?;
        let plugin = PluginInstance::new(
            |_| Shared::default(),
            |_| MainThread { track: Cell::new(track.map(kept)), ..MainThread::default() },
            entry,
            id,
            &info,
        )
        .map_err(|e| because(&format!("cannot make a plug-in of {shown}"), e))?;
        Ok(Self { plugin })
    }

    /// Gives the track another name, and tells the plug-in.
    pub fn rename_track(&mut self, name: &str) {
        let name = kept(name);
        self.plugin.access_handler(|main| main.track.set(Some(name)));
        let handle = self.plugin.plugin_handle();
        if let Some(track) = handle.get_extension::<PluginTrackInfo>() {
            track.changed(&handle);
        }
    }

    /// The plug-in's id, as hosts store it.
    #[must_use]
    pub fn id(&self) -> String {
        // SAFETY: a made instance points to its descriptor for as long as it lives, and the
        // descriptor's id is a C string by the standard of the format.
        let id = unsafe { std::ffi::CStr::from_ptr((*self.plugin.raw_instance().desc).id) };
        id.to_string_lossy().into_owned()
    }

    /// The ports of one direction in the chosen layout.
    pub fn ports(&mut self, input: bool) -> Vec<Port> {
        let handle = self.plugin.plugin_handle();
        let Some(ports) = handle.get_extension::<PluginAudioPorts>() else { return Vec::new() };
        (0..ports.count(&handle, input))
            .filter_map(|index| {
                let mut buffer = AudioPortInfoBuffer::new();
                let port = ports.get(&handle, index, input, &mut buffer)?;
                Some(Port {
                    name: String::from_utf8_lossy(port.name).into_owned(),
                    channels: port.channel_count,
                    main: port.flags.contains(AudioPortFlags::IS_MAIN),
                })
            })
            .collect()
    }

    /// The layouts that the plug-in offers.
    pub fn layouts(&mut self) -> Vec<Layout> {
        let handle = self.plugin.plugin_handle();
        let Some(configs) = handle.get_extension::<PluginAudioPortsConfig>() else {
            return Vec::new();
        };
        (0..configs.count(&handle))
            .filter_map(|index| {
                let mut buffer = AudioPortsConfigBuffer::new();
                let config = configs.get(&handle, index, &mut buffer)?;
                Some(Layout {
                    name: String::from_utf8_lossy(config.name).into_owned(),
                    ports: (config.input_port_count, config.output_port_count),
                    channels: (
                        config.main_input.map_or(0, |port| port.channel_count),
                        config.main_output.map_or(0, |port| port.channel_count),
                    ),
                    id: config.id,
                })
            })
            .collect()
    }

    /// Chooses a layout; only while the plug-in is not active.
    ///
    /// # Errors
    /// When the plug-in refuses.
    pub fn choose(&mut self, layout: &Layout) -> Result<()> {
        let handle = self.plugin.plugin_handle();
        let configs = handle
            .get_extension::<PluginAudioPortsConfig>()
            .ok_or_else(|| Error("the plug-in offers no layouts".to_owned()))?;
        configs.select(&handle, layout.id).map_err(|e| because(&layout.name, e))
    }

    /// Reported latency, frames.
    pub fn latency(&mut self) -> Option<u32> {
        let handle = self.plugin.plugin_handle();
        let latency: PluginLatency = handle.get_extension()?;
        Some(latency.get(&handle))
    }

    /// Activates at a sample rate, Hz, for blocks of 1 to `max_frames`.
    ///
    /// # Errors
    /// When the plug-in refuses or is active already.
    pub fn activate(&mut self, sample_rate_hz: f64, max_frames: u32) -> Result<Audio> {
        let inputs: Vec<u32> = self.ports(true).iter().map(|port| port.channels).collect();
        let configuration = PluginAudioConfiguration {
            sample_rate: sample_rate_hz,
            min_frames_count: 1,
            max_frames_count: max_frames,
        };
        let processor = self
            .plugin
            .activate(|_, _| (), configuration)
            .map_err(|e| because(&format!("activation at {sample_rate_hz} Hz"), e))?;
        Ok(Audio::new(processor, sample_rate_hz, inputs))
    }

    /// Says that what follows is rendered offline, or is not.
    ///
    /// # Errors
    /// When the plug-in does not want to know.
    pub fn render_offline(&mut self, offline: bool) -> Result<()> {
        let handle = self.plugin.plugin_handle();
        let render: PluginRender = handle
            .get_extension()
            .ok_or_else(|| Error("the plug-in knows no render mode".to_owned()))?;
        let mode = if offline { RenderMode::Offline } else { RenderMode::Realtime };
        render.set(&handle, mode).map_err(|e| because("render mode", e))
    }

    /// Takes the audio side back and deactivates.
    pub fn deactivate(&mut self, audio: Audio) {
        self.plugin.deactivate(audio.into_stopped());
    }

    /// Saves the state, as for a session.
    ///
    /// # Errors
    /// When the plug-in fails to save.
    pub fn save(&mut self) -> Result<SavedState> {
        let handle = self.plugin.plugin_handle();
        let state = state(&handle)?;
        let mut bytes = Vec::new();
        state.save(&handle, &mut bytes).map_err(|e| because("saving", e))?;
        Ok(SavedState::new(bytes))
    }

    /// Loads a state.
    ///
    /// # Errors
    /// When the plug-in refuses it.
    pub fn restore(&mut self, bytes: &[u8]) -> Result<()> {
        let handle = self.plugin.plugin_handle();
        let state = state(&handle)?;
        state.load(&handle, &mut &bytes[..]).map_err(|e| because("loading", e))
    }

    /// Calls the plug-in back on this thread if it has asked for it. Says whether it had.
    pub fn pump(&mut self) -> bool {
        let asked = self.plugin.access_shared_handler(Shared::take_callback);
        if asked {
            self.plugin.call_on_main_thread_callback();
        }
        asked
    }

    pub(super) fn plugin(&mut self) -> &mut PluginInstance<Handlers> {
        &mut self.plugin
    }
}

/// A name that lives as long as the program: see [`MainThread`].
fn kept(name: &str) -> &'static str {
    Box::leak(name.to_owned().into_boxed_str())
}

fn state(handle: &PluginMainThreadHandle) -> Result<PluginState> {
    handle.get_extension().ok_or_else(|| Error("the plug-in keeps no state".to_owned()))
}
