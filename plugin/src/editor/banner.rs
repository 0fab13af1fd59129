//! What stands in the way of the readings, said plainly over them.

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_report::words::editor as say;

use super::fonts::{bold, regular};
use super::listen;
use super::panel;
use super::scene::Scene;
use super::text;
use crate::audition::Heard;
use crate::display::Display;

/// A banner: the fact, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Banner {
    /// What is the case.
    pub fact: &'static str,
    /// What it means, or what to do.
    pub how: String,
    /// What else the tooltip says.
    pub more: Vec<&'static str>,
}

impl Banner {
    fn plain(fact: &'static str, how: &'static str) -> Self {
        Self { fact, how: how.to_owned(), more: Vec::new() }
    }
}

/// Most banners at once: the smallest window has no room for more.
const MOST: usize = 2;

/// The banners that are on, the gravest first. `asked` is what is asked to be heard.
#[must_use]
pub fn of(display: &Display, asked: Heard) -> Vec<Banner> {
    let on = |on: bool, fact, how| on.then(|| Banner::plain(fact, how));
    [
        on(display.fault, say::FAULT, say::FAULT_HOW),
        listen::sign(display, asked),
        on(display.bypassed, say::BYPASSED, say::BYPASSED_HOW),
        on(display.from_saved_pass, say::SAVED, say::SAVED_HOW),
    ]
    .into_iter()
    .flatten()
    .take(MOST)
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
        text::line_within(painter, at, Align2::LEFT_CENTER, &banner.how, font, p.on_copper, room);
        let name = format!("{} {}", banner.fact, banner.how);
        panel::spot(ui, line, scene.id(ui, banner.fact), &name, |ui| {
            let mut lines = vec![&*banner.how];
            lines.extend(&banner.more);
            panel::tip(ui, p, banner.fact, &lines);
        });
    }
}
