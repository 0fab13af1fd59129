//! The leaks: five rows, each with a state, a cost, its evidence and one piece of advice.

mod row;
mod scale;

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_engine::{LeakKind, State, Thresholds};
use brunt_report::words::{self, Term};

use super::fonts::regular;
use super::panel;
use super::scene::Scene;
use super::text;
use crate::display::Controls;
use crate::params::THRESHOLD_RANGE_DB;
use crate::words::editor as say;
use row::Row;
use scale::Scale;

/// Draws the panel.
pub fn show(ui: &mut Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (inner, head) = panel::open(ui, rect, say::LEAKS, scene.layout, scene.palette);
    limits(ui, head, scene, controls);
    let size = scene.layout.sizes.label;
    let leaks = &scene.display.readings.leaks;
    let scale = Scale::new(inner, leaks, controls.thresholds(), scene);
    let axis = Rect::from_min_size(inner.min, vec2(inner.width(), size * 1.5));
    let known = |kind| leaks.get(kind).state != State::Unknown;
    if LeakKind::ALL.into_iter().any(known) {
        scale.paint_axis(ui, axis, scene);
    }

    let room = Rect::from_min_max(pos2(inner.left(), axis.bottom() + 4.0), inner.max);
    let rows = row::share(ui, room, scene);
    let mut top = room.top();
    for (kind, row) in LeakKind::ALL.into_iter().zip(&rows) {
        let place = Rect::from_min_size(pos2(room.left(), top), vec2(room.width(), row.height()));
        show_row(ui, place, kind, row, &scale, scene);
        top = place.bottom() + row.gap;
    }
}

fn show_row(ui: &Ui, place: Rect, kind: LeakKind, row: &Row, scale: &Scale, scene: &Scene<'_>) {
    row.paint(ui, place, kind, scale, scene);
    let leaks = &scene.display.readings.leaks;
    let (mut says, advice) = row::told(scene, kind, words::says);
    if let Some(section) = say::section(&scene.display.readings, kind) {
        says = format!("{says} {section}");
    }
    if kind == LeakKind::Mids
        && let Some(small) = say::small_speaker(&scene.display.readings)
    {
        says = format!("{says} {small}");
    }
    let spoken = format!(
        "{}, {}: {}. {} {}",
        words::leak_name(kind),
        words::state_word(leaks.get(kind).state),
        words::behind_small_speakers(
            row::small_speakers_db(leaks, kind),
            words::cost(leaks.headline(kind))
        ),
        says,
        advice
    );
    let id = scene.id(ui, "leak").with(kind as u8);
    panel::spot(ui, place, id, &spoken, |ui| {
        let head = format!("{}: {}", words::leak_name(kind), words::leak_meaning(kind));
        let definition = words::definition(Term::Cost);
        panel::tip(ui, scene.palette, &head, &[&says, &advice, definition]);
    });
}

/// The limits of the states, in place of a legend for the two marks on every bar.
fn limits(ui: &mut Ui, head: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let look = scene.look();
    let now = controls.thresholds();
    let mut new = now;
    let (low, high) = THRESHOLD_RANGE_DB;
    let range = f64::from(low)..=f64::from(high);
    let field = vec2(size * 3.4, scene.layout.control);
    let gap = if scene.layout.small { 6.0 } else { 12.0 };
    let width = |word: &str| {
        let font = regular(size);
        ui.painter().layout_no_wrap(word.to_owned(), font, p.soft).size().x
    };
    let words = [say::WATCH_FROM, say::LEAKING_FROM, "dB"].map(width);
    let total = words.iter().sum::<f32>() + 2.0 * (4.0 + field.x) + gap + 5.0;
    let y = head.center().y;
    let mut left = head.right() - total;
    let mut one = |ui: &mut Ui, word: &str, name: &str, value: &mut f64| {
        let word = text::line(
            ui.painter(),
            pos2(left, y),
            Align2::LEFT_CENTER,
            word,
            regular(size),
            p.soft,
        );
        let rect = Rect::from_min_size(pos2(word.right() + 4.0, y - field.y / 2.0), field);
        left = rect.right() + gap;
        let response = look.number(ui, rect, name, value, range.clone());
        let changed = response.changed();
        response.on_hover_text(say::LIMITS);
        changed
    };
    let watch = one(ui, say::WATCH_FROM, say::WATCH_FROM_NAME, &mut new.watch_db);
    let leaking = one(ui, say::LEAKING_FROM, say::LEAKING_FROM_NAME, &mut new.leaking_db);
    let end = pos2(head.right(), y);
    text::line(ui.painter(), end, Align2::RIGHT_CENTER, "dB", regular(size), p.soft);
    if watch || leaking {
        controls.set_thresholds(ordered(new, watch));
    }
}

/// Leaking from no less than watch: the limit that was not touched gives way.
fn ordered(limits: Thresholds, watch_moved: bool) -> Thresholds {
    let Thresholds { watch_db, leaking_db } = limits;
    if watch_moved {
        Thresholds { watch_db, leaking_db: leaking_db.max(watch_db) }
    } else {
        Thresholds { watch_db: watch_db.min(leaking_db), leaking_db }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_that_was_not_touched_gives_way() {
        let limits = Thresholds { watch_db: 3.0, leaking_db: 2.0 };
        assert_eq!(ordered(limits, true), Thresholds { watch_db: 3.0, leaking_db: 3.0 });
        assert_eq!(ordered(limits, false), Thresholds { watch_db: 2.0, leaking_db: 2.0 });
    }
}
