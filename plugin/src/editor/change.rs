//! What has changed since the kept pass: large, and steady enough to be read while a control
//! moves, since it is a median over the recent hits.

use egui::{Rect, Ui, pos2, vec2};

use brunt_report::words;

use super::fonts::{bold, regular};
use super::panel;
use super::scene::Scene;
use super::state::ViewState;
use super::text;
use crate::kept::KeptPass;
use crate::words::views as say;

/// The kept pass to compare with: the chosen one, or else the newest.
#[must_use]
pub fn chosen<'a>(scene: &Scene<'a>, state: &ViewState) -> Option<&'a KeptPass> {
    let kept = &scene.display.kept;
    let chosen = state.kept.and_then(|number| kept.iter().find(|pass| pass.number == number));
    chosen.or(kept.last())
}

/// Draws the two figures into `rect` from its left; gives where they end.
pub fn show(ui: &Ui, rect: Rect, kept: &KeptPass, scene: &Scene<'_>) -> f32 {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let change = kept.change(scene.display);
    let size = sizes.figure * 0.62;
    let base = rect.top() + 0.714 * sizes.figure;
    let mut left = rect.left();
    for (value, under, worse) in [
        (change.contrast_db, say::contrast_since(kept.number), -1.0),
        (change.lost_db, say::lost_since(kept.number), 1.0),
    ] {
        let known = value.filter(|x| x.is_finite());
        let figure = known.map_or("\u{2013}".to_owned(), |x| words::signed(Some(x), ""));
        // Under half a decibel nobody hears a change of a peak (common practice, no source).
        let lost = known.is_some_and(|x| x * worse > 0.25);
        let color = if lost { p.copper } else { p.text };
        let at = pos2(left, base - 0.714 * size);
        let figure = text::caps_at(painter, at, &figure, bold(size), color);
        let at = pos2(figure.right() + 4.0, base - 0.714 * sizes.value);
        let unit = text::caps_at(painter, at, "dB", bold(sizes.value), color);
        let at = pos2(left, base + sizes.label * 0.55);
        let label = text::caps_at(painter, at, &under, regular(sizes.label), p.soft);
        left = unit.right().max(label.right()) + scene.layout.gap * 1.5;
    }
    let right = left - scene.layout.gap * 1.5;
    let place = Rect::from_min_max(rect.min - vec2(0.0, 2.0), pos2(right, rect.bottom()));
    let spoken =
        say::spoken_change(kept.number, change.contrast_db, change.lost_db, change.same_places);
    panel::spot(ui, place, scene.id(ui, "change"), &spoken, |ui| {
        let was = say::kept_tip(kept.number, kept.contrast_db, kept.integrated_lufs);
        panel::tip(ui, p, &was, &[&say::change_basis(change.same_places)]);
    });
    right
}
