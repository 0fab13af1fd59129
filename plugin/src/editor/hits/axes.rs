//! The axes of the hits: time across, hit contrast up, the bed as ground.

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};

use brunt_engine::thresholds::records::CONTRAST_DB;
use brunt_report::words::records;

use super::super::fonts::{bold, regular};
use super::super::panel;
use super::super::scene::{Scene, number};
use super::super::text;
use super::super::theme::Palette;
use super::span::Span;
use crate::params::Role;
use crate::words::editor as say;

/// Step of the scale, dB.
const STEP_DB: f64 = 6.0;
/// Least upper end of the scale, dB. Ours: so that it does not jump between weak and strong bars.
const MIN_TOP_DB: f64 = 18.0;

/// Where a time and a contrast stand on the screen.
#[derive(Clone, Copy, Debug)]
pub struct Axes {
    /// The room of the strokes: its bottom is the bed.
    pub plot: Rect,
    /// Upper end of the scale, dB of hit contrast.
    pub top_db: f64,
    from_s: f64,
    px_per_s: f64,
}

impl Axes {
    /// Lays the axes into `rect` so that every hit of `span` is inside.
    #[must_use]
    pub fn new(rect: Rect, span: &Span, scene: &Scene<'_>) -> Self {
        let size = scene.layout.sizes.label;
        let inside = scene.display.hits.iter().rev().take_while(|p| p.hit.time_s >= span.from_s);
        let highest = inside
            .map(|placed| placed.hit.contrast_db + placed.hit.lost_db.unwrap_or(0.0).max(0.0))
            .fold(MIN_TOP_DB - 1.0, f64::max);
        let top_db = ((highest + 1.0) / STEP_DB).ceil() * STEP_DB;
        let plot = Rect::from_min_max(
            rect.min + vec2(size * 2.4, size * 1.7),
            rect.max - vec2(size * 4.6, size * 2.1),
        );
        let px_per_s = f64::from(plot.width()) / span.length_s().max(1e-3);
        Self { plot, top_db, from_s: span.from_s, px_per_s }
    }

    /// Place of a time, logical pixels from the left.
    #[must_use]
    pub fn x(&self, time_s: f64) -> f32 {
        self.plot.left() + ((time_s - self.from_s) * self.px_per_s) as f32
    }

    /// Place of a contrast, dB, kept within the scale.
    #[must_use]
    pub fn y(&self, db: f64) -> f32 {
        let part = (db / self.top_db).clamp(0.0, 1.0) as f32;
        self.plot.bottom() - part * self.plot.height()
    }

    /// Draws everything behind the strokes.
    pub fn paint(&self, ui: &Ui, span: &Span, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let hair = Stroke::new(1.0, p.hairline);
        let (left, right) = (self.plot.left(), self.plot.right());

        let punch = &scene.display.readings.punch_recent;
        if let (Some(low), Some(high)) = (punch.contrast_p10_db, punch.contrast_p90_db) {
            let band = Rect::from_x_y_ranges(left..=right, self.y(high)..=self.y(low));
            painter.rect_filled(band, 0.0, p.band);
        }
        let steps = (self.top_db / STEP_DB) as u32;
        // Where the steps come too close for their labels, every second one stays.
        let every = if self.plot.height() / steps as f32 > size * 1.7 { 1 } else { 2 };
        for step in (0..=steps).step_by(every) {
            let db = f64::from(step) * STEP_DB;
            let y = self.y(db);
            if step > 0 {
                painter.hline(left..=right, y, hair);
            }
            let at = pos2(left - 6.0, y);
            let label = format!("{db:.0}");
            text::line(painter, at, Align2::RIGHT_CENTER, &label, regular(size), p.soft);
        }
        let at = pos2(left - 6.0, self.plot.top() - size * 1.15);
        text::line(painter, at, Align2::RIGHT_CENTER, "dB", regular(size), p.soft);
        self.lines(ui, span, scene);
        // The bed: the ground that every hit stands on.
        let bed =
            Rect::from_x_y_ranges(left..=right, self.plot.bottom()..=self.plot.bottom() + 3.0);
        painter.rect_filled(bed, 0.0, p.edge);
        let at = pos2(right + 8.0, self.plot.bottom() + 1.5);
        text::line(painter, at, Align2::LEFT_CENTER, say::BED, regular(size), p.soft);
        if let Some(median) = punch.contrast_db {
            if compares(scene) {
                self.records(ui, scene);
            }
            self.median(ui, median, scene);
        }
    }

