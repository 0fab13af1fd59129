//! The hits: the big figure, and the last bars as a row of strokes.

mod axes;
mod hover;
mod span;
pub(super) mod strokes;
mod wave;

use std::sync::Arc;

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_report::words::{self, Term};

use super::change;
use super::fonts::{bold, regular};
use super::panel;
use super::scene::{Scene, number};
use super::state::ViewState;
use super::text;
use crate::params::Role;
use crate::words::{editor as say, views};
use axes::{Axes, compares};
use span::Span;

/// Draws the panel.
pub fn show(ui: &mut Ui, inner: Rect, scene: &Scene<'_>, state: &mut ViewState) {
    let sizes = scene.layout.sizes;
    let height = (sizes.figure * 0.72 + sizes.label * 1.6).ceil();
    let air = scene.layout.gap * 0.5;
    let figure = Rect::from_min_size(inner.min + vec2(0.0, air), vec2(inner.width(), height));
    headline(ui, figure, scene, state);
    let plot =
        Rect::from_min_max(pos2(inner.left(), figure.bottom() + scene.layout.gap), inner.max);
    if scene.display.hits.is_empty() {
        nothing(ui, plot, scene);
        return;
    }
    let span = Span::of(scene.display);
    let axes = Axes::new(plot, &span, scene);
    axes.paint(ui, &span, scene);
    let kept = change::chosen(scene, state);
    legend(ui, &axes, scene, kept.is_some());
    let strokes = strokes::paint(ui, &axes, scene, state, kept);
    hover::show(ui, &axes, &span, &strokes, scene, state);
}

/// What the strokes mean, over the right end of the picture.
fn legend(ui: &Ui, axes: &Axes, scene: &Scene<'_>, kept: bool) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let y = axes.plot.top() - size * 0.95;
    let painter = ui.painter();
    let mut right = axes.plot.right();
    if kept {
        let at = pos2(right, y);
        let word = views::KEPT;
        let taken = text::line(painter, at, Align2::RIGHT_CENTER, word, regular(size), p.soft);
        let swatch = Rect::from_center_size(pos2(taken.left() - 10.0, y), vec2(9.0, 1.0));
        strokes::tick(painter, swatch.x_range(), y, p);
        right = swatch.left() - 14.0;
    }
    if compares(scene) {
        let at = pos2(right, y);
        let word = words::records::USUAL_SHORT;
        let taken = text::line(painter, at, Align2::RIGHT_CENTER, word, regular(size), p.soft);
        let x = taken.left() - 6.0;
        axes::bracket(painter, x, y - size * 0.5, y + size * 0.5, p);
        right = x - 16.0;
    }
    for (word, hollow) in [(say::LOST, true), (say::LEFT, false)] {
        let at = pos2(right, y);
        let taken = text::line(painter, at, Align2::RIGHT_CENTER, word, regular(size), p.soft);
        let swatch = Rect::from_center_size(pos2(taken.left() - 9.0, y), vec2(6.0, size));
        if hollow {
            strokes::cap(painter, swatch, p);
        } else {
            painter.rect_filled(swatch, 0.0, p.bone);
        }
        right = swatch.left() - 14.0;
    }
}

