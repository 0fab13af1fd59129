//! The audio thread's side of one plug-in instance.

use std::ptr;

use clack_extensions::tail::PluginTail;
use clack_host::events::event_types::{ParamValueEvent, TransportEvent};
use clack_host::prelude::*;
use clap_sys::audio_buffer::clap_audio_buffer;

use super::handlers::Handlers;
use super::{Result, because};

pub use clack_host::prelude::ProcessStatus as Status;

/// What the host puts on the side-chain port.
#[derive(Clone, Copy, Debug, Default)]
pub enum Side<'a> {
    /// No such port in the block, as a host gives that does not know side-chains. The memory
    /// behind the main port's entry is an empty port, not foreign: the framework looks at it.
    #[default]
    Missing,
    /// The port, with no channel in it.
    Unconnected,
    /// The port with these channels, as many as the host has: they may be fewer than the
    /// plug-in's.
    Channels(&'a [&'a [f32]]),
}

/// One block.
#[derive(Clone, Copy, Debug, Default)]
pub struct Block<'a> {
    /// One slice a channel, all of one length.
    pub main: &'a [&'a [f32]],
    /// The side-chain, of the same length.
    pub side: Side<'a>,
    /// Whether input and output are the same memory.
    pub in_place: bool,
    /// Changes of parameters at the start of the block.
    pub changes: &'a [ParamValueEvent],
    /// What the transport says at the start of the block.
    pub transport: Option<&'a TransportEvent>,
}

/// An activated plug-in. Can be sent to an audio thread.
pub struct Audio {
    processor: PluginAudioProcessor<Handlers>,
    /// Sample rate, Hz.
    pub sample_rate_hz: f64,
    /// Channels of each input port.
    inputs: Vec<u32>,
    /// Memory that the plug-in reads from, a channel each, main port first.
    input: Vec<Vec<f32>>,
    /// Memory that it writes to.
    output: Vec<Vec<f32>>,
    out_events: EventBuffer,
}

impl Audio {
    pub(super) fn new(
        processor: StoppedPluginAudioProcessor<Handlers>,
        sample_rate_hz: f64,
        inputs: Vec<u32>,
    ) -> Self {
        Self {
            processor: processor.into(),
            sample_rate_hz,
            inputs,
            input: Vec::new(),
            output: Vec::new(),
            out_events: EventBuffer::with_capacity(64),
        }
    }

    /// Input ports in the chosen layout.
    #[must_use]
    pub fn input_ports(&self) -> usize {
        self.inputs.len()
    }

    /// Starts processing if it does not run yet.
    ///
    /// # Errors
    /// When the plug-in refuses.
    pub fn start(&mut self) -> Result<()> {
        self.processor
            .ensure_processing_started()
            .map(|_| ())
            .map_err(|e| because("start of processing", e))
    }

    /// Stops processing, as before sleep.
    pub fn stop(&mut self) {
        self.processor.ensure_processing_stopped();
    }

    /// Calls the plug-in's reset.
    pub fn reset(&mut self) {
        self.processor.reset();
    }

    /// Reported tail, frames.
    pub fn tail(&mut self) -> Option<u32> {
        let handle = self.processor.plugin_handle();
        let tail = handle.get_extension::<PluginTail>()?;
        Some(tail.get(&handle).to_raw())
    }

    /// Processes one block and gives the output, a slice a channel. Starts processing if it does
    /// not run yet.
    ///
    /// # Errors
    /// When the plug-in reports a failure.
    pub fn process(&mut self, block: &Block) -> Result<(Status, Vec<&[f32]>)> {
        self.prepare(block);
        let status = self.run(block)?;
        let channels = block.main.len();
        let memory = if block.in_place { &self.input } else { &self.output };
        let frames = block.main.first().map_or(0, |channel| channel.len());
        Ok((status, memory[..channels].iter().map(|channel| &channel[..frames]).collect()))
    }

    /// Copies a block into the host's own memory; allocates when it is longer than any before.
    pub fn prepare(&mut self, block: &Block) {
        let side = match block.side {
            Side::Channels(channels) => channels,
            Side::Missing | Side::Unconnected => &[],
        };
        let total = block.main.len() + side.len();
        self.input.resize_with(total.max(self.input.len()), Vec::new);
        self.output.resize_with(block.main.len().max(self.output.len()), Vec::new);
        for (memory, channel) in self.input.iter_mut().zip(block.main.iter().chain(side)) {
            memory.clear();
            memory.extend_from_slice(channel);
        }
        for (memory, channel) in self.output.iter_mut().zip(block.main) {
            memory.clear();
            // Not zero: an output that the plug-in leaves alone must show.
            memory.resize(channel.len(), 12345.678);
        }
    }

    /// Runs the plug-in on what [`Audio::prepare`] has laid out. Nothing in here allocates, so
    /// that what is seen is the plug-in's.
    ///
    /// # Errors
    /// When the plug-in reports a failure.
    pub fn run(&mut self, block: &Block) -> Result<Status> {
        self.start()?;
        let channels = block.main.len().min(MAX_CHANNELS);
        let frames = block.main.first().map_or(0, |channel| channel.len()) as u32;
        let mut input = [ptr::null_mut(); 2 * MAX_CHANNELS];
        for (pointer, memory) in input.iter_mut().zip(&mut self.input) {
            *pointer = memory.as_mut_ptr();
        }
        let mut output = [ptr::null_mut(); MAX_CHANNELS];
        for (pointer, memory) in output.iter_mut().zip(&mut self.output) {
            *pointer = memory.as_mut_ptr();
        }
        let (main, side) = input.split_at_mut(channels);
        if block.in_place {
            output[..channels].copy_from_slice(main);
        }
        let side_port = match block.side {
            Side::Channels(given) => port(&mut side[..given.len().min(MAX_CHANNELS)]),
            Side::Missing | Side::Unconnected => port(&mut []),
        };
        let inputs = [port(main), side_port];
        let given = match block.side {
            Side::Missing => 1,
            Side::Unconnected | Side::Channels(_) => self.inputs.len(),
        };
        let mut outputs = [port(&mut output[..channels])];
        // SAFETY: the pointers lead to vectors of this structure, which live and keep their place
        // through the call; each holds `frames` samples, as `prepare` has laid out.
        let (inputs, mut outputs) = unsafe {
            (
                InputAudioBuffers::from_raw_buffers(&inputs[..given.min(2)], frames),
                OutputAudioBuffers::from_raw_buffers(&mut outputs, frames),
            )
        };
        let events = InputEvents::from_buffer(&block.changes);
        let mut out = OutputEvents::from_buffer(&mut self.out_events);
        self.processor
            .as_started_mut()
            .and_then(|p| {
                p.process(&inputs, &mut outputs, &events, &mut out, None, block.transport)
            })
            .map_err(|e| because("processing", e))
    }

    pub(super) fn into_stopped(self) -> StoppedPluginAudioProcessor<Handlers> {
        self.processor.into_stopped()
    }
}

/// Most channels of one port.
const MAX_CHANNELS: usize = 2;

/// A port over channel pointers; without channels it points nowhere.
fn port(channels: &mut [*mut f32]) -> clap_audio_buffer {
    clap_audio_buffer {
        data32: if channels.is_empty() { ptr::null_mut() } else { channels.as_mut_ptr() },
        data64: ptr::null_mut(),
        channel_count: channels.len() as u32,
        latency: 0,
        constant_mask: 0,
    }
}
