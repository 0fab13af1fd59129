//! The shape of a hit as a row of strokes, one a moment: a solid stem for what is left, a hollow cap
//! for what the other has more, dashes for the kept pass. Where the other has less, a notch in the
//! stem shows how far it goes.
//!
//! Moments stand at equal distances, so that the attack, a millisecond a stroke, takes the room it
//! needs: 5 ms a stroke up to 10 ms before the onset, 1 ms up to 30 ms behind it, then 5 and 10.

use egui::{Align2, Painter, Rect, Sense, Stroke, Ui, pos2, vec2};

use brunt_report::report::{DrumShape, ShapeReport};
use brunt_report::words::{self, shape as say};

use super::super::fonts::{bold, regular};
use super::super::hits::strokes::{cap, tick};
use super::super::panel;
use super::super::parts;
use super::super::scene::Scene;
use super::super::text;
use super::other::{Other, Version};
use crate::kept::KeptPass;

/// Step of the scale, dB.
const STEP_DB: f64 = 6.0;
/// Least upper end of the scale, dB.
const LEAST_TOP_DB: f64 = 12.0;
/// Lower end of the scale, dB: under the surroundings by so much, a stroke is a foot on the ground.
const LOW_DB: f64 = -6.0;
/// Difference that is too small to be drawn, dB.
const LEAST_DB: f64 = 0.3;
/// Where the columns of the numbers begin, and the last ends, as shares of the width: the middle one has
/// the longest name.
const COLUMNS: [f32; 4] = [0.0, 0.3, 0.7, 1.0];
/// Moments under the axis, ms.
const LABELS_MS: [f64; 10] = [-50.0, -10.0, 0.0, 5.0, 10.0, 20.0, 30.0, 60.0, 100.0, 200.0];

/// Draws the picture and its numbers; those of the hits at one drum alone, where one is chosen: of the
/// others no shape by drum is known.
pub fn show(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    kept: Option<&KeptPass>,
    at: Option<&DrumShape>,
) {
    let Some(shape) = scene.display.shape.as_deref() else {
        parts::empty(ui, rect, scene, say::NO_SHAPE, &[], &[]);
        return;
    };
    let shape = at.map_or(shape, |at| &at.shape);
    let this = Version { name: say::THIS, shape };
    let side = scene.display.side_shape.as_deref().zip(Other::of(scene)).filter(|_| at.is_none());
    let other = side.map(|(shape, other)| (Version { name: other.name(), shape }, other));
    let kept = kept.and_then(|kept| kept.shape.as_ref()).filter(|_| at.is_none());
    let kept = kept.map(|shape| Version { name: say::KEPT, shape });
    let versions: Vec<Version<'_>> =
        [Some(this), other.map(|(version, _)| version), kept].into_iter().flatten().collect();

    let size = scene.layout.sizes.label;
    let foot = figures_height(scene);
    let figures = Rect::from_min_max(pos2(rect.left(), rect.bottom() - foot), rect.max);
    let plot = Rect::from_min_max(
        rect.min + vec2(size * 2.4, size * 1.7),
        pos2(rect.right() - size * 0.6, figures.top() - size * 2.2),
    );
    if plot.height() > size * 4.0 {
        let axes = Axes::new(plot, &versions);
        legend(ui, plot, scene, other.map(|(_, other)| other), kept.is_some());
        axes.ground(ui, scene, shape);
        axes.strokes(ui.painter(), scene, this, other, kept);
        axes.peaks(ui.painter(), scene, this, other);
        axes.point_at(ui, scene, &versions);
    }
    figures_of(ui, figures, scene, &versions, at);
}

/// Where a moment and a level are on the screen.
struct Axes {
    plot: Rect,
    points: usize,
    top_db: f64,
}

