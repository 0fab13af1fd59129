//! Loudness and peaks, in numbers.

use egui::{Align2, Rect, Ui, pos2, vec2};

use brunt_report::words::{self, Term};

use super::fonts::{bold, regular};
use super::panel;
use super::scene::{Scene, number};
use super::text;
use crate::display::Controls;
use crate::words::editor as say;

/// One reading with what is held beside it.
struct Cell {
    term: Term,
    value: Option<f64>,
    held: Option<(&'static str, Term, Option<f64>)>,
}

/// Draws the panel.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (inner, head) = panel::open(ui, rect, say::READINGS, scene.layout, scene.palette);
    header(ui, head, scene, controls);
    const COLUMNS: usize = 4;
    let size = vec2(inner.width() / COLUMNS as f32, inner.height() / 2.0);
    for (i, cell) in cells(scene).iter().enumerate() {
        let (column, row) = ((i % COLUMNS) as f32, (i / COLUMNS) as f32);
        let at = inner.min + vec2(column * size.x, row * size.y);
        show_cell(ui, Rect::from_min_size(at, size), cell, scene);
    }
}

/// The reset, how much was measured, and what went wrong with the input.
fn header(ui: &Ui, head: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let look = scene.look();
    let width = look.button_width(ui, say::RESET);
    let button = Rect::from_min_max(pos2(head.right() - width, head.top()), head.max);
    let name = say::RESET_NAME;
    let reset = look.button(ui, button, scene.id(ui, "reset"), say::RESET, name);
    if reset.on_hover_text(say::RESET_TIP).clicked() {
        controls.reset();
    }
    let mut right = button.left() - 10.0;
    let input = &scene.display.readings.input;
    let health = say::health(input.nan_samples, input.inf_samples, scene.display.dropped);
    if let Some(health) = health {
        let at = pos2(right, head.center().y);
        let room = right - head.left();
        let taken = text::line_within(
            ui.painter(),
            at,
            Align2::RIGHT_CENTER,
            &health,
            bold(size),
            p.copper,
            room,
        );
        panel::spot(ui, taken, scene.id(ui, "health"), &health, |ui| {
            let lines = [
                words::definition(Term::NanSamples),
                words::definition(Term::InfSamples),
                say::DROPPED_TIP,
            ];
            panel::tip(ui, p, &health, &lines);
        });
        right = taken.left() - 10.0;
    }
    let measured = say::measured(scene.display.readings.time_s);
    let at = pos2(right, head.center().y);
    let galley = ui.painter().layout_no_wrap(measured, regular(size), p.soft);
    if galley.size().x <= right - head.left() {
        let place = Align2::RIGHT_CENTER.anchor_size(at, galley.size());
        ui.painter().galley(place.min, galley, p.soft);
    }
}

fn cells(scene: &Scene<'_>) -> [Cell; 8] {
    let loudness = &scene.display.readings.loudness;
    let live = &scene.display.live;
    let sample = if scene.layout.small { say::SAMPLE_SHORT } else { say::SAMPLE };
    let plain = |term, value| Cell { term, value, held: None };
    [
        Cell {
            term: Term::Momentary,
            value: live.momentary_lufs.or(loudness.momentary_lufs),
            held: Some((say::MAX, Term::MomentaryMax, loudness.momentary_max_lufs)),
        },
        Cell {
            term: Term::ShortTerm,
            value: live.short_term_lufs.or(loudness.short_term_lufs),
            held: Some((say::MAX, Term::ShortTermMax, loudness.short_term_max_lufs)),
        },
        plain(Term::Integrated, loudness.integrated_lufs),
        plain(Term::Range, loudness.range_lu),
        Cell {
            term: Term::TruePeak,
            value: live.true_peak_dbtp.or(loudness.true_peak_dbtp),
            held: Some((sample, Term::SamplePeak, loudness.sample_peak_dbfs)),
        },
        plain(Term::Plr, loudness.plr_db),
        Cell {
            term: Term::Psr,
            value: live.psr_db.or(loudness.psr_db),
            held: Some((say::MIN, Term::PsrMin, loudness.psr_min_db)),
        },
        plain(Term::PsrMedian, loudness.psr_median_db),
    ]
}

fn show_cell(ui: &Ui, rect: Rect, cell: &Cell, scene: &Scene<'_>) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let unit = words::term_unit(cell.term);
    let small = scene.layout.small;
    let width = rect.width() - 2.0;
    let height = rect.height();
    let line = |part: f32| pos2(rect.left(), rect.top() + height * part);
    let label = if small {
        format!("{} {unit}", say::shortest_label(cell.term))
    } else {
        say::short_label(cell.term).to_owned()
    };
    let font = regular(sizes.label);
    text::line_within(painter, line(0.14), Align2::LEFT_CENTER, &label, font, p.soft, width);

    let color = if cell.value.is_some() { p.text } else { p.soft };
    let value = number(cell.value);
    let at = line(0.47);
    let value = text::line(painter, at, Align2::LEFT_CENTER, &value, bold(sizes.value), color);
    if !small {
        let at = pos2(value.right() + 3.0, at.y + (sizes.value - sizes.label) * 0.32);
        text::line(painter, at, Align2::LEFT_CENTER, unit, regular(sizes.label), p.soft);
    }
    if let Some((word, _, held)) = cell.held {
        let held = format!("{word} {}", number(held));
        let font = regular(sizes.label);
        text::line_within(painter, line(0.82), Align2::LEFT_CENTER, &held, font, p.soft, width);
    }
    let mut spoken = format!("{} {}", words::term_label(cell.term), words::value(cell.value, unit));
    if let Some((_, term, held)) = cell.held {
        let more =
            format!(", {} {}", words::term_label(term), words::value(held, words::term_unit(term)));
        spoken.push_str(&more);
    }
    panel::spot(ui, rect, scene.id(ui, "reading").with(cell.term as u8), &spoken, |ui| {
        let mut lines = vec![words::definition(cell.term)];
        if let Some((_, term, _)) = cell.held {
            lines.push(words::definition(term));
        }
        panel::tip(ui, p, words::term_label(cell.term), &lines);
    });
}
