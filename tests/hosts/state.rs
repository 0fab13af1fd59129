//! Saved state: there and back, and states that time, disks and other programs have damaged.

use brunt_host::render::play;
use brunt_host::{Block, Blocks, Instance, SavedState, Song};
use brunt_report::report::Report;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use serde_json::{Value, json};

use crate::material::{beat, instance};

/// All parameters' values.
fn values(plugin: &mut Instance) -> Vec<f64> {
    let parameters = plugin.parameters();
    parameters.iter().map(|p| plugin.value(p).expect("has a value")).collect()
}

/// Whether two sets of values are the same but for a float's rounding.
fn same(a: &[f64], b: &[f64]) -> bool {
    a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-6)
}

/// A plug-in with every parameter moved and a pass measured.
fn used() -> Instance {
    let mut plugin = instance();
    for (name, value) in [("Side-chain role", 2.0), ("Watch from", 20.0), ("Leaking from", 70.0)] {
        let parameter = plugin.parameter(name).expect("there");
        plugin.set(&parameter, value).expect("sets");
    }
    let follow = plugin.parameter("Reset on transport start").expect("there");
    plugin.set(&follow, 1.0).expect("sets");
    let main = beat(48_000.0, 3.0, 2);
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    plugin.deactivate(audio);
    let bypass = plugin.parameter("Bypass").expect("there");
    plugin.set(&bypass, 1.0).expect("sets");
    plugin
}

#[test]
fn settings_and_the_last_pass_come_back() {
    let mut before = used();
    let saved = before.save().expect("saves");
    assert_eq!(saved.field("version").expect("there"), json!(6));
    let mut after = instance();
    after.restore(&saved.bytes).expect("loads");
    assert!(same(&values(&mut after), &values(&mut before)));
    let again = after.save().expect("saves");
    assert_eq!(again.report().expect("reads"), saved.report().expect("reads"));
    assert!(saved.report().expect("reads").expect("measured").loudness.integrated_lufs.is_some());
    assert_eq!(again.field("window").expect("there"), saved.field("window").expect("there"));
}

#[test]
fn a_held_reset_comes_back_and_is_not_pressed_by_loading() {
    let mut held = instance();
    let reset = held.parameter("Reset").expect("there");
    held.set(&reset, 1.0).expect("sets");
    let saved = held.save().expect("saves");
    let main = beat(48_000.0, 1.0, 2);
    let song = Song { main: &main, ..Song::default() };
    let blocks = Blocks::Even(512);
    // A state that is loaded in the middle of a pass, and a press after it.
    let seconds = |state: &[u8], press: bool| {
        let mut plugin = instance();
        let mut audio = plugin.activate(48_000.0, 512).expect("activates");
        play(&mut audio, &song, &blocks).expect("plays");
        plugin.restore(state).expect("loads");
        assert_eq!(plugin.value(&reset), Some(1.0), "as it was saved");
        if press {
            for value in [0.0, 1.0] {
                let (changes, slices) = ([reset.event(value)], [&main[0][..64], &main[1][..64]]);
                let block = Block { main: &slices, changes: &changes, ..Block::default() };
                audio.process(&block).expect("processes");
            }
        }
        play(&mut audio, &song, &blocks).expect("plays");
        plugin.deactivate(audio);
        let report = plugin.save().expect("saves").report().expect("reads").expect("a pass");
        report.mix.duration_s
    };
    let (loaded, pressed) = (seconds(&saved.bytes, false), seconds(&saved.bytes, true));
    assert!((loaded - 2.0).abs() < 0.02, "{loaded} s: the pass goes on");
    assert!((pressed - 1.0).abs() < 0.02, "{pressed} s: a press after it starts anew");
}

#[test]
fn a_state_of_version_0_is_taken() {
    let saved = used().save().expect("saves");
    let mut json = saved.json().expect("reads");
    let fields = json["fields"].as_object_mut().expect("fields");
    fields.remove("version");
    fields.remove("pass");
    json["params"]["reset"] = json!({"bool": true});
    let mut plugin = instance();
    plugin.restore(&SavedState::from_json(&json).bytes).expect("loads");
    let role = plugin.parameter("Side-chain role").expect("there");
    assert!((plugin.value(&role).expect("value") - 2.0).abs() < 1e-6);
}

/// Loads a state that cannot be used and makes sure that nothing has changed by it, and that the
/// plug-in still saves, loads and runs.
fn refuses(plugin: &mut Instance, bytes: &[u8], what: &str) {
    let before = (values(plugin), plugin.save().expect("saves").bytes);
    // A host may be told of the failure or not; what counts is that nothing is half applied.
    let _ = plugin.restore(bytes);
    let after = (values(plugin), plugin.save().expect("saves").bytes);
    assert!(before == after, "{what} changed something");
}

#[test]
fn a_truncated_state_changes_nothing() {
    let saved = used().save().expect("saves").bytes;
    let mut plugin = instance();
    for length in (0..200).chain((200..saved.len()).step_by(211)) {
        refuses(&mut plugin, &saved[..length], &format!("{length} of {} bytes", saved.len()));
    }
    plugin.restore(&saved).expect("the whole one loads");
}

