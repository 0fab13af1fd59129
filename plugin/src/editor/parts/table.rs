//! A row a part.

use egui::accesskit::Role;
use egui::{Align2, EventFilter, Key, Rect, Sense, Ui, WidgetInfo, pos2, vec2};

use brunt_report::report::PartCeilingReport;
use brunt_report::words::{self, leak_name, links as say, roles};

use super::super::fonts::{bold, regular};
use super::super::glyph;
use super::super::panel;
use super::super::scene::Scene;
use super::super::state::ViewState;
use super::super::text;
use crate::display::Controls;
use crate::links::{LinkedPart, PartStatus};

/// Draws what was heard, and what to do where that is not all, over the rows.
pub fn show(
    ui: &Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &dyn Controls,
    state: &mut ViewState,
    (head, how): (&str, &str),
) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter();
    let top = rect.top() + scene.layout.gap * 0.5;
    let galley = text::wrapped(painter, head, bold(sizes.body), p.text, rect.width(), 2);
    let mut bottom = top + galley.size().y;
    painter.galley(pos2(rect.left(), top), galley, p.text);
    if !how.is_empty() {
        let galley = text::balanced(painter, how, regular(sizes.body), p.soft, rect.width(), 3);
        painter.galley(pos2(rect.left(), bottom + 2.0), galley.clone(), p.soft);
        bottom += 2.0 + galley.size().y;
    }
    let spot = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.right(), bottom));
    let name = format!("{head} {how}");
    panel::spot(ui, spot, scene.id(ui, "parts heard"), name.trim_end(), |ui| {
        panel::tip(ui, p, head, &[how]);
    });

    let columns = Columns::new(rect, scene);
    let head_y = bottom + sizes.label * 1.3;
    columns.heads(ui, head_y, scene);
    let tall = (sizes.body * 1.7).round();
    let top = head_y + sizes.label * 0.9;
    let parts = &scene.display.linked.parts;
    let (first, last) = scroll(ui, rect.with_min_y(top), tall, scene, state);
    for (k, part) in parts[first..last].iter().enumerate() {
        let at = pos2(rect.left(), top + tall * k as f32);
        let row = Rect::from_min_size(at, vec2(columns.right - rect.left(), tall));
        columns.row(ui, row, first + k, part, scene, controls);
    }
}

/// The rows that are in sight, whole ones alone, and the way to the others.
fn scroll(
    ui: &Ui,
    room: Rect,
    tall: f32,
    scene: &Scene<'_>,
    state: &mut ViewState,
) -> (usize, usize) {
    let (p, size) = (scene.palette, scene.layout.sizes.label);
    let count = scene.display.linked.parts.len();
    let mut fit = (room.height() / tall).floor().max(0.0) as usize;
    if count <= fit {
        return (0, count);
    }
    // The last line says which rows these are.
    fit = fit.saturating_sub(1).max(1);
    let most = (count - fit) as f32;
    let rows = Rect::from_min_size(room.min, vec2(room.width(), tall * (fit + 1) as f32));
    let id = scene.id(ui, "rows of parts");
    let response = ui.interact(rows, id, Sense::click());
    let mut first = state.first_part.clamp(0.0, most);
    if response.clicked() {
        response.request_focus();
    }
    if response.has_focus() {
        ui.memory_mut(|memory| {
            let filter = EventFilter { vertical_arrows: true, ..EventFilter::default() };
            memory.set_focus_lock_filter(id, filter);
        });
        let page = fit as f32;
        for (key, by) in [
            (Key::ArrowUp, -1.0),
            (Key::ArrowDown, 1.0),
            (Key::PageUp, -page),
            (Key::PageDown, page),
            (Key::Home, -most),
            (Key::End, most),
        ] {
            if ui.input(|input| input.key_pressed(key)) {
                first = first.round() + by;
            }
        }
    }
    if ui.rect_contains_pointer(rows) {
        first -= ui.input(|input| input.smooth_scroll_delta.y) / tall;
    }
    state.first_part = first.clamp(0.0, most);
    let first = state.first_part.round() as usize;
    let last = (first + fit).min(count);
    let spoken = say::spoken_rows(first + 1, last, count);
    response.widget_info(|| WidgetInfo::labeled(Role::List, true, &spoken));
    scene.look().focus(ui, rows, &response);
    let at = pos2(room.left(), room.top() + tall * (fit as f32 + 0.5));
    let line = say::rows(first + 1, last, count);
    let ink = text::line(ui.painter(), at, Align2::LEFT_CENTER, &line, regular(size), p.soft);
    panel::spot(ui, ink, id.with("where"), &line, |ui| panel::tip(ui, p, &line, &[say::ROWS_HOW]));
    (first, last)
}

/// Right edges of the numbers, and where the cost begins.
struct Columns {
    left: f32,
    name: f32,
    offset: f32,
    spread: f32,
    cost: f32,
    right: f32,
}

impl Columns {
    fn new(rect: Rect, scene: &Scene<'_>) -> Self {
        let size = scene.layout.sizes.body;
        let right = rect.right();
        let cost = right - size * 8.6;
        let spread = cost - size;
        let offset = spread - size * 4.6;
        let name = offset - size * 5.2;
        Self { left: rect.left(), name, offset, spread, cost, right }
    }