impl Axes {
    fn new(plot: Rect, versions: &[Version<'_>]) -> Self {
        let points = versions.iter().map(|version| version.shape.points()).min().unwrap_or(0);
        let most =
            |list: &[Option<f64>]| list.iter().take(points).flatten().copied().fold(0.0, f64::max);
        let highest = versions
            .iter()
            .map(|version| most(&version.shape.peak_db).max(most(&version.shape.high_db)))
            .fold(LEAST_TOP_DB - 1.0, f64::max);
        Self { plot, points, top_db: ((highest + 1.0) / STEP_DB).ceil() * STEP_DB }
    }

    fn step(&self) -> f32 {
        self.plot.width() / self.points.max(1) as f32
    }

    /// Middle of a point's stroke.
    fn x(&self, point: usize) -> f32 {
        self.plot.left() + (point as f32 + 0.5) * self.step()
    }

    fn y(&self, db: f64) -> f32 {
        let share = (db - LOW_DB) / (self.top_db - LOW_DB);
        self.plot.bottom() - share.clamp(0.0, 1.0) as f32 * self.plot.height()
    }

    /// Everything behind the strokes: the range, the scale, the moments, the surroundings.
    fn ground(&self, ui: &Ui, scene: &Scene<'_>, shape: &ShapeReport) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let half = self.step() / 2.0;
        for point in 0..self.points {
            if let (Some(low), Some(high)) = (shape.low_db[point], shape.high_db[point]) {
                let x = self.x(point);
                let band = Rect::from_x_y_ranges(x - half..=x + half, self.y(high)..=self.y(low));
                painter.rect_filled(band, 0.0, p.band);
            }
        }
        // Its fill alone is near the panel's colour: what it means must be seen.
        for end in [&shape.low_db, &shape.high_db] {
            self.outline(painter, end, Stroke::new(1.0, p.edge));
        }
        let steps = ((self.top_db - LOW_DB) / STEP_DB) as i32;
        let every = if self.plot.height() / steps as f32 > size * 1.7 { 1 } else { 2 };
        for step in (0..=(self.top_db / STEP_DB) as i32).step_by(every) {
            let db = f64::from(step) * STEP_DB;
            let y = self.y(db);
            painter.hline(self.plot.x_range(), y, Stroke::new(1.0, p.hairline));
            let at = pos2(self.plot.left() - 6.0, y);
            let label = format!("{db:.0}");
            text::line(painter, at, Align2::RIGHT_CENTER, &label, regular(size), p.soft);
        }
        let at = pos2(self.plot.left() - 6.0, self.plot.top() - size * 1.15);
        text::line(painter, at, Align2::RIGHT_CENTER, "dB", regular(size), p.soft);
        painter.hline(self.plot.x_range(), self.y(0.0), Stroke::new(1.5, p.edge));

        let y = self.plot.bottom() + size * 1.1;
        let mut free = self.plot.left() - 2.0 * size;
        for point in 0..self.points {
            let ms = shape.times_ms[point];
            if ms == 0.0 {
                // The onset lies between this point and the next.
                let x = self.x(point) + half;
                painter.vline(x, self.plot.y_range(), Stroke::new(1.0, p.edge));
            }
            if !LABELS_MS.contains(&ms) && point + 1 < self.points {
                continue;
            }
            let x = if ms == 0.0 { self.x(point) + half } else { self.x(point) };
            let mark = Stroke::new(1.0, p.edge);
            painter.vline(x, self.plot.bottom()..=self.plot.bottom() + 3.0, mark);
            // The first carries the unit, and begins where the axis does.
            let (shown, from, align) = if point == 0 {
                (format!("{ms:.0} {}", say::MS), self.plot.left() - size, Align2::LEFT_CENTER)
            } else {
                (format!("{ms:.0}"), x, Align2::CENTER_CENTER)
            };
            let galley = painter.layout_no_wrap(text::minus(&shown), regular(size), p.soft);
            let label = align.anchor_size(pos2(from, y), galley.size());
            if label.left() > free && label.right() < self.plot.right() + size * 1.2 {
                painter.galley(label.min, galley, p.soft);
                free = label.right() + size * 0.4;
            }
        }
    }

    /// The levels.
    fn strokes(
        &self,
        painter: &Painter,
        scene: &Scene<'_>,
        this: Version<'_>,
        other: Option<(Version<'_>, Other)>,
        kept: Option<Version<'_>>,
    ) {
        let p = scene.palette;
        let half = (self.step() * 0.34).max(1.0);
        for point in 0..self.points {
            let x = self.x(point);
            let wide = x - half..=x + half;
            let ground = self.plot.bottom();
            let Some(level) = this.shape.level_db[point] else { continue };
            let top = self.y(level).min(ground - 1.0);
            painter.rect_filled(Rect::from_x_y_ranges(wide.clone(), top..=ground), 0.0, p.bone);
            if let Some(then) = other.and_then(|(version, _)| version.shape.level_db[point]) {
                let there = self.y(then);
                if then - level >= LEAST_DB {
                    let hollow =
                        Rect::from_x_y_ranges(wide.clone(), there.min(top - 3.0)..=top - 1.0);
                    cap(painter, hollow, p);
                } else if level - then >= LEAST_DB && there < ground - 2.0 {
                    painter.hline(wide.clone(), there, Stroke::new(1.5, p.copper));
                }
            }
            if let Some(then) = kept.and_then(|version| version.shape.level_db[point]) {
                // Every third at most: dashes, not a line.
                if self.step() > 7.0 || point % 3 != 2 {
                    let over = half + if self.step() > 7.0 { 1.0 } else { 0.5 };
                    tick(painter, (x - over..=x + over).into(), self.y(then), p);
                }
            }
        }
    }

    /// The peaks, as steps over the strokes.
    fn peaks(
        &self,
        painter: &Painter,
        scene: &Scene<'_>,
        this: Version<'_>,
        other: Option<(Version<'_>, Other)>,
    ) {
        let p = scene.palette;
        if let Some((version, _)) = other {
            self.outline(painter, &version.shape.peak_db, Stroke::new(1.25, p.copper));
        }
        self.outline(painter, &this.shape.peak_db, Stroke::new(1.25, p.text));
    }

    /// Levels as steps from moment to moment, with gaps where they are not known.
    fn outline(&self, painter: &Painter, list: &[Option<f64>], stroke: Stroke) {
        let mut run = Vec::new();
        let half = self.step() / 2.0;
        for point in 0..=self.points {
            let Some(db) = list.get(point).copied().flatten().filter(|_| point < self.points)
            else {
                painter.line(std::mem::take(&mut run), stroke);
                continue;
            };
            let (x, y) = (self.x(point), self.y(db));
            run.extend([pos2(x - half, y), pos2(x + half, y)]);
        }
    }

    /// Numbers of the moment that is pointed at, and the picture in words.
    fn point_at(&self, ui: &Ui, scene: &Scene<'_>, versions: &[Version<'_>]) {
        let p = scene.palette;
        let response = ui.interact(self.plot, scene.id(ui, "shape"), Sense::hover());
        let said: Vec<String> =
            versions.iter().map(|version| say::spoken(version.name, version.shape)).collect();
        let name = format!("{}. {}", say::TITLE, said.join(". "));
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, &name));
        let Some(pointer) = response.hover_pos() else { return };
        let place = ((pointer.x - self.plot.left()) / self.step()).max(0.0) as usize;
        let point = place.min(self.points.saturating_sub(1));
        let Some(ms) = versions.first().and_then(|this| this.shape.times_ms.get(point)) else {
            return;
        };
        let x = self.x(point);
        let ring = Rect::from_center_size(
            pos2(x, self.plot.center().y),
            vec2(self.step() + 2.0, self.plot.height()),
        );
        ui.painter().rect_stroke(ring, 1.0, Stroke::new(1.25, p.blue), egui::StrokeKind::Outside);
        response.on_hover_ui_at_pointer(|ui| {
            let lines: Vec<String> = versions
                .iter()
                .map(|version| {
                    let shape = version.shape;
                    say::levels(version.name, shape.level_db[point], shape.peak_db[point])
                })
                .collect();
            let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
            panel::tip(ui, p, &say::moment(*ms), &lines);
        });
    }
}

