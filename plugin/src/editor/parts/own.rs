//! What this instance sits on: its role, and as a part its name and trim.

use egui::{Align2, Margin, Rect, TextEdit, Ui, pos2, vec2};

use brunt_engine::parts::PartRole;
use brunt_report::words::{links as say, roles};

use super::super::fonts::regular;
use super::super::panel;
use super::super::scene::Scene;
use super::super::state::ViewState;
use super::super::text;
use crate::display::Controls;
use crate::params::{Role, TRIM_RANGE_MS};

/// Draws the controls at the top of `rect`; gives where they end.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) -> f32 {
    let look = scene.look();
    let tall = scene.layout.control;
    let top = rect.top() + scene.layout.gap * 0.5;
    let width = look.choices_width(ui, &say::ROLES);
    let row = Rect::from_min_size(pos2(rect.left(), top), vec2(width, tall));
    let names = say::ROLES.map(|role| format!("{}: {role}", say::ROLE));
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let taken = Role::ALL.iter().position(|role| *role == scene.role).unwrap_or(0);
    let id = scene.id(ui, "role");
    if let Some(new) = look.choices(ui, row, id, &say::ROLES, &names, &say::ROLE_TIPS, taken) {
        controls.set_role(Role::ALL[new]);
        ui.ctx().request_repaint();
    }
    if scene.role == Role::Mix {
        return suggestion(ui, rect.with_min_y(row.bottom()), scene, controls);
    }
    let line = Rect::from_min_size(
        pos2(rect.left(), row.bottom() + scene.layout.gap * 0.5),
        vec2(rect.width(), tall),
    );
    let end = name(ui, line, scene, controls, state);
    trim(
        ui,
        Rect::from_min_max(pos2(end + scene.layout.gap, line.top()), line.max),
        scene,
        controls,
    );
    suggestion(ui, rect.with_min_y(line.bottom()), scene, controls)
}

/// What the sound or the name suggests where the role is another, and a button that takes it; gives
/// where that ends. On the mix bus the name alone speaks: the mix sounds like nothing but a mix.
fn suggestion(ui: &Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) -> f32 {
    let own_name = controls.part_name();
    let name = if own_name.is_empty() { &scene.display.track_name } else { &own_name };
    let content = scene.display.linked.own.as_ref().filter(|_| scene.role != Role::Mix);
    let named = || PartRole::from_name(name);
    let Some(role) = content.map(|content| content.role).or_else(named) else { return rect.top() };
    if scene.role.part() == Some(role) {
        return rect.top();
    }
    let says = roles::role_suggested(role, content, name);
    // Close to what it belongs to: the smallest window needs every line.
    let (p, size, gap) = (scene.palette, scene.layout.sizes.label, scene.layout.gap * 0.25);
    let look = scene.look();
    let take = roles::take_role(role);
    let button = vec2(look.button_width(ui, &take), scene.layout.control);
    let room = rect.width() - button.x - scene.layout.gap;
    let galley = text::balanced(ui.painter(), &says, regular(size), p.soft, room, 2);
    let tall = galley.size().y.max(button.y);
    let line =
        Rect::from_min_size(pos2(rect.left(), rect.top() + gap), vec2(galley.size().x, tall));
    ui.painter().galley(pos2(line.left(), line.center().y - galley.size().y / 2.0), galley, p.soft);
    panel::spot(ui, line, scene.id(ui, "role suggested"), &says, |ui| {
        panel::tip(ui, p, &says, &[roles::TAKE_ROLE_TIP]);
    });
    let at = pos2(line.right() + scene.layout.gap, line.center().y - button.y / 2.0);
    let place = Rect::from_min_size(at, button);
    let id = scene.id(ui, "take role");
    let response = look.button(ui, place, id, &take, &roles::take_role_name(role));
    if response.clicked() {
        let new = Role::ALL.into_iter().find(|new| new.part() == Some(role));
        controls.set_role(new.unwrap_or(scene.role));
        ui.ctx().request_repaint();
    }
    response.on_hover_text(roles::TAKE_ROLE_TIP);
    // What follows keeps a distance of its own.
    line.bottom() - 2.0 * gap
}

/// The field for the name; gives where it ends.
fn name(
    ui: &mut Ui,
    line: Rect,
    scene: &Scene<'_>,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) -> f32 {
    let look = scene.look();
    let size = scene.layout.sizes.label;
    let rect = Rect::from_min_size(line.min, vec2((line.width() * 0.5).min(260.0), line.height()));
    let track = &scene.display.track_name;
    let hint = if track.is_empty() { say::NAME_EMPTY } else { track };
    let mut text = state.named.clone().unwrap_or_else(|| controls.part_name());
    let edit = TextEdit::singleline(&mut text)
        .id(scene.id(ui, "part name"))
        .font(regular(size))
        .hint_text(hint)
        .margin(Margin::symmetric(6, 2))
        .align(Align2::LEFT_CENTER)
        .desired_width(rect.width());
    let response = ui.put(rect, edit).accessible_name(say::NAME);
    look.focus(ui, rect, &response);
    if response.changed() {
        state.named = Some(text.clone());
    }
    if response.lost_focus() {
        // A name is taken however the field is left, but for the key that calls it off.
        if !ui.input(|input| input.key_pressed(egui::Key::Escape)) {
            controls.set_part_name(text.trim());
        }
        state.named = None;
    }
    response.on_hover_text(say::NAME_TIP);
    rect.right()
}

fn trim(ui: &mut Ui, room: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let middle = room.center().y;
    let at = pos2(room.left(), middle);
    let word = text::line(ui.painter(), at, Align2::LEFT_CENTER, say::TRIM, regular(size), p.soft);
    let field =
        Rect::from_min_size(pos2(word.right() + 4.0, room.top()), vec2(size * 5.0, room.height()));
    let (min, max) = TRIM_RANGE_MS;
    let mut ms = controls.trim_ms();
    let range = f64::from(min)..=f64::from(max);
    let response = scene.look().number(ui, field, say::TRIM_NAME, &mut ms, range);
    if response.changed() {
        controls.set_trim_ms(ms);
    }
    response.on_hover_text(say::TRIM_TIP);
    let at = pos2(field.right() + 4.0, middle);
    text::line(ui.painter(), at, Align2::LEFT_CENTER, say::TRIM_UNIT, regular(size), p.soft);
}
