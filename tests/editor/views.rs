//! The views beside the hits, freezing, and what has changed since a kept pass.

use brunt::Theme;
use brunt::display::Display;
use brunt::editor::compare::Picture;
use brunt::editor::theme::Palette;
use brunt::editor::views::View;
use brunt_engine::Relation;
use egui::{Key, vec2};
use egui_kittest::kittest::Queryable;

use crate::sample;
use crate::stage::Stage;

fn stage(display: Display, size: (f32, f32), view: View) -> Stage {
    let mut stage = Stage::new(display, vec2(size.0, size.1), 1.0, Theme::Dark);
    stage.harness.state_mut().state.view = view;
    stage.harness.run();
    stage
}

const OPEN: (f32, f32) = (960.0, 600.0);
const SMALL: (f32, f32) = (640.0, 400.0);

#[test]
fn every_view_is_reached_by_its_name() {
    let mut stage = stage(sample::kept(), OPEN, View::Hits);
    for (label, view) in [
        ("View: Song", View::Song),
        ("View: Parts", View::Parts),
        ("View: Compare", View::Compare),
        ("View: Hits", View::Hits),
    ] {
        stage.harness.get_by_label(label).click();
        stage.harness.run();
        assert_eq!(stage.harness.state().state.view, view);
    }
}

/// Each view fills the panel with something else, and leaves what is around it as it is.
#[test]
fn pictures_of_the_views() {
    for (size, ending) in [(OPEN, ""), (SMALL, "-small")] {
        let pictures = [
            ("kept", View::Hits),
            ("song", View::Song),
            ("parts", View::Parts),
            ("compare", View::Compare),
        ]
        .map(|(name, view)| {
            (name, stage(sample::kept(), size, view).save(&format!("view-{name}{ending}")))
        });
        for (k, (name, picture)) in pictures.iter().enumerate() {
            for (other_name, other) in &pictures[..k] {
                let differs = picture.differs(other);
                let pair = format!("{name} and {other_name}{ending}: {differs:.3}");
                assert!((0.01..0.6).contains(&differs), "{pair}");
            }
        }
    }
    stage(sample::sections(), SMALL, View::Song).save("view-sections-small");
}

/// A lane for each leak that parts show, with gaps where nothing is known; what it is stands under
/// the numbers.
#[test]
fn the_parts_costs_have_lanes() {
    let of = |size, scale, theme| {
        let mut stage = Stage::new(sample::lanes(), vec2(size, size * 0.625), scale, theme);
        stage.harness.state_mut().state.view = View::Song;
        stage.harness.run();
        stage
    };
    of(640.0, 1.0, Theme::Dark).save("view-lanes-small");
    of(960.0, 2.0, Theme::Dark).save("view-lanes-twice");
    of(960.0, 1.0, Theme::Light).save("view-lanes-light");
    let mut stage = of(960.0, 1.0, Theme::Dark);
    let picture = stage.save("view-lanes");
    let copper = Palette::of(Theme::Dark).copper;
    let without = self::stage(sample::sections(), OPEN, View::Song).picture();
    assert!(picture.count(copper) > without.count(copper) + 1_000, "three lanes more");
    let plot = stage.harness.get_by_label_contains("Picture of the song").rect();
    let at = |share: f32| plot.left() + plot.width() * share;
    // 80 s, in the third section; 112 s, in the pause.
    for (share, timing, drive) in [(80.0, "3.", "0.9 dB"), (112.0, "unknown", "unknown")] {
        stage.harness.hover_at(egui::pos2(at(share / 184.0), plot.center().y));
        stage.harness.run_steps(4);
        stage.save(if share < 100.0 { "view-lanes-hover" } else { "view-lanes-hover-gap" });
        for words in ["Cost of timing", "Cost of clutter", "Cost of guitar gain"] {
            stage.harness.get_by_label(words);
        }
        stage.harness.get_by_label_contains("the mean over the main hits of the five seconds");
        assert!(stage.harness.query_all_by_label_contains(timing).next().is_some(), "{timing}");
        assert!(stage.harness.query_all_by_label_contains(drive).next().is_some(), "{drive}");
    }
}

fn compared(display: Display, size: (f32, f32), picture: Picture) -> Stage {
    let mut stage = stage(display, size, View::Compare);
    stage.harness.state_mut().state.compare = picture;
    stage.harness.run();
    stage
}