/// What the signs mean, over the picture's right end; what has no room is left out.
fn legend(ui: &Ui, plot: Rect, scene: &Scene<'_>, other: Option<Other>, kept: bool) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let painter = ui.painter();
    let y = plot.top() - size * 0.95;
    let more = match other {
        Some(Other::Before) => Some(say::TAKEN),
        Some(Other::Reference) => Some(say::REFERENCE_MORE),
        None => None,
    };
    let mut left = plot.left() + size * 0.5;
    let mut sign = |word: &str, width: f32, draw: &dyn Fn(Rect)| {
        let galley = painter.layout_no_wrap(word.to_owned(), regular(size), p.soft);
        if left + width + 5.0 + galley.size().x > plot.right() + 4.0 {
            return;
        }
        draw(Rect::from_min_size(pos2(left, y - size * 0.5), vec2(width, size)));
        let at = pos2(left + width + 5.0, y - galley.size().y / 2.0);
        left = at.x + galley.size().x + size * 1.2;
        painter.galley(at, galley, p.soft);
    };
    sign(say::THIS, 6.0, &|rect| {
        painter.rect_filled(rect, 0.0, p.bone);
    });
    if let Some(more) = more {
        sign(more, 6.0, &|rect| cap(painter, rect, p));
    }
    if kept {
        sign(say::KEPT, 9.0, &|rect| tick(painter, rect.x_range(), y, p));
    }
    sign(say::PEAK, 10.0, &|rect| {
        painter.hline(rect.x_range(), y, Stroke::new(1.25, p.text));
    });
    sign(say::RANGE, 10.0, &|rect| {
        painter.rect_filled(rect, 0.0, p.band);
        for y in [rect.top(), rect.bottom()] {
            painter.hline(rect.x_range(), y, Stroke::new(1.0, p.edge));
        }
    });
}

