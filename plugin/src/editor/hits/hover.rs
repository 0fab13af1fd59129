//! The numbers of one hit: under the pointer, or chosen with the arrow keys.

use egui::accesskit::Role;
use egui::{
    EventFilter, Grid, Key, Popup, PopupKind, Rect, RectAlign, RichText, Sense, Ui, WidgetInfo,
    vec2,
};

use brunt_report::words::{self, Term};

use super::super::fonts::bold;
use super::super::scene::Scene;
use super::super::state::ViewState;
use super::super::text::minus;
use super::axes::Axes;
use super::span::Span;
use super::strokes::Placed;
use crate::display::PlacedHit;
use crate::words::editor as say;

/// How far from a stroke the pointer still means it, logical pixels.
const REACH: f32 = 14.0;

/// Makes the picture answer to pointer and keyboard, and names it for assistive technology.
pub fn show(
    ui: &Ui,
    axes: &Axes,
    span: &Span,
    strokes: &[Placed],
    scene: &Scene<'_>,
    state: &mut ViewState,
) {
    let hits = &scene.display.hits;
    let id = scene.id(ui, "picture of the hits");
    let room = axes.plot.expand2(vec2(4.0, 4.0));
    let response = ui.interact(room, id, Sense::click());
    let mut marked = if response.has_focus() { state.marked } else { None };

    if response.has_focus() {
        ui.memory_mut(|memory| {
            let filter = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
            memory.set_focus_lock_filter(id, filter);
        });
        let step = ui.input(|input| {
            i64::from(input.key_pressed(Key::ArrowRight))
                - i64::from(input.key_pressed(Key::ArrowLeft))
        });
        let now = strokes.iter().position(|stroke| marked == Some(hits[stroke.at].hit.index));
        marked = match (now, step, strokes.len()) {
            (_, _, 0) => None,
            // The newest hit is the one to ask about first.
            (None, _, n) => Some(n - 1),
            (Some(now), step, n) => Some((now as i64 + step).clamp(0, n as i64 - 1) as usize),
        }
        .map(|place| hits[strokes[place].at].hit.index);
    }
    if let Some(pointer) = response.hover_pos() {
        let distance = |stroke: &&Placed| (stroke.x - pointer.x).abs();
        let nearest = strokes.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
        let near = nearest.filter(|stroke| distance(stroke) <= REACH);
        if let Some(stroke) = near {
            marked = Some(hits[stroke.at].hit.index);
        }
    }
    if state.marked != marked {
        state.marked = marked;
        // The ring around the stroke is drawn before the pointer is looked at.
        ui.ctx().request_repaint();
    }
    let hit =
        marked.and_then(|index| strokes.iter().map(|s| &hits[s.at]).find(|p| p.hit.index == index));
    let name =
        say::spoken_hits(strokes.len(), span.length_s(), &scene.display.readings.punch_recent);
    response.widget_info(|| WidgetInfo {
        current_text_value: hit.map(spoken),
        ..WidgetInfo::labeled(Role::Image, true, &name)
    });
    scene.look().focus(ui, room, &response);
    if let Some(placed) = hit {
        let x = axes.x(placed.hit.time_s);
        let stroke = Rect::from_x_y_ranges(x - 8.0..=x + 8.0, axes.plot.y_range());
        Popup::from_response(&response)
            .kind(PopupKind::Tooltip)
            .anchor(stroke)
            .align(RectAlign::RIGHT_START)
            .align_alternatives(&[RectAlign::LEFT_START])
            .show(|ui| {
                table(ui, placed);
                if let Some(wave) = scene.display.wave(placed.hit.index) {
                    super::wave::show(ui, wave, scene);
                }
            });
    }
}

/// Names and values of one hit.
fn rows(placed: &PlacedHit) -> Vec<(&'static str, String)> {
    let hit = &placed.hit;
    let measured = |term, x| (words::term_label(term), words::value(x, words::term_unit(term)));
    let mut rows = vec![(words::term_label(Term::HitTime), words::seconds(hit.time_s))];
    if let Some(beat) = placed.beat {
        rows.push((say::SONG_POSITION, say::quarters(beat)));
    }
    rows.extend([
        measured(Term::Contrast, Some(hit.contrast_db)),
        measured(Term::HitLost, hit.lost_db),
        measured(Term::HitTruePeak, Some(hit.true_peak_dbtp)),
        measured(Term::HitAttack, Some(hit.attack_ms)),
        measured(Term::HitLevel, Some(hit.level_lufs)),
        measured(Term::HitBed, Some(hit.bed_lufs)),
    ]);
    rows
}

/// The same in one breath.
fn spoken(placed: &PlacedHit) -> String {
    rows(placed)
        .iter()
        .map(|(name, value)| format!("{name} {value}"))
        .collect::<Vec<_>>()
        .join(", ")
}

fn table(ui: &mut Ui, placed: &PlacedHit) {
    Grid::new("one hit").num_columns(2).spacing(vec2(16.0, 2.0)).show(ui, |ui| {
        for (name, value) in rows(placed) {
            ui.label(name);
            ui.label(RichText::new(minus(&value)).font(bold(12.0)));
            ui.end_row();
        }
    });
}
