//! The tracks: where each stands, and how it is drawn.

use egui::{Align2, Color32, Rect, Shape, Stroke, Ui, pos2};

use brunt_engine::LeakKind;
use brunt_report::report::HistoryReport;
use brunt_report::words::{self, Term, clock};

use super::super::fonts::{bold, regular};
use super::super::scene::{Scene, number};
use super::super::text;
use super::columns::{Columns, middle_s};

/// Most loudness in the picture, LU under its loudest point: what is lower is a pause.
const DEPTH_LU: f64 = 24.0;
/// Least upper end of the contrast, dB.
const MIN_CONTRAST_DB: f64 = 9.0;
/// Least upper end of the costs, dB: as on the bars of the leaks.
const MIN_COST_DB: f64 = 4.0;
/// Least height of a cost that is known, points: none is no gap.
const LEAST_HEIGHT: f32 = 1.5;
/// Steps of the time axis, s.
const STEPS_S: [f64; 14] =
    [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0, 3600.0];

/// The picture's places.
pub struct Tracks {
    /// The room of all curves.
    pub plot: Rect,
    from_s: f64,
    to_s: f64,
    loudness: Rect,
    contrast: Rect,
    lanes: Vec<(LeakKind, Rect)>,
    loudness_db: (f64, f64),
    contrast_db: f64,
    cost_db: f64,
}

impl Tracks {
    /// Divides `rect`.
    #[must_use]
    pub fn new(
        rect: Rect,
        now: &Columns,
        then: Option<&HistoryReport>,
        range: (f64, f64),
        scene: &Scene<'_>,
    ) -> Self {
        let size = scene.layout.sizes.label;
        let plot = Rect::from_min_max(
            pos2(rect.left() + size * 6.3, rect.top() + size * 1.4),
            pos2(rect.right() - size * 2.8, rect.bottom() - size * 1.5),
        );
        let air = size * 1.3;
        let kinds: Vec<LeakKind> = now.costs().map(|(kind, _)| kind).collect();
        let lane = (plot.height() * 0.09).clamp(size * 1.25, size * 2.2);
        let lanes_h = (lane + 3.0) * kinds.len() as f32;
        let rest = (plot.height() - lanes_h - 2.0 * air).max(2.0);
        let part =
            |top: f32, height: f32| Rect::from_x_y_ranges(plot.x_range(), top..=top + height);
        let loudness = part(plot.top(), rest * 0.45);
        let contrast = part(loudness.bottom() + air, rest * 0.55);
        let mut top = contrast.bottom() + air;
        let lanes = kinds
            .into_iter()
            .map(|kind| {
                let rect = part(top, lane);
                top += lane + 3.0;
                (kind, rect)
            })
            .collect();
        let report = now.report();
        let known = |column: fn(&HistoryReport) -> &Vec<Option<f64>>| -> Vec<f64> {
            // The kept curves have to stand in the picture as well.
            let both = [Some(report), then].into_iter().flatten();
            let mut known: Vec<f64> = both.flat_map(column).flatten().copied().collect();
            known.sort_by(f64::total_cmp);
            known
        };
        let levels = known(|history| &history.short_term_lufs);
        let high = (levels.last().copied().unwrap_or(0.0) / 3.0).ceil() * 3.0;
        let low = levels.first().copied().unwrap_or(high).max(high - DEPTH_LU);
        let contrasts = known(|history| &history.contrast_db);
        // One odd value must not flatten all others.
        let usual = contrasts.get(contrasts.len().saturating_sub(1 + contrasts.len() / 50));
        let costs = now.costs().flat_map(|(_, c)| c.iter().flatten()).copied();
        Self {
            plot,
            from_s: range.0,
            to_s: range.1,
            loudness,
            contrast,
            lanes,
            loudness_db: (((low / 3.0).floor() * 3.0).min(high - 6.0), high),
            contrast_db: (usual.copied().unwrap_or(0.0) / 3.0).ceil().max(MIN_CONTRAST_DB / 3.0)
                * 3.0,
            cost_db: costs.fold(MIN_COST_DB, f64::max),
        }
    }

