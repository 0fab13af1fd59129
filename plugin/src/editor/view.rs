//! The picture: a pure function of what is measured and what is set.

use egui::{Rect, ScrollArea, Ui, UiBuilder};

use super::layout::{Layout, MIN_SIZE};
use super::scene::Scene;
use super::theme::Palette;
use super::{balance, banner, fonts, header, hits, leaks, readings, strip};
use crate::display::{Controls, Display};
use crate::state::Theme;

/// What the view remembers between frames.
#[derive(Debug, Default)]
pub struct ViewState {
    /// Number of the hit whose numbers are shown, as in
    /// [`Hit::index`](brunt_engine::Hit::index).
    pub marked: Option<u64>,
    /// The theme that egui's own widgets were last told of.
    theme: Option<Theme>,
}

/// Prepares a context: typefaces and sizes. Call once, before its first frame.
pub fn prepare(ctx: &egui::Context) {
    fonts::install(ctx);
}

/// Draws one frame over the whole of `ui`.
///
/// It asks for no further frame, except one after the pointer or an arrow key has marked another
/// hit: the caller asks for the next frame when [`Display::generation`] has changed.
pub fn show(ui: &mut Ui, display: &Display, controls: &mut dyn Controls, state: &mut ViewState) {
    let theme = controls.theme();
    let palette = Palette::of(theme);
    if state.theme != Some(theme) {
        let egui_theme = match theme {
            Theme::Dark => egui::Theme::Dark,
            Theme::Light => egui::Theme::Light,
        };
        ui.ctx().set_theme(egui_theme);
        ui.ctx().set_visuals_of(egui_theme, palette.visuals(theme));
        state.theme = Some(theme);
    }
    let style = ui.ctx().global_style();
    ui.set_style(style);

    let window = ui.max_rect();
    ui.painter().rect_filled(window, 0.0, palette.ground);
    let room = window.size();
    if room.x >= MIN_SIZE.x && room.y >= MIN_SIZE.y {
        panels(ui, window, display, controls, state, palette);
        return;
    }
    // Smaller than all of it can stand: scroll, rather than squeeze one reading into the next.
    ScrollArea::both().auto_shrink(false).show(ui, |ui| {
        let (_, whole) = ui.allocate_space(room.max(MIN_SIZE));
        panels(ui, whole, display, controls, state, palette);
    });
}

fn panels(
    ui: &mut Ui,
    window: Rect,
    display: &Display,
    controls: &mut dyn Controls,
    state: &mut ViewState,
    palette: &Palette,
) {
    let banners = banner::of(display, controls.listen());
    let layout = Layout::new(window, banners.len());
    let scene = Scene { display, palette, layout: &layout };
    let mut ui = ui.new_child(UiBuilder::new().max_rect(window));
    let ui = &mut ui;
    header::show(ui, layout.header, &scene, controls);
    banner::show(ui, layout.banner, &banners, &scene);
    hits::show(ui, layout.hits, &scene, state);
    leaks::show(ui, layout.leaks, &scene, controls);
    readings::show(ui, layout.readings, &scene, controls);
    balance::show(ui, layout.balance, &scene);
    strip::show(ui, layout.strip, &scene, controls);
}
