//! What stands in the way of the readings, said plainly over them; and news to be read and closed.

use egui::accesskit::Role;
use egui::{Align2, Rect, Sense, Ui, WidgetInfo, pos2, vec2};

use super::fonts::{bold, regular};
use super::listen;
use super::notice::Banner;
use super::panel;
use super::reference;
use super::scene::Scene;
use super::state::ViewState;
use super::text;
use crate::audition::Heard;
use crate::display::Display;
use crate::export::Exported;
use crate::words::{editor as say, views};

/// Most banners at once: the smallest window has no room for more.
const MOST: usize = 2;

/// The banners that are on, the gravest first. `asked` is what is asked to be heard.
#[must_use]
pub fn of(display: &Display, asked: Heard, state: &ViewState) -> Vec<Banner> {
    let on = |on: bool, fact, how| on.then(|| Banner::plain(fact, how));
    [
        on(display.fault, say::FAULT, say::FAULT_HOW),
        on(!display.rate_is_measured(), say::RATE, say::RATE_HOW),
        listen::sign(display, asked),
        on(display.bypassed, say::BYPASSED, say::BYPASSED_HOW),
        reference::trouble(display),
        on(display.from_saved_pass, say::SAVED, say::SAVED_HOW),
        on(state.frozen.is_some(), views::FROZEN, views::FROZEN_HOW),
        report(&display.exported).filter(|_| display.exported != state.read),
    ]
    .into_iter()
    .flatten()
    .take(MOST)
    .collect()
}

/// What became of a report.
fn report(exported: &Exported) -> Option<Banner> {
    match exported {
        Exported::None => None,
        Exported::Writing => Some(Banner::news(views::WRITING, String::new())),
        Exported::Written(path) => {
            Some(Banner::news(views::WRITTEN, path.to_string_lossy().into_owned()))
        }
        Exported::Failed(reason) => Some(Banner::news(views::NOT_WRITTEN, format!("{reason}."))),
    }
}

/// Draws them under one another; whether the news was closed.
pub fn show(ui: &Ui, rect: Rect, banners: &[Banner], scene: &Scene<'_>) -> bool {
    let (p, layout) = (scene.palette, scene.layout);
    let painter = ui.painter();
    let height = rect.height() / banners.len().max(1) as f32;
    let mut closed = false;
    for (i, banner) in banners.iter().enumerate() {
        let line = Rect::from_min_size(
            pos2(rect.left(), rect.top() + height * i as f32),
            vec2(rect.width(), height),
        );
        let fill = Rect::from_x_y_ranges(line.x_range(), line.top() + 0.5..=line.bottom() - 0.5);
        let (ground, color) =
            if banner.news { (p.control, p.text) } else { (p.copper, p.on_copper) };
        painter.rect_filled(fill, 0.0, ground);
        let mut right = line.right() - layout.gap;
        if banner.news {
            let look = scene.look();
            let width = look.button_width(ui, views::CLOSE);
            let tall = layout.control.min(height - 4.0);
            let button = Rect::from_min_size(
                pos2(right - width, line.center().y - tall / 2.0),
                vec2(width, tall),
            );
            let id = scene.id(ui, "close the news");
            closed |= look.button(ui, button, id, views::CLOSE, views::CLOSE_NAME).clicked();
            right = button.left() - layout.gap;
        }
        let at = pos2(line.left() + layout.gap, line.center().y);
        let font = bold(layout.sizes.body);
        let fact = text::line(painter, at, Align2::LEFT_CENTER, banner.fact, font, color);
        let at = pos2(fact.right() + 8.0, at.y);
        let room = right - at.x;
        let font = regular(layout.sizes.body);
        text::line_within(painter, at, Align2::LEFT_CENTER, &banner.how, font, color, room);
        let name = format!("{} {}", banner.fact, banner.how);
        let told = Rect::from_min_max(line.min, pos2(right, line.bottom()));
        let id = scene.id(ui, banner.fact);
        let tip = |ui: &mut Ui| {
            let mut lines = vec![&*banner.how];
            lines.extend(&banner.more);
            panel::tip(ui, p, banner.fact, &lines);
        };
        if banner.news {
            // Said as soon as it is there: the status of WAI-ARIA.
            let response = ui.interact(told, id, Sense::hover());
            response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &name));
            response.on_hover_ui(tip);
        } else {
            panel::spot(ui, told, id, &name, tip);
        }
    }
    closed
}
