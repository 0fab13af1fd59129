//! Signs drawn by hand: one shape for each state, so that colour is never the only sign.

use egui::epaint::PathShape;
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, pos2, vec2};

use brunt_engine::State;

use super::theme::Palette;

/// The sign of a leak's state, in a square of side `size` around `center`: a dotted ring for
/// unknown, a tick for clear, a hollow drop for watch, a filled drop over a pool for leaking.
pub fn state(painter: &Painter, center: Pos2, size: f32, state: State, palette: &Palette) {
    let thin = (size / 9.0).max(1.25);
    match state {
        State::Unknown => {
            let radius = size * 0.36;
            for step in 0..8 {
                let angle = std::f32::consts::TAU * step as f32 / 8.0;
                let dot = center + radius * vec2(angle.cos(), angle.sin());
                painter.circle_filled(dot, thin * 0.6, palette.edge);
            }
        }
        State::Clear => {
            let at = |x: f32, y: f32| center + size * vec2(x, y);
            painter.line(
                vec![at(-0.36, 0.02), at(-0.12, 0.28), at(0.38, -0.28)],
                Stroke::new(thin * 1.3, palette.bone),
            );
        }
        State::Watch => {
            let outline = Stroke::new(thin, palette.copper);
            painter.add(drop(center, size * 0.92, Color32::TRANSPARENT, outline));
        }
        State::Leaking => {
            painter.add(drop(
                center - vec2(0.0, size * 0.1),
                size * 0.92,
                palette.copper,
                Stroke::NONE,
            ));
            let y = center.y + size * 0.5;
            painter.hline(
                center.x - size * 0.34..=center.x + size * 0.34,
                y,
                Stroke::new(thin * 1.2, palette.copper),
            );
        }
    }
}

/// A drop of height `size`.
fn drop(center: Pos2, size: f32, fill: Color32, stroke: Stroke) -> Shape {
    const STEPS: usize = 18;
    let radius = size * 0.32;
    let middle = center + vec2(0.0, size * 0.14);
    let tip = center - vec2(0.0, size * 0.5);
    // The round part runs from one shoulder around the bottom to the other.
    let open = 0.62_f32;
    let mut points = vec![tip];
    points.extend((0..=STEPS).map(|step| {
        let turn = open + (std::f32::consts::TAU - 2.0 * open) * step as f32 / STEPS as f32;
        middle + radius * vec2(turn.sin(), -turn.cos())
    }));
    Shape::Path(PathShape { points, closed: true, fill, stroke: stroke.into() })
}

/// The mark of Brunt: a stem on its ground with a hollow cap, as in the picture of the hits.
pub fn mark(painter: &Painter, rect: Rect, palette: &Palette) {
    let ground = rect.bottom() - 2.0;
    let unit = rect.width() / 3.0;
    for (i, (stem, cap)) in [(0.82_f32, 0.0), (0.5, 0.4), (0.66, 0.0)].into_iter().enumerate() {
        let left = rect.left() + unit * i as f32 + 1.0;
        let stem_top = ground - (rect.height() - 3.0) * stem;
        let body = Rect::from_min_max(pos2(left, stem_top), pos2(left + unit - 2.0, ground));
        painter.rect_filled(body, 0.0, palette.bone);
        if cap > 0.0 {
            let top = stem_top - (rect.height() - 3.0) * cap;
            let hollow =
                Rect::from_min_max(pos2(left, top), pos2(left + unit - 2.0, stem_top - 1.5));
            painter.rect_stroke(hollow, 0.0, Stroke::new(1.25, palette.copper), StrokeKind::Inside);
        }
    }
    painter.hline(rect.x_range(), rect.bottom() - 0.75, Stroke::new(1.5, palette.edge));
}

/// A small arrow head that opens a line of advice, its middle at `center`.
pub fn advice(painter: &Painter, center: Pos2, size: f32, color: Color32) {
    let half = size / 2.0;
    painter.line(
        vec![
            center + vec2(-half * 0.6, -half),
            center + vec2(half * 0.5, 0.0),
            center + vec2(-half * 0.6, half),
        ],
        Stroke::new(1.5, color),
    );
}
