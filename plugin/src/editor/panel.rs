//! The ground of a panel.

use egui::accesskit::Role;
use egui::{Id, Rect, Response, Sense, Ui, WidgetInfo, pos2, vec2};

use super::layout::Layout;
use super::text;
use super::theme::{Palette, RADIUS};

/// Draws a panel's ground and title; gives the room inside, under the title's line, and the
/// room beside the title.
pub fn open(ui: &Ui, rect: Rect, title: &str, layout: &Layout, palette: &Palette) -> (Rect, Rect) {
    ui.painter().rect_filled(rect, RADIUS, palette.panel);
    let inner = rect.shrink(layout.gap);
    let size = layout.sizes.label;
    let height = layout.control.max(size * 1.4);
    let place = pos2(inner.left(), inner.top() + (height - size * 1.36) / 2.0 - height * 0.15);
    let taken = text::title(ui.painter(), place, title, size, palette.soft);
    let head = Rect::from_min_max(
        pos2(taken.right() + 12.0, inner.top() - height * 0.15),
        pos2(inner.right(), inner.top() + height * 0.85),
    );
    (Rect::from_min_max(pos2(inner.left(), head.bottom() + 4.0), inner.max), head)
}

/// A place that only tells something: it has a name for assistive technology, and a tooltip.
pub fn spot(ui: &Ui, rect: Rect, id: Id, name: &str, tip: impl FnOnce(&mut Ui)) -> Response {
    let response = ui.interact(rect, id, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, name));
    response.on_hover_ui(tip)
}

/// Lines of a tooltip, wrapped.
pub fn tip(ui: &mut Ui, palette: &Palette, head: &str, lines: &[&str]) {
    ui.set_max_width(320.0);
    ui.spacing_mut().item_spacing = vec2(4.0, 3.0);
    ui.label(egui::RichText::new(head).strong().font(super::fonts::bold(12.0)));
    for line in lines {
        ui.label(egui::RichText::new(text::minus(line)).color(palette.text));
    }
}
