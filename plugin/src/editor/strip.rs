//! The side-chain: what it carries, whether anything comes in, and what is heard.

use egui::{Align2, Rect, Ui, pos2};

use brunt_report::words::{self, Term};

use super::fonts::{bold, regular};
use super::listen;
use super::panel;
use super::reference;
use super::scene::Scene;
use super::state::ViewState;
use super::text;
use crate::display::Controls;
use crate::params::SideRole;
use crate::words::editor as say;

/// The roles in the order in which they are shown.
const ROLES: [SideRole; 4] =
    [SideRole::Off, SideRole::Before, SideRole::Reference, SideRole::Partner];

/// Draws the line at the bottom.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let (p, layout) = (scene.palette, scene.layout);
    let size = layout.sizes.label;
    let look = scene.look();
    let painter = ui.painter().clone();
    let painter = &painter;
    let middle = rect.center().y;
    let at = pos2(rect.left() + layout.gap, middle - size * 0.69);
    let title = text::title(painter, at, say::SIDE_CHAIN, size, p.soft);

    let labels = [say::ROLE_OFF, say::ROLE_BEFORE, say::ROLE_REFERENCE, say::ROLE_PARTNER];
    let names = labels.map(|label| format!("{}: {label}", say::SIDE_CHAIN));
    let names = [&*names[0], &*names[1], &*names[2], &*names[3]];
    let tips =
        [say::ROLE_OFF_TIP, say::ROLE_BEFORE_TIP, say::ROLE_REFERENCE_TIP, say::ROLE_PARTNER_TIP];
    let row = Rect::from_x_y_ranges(
        title.right() + 12.0..=title.right() + 12.0 + look.choices_width(ui, &labels),
        middle - layout.control / 2.0..=middle + layout.control / 2.0,
    );
    let role = controls.side_role();
    let taken = ROLES.iter().position(|r| *r == role).unwrap_or(0);
    let id = scene.id(ui, "side role");
    if let Some(new) = look.choices(ui, row, id, &labels, &names, &tips, taken) {
        controls.set_side_role(ROLES[new]);
    }

    let end = listen::choice(ui, rect, scene, controls);
    let side = &scene.display.readings.side;
    let left = row.right() + layout.gap;
    let room = Rect::from_x_y_ranges(left..=(end - layout.gap).max(left), row.y_range());
    let referred = role == SideRole::Reference;
    let left = if referred {
        let taken = reference::field(ui, room, scene, controls, &mut state.typed);
        reference::beside(room, taken, 8.0).left()
    } else {
        left
    };
    let room = end - layout.gap - left;
    let at = pos2(left, middle);
    let (status, hint) = if side.signal {
        let level = words::value(side.momentary_lufs, words::term_unit(Term::SideMomentary));
        (level, say::side_hint(role))
    } else {
        (say::NO_SIGNAL.to_owned(), say::side_need(role))
    };
    let color = if side.signal { p.text } else { p.soft };
    let file = reference::status(scene.display, p).filter(|_| referred);
    let (status, color) = file.clone().unwrap_or((status, color));
    let status =
        text::line_within(painter, at, Align2::LEFT_CENTER, &status, bold(size), color, room);
    let at = pos2(status.right() + 10.0, middle);
    let room = end - layout.gap - at.x;
    let matched = listen::match_beside(scene.display).filter(|_| side.signal);
    let beside = matched.as_deref().unwrap_or(hint);
    if room > size * 8.0 {
        text::line_within(painter, at, Align2::LEFT_CENTER, beside, regular(size), p.soft, room);
    }
    let whole = Rect::from_x_y_ranges(left..=(end - layout.gap).max(left), row.y_range());
    let spoken = if let Some((file, _)) = &file {
        format!("{}: {file}", crate::words::reference::FIELD)
    } else if side.signal {
        let unit = words::term_unit(Term::SideMomentary);
        format!("{}, {}", say::SIDE_SIGNAL, words::value(side.momentary_lufs, unit))
    } else {
        format!("{}. {hint}", say::SIDE_NO_SIGNAL)
    };
    panel::spot(ui, whole, scene.id(ui, "side status"), &spoken, |ui| {
        let integrated = words::value(side.integrated_lufs, words::term_unit(Term::SideIntegrated));
        let integrated = format!("{}: {integrated}", words::term_label(Term::SideIntegrated));
        let of_file = reference::lines(scene.display);
        let mut lines: Vec<&str> =
            of_file.iter().map(String::as_str).filter(|_| referred).collect();
        lines.extend([hint, &integrated, words::definition(Term::SideMomentary)]);
        panel::tip(ui, p, say::SIDE_CHAIN, &lines);
    });
}
