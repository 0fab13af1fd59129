//! Closing the window for good.
//!
//! The window lives on a thread of its own under X11. The windowing library asks that thread to
//! end when the host closes the editor, and does not always wait for it; a host that then quits
//! pulls the graphics driver away from under it. So the window given to the host waits itself.

use std::error::Error;
use std::sync::Arc;

use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::NativeSize;
use nice_plug::editor::{
    Editor, EditorHandle, HostMethods, Modifiers, ParentWindowHandle, ResizeHint, SpawnedEditor,
    VirtualKeyCode,
};
use nice_plug::prelude::TrackInfo;
use nice_plug_egui::{EguiEditor, EguiEditorHandle};

use super::app::{self, App};
use super::life::Life;
use crate::bridge::Bridge;
use crate::links::Entry;
use crate::params::BruntParams;

type Inner = EguiEditor<App>;
type InnerWindow = <EguiEditorHandle as EditorHandle>::Window;
type InnerError = <EguiEditorHandle as EditorHandle>::Error;

/// Builds the editor of one plug-in instance. Closing it waits until nothing of its window runs
/// any more.
#[must_use]
pub fn create_joined(params: Arc<BruntParams>, bridge: Arc<Bridge>) -> Option<BruntEditor> {
    let links = Arc::clone(bridge.links());
    let (inner, life) = app::build(params, bridge)?;
    Some(BruntEditor::new(inner, life, links))
}

/// The editor of one instance.
pub struct BruntEditor {
    inner: Inner,
    life: Arc<Life>,
    links: Arc<Entry>,
}

impl BruntEditor {
    /// Wraps the framework's editor, whose [`App`] shares `life`. `links` is told the name of the
    /// host's track: the framework tells it to an editor alone, open or not.
    pub(super) fn new(inner: Inner, life: Arc<Life>, links: Arc<Entry>) -> Self {
        Self { inner, life, links }
    }
}

impl Editor for BruntEditor {
    type Handle = BruntEditorHandle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<Self::Handle>, Box<dyn Error>> {
        let SpawnedEditor { handle, window } =
            self.inner.spawn(parent, wait_for_parent, fallback_scale_factor, gui_context, host)?;
        Ok(SpawnedEditor {
            handle: BruntEditorHandle(handle),
            window: Window { inner: Some(window), life: Arc::clone(&self.life) },
        })
    }

    fn size(&self) -> NativeSize<u32> {
        self.inner.size()
    }

    fn resize_hint(&self) -> ResizeHint {
        self.inner.resize_hint()
    }

    fn track_info_updated(&self, info: TrackInfo) {
        self.links.set_track_name(info.name());
        self.inner.track_info_updated(info);
    }

    unsafe fn assume_standalone_in_process(&self) {
        // SAFETY: the caller's promise is handed on as it is.
        unsafe { self.inner.assume_standalone_in_process() }
    }
}

/// An open window; dropping it closes it and waits until it is gone.
pub struct Window {
    inner: Option<InnerWindow>,
    life: Arc<Life>,
}

impl Window {
    fn with<T>(&self, act: impl FnOnce(&InnerWindow) -> T) -> Option<T> {
        // There is one until `drop` or `run_until_closed` has taken it, and both end this value.
        self.inner.as_ref().map(act)
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        self.inner = None;
        self.life.end();
    }
}

/// The handle of an open window.
pub struct BruntEditorHandle(EguiEditorHandle);

impl EditorHandle for BruntEditorHandle {
    type Window = Window;
    type Error = InnerError;

    fn run_until_closed(mut window: Window) -> Result<(), InnerError> {
        window.inner.take().map_or(Ok(()), EguiEditorHandle::run_until_closed)
    }

    fn set_parent(&self, parent: ParentWindowHandle, window: &Window) -> Result<(), InnerError> {
        window.with(|inner| self.0.set_parent(parent, inner)).unwrap_or(Ok(()))
    }

    fn show(&self, window: &Window) -> Result<(), InnerError> {
        window.with(|inner| self.0.show(inner)).unwrap_or(Ok(()))
    }

    fn hide(&self, window: &Window) -> Result<(), InnerError> {
        window.with(|inner| self.0.hide(inner)).unwrap_or(Ok(()))
    }

    fn set_size(&self, new_size: NativeSize<u32>, window: &Window) -> Result<(), InnerError> {
        window.with(|inner| self.0.set_size(new_size, inner)).unwrap_or(Ok(()))
    }

    fn host_main_thread_callback(&self, window: &Window) {
        window.with(|inner| self.0.host_main_thread_callback(inner));
    }

    fn adjust_size(&self, size: NativeSize<u32>, window: &Window) -> Option<NativeSize<u32>> {
        window.with(|inner| self.0.adjust_size(size, inner)).flatten()
    }

    fn set_fallback_scale_factor(&self, factor: f64, window: &Window) -> Result<(), InnerError> {
        window.with(|inner| self.0.set_fallback_scale_factor(factor, inner)).unwrap_or(Ok(()))
    }

    fn on_virtual_key_from_host(
        &self,
        key_code: VirtualKeyCode,
        is_down: bool,
        modifiers: Modifiers,
    ) -> bool {
        self.0.on_virtual_key_from_host(key_code, is_down, modifiers)
    }

    fn state_changed(&self) {
        self.0.state_changed();
    }

    fn param_value_changed(&self, id: &str, normalized_value: f32) {
        self.0.param_value_changed(id, normalized_value);
    }

    fn param_modulation_changed(&self, id: &str, modulation_offset: f32) {
        self.0.param_modulation_changed(id, modulation_offset);
    }
}
