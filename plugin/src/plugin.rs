//! The plug-in as hosts see it.

use std::sync::Arc;

use nice_plug::prelude::*;
use nice_plug_egui::EguiEditor;

use crate::bridge::Bridge;
use crate::editor;
use crate::params::BruntParams;

/// One instance.
#[derive(Default)]
pub struct Brunt {
    params: Arc<BruntParams>,
    bridge: Arc<Bridge>,
}

impl Plugin for Brunt {
    const NAME: &'static str = "Brunt";
    const VENDOR: &'static str = "Brunt";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");
    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[AudioIOLayout {
        main_input_channels: NonZeroU32::new(2),
        main_output_channels: NonZeroU32::new(2),
        aux_input_ports: &[new_nonzero_u32(2)],
        ..AudioIOLayout::const_default()
    }];
    type Editor = EguiEditor<editor::App>;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<Self::Editor> {
        editor::create(self.params.clone(), self.bridge.clone())
    }

    fn process(
        &mut self,
        _buffer: &mut Buffer,
        _aux: &mut AuxiliaryBuffers,
        _context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        ProcessStatus::KeepAlive
    }
}
