//! The parts: what is known of each, or what to do while nothing is.

use egui::{Rect, Ui, pos2, vec2};

use brunt_engine::LeakKind;
use brunt_report::words::{leak_meaning, leak_name, views as say};

use super::fonts::{bold, regular};
use super::panel;
use super::scene::Scene;
use super::text;

/// Draws the view.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>) {
    let lines = [say::NO_PARTS_HOW, say::NO_PARTS_COMMAND];
    empty(ui, rect, scene, say::NO_PARTS, &lines, &LeakKind::ALL[1..4]);
}

/// A view with nothing in it: what is missing, what to do, and which leaks it would tell.
pub fn empty(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    head: &str,
    lines: &[&str],
    leaks: &[LeakKind],
) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let width = rect.width().min(sizes.body * 36.0);
    let top = rect.top() + scene.layout.gap;
    let galley = text::wrapped(painter, head, bold(sizes.name), p.text, width, 2);
    let mut bottom = top + galley.size().y;
    painter.galley(pos2(rect.left(), top), galley, p.text);
    for (k, line) in lines.iter().enumerate() {
        let color = if k == 0 { p.soft } else { p.text };
        let galley = text::balanced(painter, line, regular(sizes.body), color, width, 5);
        let at = pos2(rect.left(), bottom + 4.0);
        bottom = at.y + galley.size().y;
        painter.galley(at, galley, color);
    }
    let spot = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.left() + width, bottom));
    let name = format!("{head}. {}", lines.join(" "));
    panel::spot(ui, spot, scene.id(ui, head), &name, |ui| panel::tip(ui, p, head, lines));
    bottom += scene.layout.gap;
    for kind in leaks {
        let line = format!("{}: {}", leak_name(*kind), leak_meaning(*kind));
        let galley = text::wrapped(painter, &line, regular(sizes.body), p.soft, width, 2);
        let at = pos2(rect.left(), bottom) + vec2(0.0, 2.0);
        if at.y + galley.size().y > rect.bottom() {
            return;
        }
        bottom = at.y + galley.size().y;
        painter.galley(at, galley, p.soft);
    }
}
