//! The sections of the song in the picture.

use egui::{Align2, Rect, Stroke, Ui, pos2};

use brunt_report::report::HistoryReport;
use brunt_report::sections::{Section, forget_held, sections, told};

use super::super::fonts::bold;
use super::super::scene::Scene;
use super::super::text;
use super::tracks::Tracks;
use crate::display::Display;

/// Least time from one look at the song to the next, s: sections do not come faster.
const AGAIN_S: f64 = 1.0;

/// The sections, found anew as the song goes on.
#[derive(Clone, Debug, Default)]
pub struct Sections {
    found: Vec<Section>,
    /// Generation of the display that they are of, and the time measured then, s.
    seen: Option<(u64, f64)>,
}

impl Sections {
    /// Looks at the song where there is something new; gives its sections, none where it has but
    /// one.
    pub fn of(&mut self, display: &Display) -> &[Section] {
        let now = (display.generation, display.readings.time_s);
        let known = self.seen.is_some_and(|(generation, time_s)| {
            let later_s = now.1 - time_s;
            generation == now.0 || (later_s > 0.0 && later_s < AGAIN_S)
        });
        if !known {
            let history = HistoryReport::of(&display.song, 0.0);
            self.found = history.as_ref().map(sections).unwrap_or_default();
            // Where not every hit is kept, a section without any is not known.
            if display.hits.len() as u64 == display.readings.punch.hits {
                forget_held(&mut self.found, display.hits.iter().map(|hit| hit.hit.time_s));
            }
            self.seen = Some(now);
        }
        told(&self.found)
    }
}

/// The section that holds a time, and its number from 1.
#[must_use]
pub fn at(sections: &[Section], time_s: f64) -> Option<(usize, &Section)> {
    let behind = sections.iter().position(|section| time_s < section.to_s);
    let place = behind.or(sections.len().checked_sub(1))?;
    Some((place + 1, &sections[place]))
}

/// The section after the one in the picture (`step` 1), or the one before it (-1).
#[must_use]
pub fn beside(sections: &[Section], shown: (f64, f64), whole: bool, step: isize) -> (f64, f64) {
    let last = sections.len().saturating_sub(1);
    let middle_s = (shown.0 + shown.1) / 2.0;
    let place = match at(sections, middle_s) {
        // From the whole song to its first section, or to its last.
        _ if whole && step > 0 => 0,
        _ if whole => last,
        Some((number, _)) => (number - 1).saturating_add_signed(step).min(last),
        None => 0,
    };
    sections.get(place).map_or(shown, |section| (section.from_s, section.to_s))
}

/// Draws where sections begin, with their numbers.
pub fn paint(ui: &Ui, tracks: &Tracks, sections: &[Section], scene: &Scene<'_>) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let plot = tracks.plot;
    let painter = ui.painter();
    let mut free = plot.left();
    for (k, section) in sections.iter().enumerate() {
        let x = tracks.x(section.from_s);
        if k > 0 && plot.x_range().contains(x) {
            let line = [pos2(x, plot.top()), pos2(x, plot.bottom())];
            painter.extend(egui::Shape::dashed_line(&line, Stroke::new(1.0, p.soft), 1.5, 3.0));
        }
        // The number stands at the section's start, or at the picture's where it began before.
        let from = x.max(plot.left());
        let room = tracks.x(section.to_s).min(plot.right()) - from;
        if room > size * 1.6 && from >= free {
            // Over the frame that shows the focus.
            let at = pos2(from + 3.0, plot.top() - 3.0);
            let number = (k + 1).to_string();
            let drawn: Rect =
                text::line(painter, at, Align2::LEFT_BOTTOM, &number, bold(size * 0.9), p.soft);
            free = drawn.right() + 3.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three() -> Vec<Section> {
        let section = |from_s, to_s| Section { from_s, to_s, ..Section::default() };
        vec![section(0.0, 20.0), section(20.0, 50.0), section(50.0, 60.0)]
    }

    #[test]
    fn a_time_lies_in_its_section() {
        let sections = three();
        let number = |s: f64| at(&sections, s).map(|(number, _)| number);
        assert_eq!(
            [number(0.0), number(20.0), number(55.0), number(99.0)].map(Option::unwrap),
            [1, 2, 3, 3]
        );
        assert_eq!(at(&[], 3.0), None);
    }

    #[test]
    fn page_keys_go_from_section_to_section_and_stop_at_the_ends() {
        let sections = three();
        assert_eq!(beside(&sections, (0.0, 60.0), true, 1), (0.0, 20.0));
        assert_eq!(beside(&sections, (0.0, 60.0), true, -1), (50.0, 60.0));
        assert_eq!(beside(&sections, (0.0, 20.0), false, 1), (20.0, 50.0));
        assert_eq!(beside(&sections, (50.0, 60.0), false, 1), (50.0, 60.0));
        assert_eq!(beside(&sections, (0.0, 20.0), false, -1), (0.0, 20.0));
        assert_eq!(beside(&[], (3.0, 9.0), false, 1), (3.0, 9.0));
    }
}
