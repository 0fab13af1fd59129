//! The whole song at a glance: loudness, hit contrast, and the cost of each leak over time, with
//! the kept pass behind them and the sections marked.

mod columns;
mod hover;
mod range;
mod sections;
mod tracks;

use egui::{Align2, Rect, Ui, pos2};

use super::fonts::regular;
use super::scene::Scene;
use super::state::ViewState;
use super::{change, parts, text};
use crate::display::Controls;
use crate::words::views as say;
use columns::Columns;
pub use sections::Sections;
use tracks::Tracks;

/// Draws the view.
pub fn show(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let kept = change::chosen(scene, state);
    let mut rect = rect;
    if let Some(kept) = kept {
        let height = scene.layout.control;
        let row = Rect::from_min_max(rect.min, pos2(rect.right(), rect.top() + height));
        passes(ui, row, kept.number, scene, controls, state);
        rect.min.y = row.bottom() + 2.0;
    }
    let whole_s = range::whole(scene.display, kept);
    let (from_s, to_s) = range::shown(state.range, whole_s);
    let now = Columns::of(scene.display, from_s, to_s);
    let Some(now) = now else {
        parts::empty(ui, rect, scene, say::NO_SONG, &[say::NO_SONG_HOW], &[]);
        return;
    };
    let then = kept.and_then(|kept| kept.history.as_ref());
    let tracks = Tracks::new(rect, &now, then, (from_s, to_s), scene);
    tracks.paint(ui, &now, then, scene);
    let mut found = std::mem::take(&mut state.sections);
    let told = found.of(scene.display);
    sections::paint(ui, &tracks, told, scene);
    hover::show(ui, &tracks, &now, told, whole_s, scene, state);
    state.sections = found;
}

/// The kept passes: which one lies behind, and a way to forget it.
fn passes(
    ui: &Ui,
    row: Rect,
    shown: u32,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let (p, look) = (scene.palette, scene.look());
    let kept = &scene.display.kept;
    let at = pos2(row.left(), row.center().y);
    let font = regular(scene.layout.sizes.label);
    let label = text::line(ui.painter(), at, Align2::LEFT_CENTER, say::KEPT, font, p.soft);

    let labels: Vec<String> = kept.iter().map(|pass| pass.number.to_string()).collect();
    let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
    let names: Vec<String> = kept.iter().map(|pass| say::kept_name(pass.number)).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let tips: Vec<String> = kept
        .iter()
        .map(|pass| say::kept_tip(pass.number, pass.contrast_db, pass.integrated_lufs))
        .collect();
    let tips: Vec<&str> = tips.iter().map(String::as_str).collect();
    let left = label.right() + 8.0;
    let right = left + look.choices_width(ui, &labels);
    let choices = Rect::from_x_y_ranges(left..=right, row.y_range());
    let taken = kept.iter().position(|pass| pass.number == shown).unwrap_or(0);
    if let Some(new) =
        look.choices(ui, choices, scene.id(ui, "kept"), &labels, &names, &tips, taken)
    {
        state.kept = kept.get(new).map(|pass| pass.number);
        ui.ctx().request_repaint();
    }
    let left = right + scene.layout.gap * 0.75;
    let button =
        Rect::from_x_y_ranges(left..=left + look.button_width(ui, say::FORGET), row.y_range());
    let name = say::forget_name(shown);
    let response = look.button(ui, button, scene.id(ui, "forget"), say::FORGET, &name);
    if response.on_hover_text(&name).clicked() {
        controls.forget_kept(shown);
        state.kept = None;
    }
}
