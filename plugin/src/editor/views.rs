//! The large panel: one of four views, and what acts on a pass.

use std::sync::Arc;

use egui::{Rect, Ui, pos2, vec2};

use super::scene::Scene;
pub use super::state::View;
use super::state::ViewState;
use super::theme::RADIUS;
use super::{compare, hits, parts, song};
use crate::display::{Controls, Display};
use crate::words::views as say;

const VIEWS: [View; 4] = [View::Hits, View::Song, View::Parts, View::Compare];

/// Draws the panel. `running` is the display as it is now, where `scene` holds a frozen one.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    scene: &Scene<'_>,
    running: &Display,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let layout = scene.layout;
    ui.painter().rect_filled(rect, RADIUS, scene.palette.panel);
    let inner = rect.shrink(layout.gap);
    let head = Rect::from_min_size(inner.min, vec2(inner.width(), layout.control));
    choose(ui, head, scene, state);
    actions(ui, head, scene, running, controls, state);
    let inner = Rect::from_min_max(pos2(inner.left(), head.bottom() + 4.0), inner.max);
    match shown(scene, state) {
        View::Hits => hits::show(ui, inner, scene, state),
        View::Song => song::show(ui, inner, scene, controls, state),
        View::Parts => parts::show(ui, inner, scene, controls, state),
        View::Compare => compare::show(ui, inner, scene, state),
    }
}

/// The view to show: most parts have nothing for the others.
fn shown(scene: &Scene<'_>, state: &ViewState) -> View {
    if scene.role.is_metered() { state.view } else { View::Parts }
}

fn choose(ui: &Ui, head: Rect, scene: &Scene<'_>, state: &mut ViewState) {
    let look = scene.look();
    let labels = [say::HITS, say::SONG, say::PARTS, say::COMPARE];
    let names = labels.map(|label| format!("{}: {label}", say::VIEW));
    let names = [&*names[0], &*names[1], &*names[2], &*names[3]];
    let row = Rect::from_min_size(head.min, vec2(look.choices_width(ui, &labels), head.height()));
    let view = shown(scene, state);
    let taken = VIEWS.iter().position(|other| *other == view).unwrap_or(0);
    let id = scene.id(ui, "views");
    if let Some(new) = look.choices(ui, row, id, &labels, &names, &say::VIEW_TIPS, taken) {
        state.view = VIEWS[new];
        ui.ctx().request_repaint();
    }
}

/// Freeze and keep, at the right end.
fn actions(
    ui: &Ui,
    head: Rect,
    scene: &Scene<'_>,
    running: &Display,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let look = scene.look();
    let frozen = state.frozen.is_some();
    let widths = [look.switch_width(ui, say::FREEZE), look.button_width(ui, say::KEEP)];
    let keep = Rect::from_min_max(pos2(head.right() - widths[1], head.top()), head.max);
    let right = keep.left() - scene.layout.gap * 0.75;
    let freeze =
        Rect::from_min_max(pos2(right - widths[0], head.top()), pos2(right, head.bottom()));
    let response = look.switch(ui, freeze, scene.id(ui, "freeze"), say::FREEZE, frozen);
    if response.on_hover_text(say::FREEZE_TIP).clicked() {
        state.frozen = (!frozen).then(|| Arc::new(running.clone()));
        ui.ctx().request_repaint();
    }
    let response = look.button(ui, keep, scene.id(ui, "keep"), say::KEEP, say::KEEP_NAME);
    if response.on_hover_text(say::KEEP_TIP).clicked() {
        controls.keep_pass();
        // The newest is the one to compare with.
        state.kept = None;
    }
}
