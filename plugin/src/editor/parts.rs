//! The parts: what this instance sits on, and what is heard of each part, or what to do while
//! nothing is.

mod own;
mod table;

use egui::{Rect, Ui, pos2, vec2};

use brunt_engine::LeakKind;
use brunt_report::report::PART_LEAKS;
use brunt_report::words::{leak_meaning, leak_name, links as say};

use super::fonts::{bold, regular};
use super::panel;
use super::scene::Scene;
use super::state::ViewState;
use super::text;
use crate::display::Controls;
use crate::links::{Hearing, PartStatus};
use crate::params::Role;
use crate::words::views;

/// Draws the view.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let bottom = own::show(ui, rect, scene, controls, state);
    let room = Rect::from_min_max(pos2(rect.left(), bottom + scene.layout.gap * 0.5), rect.max);
    if scene.role != Role::Mix && scene.display.linked.parts.is_empty() {
        let more = if scene.role.is_metered() { say::IS_DRUMS_MORE } else { say::IS_PART_MORE };
        empty(ui, room, scene, say::IS_PART, &[say::IS_PART_HOW, more], &[]);
        return;
    }
    let linked = &*scene.display.linked;
    let no_position = |part: &crate::links::LinkedPart| part.status == PartStatus::NoPosition;
    let command = views::NO_PARTS_COMMAND;
    match linked.hearing() {
        Hearing::Alone => {
            let lines = [say::ALONE_HOW, say::ALONE_APART, command];
            empty(ui, room, scene, say::ALONE, &lines, &PART_LEAKS);
        }
        Hearing::NoParts => {
            let head = say::no_parts(linked.others);
            empty(ui, room, scene, &head, &[say::NO_PARTS_HOW], &PART_LEAKS);
        }
        Hearing::NotHeard if linked.parts.iter().any(no_position) => {
            let lines = [say::NO_POSITION_HOW, command];
            empty(ui, room, scene, say::NO_POSITION, &lines, &PART_LEAKS);
        }
        Hearing::NotHeard => {
            let head = say::not_heard(linked.parts.len());
            table::show(ui, room, scene, controls, state, (&head, say::NOT_HEARD_HOW));
        }
        Hearing::Parts => {
            let heard = linked.parts.iter().filter(|part| part.status == PartStatus::Heard);
            let count = heard.count();
            let passage = linked.reading.as_ref().and_then(|reading| reading.passage_s);
            let head = match passage {
                Some((from, to)) => say::passage(count, from, to, scene.display.playing),
                None => say::saved(count),
            };
            table::show(ui, room, scene, controls, state, (&head, ""));
        }
    }
}

/// A view with nothing in it: what is missing, what to do, and which leaks it would tell.
pub fn empty(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    head: &str,
    lines: &[&str],
    leaks: &[LeakKind],
) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let width = rect.width().min(sizes.body * 36.0);
    let top = rect.top() + scene.layout.gap * 0.5;
    let galley = text::wrapped(painter, head, bold(sizes.name), p.text, width, 2);
    let mut bottom = top + galley.size().y;
    painter.galley(pos2(rect.left(), top), galley, p.text);
    for line in lines {
        let command = *line == views::NO_PARTS_COMMAND;
        let color = if command { p.text } else { p.soft };
        let galley = text::balanced(painter, line, regular(sizes.body), color, width, 5);
        let at = pos2(rect.left(), bottom + 4.0);
        if at.y + galley.size().y > rect.bottom() {
            break;
        }
        bottom = at.y + galley.size().y;
        painter.galley(at, galley, color);
    }
    let spot = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.left() + width, bottom));
    let name = format!("{head}. {}", lines.join(" "));
    panel::spot(ui, spot, scene.id(ui, head), &name, |ui| panel::tip(ui, p, head, lines));
    bottom += scene.layout.gap;
    for kind in leaks {
        let line = format!("{}: {}", leak_name(*kind), leak_meaning(*kind));
        let galley = text::wrapped(painter, &line, regular(sizes.body), p.soft, width, 2);
        let at = pos2(rect.left(), bottom) + vec2(0.0, 2.0);
        if at.y + galley.size().y > rect.bottom() {
            return;
        }
        bottom = at.y + galley.size().y;
        painter.galley(at, galley, p.soft);
    }
}
