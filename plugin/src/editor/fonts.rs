//! Typefaces and sizes.

use std::sync::Arc;

use egui::{Context, FontData, FontDefinitions, FontFamily, FontId, TextStyle};

/// Name of the bold family.
const BOLD: &str = "brunt-bold";

/// Sizes of text, logical pixels. One scale for the whole screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sizes {
    /// The one big figure.
    pub figure: f32,
    /// A reading.
    pub value: f32,
    /// A name.
    pub name: f32,
    /// A sentence.
    pub body: f32,
    /// What stands under or beside a number.
    pub label: f32,
}

/// Sizes for a small window.
pub const SMALL: Sizes = Sizes { figure: 30.0, value: 15.0, name: 12.5, body: 10.5, label: 10.0 };
/// Sizes for the window as it opens.
pub const MEDIUM: Sizes = Sizes { figure: 44.0, value: 19.0, name: 14.0, body: 11.5, label: 10.5 };
/// Sizes for a large window.
pub const LARGE: Sizes = Sizes { figure: 60.0, value: 25.0, name: 17.0, body: 13.5, label: 12.5 };

/// Regular text.
#[must_use]
pub const fn regular(size: f32) -> FontId {
    FontId::new(size, FontFamily::Proportional)
}

/// Bold text.
#[must_use]
pub fn bold(size: f32) -> FontId {
    // The name is shared, so that asking for it in every frame costs a count and no copy.
    static NAME: std::sync::LazyLock<Arc<str>> = std::sync::LazyLock::new(|| Arc::from(BOLD));
    FontId::new(size, FontFamily::Name(Arc::clone(&NAME)))
}

/// Loads the typefaces. Call once for each context, before its first frame.
pub fn install(ctx: &Context) {
    let mut fonts = FontDefinitions::empty();
    let mut add = |name: &str, data: &'static [u8], family: FontFamily| {
        fonts.font_data.insert(name.to_owned(), Arc::new(FontData::from_static(data)));
        fonts.families.entry(family).or_default().push(name.to_owned());
    };
    add("regular", notosans::REGULAR_TTF, FontFamily::Proportional);
    add("bold", notosans::BOLD_TTF, FontFamily::Name(BOLD.into()));
    fonts.families.insert(FontFamily::Monospace, vec!["regular".to_owned()]);
    ctx.set_fonts(fonts);
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (TextStyle::Small, regular(MEDIUM.label)),
            (TextStyle::Body, regular(12.0)),
            (TextStyle::Button, regular(12.0)),
            (TextStyle::Monospace, regular(12.0)),
            (TextStyle::Heading, bold(14.0)),
        ]
        .into();
        style.spacing.tooltip_width = 320.0;
        style.spacing.interact_size = egui::vec2(24.0, 20.0);
        style.spacing.button_padding = egui::vec2(4.0, 1.0);
        style.interaction.selectable_labels = false;
        style.interaction.show_tooltips_only_when_still = false;
        style.interaction.tooltip_delay = 0.25;
        // Animations would draw frames while nothing that is measured changes.
        style.animation_time = 0.0;
    });
}
