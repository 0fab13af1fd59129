//! The spectra of the comparison: third octaves of this mix against the other, and the hits'
//! over their surroundings. Both have one axis of frequency.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};

use brunt_engine::thresholds::HIT_CONTRAST_DB;
use brunt_engine::{over_curve_db, over_reference_db, third_hz};
use brunt_report::report::SpectrumReport;
use brunt_report::words::{page, shape as say};

use super::super::fonts::{bold, regular};
use super::super::hits::strokes::cap;
use super::super::panel;
use super::super::parts;
use super::super::scene::Scene;
use super::super::text;
use super::other::Other;
use crate::words::views;

/// Lowest and highest frequency of the axis, Hz: the edges of the third octaves of 25 Hz and 20 kHz.
const RANGE_HZ: (f64, f64) = (22.4, 22_387.0);
/// Frequencies under the axis, Hz.
const LABELS_HZ: [f64; 9] = [31.5, 63.0, 125.0, 250.0, 500.0, 1e3, 2e3, 4e3, 8e3];
/// Least end of the scale of differences either way, dB.
const LEAST_END_DB: f64 = 6.0;
/// Step of both scales, dB.
const STEP_DB: f64 = 6.0;

/// Draws both pictures.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>) {
    let size = scene.layout.sizes.label;
    let balance = &scene.display.readings.balance;
    let other = Other::of(scene);
    let thirds_of = match other {
        Some(Other::Before) => &balance.before_thirds_dbfs,
        _ => &balance.reference_thirds_dbfs,
    };
    let against = over_reference_db(&balance.thirds_dbfs, thirds_of);
    let known = |bands: &[Option<f64>]| bands.iter().any(Option::is_some);
    let thirds = |title, bands: &[Option<f64>; brunt_engine::THIRDS]| {
        let bands = bands.iter().enumerate().map(|(k, db)| Band::third(third_hz(k), *db));
        (title, bands.collect::<Vec<_>>())
    };
    let (title, bands) = if known(&against)
        && let Some(other) = other
    {
        let title = match other {
            Other::Before => say::AGAINST_BEFORE,
            Other::Reference => say::AGAINST_REFERENCE,
        };
        thirds(title, &against)
    } else if let Some(bands) = three(scene) {
        (say::AGAINST_BEFORE, bands)
    } else {
        thirds(say::AGAINST_CURVE, &over_curve_db(&balance.thirds_dbfs))
    };
    if !bands.iter().any(|band| band.db.is_some()) {
        parts::empty(ui, rect, scene, say::NO_SPECTRUM, &[], &[]);
        return;
    }
    let axis = size * 1.9;
    let half = (rect.height() - axis) / 2.0;
    let upper = Rect::from_min_size(rect.min, vec2(rect.width(), half));
    let lower = Rect::from_min_size(pos2(rect.left(), upper.bottom()), vec2(rect.width(), half));
    differences(ui, upper, scene, title, &bands);
    let plot = over(ui, lower, scene, scene.display.spectrum.as_deref());
    frequencies(ui, plot, scene);
}

/// A band of the upper picture.
struct Band {
    name: String,
    low_hz: f64,
    high_hz: f64,
    db: Option<f64>,
}

impl Band {
    fn third(hz: f64, db: Option<f64>) -> Self {
        let edge = 10f64.powf(0.05);
        Self { name: page::frequency(hz), low_hz: hz / edge, high_hz: hz * edge, db }
    }
}

/// Low, mid and high against the mix before the limiter.
fn three(scene: &Scene<'_>) -> Option<Vec<Band>> {
    let compare = scene.display.readings.compare.as_ref()?;
    let differences = compare.band_difference_db?;
    if Other::of(scene) != Some(Other::Before) {
        return None;
    }
    use brunt_engine::thresholds::{LOW_MID_HZ, MID_HIGH_HZ};
    let edges = [RANGE_HZ.0, LOW_MID_HZ, MID_HIGH_HZ, RANGE_HZ.1];
    let band = |k: usize| Band {
        name: views::BANDS[k].to_owned(),
        low_hz: edges[k],
        high_hz: edges[k + 1],
        db: differences[k],
    };
    Some((0..3).map(band).collect())
}

