//! The picture: a pure function of what is measured and what is set.

use egui::{Rect, ScrollArea, Ui, UiBuilder};

use super::layout::{Layout, MIN_SIZE};
use super::scene::Scene;
use super::theme::Palette;
use super::views;

pub use super::state::ViewState;
use super::{balance, banner, fonts, header, leaks, readings, strip};
use crate::audition::Heard;
use crate::display::{Controls, Display};
use crate::model::window::Theme;

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
    let frozen = state.frozen.clone();
    let shown = frozen.as_deref().unwrap_or(display);
    let pair = Pair { shown, running: display };
    let room = window.size();
    if room.x >= MIN_SIZE.x && room.y >= MIN_SIZE.y {
        panels(ui, window, pair, controls, state, palette);
        return;
    }
    // Smaller than all of it can stand: scroll, rather than squeeze one reading into the next.
    ScrollArea::both().auto_shrink(false).show(ui, |ui| {
        let (_, whole) = ui.allocate_space(room.max(MIN_SIZE));
        panels(ui, whole, pair, controls, state, palette);
    });
}

/// The display that is drawn, and the one that goes on behind it: the same unless frozen.
#[derive(Clone, Copy)]
struct Pair<'a> {
    shown: &'a Display,
    running: &'a Display,
}

fn panels(
    ui: &mut Ui,
    window: Rect,
    Pair { shown: display, running }: Pair<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
    palette: &Palette,
) {
    // Where nothing is measured there is nothing to match, and the part itself is heard.
    let asked = if controls.role().is_metered() { controls.listen() } else { Heard::Mix };
    let banners = banner::of(running, asked, state);
    let layout = Layout::new(window, banners.len());
    let scene = Scene { display, palette, layout: &layout, role: controls.role() };
    let mut ui = ui.new_child(UiBuilder::new().max_rect(window));
    let ui = &mut ui;
    header::show(ui, layout.header, &scene, controls);
    if banner::show(ui, layout.banner, &banners, &scene) {
        state.read = running.exported.clone();
        ui.ctx().request_repaint();
    }
    views::show(ui, layout.hits, &scene, running, controls, state);
    leaks::show(ui, layout.leaks, &scene, controls);
    readings::show(ui, layout.readings, &scene, controls);
    balance::show(ui, layout.balance, &scene);
    strip::show(ui, layout.strip, &scene, controls, state);
}
