//! The waveform of one hit, with the mix before the limiter behind it and the gain reduction under
//! it: what the limiter did to this very hit.

use egui::{Align2, Rect, Sense, Stroke, Ui, pos2, vec2};

use brunt_engine::{HitWave, WAVE_BEFORE_MS, WAVE_MS, WAVE_RATIOS, Wave};
use brunt_report::words::{self, shape as say};

use super::super::fonts::{bold, regular};
use super::super::scene::Scene;
use super::super::text;

/// Size of the waveform, logical pixels.
const SIZE: egui::Vec2 = vec2(240.0, 72.0);
/// Height of the gain-reduction curve, logical pixels.
const CURVE: f32 = 26.0;
/// Least end of the curve's scale, dB.
const LEAST_END_DB: f64 = 6.0;
/// Size of text, logical pixels.
const TEXT: f32 = 10.0;

/// The gain reduction at a hit, each 10 ms, dB; `None` without the mix before the limiter.
#[must_use]
pub fn reduction(wave: &HitWave, gain_db: Option<f64>) -> Option<[Option<f64>; WAVE_RATIOS]> {
    let gain = gain_db.filter(|_| wave.side.is_some())?;
    Some(std::array::from_fn(|step| wave.ratio_db(step).map(|ratio| (gain - ratio).max(0.0))))
}

/// Draws it at the place where `ui` stands.
pub fn show(ui: &mut Ui, wave: &HitWave, scene: &Scene<'_>) {
    let p = scene.palette;
    let compare = scene.display.readings.compare.as_ref();
    let curve = reduction(wave, compare.and_then(|compare| compare.gain_db));
    let matched_db = compare.and_then(|compare| compare.loudness_difference_lu);
    let side = wave.side.as_ref().zip(matched_db);
    let height = SIZE.y + TEXT * 1.5 + if curve.is_some() { CURVE + TEXT * 1.6 } else { 0.0 };
    ui.add_space(4.0);
    let (rect, response) = ui.allocate_exact_size(vec2(SIZE.x, height), Sense::hover());
    let painter = ui.painter();
    let plot = Rect::from_min_size(rect.min, SIZE);
    painter.rect_filled(plot, 0.0, p.band);

    let gain = side.map_or(1.0, |(_, db)| 10f64.powf(db / 20.0) as f32);
    let most = side.map_or(0.0, |(side, _)| side.peak * gain).max(wave.main.peak);
    let scale = if most > 0.0 { plot.height() * 0.48 / most } else { 0.0 };
    let columns = SIZE.x as usize;
    let ends = |wave: &Wave, column: usize| {
        let (from, to) = (column * WAVE_MS / columns, (column + 1) * WAVE_MS / columns);
        (from..to.max(from + 1))
            .map(|ms| wave.ends(ms))
            .fold((0.0f32, 0.0f32), |all, one| (all.0.max(one.0), all.1.min(one.1)))
    };
    let middle = plot.center().y;
    if let Some((side, _)) = side {
        // A hollow outline behind: what is left of it outside of the wave was taken.
        for sign in [0, 1] {
            let outline = (0..columns).map(|column| {
                let (up, down) = ends(side, column);
                let value = if sign == 0 { up } else { down } * gain;
                pos2(plot.left() + column as f32 + 0.5, middle - value * scale)
            });
            painter.line(outline.collect(), Stroke::new(1.25, p.copper));
        }
    }
    for column in 0..columns {
        let (up, down) = ends(&wave.main, column);
        let x = plot.left() + column as f32;
        let bar = Rect::from_min_max(
            pos2(x, middle - (up * scale).max(0.5)),
            pos2(x + 1.0, middle - (down * scale).min(-0.5)),
        );
        painter.rect_filled(bar, 0.0, p.bone);
    }
    let x = |ms: f32| plot.left() + plot.width() * (ms + WAVE_BEFORE_MS as f32) / WAVE_MS as f32;
    painter.vline(x(0.0), plot.y_range(), Stroke::new(1.0, p.blue));
    let y = plot.bottom() + TEXT * 0.8;
    for ms in [0.0, 100.0, 200.0] {
        let label = format!("{ms:.0}");
        text::line(painter, pos2(x(ms), y), Align2::CENTER_CENTER, &label, regular(TEXT), p.soft);
    }
    let unit = pos2(plot.right(), y);
    text::line(painter, unit, Align2::RIGHT_CENTER, say::MS, regular(TEXT), p.soft);

    let mut spoken = say::WAVE.to_owned();
    if let Some(curve) = curve {
        let top = plot.bottom() + TEXT * 3.0;
        let room = Rect::from_min_size(pos2(plot.left(), top), vec2(plot.width(), CURVE));
        let most = curve.iter().flatten().copied().fold(0.0, f64::max);
        let end = (most.max(LEAST_END_DB) / 6.0).ceil() * 6.0;
        let words = words::value(Some(most), "dB");
        let at = pos2(room.left(), top - TEXT * 0.8);
        text::line(painter, at, Align2::LEFT_CENTER, say::REDUCTION, regular(TEXT), p.soft);
        let at = pos2(room.right(), top - TEXT * 0.8);
        text::line(painter, at, Align2::RIGHT_CENTER, &words, bold(TEXT), p.text);
        let wide = room.width() / WAVE_RATIOS as f32;
        for (step, db) in curve.iter().enumerate() {
            let Some(db) = db else { continue };
            let left = room.left() + step as f32 * wide;
            let hang = (CURVE * (db / end) as f32).max(0.5);
            let bar = Rect::from_min_size(pos2(left, room.top()), vec2(wide - 1.0, hang));
            painter.rect_filled(bar, 0.0, p.copper);
        }
        painter.hline(room.x_range(), room.top(), Stroke::new(1.0, p.edge));
        spoken = format!("{spoken}. {} {words}", say::REDUCTION);
    }
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, spoken.as_str())
    });
}
