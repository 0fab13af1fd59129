//! The numbers of one moment, zoom and movement: by pointer or by keyboard.

use egui::accesskit::Role;
use egui::{
    EventFilter, Grid, Key, Popup, PopupKind, Rect, RectAlign, RichText, Sense, Stroke, Ui,
    WidgetInfo, vec2,
};

use brunt_report::report::PART_LEAKS;
use brunt_report::sections::Section;
use brunt_report::words::{self, Term, clock};

use super::super::fonts::{bold, regular};
use super::super::scene::Scene;
use super::super::state::ViewState;
use super::super::text::minus;
use super::columns::Columns;
use super::range;
use super::sections::{at, beside};
use super::tracks::Tracks;
use crate::words::views as say;

/// Change of the length at a key press.
const KEY_ZOOM: f64 = 0.5;
/// Width of the note under the numbers, points.
const NOTE_WIDTH: f32 = 260.0;
/// Points of scrolling that halve the stretch.
const SCROLL_HALF: f32 = 200.0;

/// Makes the picture answer, and names it for assistive technology.
pub fn show(
    ui: &Ui,
    tracks: &Tracks,
    now: &Columns,
    sections: &[Section],
    whole_s: f64,
    scene: &Scene<'_>,
    state: &mut ViewState,
) {
    let id = scene.id(ui, "picture of the song");
    let response = ui.interact(tracks.plot.expand(2.0), id, Sense::click_and_drag());
    let (from_s, to_s) = tracks.range();
    let mut asked = state.range;
    let mut moment = if response.has_focus() { state.moment } else { None };

    if response.has_focus() {
        ui.memory_mut(|memory| {
            let filter = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
            memory.set_focus_lock_filter(id, filter);
        });
        let pressed = |key| ui.input(|input| input.key_pressed(key));
        let at = moment.unwrap_or((from_s + to_s) / 2.0);
        if pressed(Key::Plus) || pressed(Key::Equals) {
            asked = range::zoomed((from_s, to_s), at, KEY_ZOOM, whole_s);
        }
        if pressed(Key::Minus) {
            asked = range::zoomed((from_s, to_s), at, 1.0 / KEY_ZOOM, whole_s);
        }
        if pressed(Key::Home) {
            asked = None;
        }
        let step = isize::from(pressed(Key::PageDown)) - isize::from(pressed(Key::PageUp));
        if step != 0 && !sections.is_empty() {
            let (from_s, to_s) = beside(sections, (from_s, to_s), asked.is_none(), step);
            asked = Some((from_s, to_s));
            moment = Some((from_s + to_s) / 2.0);
        }
        let step = f64::from(pressed(Key::ArrowRight)) - f64::from(pressed(Key::ArrowLeft));
        if step != 0.0 || moment.is_none() {
            // A hundredth of the picture at a time; the newest moment is asked about first.
            let stretch = (to_s - from_s) / 100.0;
            let newest = scene.display.readings.time_s.min(to_s);
            let new = moment.map_or(newest, |at| at + step * stretch).clamp(0.0, whole_s);
            if !(from_s..=to_s).contains(&new) {
                asked = Some(range::moved((from_s, to_s), step * stretch, whole_s));
            }
            moment = Some(new);
        }
    }
    if let Some(pointer) = response.hover_pos() {
        let at = tracks.time_s(pointer.x);
        moment = Some(at);
        let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta.y, input.zoom_delta()));
        let times = f64::from(0.5_f32.powf(scroll / SCROLL_HALF) / pinch);
        if (times - 1.0).abs() > 1e-4 {
            asked = range::zoomed((from_s, to_s), at, times, whole_s);
        }
    }
    if response.dragged() && asked.is_some() {
        let per_point = (to_s - from_s) / f64::from(tracks.plot.width());
        let by_s = -f64::from(response.drag_delta().x) * per_point;
        asked = Some(range::moved((from_s, to_s), by_s, whole_s));
    }
    if response.double_clicked() {
        asked = None;
    }
    if (asked, moment) != (state.range, state.moment) {
        (state.range, state.moment) = (asked, moment);
        ui.ctx().request_repaint();
    }

    let told = moment.map(|at| now.at(at));
    let report = now.report();
    let spoken = told.map(|k| {
        let time = words::seconds(now.middle_s(k));
        let moment = say::spoken_moment(&time, report.short_term_lufs[k], report.contrast_db[k]);
        match at(sections, now.middle_s(k)) {
            Some((number, section)) => {
                let loudness = section.loudness_lufs;
                let section = say::spoken_section(number, loudness, section.contrast_db);
                format!("{moment}. {section}")
            }
            None => moment,
        }
    });
    let contrast = scene.display.readings.punch.contrast_db;
    let name = say::spoken_song(&clock(from_s), &clock(to_s), contrast);
    response.widget_info(|| WidgetInfo {
        current_text_value: spoken.clone(),
        ..WidgetInfo::labeled(Role::Image, true, &name)
    });
    scene.look().focus(ui, tracks.plot.expand(2.0), &response);
    let Some(k) = told else { return };
    let x = tracks.x(now.middle_s(k));
    if !tracks.plot.x_range().contains(x) {
        return;
    }
    ui.painter().vline(x, tracks.plot.y_range(), Stroke::new(1.5, scene.palette.blue));
    let anchor = Rect::from_x_y_ranges(x - 8.0..=x + 8.0, tracks.plot.y_range());
    Popup::from_response(&response)
        .kind(PopupKind::Tooltip)
        .anchor(anchor)
        .align(RectAlign::RIGHT_START)
        .align_alternatives(&[RectAlign::LEFT_START])
        .show(|ui| table(ui, now, sections, k));
}

/// Names and values of one moment.
fn table(ui: &mut Ui, now: &Columns, sections: &[Section], k: usize) {
    let report = now.report();
    let measured =
        |term, x| (words::term_label(term).to_owned(), words::value(x, words::term_unit(term)));
    let mut rows = vec![
        (words::term_label(Term::HitTime).to_owned(), words::seconds(now.middle_s(k))),
        measured(Term::ShortTerm, report.short_term_lufs[k]),
        measured(Term::TruePeak, report.true_peak_dbtp.get(k).copied().flatten()),
        measured(Term::Contrast, report.contrast_db.get(k).copied().flatten()),
    ];
    for (kind, costs) in now.costs() {
        let cost = costs.get(k).copied().flatten();
        rows.push((words::page::cost_of(kind), words::value(cost, "dB")));
    }
    if let Some((number, section)) = at(sections, now.middle_s(k)) {
        let time = format!("{} to {}", clock(section.from_s), clock(section.to_s));
        rows.push((say::section(number), time));
        rows.push((say::SECTION_LOUDNESS.to_owned(), words::value(section.loudness_lufs, "LUFS")));
        rows.push((say::SECTION_CONTRAST.to_owned(), words::value(section.contrast_db, "dB")));
    }
    let parts = now.costs().any(|(kind, _)| PART_LEAKS.contains(&kind));
    Grid::new("one moment").num_columns(2).spacing(vec2(16.0, 2.0)).show(ui, |ui| {
        for (name, value) in rows {
            ui.label(name);
            ui.label(RichText::new(minus(&value)).font(bold(12.0)));
            ui.end_row();
        }
    });
    if parts {
        ui.add_space(4.0);
        ui.set_max_width(NOTE_WIDTH);
        ui.label(RichText::new(words::page::PART_COSTS).font(regular(11.0)));
    }
}
