//! The parts view.

use brunt::display::Display;
use brunt::editor::views::View;
use brunt::links::PartStatus;
use brunt::{Role, Theme};
use brunt_engine::parts::PartRole;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;

use crate::room::check_in;
use crate::sample;
use crate::stage::Stage;

const OPEN: (f32, f32) = (960.0, 600.0);
const SMALL: (f32, f32) = (640.0, 400.0);

fn stage_as(display: Display, size: (f32, f32), scale: f32, theme: Theme, role: Role) -> Stage {
    let mut stage = Stage::new(display, vec2(size.0, size.1), scale, theme);
    let world = stage.harness.state_mut();
    world.state.view = View::Parts;
    world.controls.role = role;
    stage.harness.run();
    stage
}

fn stage(display: Display) -> Stage {
    stage_as(display, OPEN, 1.0, Theme::Dark, Role::Mix)
}

#[test]
fn every_part_is_told_with_its_numbers() {
    let stage = stage(sample::linked());
    for label in [
        "Kit bus, drums: timing reference for the others; costs: timing unknown",
        "Bass DI, bass: offset +12.3 ms, spread 4.1 ms; costs: timing 1.4 dB, clutter 0.2 dB, \
         guitar gain unknown",
        "Gtr L, guitars: offset -3.4 ms, spread 11.8 ms; costs: timing 2.6 dB",
        "vocals, vocals: offset +18.5 ms, spread 27.0 ms",
        "Strings and pads, all of them, from the second refrain on, other: offset +104.9 ms",
        "Tambourine, other: silent",
        "6 parts heard, 0:12 to 1:16 of the song.",
    ] {
        stage.harness.get_by_label_contains(label);
    }
}

/// What a limiter takes from the drums alone is told with their row, and with the mix's ceiling, which
/// does not show it.
#[test]
fn a_limiter_on_the_drum_bus_is_told_on_the_mix() {
    for (name, size, theme) in
        [("parts-limited", OPEN, Theme::Dark), ("parts-limited-small", SMALL, Theme::Light)]
    {
        let stage = stage_as(sample::linked_limited(), size, 1.0, theme, Role::Mix);
        stage.save(name);
        stage.harness.get_by_label_contains("On its own: Hit peaks line up");
        let row = "Limiting, clear: 0.1 dB (0.0 to 0.4 dB). Kit bus alone: limiter 5.2 dB median.";
        stage.harness.get_by_label_contains(row);
        stage.harness.get_by_label_contains("Ease the limiter or clipper on the drums.");
    }
}

/// The drums' own window shows their hits and their ceiling, and no leak of the mix.
#[test]
fn the_drums_show_their_own_hits() {
    let mut stage = stage_as(sample::drums(), OPEN, 1.0, Theme::Dark, Role::Drums);
    stage.save("drums-parts");
    stage.harness.state_mut().state.view = View::Hits;
    stage.harness.run();
    stage.save("drums-hits");
    check_in("drums-hits", &sample::drums(), View::Hits, Role::Drums);
    check_in("parts-limited", &sample::linked_limited(), View::Parts, Role::Mix);
    stage.harness.get_by_label_contains("Picture of ");
    stage.harness.get_by_label_contains("Limiting, leaking");
    let there =
        stage.harness.get_all_by_label_contains("unknown: unknown. Shown on the mix bus.").count();
    assert_eq!(there, 4);
}

/// Where a part strays most is told with its row: by bars, and by the time alone where none are known.
#[test]
fn the_worst_passages_are_told_with_their_bars() {
    let mut stage = stage(sample::linked());
    let row = stage.harness.get_by_label_contains(
        "guitar gain 0.6 dB. Loosest at bars 21 to 22, 0:41 to 0:45: offset -9.2 ms, spread 21.4 ms.",
    );
    let at = row.rect().center();
    stage.harness.get_by_label_contains("guitar gain 0.5 dB. Loosest at 0:21 to 0:25: offset +7.7");
    stage.harness.hover_at(at);
    stage.harness.run_steps(4);
    stage.save("parts-passages");
    stage.harness.get_by_label_contains("Loosest at bar 31, 1:02 to 1:06: offset +4.1 ms");
}

/// The five leaks tell what the parts say, and the cost that they give.
#[test]
fn the_leaks_tell_what_the_parts_show() {
    let stage = stage(sample::linked());
    for label in [
        "Timing, leaking: 3.2 dB (2.2 to 4.2 dB). Gtr L against Kit bus: 3.4 ms early",
        "Clutter, watch: 1.9 dB (1.3 to 2.5 dB). Strings and pads hold through 62 % of the hits. \
         Thin out",
        "Guitar gain, clear: 0.6 dB",
    ] {
        stage.harness.get_by_label_contains(label);
    }
}

