//! A row a part.

use egui::{Align2, Rect, ScrollArea, Sense, Ui, pos2, vec2};

use brunt_report::words::{self, leak_name, links as say};

use super::super::fonts::{bold, regular};
use super::super::glyph;
use super::super::panel;
use super::super::scene::Scene;
use super::super::text;
use crate::display::Controls;
use crate::links::{LinkedPart, PartStatus};

/// Draws what was heard, and what to do where that is not all, over the rows.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    scene: &Scene<'_>,
    controls: &dyn Controls,
    head: &str,
    how: &str,
) {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let painter = ui.painter().clone();
    let top = rect.top() + scene.layout.gap * 0.5;
    let galley = text::wrapped(&painter, head, bold(sizes.body), p.text, rect.width(), 2);
    let mut bottom = top + galley.size().y;
    painter.galley(pos2(rect.left(), top), galley, p.text);
    if !how.is_empty() {
        let galley = text::balanced(&painter, how, regular(sizes.body), p.soft, rect.width(), 3);
        painter.galley(pos2(rect.left(), bottom + 2.0), galley.clone(), p.soft);
        bottom += 2.0 + galley.size().y;
    }
    let spot = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.right(), bottom));
    panel::spot(ui, spot, scene.id(ui, "parts heard"), &format!("{head} {how}"), |ui| {
        panel::tip(ui, p, head, &[how]);
    });

    let columns = Columns::new(rect, scene);
    let head_y = bottom + sizes.label * 1.5;
    columns.heads(ui, head_y, scene);
    let tall = (sizes.body * 1.75).round();
    let top = head_y + sizes.label;
    // Whole rows alone: half a row could be taken for one without numbers.
    let fit = ((rect.bottom() - top) / tall).floor().max(1.0);
    let rows = Rect::from_min_size(pos2(rect.left(), top), vec2(rect.width(), fit * tall));
    let parts = &scene.display.linked.parts;
    let mut child = ui.new_child(egui::UiBuilder::new().max_rect(rows));
    child.spacing_mut().item_spacing = vec2(0.0, 0.0);
    ScrollArea::vertical().id_salt("parts").auto_shrink(false).max_height(rows.height()).show_rows(
        &mut child,
        tall,
        parts.len(),
        |ui, range| {
            for k in range {
                let (row, _) = ui.allocate_exact_size(vec2(rows.width(), tall), Sense::hover());
                columns.row(ui, row, k, &parts[k], scene, controls);
            }
        },
    );
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
        // Room for a bar to scroll with.
        let right = rect.right() - 10.0;
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
        let word = say::role_word(part.role);
        let rest = self.name - ink.right() - sizes.label;
        if !name.to_lowercase().contains(word) && rest > sizes.label * 4.0 {
            let at = pos2(ink.right() + sizes.label, y);
            text::line_within(painter, at, left, word, regular(sizes.label), p.soft, rest);
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
        panel::spot(ui, row, id, &spoken, |ui| panel::tip(ui, p, &name, &[&spoken]));
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
            let unknown = words::UNKNOWN;
            text::line(painter, at, left, unknown, regular(sizes.body), p.soft);
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