fn plot_of(rect: Rect, scene: &Scene<'_>) -> Rect {
    let size = scene.layout.sizes.label;
    Rect::from_min_max(
        rect.min + vec2(size * 2.4, size * 1.9),
        rect.max - vec2(size * 0.6, size * 0.5),
    )
}

fn x(plot: Rect, hz: f64) -> f32 {
    let share = (hz / RANGE_HZ.0).ln() / (RANGE_HZ.1 / RANGE_HZ.0).ln();
    plot.left() + plot.width() * share.clamp(0.0, 1.0) as f32
}

/// Title of a picture.
fn title(ui: &Ui, plot: Rect, scene: &Scene<'_>, words: &str) -> Rect {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let at = pos2(plot.left(), plot.top() - size * 0.95);
    text::line(ui.painter(), at, Align2::LEFT_CENTER, words, bold(size), p.text)
}

/// Bars from the zero line: up is more in this mix.
fn differences(ui: &Ui, rect: Rect, scene: &Scene<'_>, name: &str, bands: &[Band]) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let plot = plot_of(rect, scene);
    let painter = ui.painter();
    title(ui, plot, scene, name);
    let largest =
        bands.iter().filter_map(|band| band.db).map(f64::abs).fold(LEAST_END_DB, f64::max);
    let end = (largest / STEP_DB).ceil() * STEP_DB;
    let y = |db: f64| plot.center().y - plot.height() / 2.0 * (db / end).clamp(-1.0, 1.0) as f32;
    for (db, label) in
        [(end, format!("+{end:.0}")), (0.0, "0".into()), (-end, format!("-{end:.0}"))]
    {
        let line = Stroke::new(1.0, if db == 0.0 { p.edge } else { p.hairline });
        painter.hline(plot.x_range(), y(db), line);
        let at = pos2(plot.left() - 6.0, y(db));
        text::line(painter, at, Align2::RIGHT_CENTER, &label, regular(size), p.soft);
    }
    for (k, band) in bands.iter().enumerate() {
        let room =
            Rect::from_x_y_ranges(x(plot, band.low_hz)..=x(plot, band.high_hz), plot.y_range());
        if let Some(db) = band.db {
            let inset = (room.width() * 0.18).min(4.0);
            let (top, bottom) = (y(db.max(0.0)), y(db.min(0.0)));
            let wide = room.left() + inset..=room.right() - inset;
            let bar = Rect::from_x_y_ranges(wide, top..=bottom.max(top + 1.0));
            painter.rect_filled(bar, 0.0, p.bone);
        }
        let spoken =
            format!("{name}, {}: {}", band.name, brunt_report::words::signed(band.db, "dB"));
        panel::spot(ui, room, scene.id(ui, "difference").with(k), &spoken, |ui| {
            panel::tip(ui, p, name, &[&spoken, say::AGAINST_TIP]);
        });
    }
}

