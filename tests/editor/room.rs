//! Every text has its own place: inside its clip and the window, and over no other text.

use brunt::display::Display;
use brunt::editor::views::View;
use brunt::{Role, Theme};
use egui::epaint::{ClippedShape, Shape, TextShape};
use egui::{Rect, vec2};

use crate::sample;
use crate::stage::Stage;

/// Sizes in logical pixels: the smallest, the one that opens, a large one, and two lopsided ones.
const SIZES: [(f32, f32); 5] =
    [(640.0, 400.0), (960.0, 600.0), (1440.0, 900.0), (640.0, 900.0), (1600.0, 420.0)];

/// A text on the screen: what, where its ink is, what clips it, whether it was cut.
struct Text {
    text: String,
    ink: Rect,
    clip: Rect,
    cut: bool,
}

fn texts(shapes: &[ClippedShape]) -> Vec<Text> {
    fn walk(shape: &Shape, clip: Rect, found: &mut Vec<Text>) {
        match shape {
            // An empty field has a text of nothing.
            Shape::Text(TextShape { pos, galley, .. }) if !galley.text().is_empty() => {
                found.push(Text {
                    text: galley.text().to_owned(),
                    ink: galley.mesh_bounds.translate(pos.to_vec2()),
                    clip,
                    cut: galley.elided,
                });
            }
            Shape::Vec(shapes) => shapes.iter().for_each(|shape| walk(shape, clip, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    for ClippedShape { clip_rect, shape, .. } in shapes {
        walk(shape, *clip_rect, &mut found);
    }
    found
}

fn check(name: &str, display: &Display) {
    check_view(name, display, View::Hits);
}

fn check_view(name: &str, display: &Display, view: View) {
    check_in(name, display, view, Role::Mix);
}

/// The same in a view, on an instance of that role.
pub fn check_in(name: &str, display: &Display, view: View, role: Role) {
    for (width, height) in SIZES {
        // Glyphs are placed on whole pixels: the other views have no texts that the hits lack at
        // a larger scale alone.
        let scales: &[f32] = if view == View::Hits { &[1.0, 2.0, 3.0] } else { &[1.0] };
        for &scale in scales {
            let size = vec2(width, height);
            let mut stage = Stage::new(display.clone(), size, scale, Theme::Dark);
            let world = stage.harness.state_mut();
            (world.state.view, world.controls.role) = (view, role);
            stage.harness.run();
            let texts = texts(&stage.harness.output().shapes);
            assert!(texts.len() > 30, "{name}: {} texts", texts.len());
            let window = Rect::from_min_size(egui::Pos2::ZERO, size);
            for (i, one) in texts.iter().enumerate() {
                let place = format!("{name}, {width}x{height} at {scale}: {:?}", one.text);
                let inside = one.clip.intersect(window).expand(0.5);
                assert!(
                    inside.contains_rect(one.ink),
                    "{place} at {:?} leaves {inside:?}",
                    one.ink
                );
                for other in &texts[i + 1..] {
                    let common = one.ink.intersect(other.ink);
                    let apart = common.width() <= 0.0 || common.height() <= 0.0;
                    assert!(apart, "{place} over {:?}: {:?}, {:?}", other.text, one.ink, other.ink);
                }
            }
        }
    }
}

#[test]
fn nothing_played() {
    check("empty", &sample::empty());
    check("before any host", &Display::default());
}

#[test]
fn too_little_played() {
    check("unknown", &sample::unknown());
}

#[test]
fn a_clean_mix() {
    check("clean", &sample::clean());
}

#[test]
fn a_leaking_mix() {
    check("ceiling", &sample::ceiling());
}

#[test]
fn a_rate_that_is_not_measured() {
    check("rate", &sample::unmeasured_rate());
}

#[test]
fn listening() {
    check("listening", &sample::listening());
}

#[test]
fn a_mix_beside_a_kept_pass() {
    check("kept", &sample::kept());
}

#[test]
fn as_crowded_as_it_gets() {
    check("crowded", &sample::crowded());
}

#[test]
fn the_whole_song() {
    check_view("song", &sample::kept(), View::Song);
    check_view("song of sections", &sample::sections(), View::Song);
    check_view("song without anything", &sample::empty(), View::Song);
}

#[test]
fn a_comparison() {
    check_view("before", &sample::before(), View::Compare);
    check_view("never-rests", &sample::never_rests(), View::Compare);
    check_view("reference", &sample::reference(), View::Compare);
    check_view("nothing to compare", &sample::empty(), View::Compare);
}

#[test]
fn no_parts() {
    check_view("no parts", &sample::clean(), View::Parts);
}

#[test]
fn nothing_is_cut_as_the_window_opens() {
    let states = [
        ("empty", sample::empty()),
        ("unknown", sample::unknown()),
        ("clean", sample::clean()),
        ("ceiling", sample::ceiling()),
        ("listening", sample::listening()),
    ];
    for (name, display) in states {
        let stage = Stage::new(display, vec2(960.0, 600.0), 1.0, Theme::Dark);
        for text in texts(&stage.harness.output().shapes) {
            assert!(!text.cut, "{name}: {:?} is cut", text.text);
        }
    }
}

/// The check itself finds what it is there to find.
#[test]
fn an_overlap_would_be_found() {
    let mut harness = egui_kittest::Harness::new_ui(|ui| {
        for x in [10.0, 14.0] {
            let font = egui::FontId::proportional(12.0);
            let at = egui::pos2(x, 10.0);
            ui.painter().text(at, egui::Align2::LEFT_TOP, "word", font, egui::Color32::WHITE);
        }
    });
    harness.run();
    let texts = texts(&harness.output().shapes);
    assert_eq!(texts.len(), 2);
    assert!(texts[0].ink.intersect(texts[1].ink).width() > 0.0);
}
