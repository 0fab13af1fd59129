//! The side-chain beside the mix.

use egui::{Align2, Rect, Ui, pos2};

use brunt_report::words::{self, Term, editor, views as say};

use super::fonts::{bold, regular};
use super::panel;
use super::parts;
use super::scene::{Scene, number};
use super::text;
use crate::display::Controls;

/// Draws the view.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>, _controls: &mut dyn Controls) {
    let side = &scene.display.readings.side;
    if side.integrated_lufs.is_none() && !side.signal {
        parts::empty(ui, rect, scene, say::NO_COMPARE, &[say::NO_COMPARE_HOW], &[]);
        return;
    }
    let loudness = &scene.display.readings.loudness;
    let rows = [
        (Term::Momentary, scene.display.live.momentary_lufs, side.momentary_lufs),
        (Term::Integrated, loudness.integrated_lufs, side.integrated_lufs),
    ];
    table(ui, rect, scene, &rows);
}

/// Rows of one reading for both, and their difference.
fn table(ui: &Ui, rect: Rect, scene: &Scene<'_>, rows: &[(Term, Option<f64>, Option<f64>)]) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let first = rect.left() + rect.width() * 0.28;
    let step = (rect.right() - first) / 3.0;
    let columns = [first + step * 0.85, first + step * 1.85, first + step * 2.85];
    let top = rect.top() + scene.layout.gap + sizes.label;
    for (x, head) in columns.into_iter().zip([say::THIS_MIX, say::SIDE, say::LOUDER_BY]) {
        let width = step - 6.0;
        let galley = text::wrapped(painter, head, regular(sizes.label), p.soft, width, 2);
        let at = pos2(x - galley.size().x, top - galley.size().y / 2.0);
        painter.galley(at, galley, p.soft);
    }
    let mut y = top + sizes.value * 1.8;
    for (term, mix, side) in rows {
        let at = pos2(rect.left(), y);
        let label = words::term_label(*term);
        text::line(painter, at, Align2::LEFT_CENTER, label, regular(sizes.body), p.text);
        let difference = mix.zip(*side).map(|(mix, side)| mix - side);
        let unit = words::term_unit(*term);
        let signed = difference.map_or("\u{2013}".to_owned(), |x| words::signed(Some(x), ""));
        for (x, (value, unit)) in
            columns.into_iter().zip([(number(*mix), unit), (number(*side), unit), (signed, "LU")])
        {
            let at = pos2(x, y);
            let unit =
                text::line(painter, at, Align2::RIGHT_CENTER, unit, regular(sizes.label), p.soft);
            let at = pos2(unit.left() - 3.0, y);
            text::line(painter, at, Align2::RIGHT_CENTER, &value, bold(sizes.value), p.text);
        }
        let row =
            Rect::from_x_y_ranges(rect.x_range(), y - sizes.value * 0.8..=y + sizes.value * 0.8);
        let name = format!(
            "{label}: {} {}, {} {}, {} {}",
            say::THIS_MIX,
            words::value(*mix, unit),
            say::SIDE,
            words::value(*side, unit),
            say::LOUDER_BY,
            words::signed(difference, "LU")
        );
        panel::spot(ui, row, scene.id(ui, label), &name, |ui| {
            panel::tip(ui, p, label, &[words::definition(*term), editor::SIDE_SIGNAL]);
        });
        y += sizes.value * 1.9;
    }
}