    fn heads(&self, ui: &Ui, y: f32, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let places = [
            (self.left, Align2::LEFT_CENTER),
            (self.offset, Align2::RIGHT_CENTER),
            (self.spread, Align2::RIGHT_CENTER),
            (self.cost, Align2::LEFT_CENTER),
        ];
        for ((x, anchor), k) in places.into_iter().zip(0..) {
            let word = say::COLUMNS[k];
            let at = pos2(x, y);
            let ink = text::line(ui.painter(), at, anchor, word, regular(size), p.soft);
            let name = format!("{word}. {}", say::COLUMN_TIPS[k]);
            panel::spot(ui, ink, scene.id(ui, word), &name, |ui| {
                panel::tip(ui, p, word, &[say::COLUMN_TIPS[k]]);
            });
        }
    }

    fn row(
        &self,
        ui: &Ui,
        row: Rect,
        k: usize,
        part: &LinkedPart,
        scene: &Scene<'_>,
        controls: &dyn Controls,
    ) {
        let (p, sizes) = (scene.palette, scene.layout.sizes);
        let painter = ui.painter();
        let y = row.center().y;
        let limits = controls.thresholds();
        let state = part.state(limits.watch_db, limits.leaking_db);
        let side = sizes.body * 1.1;
        glyph::state(painter, pos2(self.left + side * 0.5, y), side, state, p);
        let name = say::name(&part.name, part.role);
        let x = self.left + side * 1.5;
        let left = Align2::LEFT_CENTER;
        let room = self.name - x;
        let ink =
            text::line_within(painter, pos2(x, y), left, &name, regular(sizes.body), p.text, room);
        // What it plays, where the name leaves room and does not say so itself.
        let doubt = part.doubted().map(roles::sounds_like);
        let taken = part.ceiling.as_ref().and_then(PartCeilingReport::taken);
        let word = doubt.as_deref().unwrap_or(say::role_word(part.role));
        let (word, color) = taken.as_deref().map_or((word, p.soft), |taken| (taken, p.copper));
        let rest = self.name - ink.right() - sizes.label;
        if !name.to_lowercase().contains(word) && rest > sizes.label * 4.0 {
            let at = pos2(ink.right() + sizes.label, y);
            text::line_within(painter, at, left, word, regular(sizes.label), color, rest);
        }
        let spoken = match self.why(part) {
            Some(why) => {
                let at = pos2(self.spread, y);
                text::line(painter, at, Align2::RIGHT_CENTER, why, regular(sizes.body), p.soft);
                say::spoken_without(&part.name, part.role, why)
            }
            None => {
                self.numbers(ui, y, part, scene, limits.watch_db);
                let (offset, spread) = (part.offset_ms, part.spread_ms);
                say::spoken(&part.name, part.role, part.reference, offset, spread, &part.costs)
            }
        };
        let id = scene.id(ui, "part").with(k);
        let mut all = spoken.clone();
        let mut lines = vec![spoken];
        if part.status == PartStatus::Heard {
            lines.extend(part.passages.iter().map(words::passage_says));
            lines.extend(part.doubles.iter().cloned());
        }
        if let Some(worst) = lines.get(1) {
            all = format!("{all}. {worst}");
        }
        if let Some(ceiling) = &part.ceiling {
            let alone = words::heard_alone(&ceiling.says);
            all = format!("{}. {alone}", all.trim_end_matches('.'));
            lines.push(alone);
        }
        if let Some(doubt) = doubt {
            let doubt = format!("{doubt}. {}", roles::SOUNDS_LIKE_HOW);
            all = format!("{}. It {doubt}", all.trim_end_matches('.'));
            lines.push(doubt);
        }
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        panel::spot(ui, row, id, &all, |ui| panel::tip(ui, p, &name, &lines));
    }

    /// Why there are no numbers.
    fn why(&self, part: &LinkedPart) -> Option<&'static str> {
        match part.status {
            PartStatus::Heard => None,
            PartStatus::Waiting => Some(say::WAITING),
            PartStatus::NoPosition => Some(say::PART_NO_POSITION),
            PartStatus::OtherRate => Some(say::OTHER_RATE),
            PartStatus::Silent => Some(say::SILENT),
        }
    }

    fn numbers(&self, ui: &Ui, y: f32, part: &LinkedPart, scene: &Scene<'_>, watch_db: f64) {
        let (p, sizes) = (scene.palette, scene.layout.sizes);
        let painter = ui.painter();
        let right = Align2::RIGHT_CENTER;
        if part.reference {
            let at = pos2(self.spread, y);
            text::line(painter, at, right, say::REFERENCE, regular(sizes.body), p.soft);
        } else {
            let dash = || "\u{2013}".to_owned();
            let ms = "ms";
            let offset = part.offset_ms.map_or_else(dash, |x| words::signed(Some(x), ms));
            let spread = part.spread_ms.map_or_else(dash, |x| words::value(Some(x), ms));
            for (x, number) in [(self.offset, offset), (self.spread, spread)] {
                text::line(painter, pos2(x, y), right, &number, regular(sizes.body), p.text);
            }
        }
        let at = pos2(self.cost, y);
        let left = Align2::LEFT_CENTER;
        let Some((kind, db)) = part.dearest() else {
            text::line(painter, at, left, "\u{2013}", regular(sizes.body), p.soft);
            return;
        };
        let (font, color) = if db >= watch_db {
            (bold(sizes.body), p.copper)
        } else {
            (regular(sizes.body), p.text)
        };
        let value = words::value(Some(db), "dB");
        let ink = text::line(painter, at, left, &value, font, color);
        let at = pos2(ink.right() + 5.0, y);
        let word = leak_name(kind).to_lowercase();
        let room = self.right - at.x;
        text::line_within(painter, at, left, &word, regular(sizes.label), p.soft, room);
    }
}
