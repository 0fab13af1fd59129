//! The strokes: a solid stem for what is left, a hollow cap for what was lost.

use egui::{Painter, Rangef, Rect, Stroke, StrokeKind, Ui, pos2, vec2};

use super::super::scene::Scene;
use super::super::state::ViewState;
use super::super::theme::Palette;
use super::axes::Axes;
use crate::kept::KeptPass;

/// Loss that is too small to be drawn, dB.
const LEAST_LOST_DB: f64 = 0.1;

/// A stroke on the screen.
#[derive(Clone, Copy, Debug)]
pub struct Placed {
    /// Its place in [`Display::hits`](crate::display::Display::hits).
    pub at: usize,
    /// Its middle, logical pixels from the left.
    pub x: f32,
}

/// Draws every hit in the picture; gives them from the oldest to the newest.
pub fn paint(
    ui: &Ui,
    axes: &Axes,
    scene: &Scene<'_>,
    state: &ViewState,
    kept: Option<&KeptPass>,
) -> Vec<Placed> {
    let p = scene.palette;
    let painter = ui.painter();
    let hits = &scene.display.hits;
    let first = hits.partition_point(|placed| axes.x(placed.hit.time_s) < axes.plot.left());
    let placed: Vec<Placed> = (first..hits.len())
        .map(|at| Placed { at, x: axes.x(hits[at].hit.time_s) })
        .take_while(|stroke| stroke.x <= axes.plot.right() + 1.0)
        .collect();
    let width = width(&placed, axes.plot.width());
    for stroke in &placed {
        let hit = &hits[stroke.at].hit;
        let left = (stroke.x - width / 2.0).max(axes.plot.left());
        let x = left..=(left + width).min(axes.plot.right());
        let top = axes.y(hit.contrast_db).min(axes.plot.bottom() - 2.0);
        let stem = Rect::from_x_y_ranges(x.clone(), top..=axes.plot.bottom());
        painter.rect_filled(stem, 0.0, p.bone);
        let lost = hit.lost_db.filter(|lost| *lost >= LEAST_LOST_DB);
        let mut whole = stem;
        if let Some(lost) = lost {
            let above = axes.y(hit.contrast_db.max(0.0) + lost).min(top - 5.0);
            let hollow = Rect::from_x_y_ranges(x, above..=top - 1.5);
            cap(painter, hollow, p);
            whole = whole.union(hollow);
        }
        if let Some(then) = kept.and_then(|kept| kept.at(hits[stroke.at].beat?)) {
            let half = width / 2.0 + 3.0;
            tick(painter, (stroke.x - half..=stroke.x + half).into(), axes.y(then.1.into()), p);
        }
        if state.marked == Some(hit.index) {
            let ring = Stroke::new(1.5, p.blue);
            painter.rect_stroke(whole.expand(2.5), 1.0, ring, StrokeKind::Outside);
        }
    }
    placed
}

/// Where a hit stood in the kept pass: a line across its stroke.
pub fn tick(painter: &Painter, x: Rangef, y: f32, palette: &Palette) {
    // A dark edge keeps it apart from the stem that it may cross.
    painter.hline(x, y, Stroke::new(4.0, palette.panel));
    painter.hline(x, y, Stroke::new(2.0, palette.blue));
}

/// A hollow cap.
pub fn cap(painter: &Painter, rect: Rect, palette: &Palette) {
    let line = match (rect.width() > 6.5, rect.height() > 7.0) {
        (true, true) => 1.75,
        (false, true) => 1.25,
        (_, false) => 1.0,
    };
    // Hollow, and yet nothing behind it shows through.
    let outline = Stroke::new(line, palette.copper);
    painter.rect(rect, 0.0, palette.panel, outline, StrokeKind::Inside);
}

/// Width of a stroke: wide enough to be seen, narrow enough to stand apart from its neighbour.
fn width(placed: &[Placed], room: f32) -> f32 {
    let tight = placed
        .windows(2)
        .map(|pair| pair[1].x - pair[0].x)
        .filter(|gap| *gap > 1.0)
        .fold(room, f32::min);
    (tight * 0.64).clamp(3.0, (room / 48.0).clamp(5.0, 16.0))
}

/// The picture to come, in faint strokes, while there are no hits.
pub fn ghosts(painter: &Painter, rect: Rect, palette: &Palette) {
    let ground = rect.bottom() - 2.0;
    painter.hline(rect.x_range(), ground, Stroke::new(2.0, palette.hairline));
    // One bar of a plain beat, as heights; the pattern is ours.
    let heights = [0.86, 0.34, 0.7, 0.34, 0.5, 0.34, 0.78, 0.42];
    let step = rect.width() / 32.0;
    for i in 0..32_usize {
        let height = (rect.height() - 8.0) * heights[i % heights.len()];
        let foot = pos2(rect.left() + step * (i as f32 + 0.3), ground);
        let stem = Rect::from_min_max(foot - vec2(0.0, height), foot + vec2(step * 0.28, 0.0));
        painter.rect_filled(stem, 0.0, palette.band);
    }
}
