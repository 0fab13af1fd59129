//! Text at a place.

use std::sync::Arc;

use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{Align2, Color32, FontId, Galley, Painter, Pos2, Rect, vec2};

use super::fonts::bold;

/// With a true minus sign before numbers: a hyphen is too short to be seen at a glance.
#[must_use]
pub fn minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 4);
    let mut before = ' ';
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let number_follows = chars.peek().is_some_and(char::is_ascii_digit);
        let sign = c == '-' && number_follows && !before.is_alphanumeric();
        out.push(if sign { '\u{2212}' } else { c });
        before = c;
    }
    out
}

/// One line of text; gives the rectangle that it takes.
pub fn line(
    painter: &Painter,
    pos: Pos2,
    anchor: Align2,
    text: &str,
    font: FontId,
    color: Color32,
) -> Rect {
    let galley = painter.layout_no_wrap(minus(text), font, color);
    let rect = anchor.anchor_size(pos, galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

/// One line cut to `width` with an ellipsis; gives the rectangle that it takes.
pub fn line_within(
    painter: &Painter,
    pos: Pos2,
    anchor: Align2,
    text: &str,
    font: FontId,
    color: Color32,
    width: f32,
) -> Rect {
    let galley = wrapped(painter, text, font, color, width, 1);
    let rect = anchor.anchor_size(pos, galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

/// Text wrapped to `width` and to at most `rows` rows; the rest is cut with an ellipsis.
#[must_use]
pub fn wrapped(
    painter: &Painter,
    text: &str,
    font: FontId,
    color: Color32,
    width: f32,
    rows: usize,
) -> Arc<Galley> {
    let mut job = LayoutJob::simple(minus(text), font, color, width);
    job.wrap = TextWrapping {
        max_width: width,
        max_rows: rows,
        break_anywhere: rows == 1,
        ..TextWrapping::default()
    };
    painter.layout_job(job)
}

/// The same with rows of about one length, so that no word is left alone in the last one.
#[must_use]
pub fn balanced(
    painter: &Painter,
    text: &str,
    font: FontId,
    color: Color32,
    width: f32,
    rows: usize,
) -> Arc<Galley> {
    let lay = |width: f32| wrapped(painter, text, font.clone(), color, width, rows);
    let widest = lay(width);
    if widest.rows.len() < 2 || widest.elided {
        return widest;
    }
    let wanted = widest.rows.len();
    let (mut narrow, mut wide, mut best) = (width / 2.0, width, widest);
    // Each layout is cached from frame to frame, so the search costs next to nothing.
    for _ in 0..5 {
        let middle = (narrow + wide) / 2.0;
        let tried = lay(middle);
        if tried.rows.len() > wanted || tried.elided {
            narrow = middle;
        } else {
            (wide, best) = (middle, tried);
        }
    }
    best
}

/// One line of text placed by the top of its capitals and figures, so that sizes line up; gives
/// the rectangle of capitals.
pub fn caps_at(painter: &Painter, pos: Pos2, text: &str, font: FontId, color: Color32) -> Rect {
    // The typeface's own measures: ascent 1.069 and height of capitals 0.714 of its size.
    let (above, height) = ((1.069 - 0.714) * font.size, 0.714 * font.size);
    let galley = painter.layout_no_wrap(minus(text), font, color);
    let rect = Rect::from_min_size(pos, vec2(galley.size().x, height));
    painter.galley(pos - vec2(0.0, above), galley, color);
    rect
}

/// The title of a panel: capitals, spaced. Gives the rectangle that it takes.
pub fn title(painter: &Painter, pos: Pos2, text: &str, size: f32, color: Color32) -> Rect {
    let galley = title_galley(painter, text, size, color);
    let rect = Align2::LEFT_TOP.anchor_size(pos, galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

/// Width of such a title.
pub fn title_width(painter: &Painter, text: &str, size: f32, color: Color32) -> f32 {
    title_galley(painter, text, size, color).size().x
}

fn title_galley(painter: &Painter, text: &str, size: f32, color: Color32) -> Arc<Galley> {
    let format = TextFormat {
        font_id: bold(size),
        color,
        extra_letter_spacing: 1.25,
        ..TextFormat::default()
    };
    painter.layout_job(LayoutJob::single_section(text.to_uppercase(), format))
}

#[cfg(test)]
mod tests {
    use super::minus;

    #[test]
    fn a_hyphen_becomes_a_minus_only_before_a_number() {
        assert_eq!(
            minus("-14.2 LUFS (-15 to -13)"),
            "\u{2212}14.2 LUFS (\u{2212}15 to \u{2212}13)"
        );
        assert_eq!(
            minus("peak-to-loudness, side-chain, R-128"),
            "peak-to-loudness, side-chain, R-128"
        );
    }
}
