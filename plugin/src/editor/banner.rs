//! What stands in the way of the readings, said plainly over them.

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_report::words::editor as say;

use super::fonts::{bold, regular};
use super::panel;
use super::scene::Scene;
use super::text;
use crate::display::Display;

/// A banner: the fact, and what to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Banner {
    /// What is the case.
    pub fact: &'static str,
    /// What it means, or what to do.
    pub how: &'static str,
}

/// The banners that are on, the gravest first.
#[must_use]
pub fn of(display: &Display) -> Vec<Banner> {
    [
        (display.fault, Banner { fact: say::FAULT, how: say::FAULT_HOW }),
        (display.bypassed, Banner { fact: say::BYPASSED, how: say::BYPASSED_HOW }),
        (display.from_saved_pass, Banner { fact: say::SAVED, how: say::SAVED_HOW }),
    ]
    .into_iter()
    .filter_map(|(on, banner)| on.then_some(banner))
    .collect()
}

/// Draws them under one another.
pub fn show(ui: &Ui, rect: Rect, banners: &[Banner], scene: &Scene<'_>) {
    let (p, layout) = (scene.palette, scene.layout);
    let painter = ui.painter();
    let height = rect.height() / banners.len().max(1) as f32;
    for (i, banner) in banners.iter().enumerate() {
        let line = Rect::from_min_size(
            pos2(rect.left(), rect.top() + height * i as f32),
            vec2(rect.width(), height),
        );
        let fill = Rect::from_x_y_ranges(line.x_range(), line.top() + 0.5..=line.bottom() - 0.5);
        painter.rect_filled(fill, 0.0, p.copper);
        let at = pos2(line.left() + layout.gap, line.center().y);
        let font = bold(layout.sizes.body);
        let fact = text::line(painter, at, Align2::LEFT_CENTER, banner.fact, font, p.on_copper);
        let at = pos2(fact.right() + 8.0, at.y);
        let room = line.right() - layout.gap - at.x;
        let font = regular(layout.sizes.body);
        text::line_within(painter, at, Align2::LEFT_CENTER, banner.how, font, p.on_copper, room);
        let name = format!("{} {}", banner.fact, banner.how);
        panel::spot(ui, line, scene.id(ui, banner.fact), &name, |ui| {
            panel::tip(ui, p, banner.fact, &[banner.how]);
        });
    }
}
