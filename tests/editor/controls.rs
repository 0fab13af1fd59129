//! Every control, by its label and by the keyboard.

use brunt::audition::Heard;
use brunt::editor::views::View;
use brunt::{SideRole, Theme};
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::{NodeT, Queryable};

use crate::fake::Fake;
use crate::sample;
use crate::stage::Stage;

/// Every control's label, and whether it acted.
type Acted = fn(&Fake) -> bool;
const CONTROLS: [(&str, Acted); 17] = [
    ("Write the report to a file", |c| c.exports == 1),
    ("Keep this pass to compare with", |c| c.keeps == 1),
    // Started with two kept passes in the view of the song: see `stage`.
    ("Forget kept pass 2", |c| c.forgotten == [2]),
    ("Reset on transport start", |c| c.follow_transport),
    ("Bypass", |c| c.bypass),
    ("Larger window", |c| c.ui_scale > 1.0),
    ("Light", |c| c.theme == Theme::Light),
    ("Reset all readings", |c| c.resets == 1),
    ("Side-chain: Before", |c| c.side_role == SideRole::Before),
    ("Side-chain: Reference", |c| c.side_role == SideRole::Reference),
    ("Side-chain: Partner", |c| c.side_role == SideRole::Partner),
    ("Listen: Side-chain", |c| c.listen == Heard::Side),
    ("Listen: Difference", |c| c.listen == Heard::Difference),
    // These four start from another state: see `prepare`.
    ("Smaller window", |c| c.ui_scale < 2.0),
    ("Dark", |c| c.theme == Theme::Dark),
    ("Side-chain: Off", |c| c.side_role == SideRole::Off),
    ("Listen: Mix", |c| c.listen == Heard::Mix),
];

/// A state in which the control has something to do.
fn prepare(label: &str) -> Fake {
    let mut fake = Fake::default();
    match label {
        "Smaller window" => fake.ui_scale = 2.0,
        "Dark" => fake.theme = Theme::Light,
        "Listen: Mix" => fake.listen = Heard::Difference,
        "Side-chain: Off" => fake.side_role = SideRole::Partner,
        _ => {}
    }
    fake
}

fn stage(label: &str) -> Stage {
    let kept = label.starts_with("Forget");
    let display = if kept { sample::kept() } else { sample::ceiling() };
    let mut stage = Stage::new(display, vec2(960.0, 600.0), 1.0, Theme::Dark);
    if kept {
        stage.harness.state_mut().state.view = View::Song;
    }
    stage.harness.state_mut().controls = prepare(label);
    stage.harness.run();
    stage
}

#[test]
fn every_control_acts_when_clicked() {
    for (label, acted) in CONTROLS {
        let mut stage = stage(label);
        assert!(!acted(&stage.harness.state().controls), "{label} before");
        stage.harness.get_by_label(label).click();
        stage.harness.run();
        assert!(acted(&stage.harness.state().controls), "{label}");
    }
}

#[test]
fn every_control_acts_by_tab_and_space() {
    for (label, acted) in CONTROLS {
        let mut stage = stage(label);
        let found = (0..40).any(|_| {
            stage.harness.key_press(Key::Tab);
            stage.harness.run();
            stage.harness.get_by_label(label).accesskit_node().is_focused()
        });
        assert!(found, "{label} is not reached by Tab");
        stage.harness.key_press(Key::Space);
        stage.harness.run();
        assert!(acted(&stage.harness.state().controls), "{label} by Space");
    }
}

#[test]
fn switches_turn_off_again() {
    let mut stage = stage("Bypass");
    for expected in [true, false, true] {
        stage.harness.get_by_label("Bypass").click();
        stage.harness.run();
        assert_eq!(stage.harness.state().controls.bypass, expected);
    }
}

#[test]
fn limits_are_typed_and_stay_in_order() {
    let mut stage = stage("");
    for (label, typed, expected) in [
        ("Watch from, dB of cost", "1.5", (1.5, 2.0)),
        ("Leaking from, dB of cost", "3.0", (1.5, 3.0)),
        // A limit that passes the other takes it along.
        ("Watch from, dB of cost", "4.0", (4.0, 4.0)),
        ("Leaking from, dB of cost", "0.5", (0.5, 0.5)),
        // Out of range: kept at its end.
        ("Leaking from, dB of cost", "99", (0.5, 12.0)),
    ] {
        stage.harness.get_by_label(label).focus();
        stage.harness.run();
        stage.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        stage.harness.event(egui::Event::Text(typed.to_owned()));
        stage.harness.key_press(Key::Enter);
        stage.harness.run();
        let limits = stage.harness.state().controls.thresholds;
        let got = (limits.watch_db, limits.leaking_db);
        let near = (got.0 - expected.0).abs() < 1e-6 && (got.1 - expected.1).abs() < 1e-6;
        assert!(near, "{label} {typed}: {got:?}, expected {expected:?}");
    }
}

#[test]
fn the_path_of_a_reference_is_typed_and_entered() {
    let mut stage = stage("");
    assert!(stage.harness.query_by_label("Reference file").is_none(), "only with that role");
    stage.harness.state_mut().controls.side_role = SideRole::Reference;
    stage.harness.run();
    stage.harness.get_by_label("Reference file").focus();
    stage.harness.run();
    stage.harness.event(egui::Event::Text("/music/loud.flac".to_owned()));
    stage.harness.run();
    assert_eq!(stage.harness.state().controls.reference, "", "not before it is entered");
    stage.harness.key_press(Key::Enter);
    stage.harness.run();
    assert_eq!(stage.harness.state().controls.reference, "/music/loud.flac");
}

#[test]
fn arrows_go_from_hit_to_hit() {
    let mut stage = stage("");
    let last = stage.harness.state().display.hits.back().map(|placed| placed.hit.index);
    stage.harness.get_by_label_contains("Picture of").focus();
    stage.harness.run();
    assert_eq!(stage.harness.state().state.marked, last, "the newest first");
    for step in 1..=3 {
        stage.harness.key_press(Key::ArrowLeft);
        stage.harness.run();
        assert_eq!(stage.harness.state().state.marked, last.map(|index| index - step));
    }
    stage.harness.key_press(Key::ArrowRight);
    stage.harness.run();
    assert_eq!(stage.harness.state().state.marked, last.map(|index| index - 2));
    let node = stage.harness.get_by_label_contains("Picture of");
    let value = node.accesskit_node().value().unwrap_or_default();
    assert!(value.contains("Hit contrast") && value.contains("Lost peak"), "{value}");
    assert!(node.accesskit_node().is_focused(), "arrows stay in the picture");
}