/// Strokes of the hits' bands; gives the room of the picture.
fn over(ui: &Ui, rect: Rect, scene: &Scene<'_>, spectrum: Option<&SpectrumReport>) -> Rect {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let plot = plot_of(rect, scene);
    let painter = ui.painter();
    let taken = title(ui, plot, scene, say::HITS_OVER);
    let bands = spectrum.map_or(&[][..], |spectrum| &spectrum.bands);
    let highest = bands.iter().filter_map(|band| band.high_db).fold(LEAST_END_DB, f64::max);
    let end = (highest / STEP_DB).ceil() * STEP_DB;
    let y = |db: f64| plot.bottom() - plot.height() * (db / end).clamp(0.0, 1.0) as f32;
    let steps = (end / STEP_DB) as usize;
    let every = (steps as f32 * size * 1.7 / plot.height()).ceil().max(1.0) as usize;
    for step in (0..=steps).step_by(every) {
        let db = step as f64 * STEP_DB;
        if step > 0 {
            painter.hline(plot.x_range(), y(db), Stroke::new(1.0, p.hairline));
        }
        let at = pos2(plot.left() - 6.0, y(db));
        let label = format!("{db:.0}");
        text::line(painter, at, Align2::RIGHT_CENTER, &label, regular(size), p.soft);
    }
    for (k, band) in bands.iter().enumerate() {
        let edge = 10f64.powf(0.05);
        let room = Rect::from_x_y_ranges(
            x(plot, band.hz / edge)..=x(plot, band.hz * edge),
            plot.y_range(),
        );
        if let (Some(low), Some(high)) = (band.low_db, band.high_db) {
            let range = Rect::from_x_y_ranges(room.x_range(), y(high)..=y(low));
            painter.rect_filled(range, 0.0, p.band);
            for end in [range.top(), range.bottom()] {
                painter.hline(range.x_range(), end, Stroke::new(1.0, p.edge));
            }
        }
        if let Some(db) = band.over_db {
            let inset = (room.width() * 0.18).min(4.0);
            let wide = room.left() + inset..=room.right() - inset;
            if db < HIT_CONTRAST_DB {
                // Up to where it would stand out.
                let hollow = Rect::from_x_y_ranges(wide, (plot.bottom() - 6.0)..=plot.bottom());
                cap(painter, hollow, p);
            } else {
                let stem = Rect::from_x_y_ranges(wide, y(db)..=plot.bottom());
                painter.rect_filled(stem, 0.0, p.bone);
            }
        }
        let spoken = format!("{}, {}", say::HITS_OVER, say::third(band.hz, band.over_db));
        panel::spot(ui, room, scene.id(ui, "hits over").with(k), &spoken, |ui| {
            panel::tip(
                ui,
                p,
                say::HITS_OVER,
                &[&say::third(band.hz, band.over_db), say::HITS_OVER_TIP],
            );
        });
    }
    let bed = Rect::from_x_y_ranges(plot.x_range(), plot.bottom()..=plot.bottom() + 2.0);
    painter.rect_filled(bed, 0.0, p.edge);
    let mut right = plot.right();
    for (word, hollow) in [(say::DROWNS, true), (say::THROUGH, false)] {
        let galley = painter.layout_no_wrap(word.to_owned(), regular(size), p.soft);
        let left = right - galley.size().x;
        if left - size * 2.0 < taken.right() {
            break;
        }
        let mid = taken.center().y;
        painter.galley(pos2(left, mid - galley.size().y / 2.0), galley, p.soft);
        let swatch = Rect::from_center_size(pos2(left - 9.0, mid), vec2(6.0, size));
        if hollow {
            cap(painter, swatch, p);
        } else {
            painter.rect_filled(swatch, 0.0, p.bone);
        }
        right = swatch.left() - size;
    }
    plot
}

/// Frequencies under the lower picture.
fn frequencies(ui: &Ui, plot: Rect, scene: &Scene<'_>) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let painter = ui.painter();
    let y = plot.bottom() + size * 1.3;
    let mut free = plot.left() - size * 2.0;
    for hz in LABELS_HZ {
        let at = x(plot, hz);
        painter.vline(at, plot.bottom() + 2.0..=plot.bottom() + 5.0, Stroke::new(1.0, p.edge));
        let galley = painter.layout_no_wrap(page::frequency(hz), regular(size), p.soft);
        let label = Align2::CENTER_CENTER.anchor_size(pos2(at, y), galley.size());
        if label.left() > free {
            painter.galley(label.min, galley, p.soft);
            free = label.right() + size * 0.5;
        }
    }
}
