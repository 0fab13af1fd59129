//! Colours. Three ideas carry the whole screen: *bone* is punch that is there, *copper* is punch
//! that is lost, *blue* is what can be touched. Everything else is ground and text.

use egui::style::{Selection, WidgetVisuals, Widgets};
use egui::{Color32, CornerRadius, Shadow, Stroke, Visuals};

use crate::state::Theme;

/// Corner radius of panels and controls, logical pixels.
pub const RADIUS: u8 = 3;

/// The colours of one theme.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Fill of a panel.
    pub panel: Color32,
    /// Fill of a control at rest.
    pub control: Color32,
    /// Fill of a control that is chosen.
    pub chosen: Color32,
    /// Hairlines that only group; never the only sign of anything.
    pub hairline: Color32,
    /// Outlines of controls, ticks and axes: at least 3:1 on every fill.
    pub edge: Color32,
    /// Text to be read first.
    pub text: Color32,
    /// Text to be read second.
    pub soft: Color32,
    /// What a hit has left.
    pub bone: Color32,
    /// The range between the weakest and the strongest tenth of the hits, behind the strokes.
    pub band: Color32,
    /// What is lost: caps, costs, leaks.
    pub copper: Color32,
    /// Text on a copper fill.
    pub on_copper: Color32,
    /// Focus, choice, and whatever the pointer is on.
    pub blue: Color32,
}

const fn rgb(hex: u32) -> Color32 {
    Color32::from_rgb((hex >> 16) as u8, (hex >> 8) as u8, hex as u8)
}

const DARK: Palette = Palette {
    ground: rgb(0x12_14_17),
    panel: rgb(0x1a_1d_21),
    control: rgb(0x26_2a_30),
    chosen: rgb(0x2b_41_50),
    hairline: rgb(0x2f_33_3a),
    edge: rgb(0x7d_82_8b),
    text: rgb(0xf1_ec_e0),
    soft: rgb(0xb3_b0_a6),
    bone: rgb(0xe6_dc_c4),
    band: rgb(0x25_28_2c),
    copper: rgb(0xf2_8b_50),
    on_copper: rgb(0x1c_0f_06),
    blue: rgb(0x86_c5_e8),
};

const LIGHT: Palette = Palette {
    ground: rgb(0xe7_e2_d6),
    panel: rgb(0xf6_f3_eb),
    control: rgb(0xe9_e4_d8),
    chosen: rgb(0xc6_dc_e8),
    hairline: rgb(0xd8_d2_c3),
    edge: rgb(0x7b_76_6a),
    text: rgb(0x1f_1f_1e),
    soft: rgb(0x55_52_4a),
    bone: rgb(0x3a_37_31),
    band: rgb(0xe9_e5_da),
    copper: rgb(0x9a_3d_0d),
    on_copper: rgb(0xff_f8_f0),
    blue: rgb(0x0a_5a_82),
};

