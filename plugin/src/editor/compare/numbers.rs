//! The numbers of the comparison: loudness of both, and how they differ.

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_engine::{Compare, Relation, SideRole};
use brunt_report::words::{self, Term};

use super::super::fonts::{bold, regular};
use super::super::panel;
use super::super::scene::{Scene, number};
use super::super::text;
use crate::words::{editor, views as say};

/// Draws the numbers.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>) {
    let side = &scene.display.readings.side;
    let loudness = &scene.display.readings.loudness;
    let rows = [
        (Term::Momentary, scene.display.live.momentary_lufs, side.momentary_lufs),
        (Term::Integrated, loudness.integrated_lufs, side.integrated_lufs),
    ];
    let mut rest = rect;
    rest.min.y = table(ui, rest, scene, &rows);
    if let Some(compare) = &scene.display.readings.compare {
        facts(ui, rest, scene, &facts_of(compare));
    }
}

/// One difference: its name in the JSON, what stands beside its label, its value.
type Found = (&'static str, &'static str, Option<f64>);

/// What a role tells, in two columns: what was taken from the hits, and how the two differ.
fn facts_of(compare: &Compare) -> [Vec<Found>; 2] {
    let mut differ = vec![("contrast_difference_db", "", compare.contrast_difference_db)];
    let bands = compare.band_difference_db.unwrap_or_default();
    differ.extend(
        say::BANDS.into_iter().zip(bands).map(|(band, db)| ("band_difference_db", band, db)),
    );
    match compare.role {
        SideRole::Before if compare.alignment.relation == Relation::Found => {
            let taken = vec![
                ("lost_db_median", "", compare.lost_db_median),
                ("reduction_db_median", "", compare.reduction_db_median),
                ("reduction_db_p90", "", compare.reduction_db_p90),
                ("reduction_db_max", "", compare.reduction_db_max),
            ];
            [taken, differ]
        }
        SideRole::Reference => {
            let bands = differ.split_off(1);
            [differ, bands]
        }
        SideRole::Before | SideRole::Off | SideRole::Partner => Default::default(),
    }
}

/// Draws both columns; what has no room is left to the report.
fn facts(ui: &Ui, rect: Rect, scene: &Scene<'_>, columns: &[Vec<Found>; 2]) {
    let gap = scene.layout.gap * 2.0;
    let width = (rect.width() - gap) / 2.0;
    let step = (scene.layout.sizes.body * 1.75).round();
    for (k, column) in columns.iter().enumerate() {
        let left = rect.left() + k as f32 * (width + gap);
        let mut top = rect.top();
        for fact in column {
            let row = Rect::from_min_size(pos2(left, top), vec2(width, step));
            if row.bottom() > rect.bottom() {
                break;
            }
            one(ui, row, scene, fact);
            top = row.bottom();
        }
    }
}

/// One difference in its row.
fn one(ui: &Ui, row: Rect, scene: &Scene<'_>, &(name, beside, value): &Found) {
    let Some(fact) = words::page::compare_fact(name) else { return };
    let (p, size) = (scene.palette, scene.layout.sizes.body);
    let painter = ui.painter();
    // A difference has a sign; what was lost or reduced has none.
    let shown = if name.contains("difference") {
        words::signed(value, fact.unit)
    } else {
        words::value(value, fact.unit)
    };
    let at = pos2(row.right(), row.center().y);
    let right = text::line(painter, at, Align2::RIGHT_CENTER, &shown, bold(size), p.text);
    let label = if beside.is_empty() { fact.label } else { beside };
    let room = right.left() - row.left() - 6.0;
    let at = pos2(row.left(), row.center().y);
    text::line_within(painter, at, Align2::LEFT_CENTER, label, regular(size), p.soft, room);
    panel::spot(ui, row, scene.id(ui, label), &format!("{label}: {shown}"), |ui| {
        panel::tip(ui, p, label, &[fact.meaning]);
    });
}

/// Rows of one reading for both, and their difference; gives where they end.
fn table(ui: &Ui, rect: Rect, scene: &Scene<'_>, rows: &[(Term, Option<f64>, Option<f64>)]) -> f32 {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let first = rect.left() + rect.width() * 0.28;
    let step = (rect.right() - first) / 3.0;
    let columns = [first + step, first + step * 2.0, rect.right()];
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
    y - sizes.value * 0.7
}
