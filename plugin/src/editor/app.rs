//! The window around the view.

use std::sync::Arc;

use egui::{Ui, Vec2, ViewportCommand, vec2};
use nice_plug::context::gui::GuiContext;
use nice_plug_egui::baseview::{HandlerError, WindowSize, dpi::LogicalSize};
use nice_plug_egui::{
    EguiEditor, EguiEditorState, EguiNiceSettings, Frame, NiceEguiApp, RepaintNotifier,
    create_egui_editor,
};

use super::deferred::Deferred;
use super::layout::MIN_SIZE;
use super::life::Life;
use super::state::ViewState;
use super::view;
use super::watch::{FRAME, Watch};
use crate::bridge::Bridge;
use crate::contain::survives;
use crate::controls::HostControls;
use crate::params::BruntParams;
use crate::words::editor as say;

/// What runs while the window is open.
pub struct App {
    params: Arc<BruntParams>,
    bridge: Arc<Bridge>,
    notifier: RepaintNotifier,
    window: Arc<EguiEditorState>,
    context: Option<GuiContext>,
    state: ViewState,
    /// The saved size, until the first frame has asked the host for it.
    wanted: Option<Vec2>,
    life: Arc<Life>,
    /// A frame has failed: only that is said, until the window is opened anew.
    failed: bool,
}

/// Builds the framework's editor, and what has to end before its window is closed.
pub(super) fn build(
    params: Arc<BruntParams>,
    bridge: Arc<Bridge>,
) -> Option<(EguiEditor<App>, Arc<Life>)> {
    let saved = *params.window.read();
    let size = LogicalSize::new(saved.width, saved.height);
    // The scale is applied by egui from the first frame on: see `App::build`.
    let window = EguiEditorState::from_size(size, 1.0);
    let notifier = RepaintNotifier::new();
    let resize = nice_plug::editor::ResizeHint::resizable()
        .with_min_logical_size(LogicalSize::new(MIN_SIZE.x, MIN_SIZE.y));
    let settings = EguiNiceSettings {
        title: say::NAME.to_owned(),
        resize_hint: resize,
        repaint_poll_interval: FRAME,
        ..EguiNiceSettings::default()
    };
    let life = Arc::new(Life::default());
    let app = App {
        params,
        bridge,
        notifier: notifier.clone(),
        window: Arc::clone(&window),
        context: None,
        state: ViewState::default(),
        wanted: None,
        life: Arc::clone(&life),
        failed: false,
    };
    let inner = create_egui_editor(window, notifier, settings, app)?;
    Some((inner, life))
}

impl NiceEguiApp for App {
    fn build(
        &mut self,
        ctx: egui::Context,
        context: GuiContext,
        _frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        self.failed = !survives(|| self.open(&ctx, context));
        Ok(())
    }

    fn ui(&mut self, ui: &mut Ui, _frame: &mut Frame) {
        let failed = self.failed;
        self.failed = frame_fails(failed, ui, |ui| self.frame(ui));
    }

    fn resized(&mut self, new_size: WindowSize) {
        // Sizes from before the first frame are not the user's.
        if self.wanted.is_none() {
            let mut saved = self.params.window.write();
            saved.width = new_size.logical.width as f32;
            saved.height = new_size.logical.height as f32;
        }
    }
}

/// Draws a frame, and says what happened where it fails or one before it has; gives whether one has.
/// What a frame left half done in egui is not drawn on.
fn frame_fails(failed: bool, ui: &mut Ui, draw: impl FnOnce(&mut Ui)) -> bool {
    let fails = failed || !survives(|| draw(ui));
    if fails {
        let _ = survives(|| {
            ui.label(say::WINDOW_FAILED);
        });
    }
    fails
}

impl App {
    fn open(&mut self, ctx: &egui::Context, context: GuiContext) {
        view::prepare(ctx);
        // The scale is ours to keep: egui's own shortcuts would change it behind our back.
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        let saved = *self.params.window.read();
        ctx.set_zoom_factor(saved.scale);
        // The editor is built before the host loads a session, so the size that the framework
        // opened with can be an old one.
        self.wanted = Some(vec2(saved.width, saved.height).max(MIN_SIZE));
        self.context = Some(context);
        self.state = ViewState::default();
        let (bridge, window) = (Arc::clone(&self.bridge), Arc::clone(&self.window));
        self.life.begin(Watch::start(bridge, window, self.notifier.clone()));
    }

    fn frame(&mut self, ui: &mut Ui) {
        let Some(context) = &self.context else { return };
        if let Some(wanted) = self.wanted.take()
            && (wanted - ui.ctx().content_rect().size()).length() > 1.0
        {
            ui.ctx().send_viewport_cmd(ViewportCommand::InnerSize(wanted));
        }
        let mut host = HostControls::new(&self.params, &self.bridge, context);
        let mut controls = Deferred::new(&mut host);
        {
            let display = self.bridge.collect();
            view::show(ui, &display, &mut controls, &mut self.state);
        }
        // Only now: a host may ask for our state from inside a change of a parameter, and that
        // needs the display as well.
        if controls.apply() {
            ui.ctx().request_repaint();
        }
        let scale = self.params.window.read().scale;
        if (ui.ctx().zoom_factor() - scale).abs() > 1e-3 {
            ui.ctx().set_zoom_factor(scale);
        }
    }
}

#[cfg(test)]
mod tests {
    use egui::{Context, FullOutput, RawInput, Shape};

    use super::*;

    fn says(output: &FullOutput, wanted: &str) -> bool {
        let mut shapes = output.shapes.iter().map(|clipped| &clipped.shape);
        shapes.any(|shape| matches!(shape, Shape::Text(text) if text.galley.text() == wanted))
    }

    /// A frame that panics ends there and is told; the next ones draw nothing but that, though they
    /// could.
    #[test]
    fn a_failing_frame_is_told_and_no_other_is_drawn() {
        let context = Context::default();
        let mut failed = false;
        let mut frame = |draw: fn(&mut Ui)| {
            let mut output = context.run_ui(RawInput::default(), |ui| {
                failed = frame_fails(failed, ui, draw);
            });
            // Nothing draws them here.
            output.textures_delta.clear();
            (failed, output)
        };
        let well: fn(&mut Ui) = |ui| drop(ui.label("well"));
        let (failed, output) = frame(well);
        assert!(!failed && says(&output, "well") && !says(&output, say::WINDOW_FAILED));
        let (failed, output) = frame(|ui| {
            ui.horizontal(|_| panic!("planted by a test"));
        });
        assert!(failed && says(&output, say::WINDOW_FAILED));
        let (failed, output) = frame(well);
        assert!(failed && says(&output, say::WINDOW_FAILED) && !says(&output, "well"));
    }
}