/// The shape of a hit and the spectra, to be looked at: three sizes, two themes, twice the scale, each
/// with each at the smallest and the largest.
#[test]
fn pictures_of_the_comparison() {
    let with_kept = |mut display: Display| {
        display.kept = sample::kept().kept;
        let mut then = sample::with_shape(sample::clean());
        then.shape = sample::shape_of_reference().side_shape;
        display.kept.extend(brunt::kept::KeptPass::of(&then, 3));
        display
    };
    for (name, display) in [
        ("shaved", sample::shaved()),
        ("kept", with_kept(sample::shaved())),
        ("reference", sample::shape_of_reference()),
        ("alone", sample::with_shape(sample::clean())),
    ] {
        for (picture, of) in [(Picture::Shape, "shape"), (Picture::Spectrum, "spectrum")] {
            for (end, size, scale, theme) in [
                ("", OPEN, 1.0, Theme::Dark),
                ("-light", OPEN, 1.0, Theme::Light),
                ("-small", SMALL, 1.0, Theme::Dark),
                ("-small-light", SMALL, 1.0, Theme::Light),
                ("-small-twice", SMALL, 2.0, Theme::Dark),
                ("-small-light-twice", SMALL, 2.0, Theme::Light),
                ("-large", (1440.0, 900.0), 1.0, Theme::Light),
                ("-large-dark", (1440.0, 900.0), 1.0, Theme::Dark),
                ("-large-twice", (1440.0, 900.0), 2.0, Theme::Light),
                ("-twice", OPEN, 2.0, Theme::Dark),
            ] {
                let mut stage = Stage::new(display.clone(), vec2(size.0, size.1), scale, theme);
                stage.harness.state_mut().state.view = View::Compare;
                stage.harness.state_mut().state.compare = picture;
                stage.harness.run();
                let taken = stage.save(&format!("compare-{of}-{name}{end}"));
                assert!(taken.count(Palette::of(theme).bone) > 300, "{of} {name}{end}: no strokes");
            }
        }
    }
}

/// What is taken shows as copper, the kept pass in blue; the numbers of all are told.
#[test]
fn the_shape_shows_what_was_taken() {
    let alone = compared(sample::with_shape(sample::clean()), OPEN, Picture::Shape);
    let mut shaved = compared(sample::shaved(), OPEN, Picture::Shape);
    let copper = Palette::of(Theme::Dark).copper;
    let (few, many) = (alone.picture().count(copper), shaved.picture().count(copper));
    assert!(many > few + 500, "copper: {few} alone, {many} with the mix before");
    alone.harness.get_by_label_contains("this mix, 212 hits: height 8.4 dB");
    shaved.harness.get_by_label_contains("before, 212 hits: height 12.6 dB");
    shaved.harness.get_by_label("Height: 8.4 dB. before 12.6 dB");
    let plot = shaved.harness.get_by_label_contains("The shape of a hit").rect();
    shaved.harness.hover_at(plot.center());
    shaved.harness.run_steps(4);
    shaved.save("compare-shape-hover");
    assert!(shaved.harness.query_all_by_label_contains("after the onset").next().is_some());
}

/// Where a linked part plays kick and snare, each has a shape of its own to choose; without one there is
/// nothing to choose.
#[test]
fn the_shape_at_a_drum_is_chosen() {
    for (ending, size) in [("", OPEN), ("-small", SMALL)] {
        let mut stage = compared(sample::by_drum(), size, Picture::Shape);
        let all = stage.picture();
        stage.harness.get_by_label("Height: 8.4 dB. before 12.6 dB");
        stage.harness.get_by_label("Shape: Snare").click();
        stage.harness.run();
        stage.harness.get_by_label_contains("Height: 6.2 dB");
        let snare = stage.save(&format!("compare-shape-snare{ending}"));
        assert!(snare.differs(&all) > 0.01, "another picture");
        stage.harness.get_by_label("Shape: Kick").click();
        stage.harness.run();
        stage.harness.get_by_label_contains("Height: 10.6 dB");
        stage.save(&format!("compare-shape-kick{ending}"));
        stage.harness.get_by_label("Shape: All").click();
        stage.harness.run();
        stage.harness.get_by_label("Height: 8.4 dB. before 12.6 dB");
    }
    let without = compared(sample::shaved(), OPEN, Picture::Shape);
    assert!(without.harness.query_by_label("Shape: Kick").is_none());
}

/// A hit that is pointed at shows its own waveform, and what the limiter did to it.
#[test]
fn a_hit_shows_its_own_waveform() {
    for (name, size, scale, theme) in [
        ("hit-wave", OPEN, 1.0, Theme::Dark),
        ("hit-wave-light", OPEN, 2.0, Theme::Light),
        ("hit-wave-small", SMALL, 1.0, Theme::Dark),
    ] {
        let mut stage = Stage::new(sample::shaved(), vec2(size.0, size.1), scale, theme);
        let plot = stage.harness.get_by_label_contains("Picture of").rect();
        stage.harness.hover_at(plot.center());
        stage.harness.run_steps(4);
        stage.save(name);
        stage.harness.get_by_label_contains("Waveform of this hit");
        assert!(stage.harness.query_all_by_label_contains("Gain reduction").next().is_some());
    }
}