#[test]
fn who_cannot_be_heard_is_said_with_what_to_do() {
    use PartStatus::{NoPosition, OtherRate, Waiting};
    for (others, parts, head, how) in [
        (0, &[][..], "No other Brunt found", "each plug-in in a process"),
        (1, &[], "1 other Brunt heard, no part", "choose there"),
        (3, &[], "3 other Brunts heard, no part", "choose there"),
        (2, &[Waiting, Waiting], "2 parts linked, not heard yet", "Start the transport"),
        (2, &[NoPosition], "This host gives no song position", "brunt check mix.wav"),
        (1, &[OtherRate], "1 part linked, not heard yet", "Start the transport"),
    ] {
        let display = sample::linked_as(others, parts);
        let stage = stage(display);
        let said = stage.harness.query_all_by_label_contains(head).next();
        let said = format!("{:?}", said.unwrap_or_else(|| panic!("{head} is not said")));
        assert!(said.contains(how), "{head}: {how} is missing in {said}");
        for leak in ["Timing, unknown", "Clutter, unknown", "Guitar gain, unknown"] {
            stage.harness.get_by_label_contains(leak);
        }
    }
    let stage = stage(sample::linked_as(2, &[Waiting, OtherRate]));
    stage.harness.get_by_label("Track 2, bass: other sample rate");
}

#[test]
fn a_standing_transport_is_said() {
    let mut display = sample::linked();
    display.playing = false;
    stage(display).harness.get_by_label_contains("of the song; transport stopped.");
}

#[test]
fn the_role_is_chosen_by_its_name() {
    let mut stage = stage(sample::linked());
    for (label, role) in
        [("Role: Bass", Role::Bass), ("Role: Other", Role::Other), ("Role: Mix bus", Role::Mix)]
    {
        stage.harness.get_by_label(label).click();
        stage.harness.run();
        assert_eq!(stage.harness.state().controls.role, role);
    }
}

#[test]
fn a_part_shows_its_own_settings_whatever_view_was_chosen() {
    let mut display = sample::empty();
    display.track_name = "Bass DI".to_owned();
    let mut stage = stage_as(display, OPEN, 1.0, Theme::Dark, Role::Bass);
    stage.harness.state_mut().state.view = View::Hits;
    stage.harness.run();
    stage.harness.get_by_label_contains("This Brunt measures a part.");
    stage.harness.get_by_label_contains("Timing, unknown: unknown. Shown on the mix bus.");
    stage.harness.get_by_label("Name of this part").focus();
    stage.harness.run();
    stage.harness.event(egui::Event::Text("Low end".to_owned()));
    stage.harness.run();
    assert_eq!(stage.harness.state().controls.part_name, "", "not before it is entered");
    stage.harness.key_press(Key::Enter);
    stage.harness.run();
    assert_eq!(stage.harness.state().controls.part_name, "Low end");
    stage.harness.get_by_label("Trim of this part, ms").focus();
    stage.harness.run();
    stage.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    stage.harness.event(egui::Event::Text("-12.5".to_owned()));
    stage.harness.key_press(Key::Enter);
    stage.harness.run();
    assert_eq!(stage.harness.state().controls.trim_ms, -12.5);
}

/// Said in words with the evidence, taken by one click, and never by itself; nothing is left to say
/// then.
#[test]
fn a_suggested_role_is_said_and_taken_by_one_click() {
    let take = "Set the role of this part to drums";
    for (track, says) in [
        ("Track 3", "Sounds like drums (nearly sure): its hits fall 17.8 dB in 70 ms."),
        ("Kick", "in 70 ms. Its name says so too."),
        ("Bass DI", "in 70 ms. Its name says otherwise."),
    ] {
        let display = sample::sounding(track, Some(PartRole::Drums));
        let mut stage = stage_as(display, OPEN, 1.0, Theme::Dark, Role::Bass);
        stage.harness.get_by_label_contains(says);
        assert_eq!(stage.harness.state().controls.role, Role::Bass, "set by itself");
        stage.harness.get_by_label(take).click();
        stage.harness.run();
        assert_eq!(stage.harness.state().controls.role, Role::Drums);
        stage.harness.run();
        assert!(stage.harness.query_by_label(take).is_none(), "{track}: nothing is left to say");
    }
}

/// Without a sound that is clear the track's name speaks, on the mix bus it alone; where neither
/// does, nothing is said.
#[test]
fn a_name_suggests_a_role_too() {
    for (track, own, role, says) in [
        ("Gtr L", None, Role::Mix, Some("Named \u{201c}Gtr L\u{201d}: guitars?")),
        ("Gtr L", None, Role::Other, Some("Named \u{201c}Gtr L\u{201d}: guitars?")),
        ("Gtr L", None, Role::Guitars, None),
        ("Mix", None, Role::Mix, None),
        ("Mix", Some(PartRole::Drums), Role::Mix, None),
        ("Track 7", None, Role::Bass, None),
        ("Bass", Some(PartRole::Drums), Role::Drums, None),
    ] {
        let display = sample::sounding(track, own);
        let stage = stage_as(display, OPEN, 1.0, Theme::Dark, role);
        let button = stage.harness.query_by_label_contains("Set the role of this part");
        assert_eq!(button.is_some(), says.is_some(), "{track} as {role:?}");
        if let Some(says) = says {
            stage.harness.get_by_label_contains(says);
        }
    }
}