fn figures_height(scene: &Scene<'_>) -> f32 {
    let sizes = scene.layout.sizes;
    (sizes.value * 0.95 + sizes.label * 2.1).ceil()
}

/// Height, space behind and attack: of this mix in large, of the others under it.
fn figures_of(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    versions: &[Version<'_>],
    at: Option<&DrumShape>,
) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let only = at.map_or_else(|| say::ALONE.to_owned(), say::at_drum_of);
    let painter = ui.painter();
    let Some((this, others)) = versions.split_first() else { return };
    for (place, (name, x)) in say::numbers(this.shape).into_iter().enumerate() {
        let Some(fact) = say::fact(name) else { continue };
        let column = Rect::from_min_size(
            pos2(rect.left() + rect.width() * COLUMNS[place], rect.top()),
            vec2(
                rect.width() * (COLUMNS[place + 1] - COLUMNS[place]) - scene.layout.gap,
                rect.height(),
            ),
        );
        let shown = words::value(x, fact.unit);
        let at = pos2(column.left(), column.top() + sizes.value * 0.6);
        let value = text::line(painter, at, Align2::LEFT_CENTER, &shown, bold(sizes.value), p.text);
        let at = pos2(value.right() + 6.0, at.y + sizes.value * 0.1);
        let room = column.right() - at.x;
        text::line_within(
            painter,
            at,
            Align2::LEFT_CENTER,
            fact.label,
            regular(sizes.label),
            p.soft,
            room,
        );
        let of = |version: &Version<'_>| {
            let x = say::numbers(version.shape)[place].1;
            format!("{} {}", version.name, words::value(x, fact.unit))
        };
        let more: Vec<String> = others.iter().map(of).collect();
        let under = more.join(", ");
        let at = pos2(column.left(), column.bottom() - sizes.label * 0.7);
        let alone = if place == 0 && others.is_empty() { only.as_str() } else { "" };
        // Whole numbers, as many as have room: the tip has all of them.
        let wide = |line: &str| {
            let galley = painter.layout_no_wrap(line.to_owned(), regular(sizes.label), p.soft);
            galley.size().x
        };
        let fits = |line: &String| wide(line) <= column.width();
        let shorter = (1..=more.len()).rev().map(|count| more[..count].join(", ")).find(fits);
        let shorter = shorter.unwrap_or_else(|| under.clone());
        let (line, room) = if alone.is_empty() {
            (shorter.as_str(), column.width())
        } else {
            (alone, rect.width())
        };
        text::line_within(
            painter,
            at,
            Align2::LEFT_CENTER,
            line,
            regular(sizes.label),
            p.soft,
            room,
        );
        let spoken = format!("{}: {shown}. {under}", fact.label);
        panel::spot(ui, column, scene.id(ui, name), &spoken, |ui| {
            panel::tip(ui, p, fact.label, &[fact.meaning, say::TIP]);
        });
    }
}