    /// What is usual in finished records: a bracket at the right edge, from the 10th to the 90th
    /// percentile of their hit contrast.
    fn records(&self, ui: &Ui, scene: &Scene<'_>) {
        let (low, high) = CONTRAST_DB.usual();
        let x = self.plot.right() + 2.5;
        let (top, bottom) = (self.y(high), self.y(low));
        bracket(ui.painter(), x, top, bottom, scene.palette);
        let spot = Rect::from_x_y_ranges(x - 3.0..=x + 5.0, top - 2.0..=bottom + 2.0);
        let says = records::usual_contrast();
        panel::spot(ui, spot, scene.id(ui, "records"), &says, |ui| {
            panel::tip(ui, scene.palette, records::USUAL, &[&says]);
        });
    }

    /// Bar lines or seconds, with their labels under the bed.
    fn lines(&self, ui: &Ui, span: &Span, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let unit = if span.bars { say::BARS } else { say::TIME };
        let y = self.plot.bottom() + size * 1.3;
        let at = pos2(self.plot.left() - 6.0, y);
        let mut taken =
            vec![text::line(painter, at, Align2::RIGHT_CENTER, unit, regular(size), p.soft)];
        for line in &span.lines {
            let x = self.x(line.time_s);
            let stroke = Stroke::new(1.0, if span.bars { p.edge } else { p.hairline });
            painter.vline(x, self.plot.bottom() - self.plot.height()..=self.plot.bottom(), stroke);
            let font = regular(size);
            let galley = painter.layout_no_wrap(line.label.clone(), font, p.soft);
            let label = Align2::LEFT_CENTER.anchor_size(pos2(x + 3.0, y), galley.size());
            let free = taken.iter().all(|t| !t.expand2(vec2(6.0, 0.0)).intersects(label));
            if free && label.right() <= self.plot.right() + size * 4.0 {
                painter.galley(label.min, galley, p.soft);
                taken.push(label);
            }
        }
    }

    /// The median of the recent hits: a dashed line with its number at the right.
    fn median(&self, ui: &Ui, median_db: f64, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let y = self.y(median_db);
        let ends = [pos2(self.plot.left(), y), pos2(self.plot.right() + 5.0, y)];
        painter.extend(egui::Shape::dashed_line(&ends, Stroke::new(1.25, p.text), 5.0, 4.0));
        // Two lines of text, kept clear of the bed's label below and of the panel's edge above.
        let half = size * 1.36;
        let middle = y.clamp(self.plot.top() + half * 0.5, self.plot.bottom() - size - half);
        let x = self.plot.right() + 8.0;
        let value = number(Some(median_db));
        let above = pos2(x, middle - 1.0);
        text::line(painter, above, Align2::LEFT_BOTTOM, say::MEDIAN, regular(size), p.soft);
        let below = pos2(x, middle - 1.0);
        text::line(painter, below, Align2::LEFT_TOP, &value, bold(size * 1.15), p.text);
    }
}

/// Whether the hits are those of a mix, and so can be compared with those of records.
pub fn compares(scene: &Scene<'_>) -> bool {
    scene.role == Role::Mix && scene.display.readings.punch_recent.contrast_db.is_some()
}

/// A bracket that opens to the left, at `x` from `top` to `bottom`.
pub fn bracket(painter: &Painter, x: f32, top: f32, bottom: f32, p: &Palette) {
    let line = Stroke::new(1.5, p.soft);
    painter.vline(x, top..=bottom, line);
    for y in [top, bottom] {
        painter.hline(x - 4.0..=x + 0.75, y, line);
    }
}
