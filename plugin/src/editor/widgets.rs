//! Controls of the screen: each has a name for assistive technology, a focus ring, and a shape
//! besides its colour for being on.

use egui::accesskit::Role;
use egui::{
    Align2, DragValue, Id, Painter, Rect, Response, Sense, Stroke, StrokeKind, Ui, WidgetInfo,
    pos2, vec2,
};

use super::fonts::{bold, regular};
use super::text;
use super::theme::{Palette, RADIUS};

/// What every control needs to be drawn.
#[derive(Clone, Copy)]
pub struct Look<'a> {
    /// Colours.
    pub palette: &'a Palette,
    /// Size of its text, logical pixels.
    pub size: f32,
}

impl Look<'_> {
    /// Space beside the text of a control.
    const PAD: f32 = 8.0;

    fn text_width(&self, painter: &Painter, label: &str) -> f32 {
        let font = bold(self.size);
        painter.layout_no_wrap(label.to_owned(), font, self.palette.text).size().x.ceil()
    }

    /// Width of a button with this text.
    #[must_use]
    pub fn button_width(&self, ui: &Ui, label: &str) -> f32 {
        self.text_width(ui.painter(), label) + 2.0 * Self::PAD
    }

    /// Width of a switch with this text.
    #[must_use]
    pub fn switch_width(&self, ui: &Ui, label: &str) -> f32 {
        self.button_width(ui, label) + self.size + 4.0
    }

    /// A button.
    pub fn button(&self, ui: &Ui, rect: Rect, id: Id, label: &str, name: &str) -> Response {
        let response = ui.interact(rect, id, Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
        self.frame(ui, rect, &response, response.is_pointer_button_down_on());
        let font = regular(self.size);
        text::line(
            ui.painter(),
            rect.center(),
            Align2::CENTER_CENTER,
            label,
            font,
            self.palette.text,
        );
        response
    }

    /// A switch: a box, filled when on, beside its name.
    pub fn switch(&self, ui: &Ui, rect: Rect, id: Id, label: &str, on: bool) -> Response {
        let response = ui.interact(rect, id, Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::CheckBox, true, on, label));
        self.frame(ui, rect, &response, on);
        let side = self.size;
        let square = Rect::from_min_size(
            pos2(rect.left() + Self::PAD, rect.center().y - side / 2.0),
            vec2(side, side),
        );
        let painter = ui.painter();
        painter.rect_stroke(square, 1.0, Stroke::new(1.25, self.palette.edge), StrokeKind::Inside);
        if on {
            painter.rect_filled(square.shrink(3.0), 0.0, self.palette.blue);
        }
        let at = pos2(square.right() + 6.0, rect.center().y);
        let font = regular(self.size);
        text::line(painter, at, Align2::LEFT_CENTER, label, font, self.palette.text);
        response
    }

    /// Width of a row of choices.
    #[must_use]
    pub fn choices_width(&self, ui: &Ui, labels: &[&str]) -> f32 {
        labels.iter().map(|label| self.button_width(ui, label)).sum()
    }

    /// A row of choices, one of them taken: underlined and bold. Gives the index of a new choice.
    /// `names` are what assistive technology says; `tips` stand in the tooltips.
    pub fn choices(
        &self,
        ui: &Ui,
        rect: Rect,
        id: Id,
        labels: &[&str],
        names: &[&str],
        tips: &[&str],
        taken: usize,
    ) -> Option<usize> {
        let mut new = None;
        let mut left = rect.left();
        self.field(ui, rect);
        for (i, label) in labels.iter().enumerate() {
            let width = self.button_width(ui, label);
            let part = Rect::from_min_size(pos2(left, rect.top()), vec2(width, rect.height()));
            left += width;
            let on = i == taken;
            let response = ui.interact(part, id.with(i), Sense::click());
            let name = names.get(i).copied().unwrap_or(label);
            response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, name));
            self.part(ui, part, &response, on);
            let font = if on { bold(self.size) } else { regular(self.size) };
            let color = if on { self.palette.text } else { self.palette.soft };
            text::line(ui.painter(), part.center(), Align2::CENTER_CENTER, label, font, color);
            let response = match tips.get(i) {
                Some(tip) => response.on_hover_text(*tip),
                None => response,
            };
            if response.clicked() && !on {
                new = Some(i);
            }
        }
        new
    }

    /// A number that can be dragged, typed, or changed with the arrow keys.
    pub fn number(
        &self,
        ui: &mut Ui,
        rect: Rect,
        name: &str,
        value: &mut f64,
        range: std::ops::RangeInclusive<f64>,
    ) -> Response {
        ui.spacing_mut().interact_size = rect.size();
        let style = ui.style_mut();
        style.drag_value_text_style = egui::TextStyle::Small;
        style.text_styles.insert(egui::TextStyle::Small, regular(self.size));
        let field = DragValue::new(value).speed(0.02).range(range).fixed_decimals(1);
        let response = ui.put(rect, field).accessible_name(name);
        self.focus(ui, rect, &response);
        response
    }

    /// Ground and outline of a control.
    fn frame(&self, ui: &Ui, rect: Rect, response: &Response, on: bool) {
        let p = self.palette;
        let fill = if on { p.chosen } else { p.control };
        let edge = if response.hovered() { p.blue } else { p.edge };
        ui.painter().rect(rect, RADIUS, fill, Stroke::new(1.0, edge), StrokeKind::Inside);
        self.focus(ui, rect, response);
    }

    /// Ground and outline behind several choices.
    fn field(&self, ui: &Ui, rect: Rect) {
        let p = self.palette;
        ui.painter().rect(rect, RADIUS, p.control, Stroke::new(1.0, p.edge), StrokeKind::Inside);
    }

    /// Ground of one choice.
    fn part(&self, ui: &Ui, rect: Rect, response: &Response, on: bool) {
        let p = self.palette;
        if on {
            ui.painter().rect_filled(rect.shrink(1.0), RADIUS, p.chosen);
            let y = rect.bottom() - 2.0;
            let x = rect.shrink2(vec2(6.0, 0.0)).x_range();
            ui.painter().hline(x, y, Stroke::new(2.0, p.blue));
        } else if response.hovered() {
            let line = Stroke::new(1.0, p.blue);
            ui.painter().rect_stroke(rect, RADIUS, line, StrokeKind::Inside);
        }
        self.focus(ui, rect, response);
    }

    /// The ring around what has the keyboard.
    pub fn focus(&self, ui: &Ui, rect: Rect, response: &Response) {
        if response.has_focus() {
            let ring = Stroke::new(2.0, self.palette.blue);
            ui.painter().rect_stroke(rect.expand(1.0), RADIUS, ring, StrokeKind::Outside);
        }
    }
}
