//! The page's colours: those of the editor. *Bone* is punch that is there, *copper* is punch that
//! is lost; everything else is ground and text.

/// The colours of one theme, as `0xrrggbb`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colours {
    /// Behind everything.
    pub ground: u32,
    /// Fill of a panel.
    pub panel: u32,
    /// Hairlines that only group; never the only sign of anything.
    pub hairline: u32,
    /// Axes and frames: at least 3:1 on every fill.
    pub edge: u32,
    /// Text to be read first.
    pub text: u32,
    /// Text to be read second.
    pub soft: u32,
    /// What a hit has left.
    pub bone: u32,
    /// The range between the weakest and the strongest tenth, behind the strokes.
    pub band: u32,
    /// What is lost.
    pub copper: u32,
    /// Text on a copper fill.
    pub on_copper: u32,
}

/// On a dark screen.
pub const DARK: Colours = Colours {
    ground: 0x12_14_17,
    panel: 0x1a_1d_21,
    hairline: 0x2f_33_3a,
    edge: 0x7d_82_8b,
    text: 0xf1_ec_e0,
    soft: 0xb3_b0_a6,
    bone: 0xe6_dc_c4,
    band: 0x25_28_2c,
    copper: 0xf2_8b_50,
    on_copper: 0x1c_0f_06,
};

/// On a light screen.
pub const LIGHT: Colours = Colours {
    ground: 0xe7_e2_d6,
    panel: 0xf6_f3_eb,
    hairline: 0xd8_d2_c3,
    edge: 0x7b_76_6a,
    text: 0x1f_1f_1e,
    soft: 0x55_52_4a,
    bone: 0x3a_37_31,
    band: 0xe9_e5_da,
    copper: 0x9a_3d_0d,
    on_copper: 0xff_f8_f0,
};

/// On paper: the light theme without its grounds, which would only cost ink.
const PAPER: Colours = Colours { ground: 0xff_ff_ff, panel: 0xff_ff_ff, band: 0xec_e9_e2, ..LIGHT };

/// The three themes as CSS variables.
pub(super) fn variables() -> String {
    format!(
        ":root{{{}}}\n@media (prefers-color-scheme: dark){{:root{{{}}}}}\n@media print{{:root{{{}}}}}\n",
        declarations(&LIGHT),
        declarations(&DARK),
        declarations(&PAPER)
    )
}

fn declarations(c: &Colours) -> String {
    let names = [
        ("ground", c.ground),
        ("panel", c.panel),
        ("hairline", c.hairline),
        ("edge", c.edge),
        ("text", c.text),
        ("soft", c.soft),
        ("bone", c.bone),
        ("band", c.band),
        ("copper", c.copper),
        ("on-copper", c.on_copper),
    ];
    names.map(|(name, rgb)| format!("--{name}:#{rgb:06x};")).concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.2.
    fn luminance(rgb: u32) -> f64 {
        let linear = |byte: u32| {
            let s = f64::from(byte & 0xff) / 255.0;
            if s <= 0.04045 { s / 12.92 } else { ((s + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(rgb >> 16) + 0.7152 * linear(rgb >> 8) + 0.0722 * linear(rgb)
    }

    /// Contrast ratio, WCAG 2.2.
    fn contrast(a: u32, b: u32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn black_on_white_is_21_to_1_as_in_wcag() {
        assert!((contrast(0, 0xff_ff_ff) - 21.0).abs() < 1e-9);
    }

    /// WCAG 2.2, success criterion 1.4.3: text reaches 4.5:1 on every fill that it stands on.
    #[test]
    fn every_text_reaches_4_5_to_1() {
        for (theme, c) in [("dark", DARK), ("light", LIGHT), ("paper", PAPER)] {
            for (name, text, fill) in [
                ("text on ground", c.text, c.ground),
                ("text on panel", c.text, c.panel),
                ("soft on ground", c.soft, c.ground),
                ("soft on panel", c.soft, c.panel),
                ("copper on panel", c.copper, c.panel),
                ("copper on ground", c.copper, c.ground),
                ("on copper", c.on_copper, c.copper),
            ] {
                let ratio = contrast(text, fill);
                assert!(ratio >= 4.5, "{theme}, {name}: {ratio:.2}:1");
            }
        }
    }

    /// WCAG 2.2, success criterion 1.4.11: a sign reaches 3:1 on what is behind it.
    #[test]
    fn every_sign_reaches_3_to_1() {
        for (theme, c) in [("dark", DARK), ("light", LIGHT), ("paper", PAPER)] {
            for (name, sign, fill) in [
                ("bone on panel", c.bone, c.panel),
                ("bone on band", c.bone, c.band),
                ("copper on band", c.copper, c.band),
                ("edge on panel", c.edge, c.panel),
                ("edge on band", c.edge, c.band),
            ] {
                let ratio = contrast(sign, fill);
                assert!(ratio >= 3.0, "{theme}, {name}: {ratio:.2}:1");
            }
        }
    }
}