/// The big figure, its range, and the verdict.
fn headline(ui: &Ui, rect: Rect, scene: &Scene<'_>, state: &ViewState) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let punch = &scene.display.readings.punch_recent;
    let painter = ui.painter();
    let known = punch.contrast_db.is_some();
    let color = if known { p.text } else { p.soft };

    let big = number(punch.contrast_db);
    // A dash as tall as the figure would look like a sign of its own.
    let font = if known { bold(sizes.figure) } else { regular(sizes.figure * 0.7) };
    let top = rect.min + vec2(0.0, 0.714 * (sizes.figure - font.size));
    let figure = text::caps_at(painter, top, &big, font, color);
    let unit = pos2(figure.right() + 5.0, rect.top() + 0.714 * (sizes.figure - sizes.value));
    let unit = text::caps_at(painter, unit, "dB", bold(sizes.value), color);
    let base = rect.top() + 0.714 * sizes.figure;
    let label_at = pos2(rect.left(), base + sizes.label * 0.55);
    let of = say::recent(punch.hits);
    let label = text::caps_at(painter, label_at, &of, regular(sizes.label), p.soft);

    let mut left = unit.right().max(label.right()) + scene.layout.gap * 2.0;
    let both = Rect::from_min_max(rect.min, pos2(left - scene.layout.gap, rect.bottom()));
    if let Some(kept) = change::chosen(scene, state) {
        let room = Rect::from_min_max(pos2(left, rect.top()), rect.max);
        left = change::show(ui, room, kept, scene) + scene.layout.gap * 2.0;
    }
    let range = match (punch.contrast_p10_db, punch.contrast_p90_db) {
        (Some(low), Some(high)) => words::span(low, high, "dB"),
        _ => number(None),
    };
    let spoken = say::spoken_contrast(punch);
    let among = punch.contrast_db.filter(|_| compares(scene));
    let among = among.map(words::records::contrast_among_records);
    panel::spot(ui, both, scene.id(ui, "contrast"), &spoken, |ui| {
        let mut lines = vec![words::definition(Term::Contrast)];
        lines.extend(among.as_deref());
        panel::tip(ui, p, words::term_label(Term::Contrast), &lines);
    });
    let wanted = painter.layout_no_wrap(say::TENTHS.to_owned(), regular(sizes.label), p.soft);
    if left + wanted.size().x > rect.right() {
        return;
    }
    let at = pos2(left, rect.top() + 0.714 * (sizes.figure - sizes.value));
    let range_rect = text::caps_at(painter, at, &range, bold(sizes.value), color);
    let at = pos2(left, label_at.y);
    let range_label = text::caps_at(painter, at, say::TENTHS, regular(sizes.label), p.soft);

    let right = range_rect.right().max(range_label.right());
    let tenths = Rect::from_min_max(pos2(left, rect.top()), pos2(right, rect.bottom()));
    panel::spot(ui, tenths, scene.id(ui, "tenths"), &format!("{}: {range}", say::TENTHS), |ui| {
        let lines = [words::definition(Term::ContrastP10), words::definition(Term::ContrastP90)];
        panel::tip(ui, p, say::TENTHS, &lines);
    });

    let verdict_left = right + scene.layout.gap * 2.0;
    let width = rect.right() - verdict_left;
    let heard = scene.display.readings.loudness.integrated_lufs.is_some();
    if width > 120.0 && heard {
        let rows = (rect.height() / (sizes.body * 1.36)).floor().max(1.0) as usize;
        let verdict = words::verdict(&scene.display.readings);
        // The range is in the tip: the one of the last hits is to the left already.
        let short = words::short_verdict(&scene.display.readings);
        let galley = text::balanced(painter, &short, regular(sizes.body), p.text, width, rows);
        let room = Rect::from_min_size(pos2(verdict_left, rect.top() - 3.0), galley.size());
        painter.galley(room.min, galley, p.text);
        panel::spot(ui, room, scene.id(ui, "verdict"), &verdict, |ui| {
            panel::tip(ui, p, say::VERDICT, &[&verdict]);
        });
    }
}

/// What to do while there are no hits.
fn nothing(ui: &Ui, rect: Rect, scene: &Scene<'_>) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let width = rect.width().min(sizes.body * 36.0);
    let head = text::wrapped(painter, say::NO_HITS, bold(sizes.name), p.text, width, 2);
    let how = if scene.role == Role::Drums { say::NO_STROKES_HOW } else { say::NO_HITS_HOW };
    let body = text::balanced(painter, how, regular(sizes.body), p.soft, width, 4);
    let size = vec2(head.size().x.max(body.size().x), head.size().y + 4.0 + body.size().y);
    let spot = Rect::from_min_size(rect.min, size);
    let low =
        Rect::from_min_max(pos2(rect.left(), spot.bottom() + scene.layout.gap * 1.5), rect.max);
    if low.height() > 24.0 {
        strokes::ghosts(painter, low, p);
    }
    painter.galley(spot.min, Arc::clone(&head), p.text);
    painter.galley(pos2(spot.left(), spot.top() + head.size().y + 4.0), body, p.soft);
    let name = format!("{}. {how}", say::NO_HITS);
    panel::spot(ui, spot, scene.id(ui, "no hits"), &name, |ui| {
        panel::tip(ui, p, words::term_label(Term::Hits), &[words::definition(Term::Hits)]);
    });
}
