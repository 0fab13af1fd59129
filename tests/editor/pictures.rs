//! Pictures of typical states. They are written to be looked at, and checked for what must show.

use brunt::Theme;
use brunt::display::Display;
use brunt::editor::theme::Palette;
use egui::{pos2, vec2};
use egui_kittest::kittest::Queryable;

use crate::render::Picture;
use crate::sample;
use crate::stage::Stage;

fn take(name: &str, display: Display, size: (f32, f32), scale: f32, theme: Theme) -> Picture {
    let stage = Stage::new(display, vec2(size.0, size.1), scale, theme);
    let picture = stage.save(name);
    assert_eq!(picture.width, (size.0 * scale) as usize);
    // Text alone gives dozens of shades; a blank or half-drawn picture has few.
    assert!(picture.colors() > 60, "{name}: {} colours", picture.colors());
    let palette = Palette::of(theme);
    let whole = picture.pixels.len();
    let panel = picture.count(palette.panel);
    assert!(panel > whole / 5, "{name}: panels cover {panel} of {whole} pixels");
    assert!(picture.count(palette.ground) > whole / 50, "{name}: no ground");
    picture
}

const OPEN: (f32, f32) = (960.0, 600.0);

#[test]
fn silence() {
    let picture = take("empty", sample::empty(), OPEN, 1.0, Theme::Dark);
    assert_eq!(
        picture.count(Palette::of(Theme::Dark).copper) / 200,
        0,
        "only the legend and the mark"
    );
    take("before-any-host", Display::default(), OPEN, 1.0, Theme::Dark);
}

#[test]
fn a_leaking_ceiling_shows_more_copper_than_a_clean_mix() {
    let palette = Palette::of(Theme::Dark);
    let clean = take("clean", sample::clean(), OPEN, 1.0, Theme::Dark);
    let leaking = take("ceiling", sample::ceiling(), OPEN, 1.0, Theme::Dark);
    let (few, many) = (clean.count(palette.copper), leaking.count(palette.copper));
    assert!(many > 3 * few.max(200), "copper: {few} clean, {many} leaking");
    let (tall, short) = (clean.count(palette.bone), leaking.count(palette.bone));
    assert!(tall > short, "bone: {tall} clean, {short} leaking");
}

/// Beside a reference the row of the mids says what they are judged by, whole at every size.
#[test]
fn mids_are_judged_beside_the_reference() {
    for (name, size, scale, theme) in [
        ("reference", OPEN, 1.0, Theme::Dark),
        ("reference-small", (640.0, 400.0), 1.0, Theme::Light),
        ("reference-2x", OPEN, 2.0, Theme::Light),
    ] {
        let stage = Stage::new(sample::reference(), vec2(size.0, size.1), scale, theme);
        stage.save(name);
        stage.harness.get_by_label_contains("Mids are weaker than the reference's: lows and highs");
    }
}

#[test]
fn a_rate_that_is_not_measured_is_told() {
    for (name, size) in [("rate", OPEN), ("rate-small", (640.0, 400.0))] {
        let stage = Stage::new(sample::unmeasured_rate(), vec2(size.0, size.1), 1.0, Theme::Dark);
        stage.save(name);
        stage.harness.get_by_label_contains("does not measure at this sample rate");
    }
}

#[test]
fn all_unknown() {
    take("unknown", sample::unknown(), OPEN, 1.0, Theme::Dark);
}

#[test]
fn listening_to_the_side_chain() {
    let picture = take("listening", sample::listening(), OPEN, 1.0, Theme::Dark);
    let mix = take("ceiling", sample::ceiling(), OPEN, 1.0, Theme::Dark);
    let copper = Palette::of(Theme::Dark).copper;
    assert!(picture.count(copper) > mix.count(copper) + 10_000, "the sign is a whole line");
    take("small-listening", sample::listening(), (640.0, 400.0), 1.0, Theme::Dark);
}

#[test]
fn light_theme() {
    take("light", sample::ceiling(), OPEN, 1.0, Theme::Light);
    take("light-empty", sample::empty(), OPEN, 1.0, Theme::Light);
}

#[test]
fn smallest_and_largest() {
    take("small", sample::ceiling(), (640.0, 400.0), 1.0, Theme::Dark);
    take("small-crowded", sample::crowded(), (640.0, 400.0), 1.0, Theme::Dark);
    take("crowded", sample::crowded(), OPEN, 1.0, Theme::Dark);
    take("large", sample::ceiling(), (1440.0, 900.0), 1.0, Theme::Dark);
    take("three-times", sample::ceiling(), (640.0, 400.0), 3.0, Theme::Dark);
    take("two-times", sample::ceiling(), OPEN, 2.0, Theme::Dark);
}

#[test]
fn hover_shows_the_numbers_of_a_hit() {
    let mut stage = Stage::new(sample::ceiling(), vec2(960.0, 600.0), 1.0, Theme::Dark);
    let before = stage.picture();
    let plot = stage.harness.get_by_label_contains("Picture of").rect();
    stage.harness.hover_at(plot.center());
    stage.harness.run_steps(4);
    assert!(stage.harness.state().state.marked.is_some());
    for row in ["Hit contrast", "Lost peak", "Attack", "Song position", "Surroundings"] {
        assert!(stage.harness.query_all_by_label(row).next().is_some(), "{row}");
    }
    let after = stage.save("hover");
    assert!(before.colors() > 60 && after.colors() > 60);
    // The numbers lie over a part of the picture, and the rest of it stays.
    let differs = after.differs(&before);
    assert!((0.005..0.5).contains(&differs), "{differs}");
}

/// Smaller than the smallest size: it scrolls, and nothing is squeezed.
#[test]
fn a_tiny_window_scrolls() {
    let mut stage = Stage::new(sample::ceiling(), vec2(420.0, 300.0), 1.0, Theme::Dark);
    stage.save("tiny");
    let plot = |stage: &Stage| stage.harness.get_by_label_contains("Picture of").rect();
    let before = plot(&stage);
    assert!(before.width() > 200.0, "{before:?}");
    stage.harness.hover_at(pos2(210.0, 290.0));
    stage.harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: vec2(0.0, -80.0),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: egui::Modifiers::NONE,
    });
    // The wheel's way is smoothed over several frames.
    stage.harness.run_steps(12);
    let after = plot(&stage);
    assert!(after.top() < before.top() - 40.0, "{before:?} {after:?}");
    assert_eq!(after.size(), before.size(), "nothing is squeezed");
}
