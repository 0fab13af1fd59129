//! Panics planted in every place of our own that a host can reach, through the CLAP entry.

use brunt_host::render::play;
use brunt_host::{Audio, Blocks, Instance, Song};

use super::planted::plant;
use super::{Place, contained, survives};

fn instance() -> Instance {
    Instance::load_linked(&crate::clap_entry).expect("the linked plug-in")
}

/// A second of something that no measurement turns into itself.
fn main_bus() -> Vec<Vec<f32>> {
    let wave = |step: f32| (0..48_000).map(|k| (k as f32 * step).sin() * 0.5).collect();
    vec![wave(0.13), wave(0.17)]
}

fn passes(audio: &mut Audio, main: &[Vec<f32>]) -> bool {
    let song = Song { main, ..Song::default() };
    let out = play(audio, &song, &Blocks::Cycle(vec![512, 64, 1, 333])).expect("plays");
    out.iter().flatten().map(|x| x.to_bits()).eq(main.iter().flatten().map(|x| x.to_bits()))
}

#[test]
fn a_panic_is_caught() {
    assert_eq!(contained(|| 1, || 2), 2);
    assert_eq!(contained(|| 1, || panic!("planted by a test")), 1);
    assert!(survives(|| ()));
    assert!(!survives(|| panic!("planted by a test")));
}

#[test]
fn a_failed_block_passes_every_bit_and_the_report_says_so_until_a_reset() {
    for place in [Place::Meter, Place::Block] {
        let main = main_bus();
        let mut plugin = instance();
        let mut audio = plugin.activate(48_000.0, 512).expect("activates");
        assert!(passes(&mut audio, &main));
        plant(Some(place));
        assert!(passes(&mut audio, &main), "{place:?}: while it fails");
        plant(None);
        assert!(passes(&mut audio, &main), "{place:?}: afterwards");
        let report = plugin.save().expect("saves").report().expect("reads").expect("a pass");
        assert!(report.failed, "{place:?}");
        assert!((report.mix.duration_s - 1.0).abs() < 0.011, "{place:?}: what was measured stays");
        assert!(brunt_report::html::page(&report).contains(brunt_report::words::page::FAILED));
        plugin.deactivate(audio);

        let mut audio = plugin.activate(48_000.0, 512).expect("activates anew");
        assert!(passes(&mut audio, &main));
        plugin.deactivate(audio);
        let report = plugin.save().expect("saves").report().expect("reads").expect("a pass");
        assert!(!report.failed, "{place:?}: activating clears it");
        assert!((report.mix.duration_s - 1.0).abs() < 0.011, "{place:?}: and it starts anew");
    }
}

#[test]
fn a_reset_starts_again_after_a_failed_block() {
    let main = main_bus();
    let mut plugin = instance();
    let press = [plugin.parameter("Reset").expect("a reset").event(1.0)];
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    plant(Some(Place::Block));
    assert!(passes(&mut audio, &main));
    plant(None);
    let slices: Vec<&[f32]> = main.iter().map(|channel| &channel[..512]).collect();
    let block = brunt_host::Block { main: &slices, changes: &press, ..Default::default() };
    audio.process(&block).expect("processes");
    assert!(passes(&mut audio, &main));
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("a pass");
    assert!(!report.failed);
    assert!(report.mix.duration_s > 0.99, "measuring goes on");
}

#[test]
fn a_failed_audition_lets_the_mix_through() {
    let main = main_bus();
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    plant(Some(Place::Audition));
    assert!(passes(&mut audio, &main));
    plant(None);
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("a pass");
    assert!(!report.failed, "measuring goes on");
}

#[test]
fn what_fails_outside_of_the_audio_is_refused_or_left_out() {
    let mut plugin = instance();
    plant(Some(Place::Activate));
    assert!(plugin.activate(48_000.0, 512).is_err(), "refused, not ended");
    plant(None);
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    assert!(passes(&mut audio, &main_bus()));
    plugin.deactivate(audio);

    plant(Some(Place::Save));
    let saved = plugin.save().expect("saves all the same");
    plant(None);
    assert_eq!(saved.report(), Ok(None), "without the pass");
    let whole = plugin.save().expect("saves");
    assert!(whole.report().expect("reads").is_some());

    for place in [Place::Admit, Place::Load] {
        let mut other = instance();
        plant(Some(place));
        other.restore(&whole.bytes).expect("ends well");
        plant(None);
        assert_eq!(other.save().expect("saves").report(), Ok(None), "{place:?}");
        other.restore(&whole.bytes).expect("loads");
        assert!(other.save().expect("saves").report().expect("reads").is_some(), "{place:?}");
    }
}
