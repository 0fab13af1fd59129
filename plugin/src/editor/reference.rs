//! The reference file: a field for its path, and what became of it.

use egui::{Color32, Margin, Rect, TextEdit, Ui, pos2, vec2};

use brunt_report::words;

use super::fonts::regular;
use super::notice::Banner;
use super::scene::Scene;
use super::theme::Palette;
use crate::display::{Controls, Display};
use crate::reference::Progress;
use crate::words::reference as say;

/// Share of the room that the field takes.
const SHARE: f32 = 0.45;

/// Draws the field at the left of `room`; gives where it ends. `typed` is its text while it is
/// being typed.
pub fn field(
    ui: &mut Ui,
    room: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    typed: &mut Option<String>,
) -> f32 {
    let look = scene.look();
    let size = scene.layout.sizes.label;
    let width = (room.width() * SHARE).max(size * 9.0).min(room.width());
    let rect = Rect::from_min_size(room.min, vec2(width, room.height()));
    let path = &scene.display.reference.path;
    let mut text = typed.clone().unwrap_or_else(|| path.clone());
    let id = scene.id(ui, "reference");
    let edit = TextEdit::singleline(&mut text)
        .id(id)
        .font(regular(size))
        .hint_text(say::EMPTY)
        .margin(Margin::symmetric(6, 2))
        .align(egui::Align2::LEFT_CENTER)
        .desired_width(width);
    let response = ui.put(rect, edit).accessible_name(say::FIELD);
    look.focus(ui, rect, &response);
    if response.changed() {
        *typed = Some(text.clone());
    }
    if response.lost_focus() {
        let entered = ui.input(|input| input.key_pressed(egui::Key::Enter));
        if entered {
            controls.set_reference(text.trim());
        }
        *typed = None;
    }
    response.on_hover_text(tip(scene.display));
    rect.right()
}

fn tip(display: &Display) -> String {
    match &display.reference.progress {
        Progress::Failed(reason) => format!("{reason}\n\n{}", say::TIP),
        _ => say::TIP.to_owned(),
    }
}

/// What became of the file, and in which colour; `None` without a file.
#[must_use]
pub fn status(display: &Display, palette: &Palette) -> Option<(String, Color32)> {
    match &display.reference.progress {
        Progress::Empty => None,
        Progress::Loading => Some((say::LOADING.to_owned(), palette.soft)),
        Progress::Ready(readings) => {
            let contrast = readings.punch.contrast_db;
            Some((say::ready(readings.loudness.integrated_lufs, contrast), palette.text))
        }
        Progress::Failed(_) => Some((say::FAILED.to_owned(), palette.copper)),
    }
}

/// Everything that the file's own readings say, for a tooltip.
#[must_use]
pub fn lines(display: &Display) -> Vec<String> {
    let Progress::Ready(reference) = &display.reference.progress else { return Vec::new() };
    let mix = &display.readings;
    let beside = |name: &str, mix: Option<f64>, reference: Option<f64>, unit: &str| {
        say::beside(name, &words::value(mix, unit), &words::value(reference, unit))
    };
    let term = |term: words::Term, mix, reference| {
        beside(words::term_label(term), mix, reference, words::term_unit(term))
    };
    let (m, r) = (&mix.loudness, &reference.loudness);
    vec![
        term(words::Term::Integrated, m.integrated_lufs, r.integrated_lufs),
        term(words::Term::Plr, m.plr_db, r.plr_db),
        term(words::Term::Contrast, mix.punch.contrast_db, reference.punch.contrast_db),
        beside("Low", mix.balance.low_db, reference.balance.low_db, "dB"),
        beside("Mid", mix.balance.mid_db, reference.balance.mid_db, "dB"),
        beside("High", mix.balance.high_db, reference.balance.high_db, "dB"),
    ]
}

/// The banner of a file that cannot be used.
#[must_use]
pub fn trouble(display: &Display) -> Option<Banner> {
    let Progress::Failed(reason) = &display.reference.progress else { return None };
    Some(Banner { fact: say::FAILED, how: reason.clone(), more: Vec::new(), news: false })
}

/// The place that is left beside the field.
#[must_use]
pub fn beside(room: Rect, end: f32, gap: f32) -> Rect {
    Rect::from_min_max(pos2((end + gap).min(room.right()), room.top()), room.max)
}