    /// Place of a time.
    #[must_use]
    pub fn x(&self, time_s: f64) -> f32 {
        let share = (time_s - self.from_s) / (self.to_s - self.from_s).max(1e-3);
        self.plot.left() + self.plot.width() * share as f32
    }

    /// Time at a place, s.
    #[must_use]
    pub fn time_s(&self, x: f32) -> f64 {
        let share = f64::from((x - self.plot.left()) / self.plot.width());
        self.from_s + share.clamp(0.0, 1.0) * (self.to_s - self.from_s)
    }

    /// Stretch in the picture, s.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.from_s, self.to_s)
    }

    /// Draws everything.
    pub fn paint(&self, ui: &Ui, now: &Columns, then: Option<&HistoryReport>, scene: &Scene<'_>) {
        let p = scene.palette;
        self.times(ui, scene);
        let contrast = (0.0, self.contrast_db);
        self.frame(ui, self.loudness, Term::ShortTerm, self.loudness_db, scene);
        self.frame(ui, self.contrast, Term::Contrast, contrast, scene);
        if let Some(then) = then {
            // Behind, thinner and dashed: shape, not colour alone, tells it apart.
            let lines = [
                (&then.short_term_lufs, self.loudness, self.loudness_db),
                (&then.contrast_db, self.contrast, contrast),
            ];
            for (values, rect, scale) in lines {
                for run in self.runs(then, values, rect, scale) {
                    let stroke = Stroke::new(1.0, p.edge);
                    self.clipped(ui).extend(Shape::dashed_line(&run, stroke, 3.0, 2.0));
                }
            }
        }
        let report = now.report();
        for (values, rect, scale) in [
            (&report.short_term_lufs, self.loudness, self.loudness_db),
            (&report.contrast_db, self.contrast, contrast),
        ] {
            for run in self.runs(report, values, rect, scale) {
                self.clipped(ui).add(Shape::line(run, Stroke::new(1.5, p.bone)));
            }
        }
        for (kind, rect) in &self.lanes {
            let values = report.costs_db.get(*kind).unwrap_or_default();
            self.lane(ui, *kind, *rect, values, report, scene);
        }
    }

    fn clipped(&self, ui: &Ui) -> egui::Painter {
        ui.painter().with_clip_rect(self.plot.expand(1.0).intersect(ui.clip_rect()))
    }

    /// The known stretches of a column as points on the screen.
    fn runs(
        &self,
        history: &HistoryReport,
        values: &[Option<f64>],
        rect: Rect,
        (low, high): (f64, f64),
    ) -> Vec<Vec<egui::Pos2>> {
        let mut runs = vec![Vec::new()];
        for (k, value) in values.iter().enumerate() {
            let time_s = middle_s(history, k);
            let near = history.step_s * 2.0;
            let inside = (self.from_s - near..=self.to_s + near).contains(&time_s);
            match value.filter(|_| inside) {
                Some(value) => {
                    let share = ((value - low) / (high - low)).clamp(0.0, 1.0) as f32;
                    let at = pos2(self.x(time_s), rect.bottom() - share * rect.height());
                    if let Some(run) = runs.last_mut() {
                        run.push(at);
                    }
                }
                None if runs.last().is_some_and(|run| !run.is_empty()) => runs.push(Vec::new()),
                None => {}
            }
        }
        runs.retain(|run| run.len() > 1);
        runs
    }

    /// Ground, name and scale of a track.
    fn frame(&self, ui: &Ui, rect: Rect, term: Term, (low, high): (f64, f64), scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        for y in [rect.top(), rect.center().y, rect.bottom()] {
            painter.hline(rect.x_range(), y, Stroke::new(1.0, p.hairline));
        }
        self.name(ui, rect, words::term_label(term), Some(words::term_unit(term)), scene);
        let mut marks = vec![(rect.top(), high), (rect.bottom(), low)];
        if rect.height() > size * 4.0 {
            marks.push((rect.center().y, (low + high) / 2.0));
        }
        for (y, value) in marks {
            let value = words::value(Some(value), "");
            let value = value.strip_suffix(".0").unwrap_or(&value);
            let at = pos2(self.plot.right() + 5.0, y);
            text::line(painter, at, Align2::LEFT_CENTER, value, regular(size), p.soft);
        }
    }

    /// A track's name at the left, its unit under it where there is room.
    fn name(&self, ui: &Ui, rect: Rect, name: &str, unit: Option<&str>, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let right = self.plot.left() - 8.0;
        let unit = unit.filter(|_| rect.height() > size * 2.6);
        let y = rect.center().y - if unit.is_some() { size * 0.65 } else { 0.0 };
        let painter = ui.painter();
        let at = pos2(right, y);
        text::line(painter, at, Align2::RIGHT_CENTER, name, regular(size), p.soft);
        if let Some(unit) = unit {
            let at = pos2(right, y + size * 1.3);
            text::line(painter, at, Align2::RIGHT_CENTER, unit, regular(size), p.soft);
        }
    }

    /// A leak's cost over time: copper on its ground, with the newest cost at the right.
    fn lane(
        &self,
        ui: &Ui,
        kind: LeakKind,
        rect: Rect,
        values: &[Option<f64>],
        history: &HistoryReport,
        scene: &Scene<'_>,
    ) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        painter.rect_filled(rect, 0.0, p.band);
        let clipped = self.clipped(ui);
        let width = (self.x(history.step_s) - self.x(0.0)).max(0.5);
        let mut mesh = egui::Mesh::default();
        for (k, value) in values.iter().enumerate() {
            let Some(value) = value else { continue };
            let x = self.x(middle_s(history, k));
            if x < self.plot.left() - width || x > self.plot.right() + width {
                continue;
            }
            let share = (value / self.cost_db).clamp(0.0, 1.0) as f32;
            let column = Rect::from_x_y_ranges(
                x - width / 2.0..=x + width / 2.0,
                rect.bottom() - (share * rect.height()).max(LEAST_HEIGHT)..=rect.bottom(),
            );
            quad(&mut mesh, column, p.copper);
        }
        clipped.add(Shape::mesh(mesh));
        painter.hline(rect.x_range(), rect.bottom(), Stroke::new(1.0, p.edge));
        self.name(ui, rect, words::leak_name(kind), None, scene);
        let newest = values.iter().rev().flatten().next().copied();
        let at = pos2(self.plot.right() + 5.0, rect.center().y);
        text::line(painter, at, Align2::LEFT_CENTER, &number(newest), bold(size), p.text);
    }

    fn times(&self, ui: &Ui, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let most = f64::from(self.plot.width() / (size * 5.0)).max(1.0);
        let length = self.to_s - self.from_s;
        let step = STEPS_S.into_iter().find(|step| length / step <= most).unwrap_or(7200.0);
        let y = self.plot.bottom() + size * 0.9;
        let mut at_s = (self.from_s / step).ceil() * step;
        while at_s <= self.to_s {
            let x = self.x(at_s);
            painter.vline(x, self.plot.y_range(), Stroke::new(1.0, p.hairline));
            let label = clock(at_s);
            let galley = painter.layout_no_wrap(label, regular(size), p.soft);
            let half = galley.size().x / 2.0;
            let middle =
                x.clamp(self.plot.left() + half - size * 2.0, self.plot.right() + size - half);
            painter.galley(pos2(middle - half, y - galley.size().y / 2.0), galley, p.soft);
            at_s += step;
        }
    }
}

fn quad(mesh: &mut egui::Mesh, rect: Rect, color: Color32) {
    mesh.add_colored_rect(rect, color);
}