#[test]
fn random_bytes_change_nothing() {
    let mut random = Pcg64::seed_from_u64(11);
    let mut plugin = instance();
    for round in 0..300 {
        let length = random.random_range(0..500);
        let bytes: Vec<u8> = (0..length).map(|_| random.random()).collect();
        refuses(&mut plugin, &bytes, &format!("round {round} of seed 11"));
    }
}

#[test]
fn a_flipped_bit_is_refused_or_taken_as_a_whole() {
    let mut source = used();
    let saved = source.save().expect("saves").bytes;
    let (fresh, whole) = (values(&mut instance()), values(&mut source));
    let mut random = Pcg64::seed_from_u64(12);
    for round in 0..200 {
        let mut bytes = saved.clone();
        let place = random.random_range(0..600.min(bytes.len()));
        bytes[place] ^= 1 << random.random_range(0..8);
        let mut plugin = instance();
        let _ = plugin.restore(&bytes);
        let got = values(&mut plugin);
        // A bit can turn one value into another sound one, or one parameter's name into a
        // stranger's; it can never leave half of the settings behind.
        let others = got.iter().zip(&whole).filter(|(a, b)| (*a - *b).abs() > 1e-6).count();
        let taken = others <= 1;
        assert!(taken || same(&got, &fresh), "round {round}, byte {place}: {got:?}");
        for (parameter, value) in plugin.parameters().iter().zip(got) {
            let range = parameter.min..=parameter.max;
            assert!(range.contains(&value), "round {round}: {} is {value}", parameter.name);
        }
    }
}

#[test]
fn lengths_that_lie_change_nothing() {
    let mut plugin = instance();
    for length in [0, 1, 1 << 28, u64::MAX, u64::MAX / 2] {
        let mut bytes = length.to_le_bytes().to_vec();
        bytes.extend_from_slice(b"{}");
        refuses(&mut plugin, &bytes, &format!("length {length}"));
    }
}

#[test]
fn foreign_newer_and_damaged_states_change_nothing() {
    let json = used().save().expect("saves").json().expect("reads");
    let changed = |change: &dyn Fn(&mut Value)| {
        let mut json = json.clone();
        change(&mut json);
        json
    };
    let cases = [
        (
            "another plug-in's",
            json!({"version": "1", "params": {"gain": {"f32": 1.0}}, "fields": {}}),
        ),
        ("no object", json!([1, 2, 3])),
        ("a newer one", changed(&|j| j["fields"]["version"] = json!("999"))),
        ("version a word", changed(&|j| j["fields"]["version"] = json!("one"))),
        ("window a number", changed(&|j| j["fields"]["window"] = json!("7"))),
        ("window a word", changed(&|j| j["fields"]["window"] = json!("{\"width\":\"wide\"}"))),
        ("a field that is no text", changed(&|j| j["fields"]["window"] = json!(7))),
        ("an unknown parameter", changed(&|j| j["params"]["gain"] = json!({"f32": 1.0}))),
        ("a wrong type", changed(&|j| j["params"]["bypass"] = json!({"f32": 1.0}))),
        ("out of range", changed(&|j| j["params"]["watch"] = json!({"f32": -5.0}))),
        ("beyond a float", changed(&|j| j["params"]["leak"] = json!({"f32": 1e300}))),
        ("an unknown role", changed(&|j| j["params"]["side"] = json!({"string": "sideways"}))),
    ];
    let mut plugin = instance();
    for (what, json) in cases {
        refuses(&mut plugin, &SavedState::from_json(&json).bytes, what);
    }
}

/// Sessions that version 5 of the state saved, when a pass was its report alone: a mix beside the one
/// before its limiter, and a mix with its parts. The report comes back as it was, now and when it is
/// saved again.
#[test]
fn a_pass_of_version_5_comes_back() {
    for text in [include_str!("data/state-5-mix.json"), include_str!("data/state-5-parts.json")] {
        let json: Value = serde_json::from_str(text).expect("JSON");
        assert_eq!(json["fields"]["version"], "5");
        let pass: Value =
            serde_json::from_str(json["fields"]["pass"].as_str().expect("a field")).expect("JSON");
        let saved = Report::from_json(&pass["report"].to_string()).expect("a report");
        let mut state = SavedState::from_json(&json);
        for _ in 0..2 {
            let mut plugin = instance();
            plugin.restore(&state.bytes).expect("loads");
            state = plugin.save().expect("saves");
            assert_eq!(state.field("version").expect("there"), json!(6));
            assert_eq!(state.report().expect("reads").expect("a pass"), saved);
            assert_eq!(state.hits_left_out().expect("reads"), 0);
            let new = state.field("pass").expect("there");
            assert_eq!(new["hits"]["beat"], pass["beats"]);
            assert_eq!(new["bars"]["time_s"][1], pass["bars"][1][0]);
        }
    }
}
