//! Name, stream and the controls of the window.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use super::fonts::regular;
use super::glyph;
use super::panel;
use super::scene::Scene;
use super::text;
use crate::display::Controls;
use crate::state::Theme;
use crate::words::{editor as say, views};

/// The scales on offer.
const SCALES: [f32; 5] = [1.0, 1.5, 2.0, 2.5, 3.0];

/// Draws the line at the top.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (p, layout) = (scene.palette, scene.layout);
    let size = layout.sizes.label;
    let painter = ui.painter();
    let middle = rect.center().y;
    painter.rect_filled(rect, 0.0, p.ground);

    let side = layout.sizes.name * 1.35;
    let mark = Rect::from_center_size(
        pos2(rect.left() + layout.gap + side / 2.0, middle - 1.0),
        vec2(side, side),
    );
    glyph::mark(painter, mark, p);
    let name_at = pos2(mark.right() + 8.0, middle - layout.sizes.name * 0.69);
    let name = text::title(painter, name_at, say::NAME, layout.sizes.name, p.text);

    let told = mark.union(name);
    panel::spot(ui, told, scene.id(ui, "version"), say::VERSION, |ui| {
        panel::tip(ui, p, say::VERSION, &[say::WHAT]);
    });

    let left = buttons(ui, rect, scene, controls);
    let stream =
        say::stream(scene.display.sample_rate_hz, scene.display.channels, scene.display.playing);
    let at = pos2(name.right() + layout.gap * 1.2, middle);
    let room = left - layout.gap - at.x;
    let galley = painter.layout_no_wrap(stream, regular(size), p.soft);
    if galley.size().x <= room {
        let place = Align2::LEFT_CENTER.anchor_size(at, galley.size());
        painter.galley(place.min, galley, p.soft);
    }
}

/// Switches and choices from the right edge; gives where they begin.
fn buttons(ui: &Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) -> f32 {
    let layout = scene.layout;
    let look = scene.look();
    let gap = layout.gap * 0.75;
    let (theme, other) = match controls.theme() {
        Theme::Dark => (say::LIGHT, Theme::Light),
        Theme::Light => (say::DARK, Theme::Dark),
    };
    let scale_text = say::scale(controls.ui_scale());
    let widths = [
        look.button_width(ui, views::REPORT),
        look.switch_width(ui, say::FOLLOW),
        look.switch_width(ui, say::BYPASS),
        look.button_width(ui, "\u{2212}"),
        look.button_width(ui, &say::scale(1.5)),
        look.button_width(ui, "+"),
        look.button_width(ui, say::LIGHT).max(look.button_width(ui, say::DARK)),
    ];
    // The three parts of the scale stand together.
    let gaps = [gap, gap, gap, 0.0, 0.0, gap, 0.0];
    let total: f32 = widths.iter().sum::<f32>() + gaps.iter().sum::<f32>();
    let start = rect.right() - layout.gap - total;
    let mut left = start;
    let rects = std::array::from_fn::<Rect, 7, _>(|i| {
        let place = Rect::from_min_size(
            pos2(left, rect.center().y - layout.control / 2.0),
            vec2(widths[i], layout.control),
        );
        left += widths[i] + gaps[i];
        place
    });

    let [report, rects @ ..] = rects;
    let id = scene.id(ui, "report");
    let response = look.button(ui, report, id, views::REPORT, views::REPORT_NAME);
    if response.on_hover_text(views::REPORT_TIP).clicked() {
        controls.export_report();
    }
    let follow = controls.follow_transport();
    let response = look.switch(ui, rects[0], scene.id(ui, "follow"), say::FOLLOW, follow);
    if response.on_hover_text(say::FOLLOW_TIP).clicked() {
        controls.set_follow_transport(!follow);
    }
    let bypass = controls.bypass();
    let response = look.switch(ui, rects[1], scene.id(ui, "bypass"), say::BYPASS, bypass);
    if response.on_hover_text(say::BYPASS_TIP).clicked() {
        controls.set_bypass(!bypass);
    }
    let now = controls.ui_scale();
    let smaller = SCALES.into_iter().rev().find(|scale| *scale < now - 0.01);
    let larger = SCALES.into_iter().find(|scale| *scale > now + 0.01);
    for (place, label, name, target) in
        [(rects[2], "\u{2212}", say::SMALLER, smaller), (rects[4], "+", say::LARGER, larger)]
    {
        let response = look.button(ui, place, scene.id(ui, name), label, name);
        if let (true, Some(scale)) = (response.on_hover_text(name).clicked(), target) {
            controls.set_ui_scale(scale);
        }
    }
    let painter = ui.painter();
    let frame = Stroke::new(1.0, scene.palette.edge);
    painter.hline(rects[3].x_range(), rects[3].top() + 0.5, frame);
    painter.hline(rects[3].x_range(), rects[3].bottom() - 0.5, frame);
    let font = regular(look.size);
    let at = rects[3].center();
    text::line(painter, at, Align2::CENTER_CENTER, &scale_text, font, scene.palette.text);

    let response = look.button(ui, rects[5], scene.id(ui, "theme"), theme, theme);
    if response.on_hover_text(say::THEME_TIP).clicked() {
        controls.set_theme(other);
    }
    start
}