/// In the list: what to do is to open the part's own window, which alone may change its role. A part
/// given as *other* may be anything.
#[test]
fn a_part_that_sounds_like_another_role_is_marked_in_the_list() {
    let stage = stage(sample::doubted());
    let marked = "sounds like bass. Open Brunt on that part's bus to change its role.";
    stage.harness.get_by_label_contains(marked);
    assert_eq!(stage.harness.query_all_by_label_contains("sounds like").count(), 1);
}

#[test]
fn many_parts_are_gone_through_by_keys_and_wheel() {
    let mut stage = stage(sample::many_linked());
    let rows = stage.harness.query_all_by_label_contains("costs: timing").count();
    assert!((5..40).contains(&rows), "{rows} rows");
    let last = |stage: &Stage| stage.harness.query_by_label_contains(" 69, ").is_some();
    assert!(!last(&stage));
    stage.harness.get_by_label_contains("Parts 1 to").focus();
    stage.harness.run();
    stage.harness.key_press(Key::ArrowDown);
    stage.harness.run();
    stage.harness.get_by_label_contains("Parts 2 to");
    stage.harness.key_press(Key::End);
    stage.harness.run();
    assert!(last(&stage), "the last part is reached");
    stage.harness.get_by_label_contains(" to 70 of 70.");
    stage.harness.key_press(Key::Home);
    stage.harness.run();
    let place = stage.harness.get_by_label_contains("Gtr L, guitars").rect().center();
    stage.harness.hover_at(place);
    stage.harness.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: vec2(0.0, -400.0),
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: Modifiers::NONE,
    });
    // The wheel's way is smoothed over several frames.
    stage.harness.run_steps(12);
    assert!(stage.harness.query_by_label_contains("Parts 1 to").is_none(), "the wheel moves it");
}

/// What can be suggested, the longest sentence among it.
fn suggestions() -> [(&'static str, Display, Role); 4] {
    let name = "Guitars from the second refrain on";
    [
        ("role-sounds", sample::sounding("Bass DI", Some(PartRole::Drums)), Role::Bass),
        ("role-longest", sample::sounding(name, Some(PartRole::Guitars)), Role::Vocals),
        ("role-named", sample::sounding(name, None), Role::Mix),
        ("role-doubted", sample::doubted(), Role::Mix),
    ]
}

#[test]
fn pictures_of_the_parts() {
    for (name, display) in
        [("parts-linked", sample::linked()), ("parts-many", sample::many_linked())]
    {
        for (size, scale, theme, which) in [
            (OPEN, 1.0, Theme::Dark, ""),
            (OPEN, 1.0, Theme::Light, "-light"),
            (SMALL, 1.0, Theme::Dark, "-small"),
            (SMALL, 3.0, Theme::Dark, "-three-times"),
        ] {
            let stage = stage_as(display.clone(), size, scale, theme, Role::Mix);
            let picture = stage.save(&format!("{name}{which}"));
            assert!(picture.colors() > 60, "{name}{which}: {} colours", picture.colors());
        }
    }
    for (size, scale, theme, which) in [
        (OPEN, 1.0, Theme::Dark, ""),
        (OPEN, 1.0, Theme::Light, "-light"),
        (SMALL, 1.0, Theme::Dark, "-small"),
        (SMALL, 3.0, Theme::Dark, "-three-times"),
    ] {
        for (name, display, role) in suggestions() {
            stage_as(display, size, scale, theme, role).save(&format!("{name}{which}"));
        }
    }
    let mut own = sample::empty();
    own.track_name = "Bass DI".to_owned();
    for (size, which) in [(OPEN, ""), (SMALL, "-small")] {
        stage_as(own.clone(), size, 1.0, Theme::Dark, Role::Bass).save(&format!("part-own{which}"));
        let alone = sample::linked_as(0, &[]);
        stage_as(alone, size, 1.0, Theme::Dark, Role::Mix).save(&format!("parts-alone{which}"));
        let waiting = sample::linked_as(3, &[PartStatus::Waiting, PartStatus::OtherRate]);
        stage_as(waiting, size, 1.0, Theme::Dark, Role::Mix).save(&format!("parts-waiting{which}"));
    }
}

#[test]
fn no_text_over_another() {
    let states = [
        ("linked", sample::linked(), Role::Mix),
        ("many", sample::many_linked(), Role::Mix),
        ("alone", sample::linked_as(0, &[]), Role::Mix),
        ("waiting", sample::linked_as(2, &[PartStatus::Waiting; 2]), Role::Mix),
        ("no position", sample::linked_as(1, &[PartStatus::NoPosition]), Role::Mix),
        ("a part", sample::empty(), Role::Guitars),
    ];
    for (name, display, role) in states {
        check_in(name, &display, View::Parts, role);
    }
    for (name, display, role) in suggestions() {
        check_in(name, &display, View::Parts, role);
    }
}

#[test]
fn no_frame_is_asked_for_while_nothing_changes() {
    let mut stage = stage(sample::many_linked());
    assert_eq!(stage.harness.run(), 1, "settled, and still asks for frames");
}
