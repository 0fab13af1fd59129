//! What assistive technology is told of what is only painted.

use brunt::audition::{Heard, Held};
use brunt::display::Display;
use brunt::reference::{Progress, Shown};
use brunt::{SideRole, Theme};
use egui::vec2;
use egui_kittest::kittest::Queryable;

use crate::sample;
use crate::stage::Stage;

fn stage(display: Display) -> Stage {
    Stage::new(display, vec2(960.0, 600.0), 1.0, Theme::Dark)
}

#[test]
fn every_reading_is_told_with_its_unit() {
    let stage = stage(sample::ceiling());
    for label in [
        "Momentary -9.2 LUFS, Momentary max -7.1 LUFS",
        "Short-term -9.9 LUFS, Short-term max -8.8 LUFS",
        "Integrated -10.3 LUFS",
        "Loudness range 3.5 LU",
        "True peak -1.0 dBTP, Sample peak -1.2 dBFS",
        "PLR 9.1 dB",
        "PSR 8.4 dB, PSR min 5.8 dB",
        "PSR median 7.9 dB",
        "Balance Mid -2.6 dB",
        "Mid deficit +3.4 dB",
        "Side-chain: signal, -15.8 LUFS",
    ] {
        stage.harness.get_by_label(label);
    }
}

#[test]
fn every_leak_is_told_with_state_cost_evidence_and_advice() {
    let stage = stage(sample::ceiling());
    for (start, parts) in [
        ("Limiting, leaking: 3.1 dB (2.2 to 4.3 dB)", ["5.2 dB", "limiter"]),
        ("Mids, watch: 1.3 dB (0.8 to 1.9 dB)", ["3.4 dB", "700 Hz"]),
        ("Timing, unknown: unknown", ["part's bus", "ear"]),
        ("Clutter, unknown: unknown", ["part's bus", "ear"]),
        ("Guitar gain, unknown: unknown", ["guitar bus", "ear"]),
    ] {
        let node = stage.harness.get_by_label_contains(start);
        let text = format!("{node:?}");
        for part in parts {
            assert!(text.contains(part), "{start}: {part} is missing in {text}");
        }
    }
}

#[test]
fn the_last_hits_are_told_where_they_differ_from_the_song() {
    let mut display = sample::ceiling();
    display.readings.ceiling_recent = display.readings.leaks.ceiling;
    let silent = stage(display.clone());
    assert!(silent.harness.query_by_label_contains("Last 24 hits").is_none());
    display.readings.ceiling_recent.implied_reduction_db = Some(2.9);
    stage(display).harness.get_by_label_contains("Last 24 hits: gain reduction 2.9 dB median.");
}

#[test]
fn the_version_is_told() {
    let stage = stage(sample::ceiling());
    stage.harness.get_by_label(concat!("Brunt ", env!("CARGO_PKG_VERSION")));
}

#[test]
fn the_picture_of_the_hits_is_told() {
    let stage = stage(sample::ceiling());
    stage.harness.get_by_label_contains("Arrow keys go from hit to hit");
    stage.harness.get_by_label_contains("median of 32 hits");
}

#[test]
fn empty_states_say_what_to_do() {
    let stage = stage(sample::empty());
    stage.harness.get_by_label_contains("No hits yet: play the song");
    stage.harness.get_by_label_contains("Momentary unknown");
    stage.harness.get_by_label_contains("Side-chain: no signal");
    stage.harness.get_by_label_contains("Limiting, unknown: unknown");
}

#[test]
fn what_stands_in_the_way_is_said() {
    for (set, expected) in [
        ((|d| d.bypassed = true) as fn(&mut Display), "Bypassed: nothing is measured."),
        (|d| d.fault = true, "Measuring has failed and is off."),
        (|d| d.from_saved_pass = true, "From the saved session."),
    ] {
        let mut display = sample::clean();
        let shown = stage(display.clone());
        assert!(shown.harness.query_by_label_contains(expected).is_none(), "{expected} too early");
        set(&mut display);
        stage(display.clone()).harness.get_by_label_contains(expected);
    }
}

#[test]
fn what_is_heard_is_said_while_it_is_not_the_mix() {
    let mix = stage(sample::ceiling());
    assert!(mix.harness.query_by_label_contains("You hear").is_none());
    let side = stage(sample::listening());
    let sign = "You hear the side-chain, not the mix. Turned up 3.2 dB: as loud as the mix over \
                21 seconds. Its true-peak limiter takes up to 2.1 dB";
    side.harness.get_by_label_contains(sign);
    for (held, expected) in [
        (Held::Offline, "You hear the mix: the host renders offline."),
        (Held::Bypassed, "You hear the mix: Brunt is bypassed."),
        (Held::NoSide, "You hear the mix: there is no side-chain."),
        (Held::NotBefore, "You hear the mix: Difference needs the role Before."),
        (Held::Failed, "You hear the mix: listening has failed and is off."),
    ] {
        let mut display = sample::ceiling();
        display.listening.1 = Some(held);
        stage(display).harness.get_by_label_contains(expected);
    }
    // Asked for, and no audio runs yet: the sign is on at once.
    let mut stage = stage(sample::empty());
    stage.harness.state_mut().controls.listen = Heard::Difference;
    stage.harness.run();
    stage.harness.get_by_label_contains("You hear the difference, not the mix. Not matched yet");
}

#[test]
fn what_became_of_a_reference_is_said() {
    let with = |progress| {
        let mut display = sample::clean();
        display.reference = Shown { path: "/music/loud.flac".to_owned(), progress };
        let mut stage = stage(display);
        stage.harness.state_mut().controls.side_role = SideRole::Reference;
        stage.harness.run();
        stage
    };
    with(Progress::Loading).harness.get_by_label("Reference file: reading the file");
    let readings = Box::new(sample::ceiling().readings);
    let ready = with(Progress::Ready(readings));
    ready.harness.get_by_label("Reference file: -10.3 LUFS, hits 8.4 dB");
    ready.save("reference");
    let reason = "/music/loud.flac: no such file; expected a WAV file";
    let failed = with(Progress::Failed(reason.to_owned()));
    failed.harness.get_by_label(&format!("No reference. {reason}"));
    failed.save("reference-gone");
}

#[test]
fn damaged_input_and_drops_are_counted_only_when_there_are_any() {
    let clean = stage(sample::clean());
    assert!(clean.harness.query_by_label_contains("NaN").is_none());
    let mut display = sample::clean();
    display.readings.input.nan_samples = 3;
    display.readings.input.inf_samples = 1;
    display.dropped = 12;
    stage(display).harness.get_by_label("3 NaN, 1 too large, 12 dropped");
}
