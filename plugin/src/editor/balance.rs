//! Low, mid and high against the published curve.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use brunt_report::words::{self, Term};

use super::fonts::{bold, regular};
use super::panel;
use super::scene::Scene;
use super::text;
use crate::words::editor as say;

/// Least end of the scale either way, dB.
const MIN_END_DB: f64 = 6.0;

/// Draws the panel.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>) {
    let (inner, _) = panel::open(ui, rect, say::BALANCE, scene.layout, scene.palette);
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let balance = &scene.display.readings.balance;
    let painter = ui.painter();

    let foot = Rect::from_min_max(pos2(inner.left(), inner.bottom() - size * 1.3), inner.max);
    let deficit = words::signed(balance.mid_deficit_db, "dB");
    let known = balance.mid_deficit_db.is_some();
    let deficit = if known { deficit } else { super::scene::number(None) };
    let value = text::line(
        painter,
        foot.right_center(),
        Align2::RIGHT_CENTER,
        &deficit,
        bold(size),
        p.text,
    );
    let label = words::term_label(Term::MidDeficit);
    let room = value.left() - foot.left() - 4.0;
    text::line_within(
        painter,
        foot.left_center(),
        Align2::LEFT_CENTER,
        label,
        regular(size),
        p.soft,
        room,
    );
    let spoken = format!("{label} {}", words::signed(balance.mid_deficit_db, "dB"));
    panel::spot(ui, foot, scene.id(ui, "deficit"), &spoken, |ui| {
        panel::tip(ui, p, label, &[words::definition(Term::MidDeficit)]);
    });

    let bands =
        [(Term::Low, balance.low_db), (Term::Mid, balance.mid_db), (Term::High, balance.high_db)];
    let graph = Rect::from_min_max(
        inner.min + vec2(0.0, size * 0.5),
        pos2(inner.right(), foot.top() - size * 0.2),
    );
    let largest = bands.iter().filter_map(|(_, db)| *db).map(f64::abs).fold(0.0, f64::max);
    let end = (largest.max(MIN_END_DB) / 3.0).ceil() * 3.0;
    let bars = Rect::from_min_max(graph.min, pos2(graph.right(), graph.bottom() - size * 1.5));
    let gutter = size * 1.6;
    for (part, label) in
        [(0.0, format!("+{end:.0}")), (0.5, "0".into()), (1.0, format!("-{end:.0}"))]
    {
        let y = bars.top() + bars.height() * part;
        let line = Stroke::new(1.0, if part == 0.5 { p.edge } else { p.hairline });
        painter.hline(graph.left() + gutter + 5.0..=graph.right(), y, line);
        let at = pos2(graph.left() + gutter, y);
        text::line(painter, at, Align2::RIGHT_CENTER, &label, regular(size * 0.95), p.soft);
    }
    let width = (graph.width() - gutter - 5.0) / 3.0;
    for (i, (term, db)) in bands.into_iter().enumerate() {
        let left = graph.left() + gutter + 5.0 + width * i as f32;
        let column = Rect::from_x_y_ranges(left..=left + width, graph.y_range());
        show_band(ui, column, term, db, end, scene);
    }
}

/// One band: a bar from the zero line, its number at the bar's far side of the zero line, and its
/// name below.
fn show_band(ui: &Ui, column: Rect, term: Term, db: Option<f64>, end: f64, scene: &Scene<'_>) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let painter = ui.painter();
    let name_at = pos2(column.center().x, column.bottom() - size * 0.6);
    let label = words::term_label(term);
    text::line(painter, name_at, Align2::CENTER_CENTER, label, regular(size), p.soft);

    let bars = Rect::from_min_max(column.min, pos2(column.right(), column.bottom() - size * 1.5));
    let zero = bars.center().y;
    // Half a bar's room on either side, less the line of the number.
    let half = bars.height() / 2.0;
    let width = (column.width() * 0.42).min(28.0);
    let y_of = |db: f64| zero - half * (db / end).clamp(-1.0, 1.0) as f32;
    match db {
        Some(db) => {
            let y = y_of(db);
            let (top, bottom) = (y.min(zero), y.max(zero).max(y.min(zero) + 1.5));
            let center = column.center().x;
            let bar =
                Rect::from_x_y_ranges(center - width / 2.0..=center + width / 2.0, top..=bottom);
            // Weak mids are what costs punch: they alone take the colour of loss, where they do.
            let leak = scene.display.readings.leaks.mids.state;
            let leaks = leak.loses();
            let weak = term == Term::Mid && db < 0.0 && leaks;
            painter.rect_filled(bar, 0.0, if weak { p.copper } else { p.bone });
            let (at, anchor) = if db >= 0.0 {
                (pos2(center, zero + 2.0), Align2::CENTER_TOP)
            } else {
                (pos2(center, zero - 2.0), Align2::CENTER_BOTTOM)
            };
            let number = words::signed(Some(db), "");
            text::line(painter, at, anchor, &number, bold(size), p.text);
        }
        None => {
            let at = pos2(column.center().x, zero - 2.0);
            let dash = super::scene::number(None);
            text::line(painter, at, Align2::CENTER_BOTTOM, &dash, bold(size), p.soft);
        }
    }
    let spoken = format!("{} {label} {}", say::BALANCE, words::signed(db, "dB"));
    panel::spot(ui, column, scene.id(ui, "band").with(term as u8), &spoken, |ui| {
        panel::tip(ui, p, label, &[words::definition(term)]);
    });
}
