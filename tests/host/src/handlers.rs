//! What the plug-in may ask of the host, and how the host remembers it until it gets to it.

use std::cell::Cell;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::latency::{HostLatency, HostLatencyImpl};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamRescanFlags,
};
use clack_extensions::state::{HostState, HostStateImpl};
use clack_extensions::track_info::{HostTrackInfo, HostTrackInfoImpl, TrackInfo, TrackInfoWriter};
use clack_host::prelude::*;

/// Requests that may come from any thread.
#[derive(Default)]
pub(super) struct Shared {
    callback: AtomicBool,
    /// A window size asked for, packed; 0 stands for none.
    resize: AtomicU64,
}

impl Shared {
    /// Whether the plug-in has asked to be called on the main thread since the last look.
    pub(super) fn take_callback(&self) -> bool {
        self.callback.swap(false, Ordering::AcqRel)
    }

    /// The window size that the plug-in has asked for since the last look.
    pub(super) fn take_resize(&self) -> Option<GuiSize> {
        match self.resize.swap(0, Ordering::AcqRel) {
            0 => None,
            packed => Some(GuiSize::unpack_from_u64(packed)),
        }
    }
}

impl<'a> SharedHandler<'a> for Shared {
    fn request_restart(&self) {}

    fn request_process(&self) {}

    fn request_callback(&self) {
        self.callback.store(true, Ordering::Release);
    }
}

impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, size: GuiSize) -> std::result::Result<(), HostError> {
        self.resize.store(size.pack_to_u64(), Ordering::Release);
        Ok(())
    }

    fn request_show(&self) -> std::result::Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> std::result::Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _was_destroyed: bool) {}
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {}
}

/// Requests of the main thread, counted.
#[derive(Default)]
pub(super) struct MainThread {
    pub(super) latency_changes: Cell<u32>,
    /// Name of the track that the plug-in is on; `None` for a host that does not tell. It lives as
    /// long as the program: the extension wants it as long as the handler.
    pub(super) track: Cell<Option<&'static str>>,
}

impl MainThreadHandler<'_> for MainThread {}

impl HostParamsImplMainThread for MainThread {
    fn rescan(&self, _flags: ParamRescanFlags) {}

    fn clear(&self, _id: ClapId, _flags: ParamClearFlags) {}
}

impl HostStateImpl for MainThread {
    fn mark_dirty(&self) {}
}

impl HostLatencyImpl for MainThread {
    fn changed(&self) {
        self.latency_changes.set(self.latency_changes.get() + 1);
    }
}

impl HostTrackInfoImpl for MainThread {
    fn get<'a>(&'a self, writer: &mut TrackInfoWriter<'_, 'a>) {
        if let Some(name) = self.track.get() {
            writer.set(&TrackInfo::new().with_name(Some(name.as_bytes())));
        }
    }
}

/// Ties the handlers together.
pub(super) struct Handlers;

impl HostHandlers for Handlers {
    type Shared<'a> = Shared;
    type MainThread<'a> = MainThread;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Self::Shared<'_>) {
        builder
            .register::<HostGui>()
            .register::<HostParams>()
            .register::<HostState>()
            .register::<HostLatency>()
            .register::<HostTrackInfo>();
    }
}