#[test]
fn the_comparison_is_told() {
    let stage = compared(sample::before(), OPEN, Picture::Numbers);
    stage.save("view-before");
    for words in [
        "Same mix: delay 12.34 ms, the mix comes first, gain +6.4 dB \u{b1}0.2 dB. Polarity is \
         inverted between the two. There is EQ or similar in between.",
        "Lost peak: 4.8 dB",
        "Gain reduction: 5.1 dB",
        "Contrast difference: -3.4 dB",
        "Largest reduction: 10.2 dB",
        "High band: +0.9 dB",
    ] {
        stage.harness.get_by_label(words);
    }
    let stage = compared(sample::never_rests(), SMALL, Picture::Numbers);
    stage.save("view-never-rests-small");
    stage.harness.get_by_label_contains("gain +6.4 dB or more.");
    let stage = compared(sample::reference(), SMALL, Picture::Numbers);
    stage.save("view-reference-small");
    stage.harness.get_by_label("Against a reference, both at the same loudness.");
    stage.harness.get_by_label("Mid band: -3.1 dB");
}

#[test]
fn a_side_chain_of_another_programme_is_told() {
    let mut display = sample::before();
    let compare = display.readings.compare.as_mut().expect("compared");
    compare.alignment.relation = Relation::None;
    let stage = compared(display, OPEN, Picture::Numbers);
    stage.harness.get_by_label_contains("does not carry this mix within 500 ms");
    assert!(stage.harness.query_by_label_contains("Lost peak:").is_none());
}

/// The passes differ by what `sample::ceiling` takes: the newest is compared with, place by place.
#[test]
fn the_change_since_the_kept_pass_is_told() {
    let stage = stage(sample::kept(), OPEN, View::Hits);
    stage.harness.get_by_label_contains("Since kept pass 2: hit contrast -");
    stage.harness.get_by_label_contains("at the same song position");
}

#[test]
fn empty_views_say_what_to_do() {
    for (view, words) in [
        (View::Song, "play the song"),
        (View::Parts, "brunt check mix.wav --part"),
        (View::Compare, "Send the mix from before the limiter"),
    ] {
        let stage = stage(sample::empty(), OPEN, view);
        assert!(stage.harness.query_all_by_label_contains(words).next().is_some(), "{words}");
    }
}

#[test]
fn the_song_is_zoomed_by_keys_and_shown_whole_again() {
    let mut stage = stage(sample::kept(), OPEN, View::Song);
    stage.harness.get_by_label_contains("Picture of the song").focus();
    stage.harness.run();
    for _ in 0..2 {
        stage.harness.key_press(Key::Plus);
        stage.harness.run();
    }
    let (from, to) = stage.harness.state().state.range.expect("zoomed");
    let whole = stage.harness.state().display.readings.time_s;
    assert!(to - from < whole * 0.3 && from >= 0.0 && to <= whole + 1e-9, "{from} to {to}");
    stage.harness.key_press(Key::Home);
    stage.harness.run();
    assert_eq!(stage.harness.state().state.range, None);
}

/// The song's sections are told at the marked moment, and the page keys go from one to the next.
#[test]
fn sections_are_told_and_gone_to_by_the_page_keys() {
    let mut stage = stage(sample::sections(), OPEN, View::Song);
    stage.save("view-sections");
    stage.harness.get_by_label_contains("Picture of the song").focus();
    stage.harness.run();
    for (number, (from_s, lufs, contrast_db)) in (1..).zip(sample::SECTIONS) {
        stage.harness.key_press(Key::PageDown);
        stage.harness.run();
        let (from, to) = stage.harness.state().state.range.expect("a section");
        assert!((from - from_s).abs() < 3.0 && to > from + 8.0, "{number}: {from} to {to}");
        let song = stage.harness.get_by_label_contains("Picture of the song");
        let told = song.value().expect("a moment");
        let (_, said) = told.split_once(&format!("Section {number}: loudness ")).expect(&told);
        let read: Vec<f64> = said.split([' ', ',']).filter_map(|word| word.parse().ok()).collect();
        assert!((read[0] - lufs).abs() < 0.5 && (read[1] - contrast_db).abs() < 0.5, "{told}");
    }
    stage.save("view-section");
    stage.harness.key_press(Key::PageUp);
    stage.harness.run();
    let (from, _) = stage.harness.state().state.range.expect("a section");
    assert!((from - sample::SECTIONS[4].0).abs() < 3.0, "{from}");
}

#[test]
fn a_frozen_picture_keeps_its_numbers_while_measuring_goes_on() {
    let mut stage = stage(sample::ceiling(), OPEN, View::Hits);
    stage.harness.get_by_label("Freeze").click();
    stage.harness.run();
    stage.harness.state_mut().display.readings.loudness.integrated_lufs = Some(-33.3);
    stage.harness.run();
    stage.harness.get_by_label("Integrated -10.3 LUFS");
    stage.harness.get_by_label_contains("Frozen.");
    stage.harness.get_by_label("Freeze").click();
    stage.harness.run();
    stage.harness.get_by_label("Integrated -33.3 LUFS");
}