impl Palette {
    /// The colours of a theme.
    #[must_use]
    pub const fn of(theme: Theme) -> &'static Self {
        match theme {
            Theme::Dark => &DARK,
            Theme::Light => &LIGHT,
        }
    }

    /// Every text colour with every fill that it is drawn on: name, text, fill. Each must reach
    /// 4.5:1 (WCAG 2.2, success criterion 1.4.3).
    #[must_use]
    pub const fn text_pairs(&self) -> [(&'static str, Color32, Color32); 16] {
        [
            ("text on ground", self.text, self.ground),
            ("text on panel", self.text, self.panel),
            ("text on control", self.text, self.control),
            ("text on chosen", self.text, self.chosen),
            ("soft on ground", self.soft, self.ground),
            ("soft on panel", self.soft, self.panel),
            ("soft on control", self.soft, self.control),
            ("soft on band", self.soft, self.band),
            ("text on band", self.text, self.band),
            ("bone on panel", self.bone, self.panel),
            ("copper on panel", self.copper, self.panel),
            ("copper on ground", self.copper, self.ground),
            ("on_copper on copper", self.on_copper, self.copper),
            ("blue on panel", self.blue, self.panel),
            ("blue on ground", self.blue, self.ground),
            ("blue on control", self.blue, self.control),
        ]
    }

    /// Every sign that carries meaning with the fill behind it: name, sign, fill. Each must reach
    /// 3:1 (WCAG 2.2, success criterion 1.4.11).
    #[must_use]
    pub const fn sign_pairs(&self) -> [(&'static str, Color32, Color32); 8] {
        [
            ("edge on ground", self.edge, self.ground),
            ("edge on panel", self.edge, self.panel),
            ("edge on control", self.edge, self.control),
            ("bone on band", self.bone, self.band),
            ("copper on band", self.copper, self.band),
            ("copper on control", self.copper, self.control),
            ("blue on band", self.blue, self.band),
            ("blue on chosen", self.blue, self.chosen),
        ]
    }

    /// The same colours for the widgets that egui draws itself: number fields and tooltips.
    #[must_use]
    pub fn visuals(&self, theme: Theme) -> Visuals {
        let radius = CornerRadius::same(RADIUS);
        let widget = |fill: Color32, edge: Color32| WidgetVisuals {
            bg_fill: fill,
            weak_bg_fill: fill,
            bg_stroke: Stroke::new(1.0, edge),
            corner_radius: radius,
            fg_stroke: Stroke::new(1.0, self.text),
            expansion: 0.0,
        };
        let base = match theme {
            Theme::Dark => Visuals::dark(),
            Theme::Light => Visuals::light(),
        };
        Visuals {
            widgets: Widgets {
                noninteractive: widget(self.panel, self.hairline),
                inactive: widget(self.control, self.edge),
                hovered: widget(self.control, self.blue),
                active: widget(self.chosen, self.blue),
                open: widget(self.control, self.blue),
            },
            selection: Selection { bg_fill: self.chosen, stroke: Stroke::new(2.0, self.blue) },
            override_text_color: Some(self.text),
            extreme_bg_color: self.ground,
            faint_bg_color: self.panel,
            panel_fill: self.ground,
            window_fill: self.panel,
            window_stroke: Stroke::new(1.0, self.edge),
            window_corner_radius: radius,
            menu_corner_radius: radius,
            popup_shadow: Shadow::NONE,
            window_shadow: Shadow::NONE,
            ..base
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.2.
    fn luminance(c: Color32) -> f64 {
        let linear = |byte: u8| {
            let s = f64::from(byte) / 255.0;
            if s <= 0.04045 { s / 12.92 } else { ((s + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(c.r()) + 0.7152 * linear(c.g()) + 0.0722 * linear(c.b())
    }

    /// Contrast ratio, WCAG 2.2.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn black_on_white_is_21_to_1_as_in_wcag() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        // #777 on white, worked out by WCAG 2.2: 1.05 / (((119/255 + 0.055) / 1.055)^2.4 + 0.05).
        assert!((contrast(Color32::from_gray(0x77), Color32::WHITE) - 4.478).abs() < 0.001);
    }

    #[test]
    fn every_text_reaches_4_5_to_1() {
        for theme in [Theme::Dark, Theme::Light] {
            for (name, text, fill) in Palette::of(theme).text_pairs() {
                let ratio = contrast(text, fill);
                assert!(ratio >= 4.5, "{theme:?}, {name}: {ratio:.2}:1");
            }
        }
    }

    #[test]
    fn every_sign_reaches_3_to_1() {
        for theme in [Theme::Dark, Theme::Light] {
            for (name, sign, fill) in Palette::of(theme).sign_pairs() {
                let ratio = contrast(sign, fill);
                assert!(ratio >= 3.0, "{theme:?}, {name}: {ratio:.2}:1");
            }
        }
    }
}
