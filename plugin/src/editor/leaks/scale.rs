//! The common scale of the costs.

use egui::{Align2, Color32, Rangef, Rect, Stroke, Ui, pos2};

use brunt_engine::{Cost, LeakKind, Leaks, Thresholds};

use super::super::fonts::regular;
use super::super::scene::Scene;
use super::super::text;
use crate::words::editor as say;

/// Least upper end of the scale, dB. Ours: twice the default limit of leaking, so that the two
/// limits stand well inside.
const MIN_TOP_DB: f64 = 4.0;

/// Where a cost stands across the panel.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    x: Rangef,
    top_db: f64,
    limits: Thresholds,
}

impl Scale {
    /// The scale of all five bars: it holds every cost with its range, and both limits.
    #[must_use]
    pub fn new(inner: Rect, leaks: &Leaks, limits: Thresholds, scene: &Scene<'_>) -> Self {
        let sizes = scene.layout.sizes;
        let costs = LeakKind::ALL.into_iter().filter_map(|kind| leaks.headline(kind));
        let highest = costs.map(|cost| cost.high_db).fold(limits.leaking_db + 1.0, f64::max);
        let top_db = (highest.max(MIN_TOP_DB) / 2.0).ceil() * 2.0;
        let left = inner.left() + sizes.name * 1.6;
        let right = inner.right() - sizes.value * 3.5;
        Self { x: Rangef::new(left, right), top_db, limits }
    }

    /// Left end of the bars: the indent of everything in a row.
    #[must_use]
    pub fn left(&self) -> f32 {
        self.x.min
    }

    fn at(&self, db: f64) -> f32 {
        self.x.min + self.x.span() * (db / self.top_db).clamp(0.0, 1.0) as f32
    }

    /// Numbers over the bars.
    pub fn paint_axis(&self, ui: &Ui, rect: Rect, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let y = rect.center().y;
        let step = [1.0, 2.0, 4.0, 6.0]
            .into_iter()
            .find(|step| self.x.span() as f64 * step / self.top_db > f64::from(size) * 3.0)
            .unwrap_or(12.0);
        let mut db = 0.0;
        while db <= self.top_db + 1e-6 {
            let at = pos2(self.at(db), y);
            text::line(
                painter,
                at,
                Align2::CENTER_CENTER,
                &format!("{db:.0}"),
                regular(size),
                p.soft,
            );
            db += step;
        }
        let at = pos2(rect.right(), y);
        text::line(painter, at, Align2::RIGHT_CENTER, say::COST_AXIS, regular(size), p.soft);
    }

    /// One bar: ground, limits, cost in `tone`, and the whisker of its range. `None` draws an empty ground.
    pub fn paint_bar(
        &self,
        ui: &Ui,
        y: f32,
        height: f32,
        cost: Option<Cost>,
        tone: Color32,
        scene: &Scene<'_>,
    ) {
        let p = scene.palette;
        let painter = ui.painter();
        let ys = y..=y + height;
        let ground = Rect::from_x_y_ranges(self.x.min..=self.x.max, ys.clone());
        painter.rect_filled(ground, 0.0, p.band);
        for limit in [self.limits.watch_db, self.limits.leaking_db] {
            let x = self.at(limit);
            painter.vline(x, y - 2.0..=y + height + 2.0, Stroke::new(1.0, p.edge));
        }
        let Some(cost) = cost else { return };
        let bar = Rect::from_x_y_ranges(self.x.min..=self.at(cost.db), ys);
        painter.rect_filled(bar, 0.0, tone);
        // The whisker is dark over the bar and light beyond it, so that both halves are seen.
        let middle = y + height / 2.0;
        let (low, high) = (self.at(cost.low_db), self.at(cost.high_db));
        let end = bar.right();
        let (over, beyond) = (Stroke::new(1.5, p.on_copper), Stroke::new(1.5, p.text));
        painter.hline(low.min(end)..=end, middle, over);
        painter.hline(end..=high.max(end), middle, beyond);
        let half = height * 0.3;
        painter.vline(low, middle - half..=middle + half, if low < end { over } else { beyond });
        painter.vline(high, middle - half..=middle + half, beyond);
    }
}
