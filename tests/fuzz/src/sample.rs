//! A session with something in every field, to start from.

use std::sync::LazyLock;

use brunt::display::Display;
use brunt::kept::KeptPass;
use brunt::state::SavedPass;
use brunt_host::render::play;
use brunt_host::transport::Tempo;
use brunt_host::{Blocks, Instance, Song};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use serde_json::{Value, json};

const RATE_HZ: f64 = 16_000.0;

/// Twelve seconds of decaying bursts over noise, on both channels.
fn beat() -> Vec<Vec<f32>> {
    let mut random = Pcg64::seed_from_u64(1);
    let channel = (0..12 * RATE_HZ as usize)
        .map(|k| {
            let white: f32 = random.random_range(-1.0..1.0);
            let since = (k % (RATE_HZ as usize / 4)) as f32 / RATE_HZ as f32;
            let burst = (-since / 0.02).exp() * (since * 900.0).sin();
            (0.9 * burst + 0.02 * white).clamp(-0.5, 0.5)
        })
        .collect::<Vec<f32>>();
    vec![channel.clone(), channel]
}

/// The JSON of a saved state of this version: a pass with hits, kept passes, a reference's path.
pub static STATE: LazyLock<Value> = LazyLock::new(|| {
    let mut plugin = Instance::load_linked(&brunt::clap_entry).expect("the linked plug-in");
    let mut audio = plugin.activate(RATE_HZ, 512).expect("activates");
    let tempo = Some(Tempo { bpm: 120.0, signature: (4, 4) });
    let main = beat();
    let song = Song { main: &main, side: &main, tempo, ..Song::default() };
    play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
    plugin.deactivate(audio);
    let mut state = plugin.save().expect("saves").json().expect("is JSON");
    let pass = PASS_OF(&state);
    let display = pass.display();
    assert!(display.hits.len() > 16, "a pass to start from has hits");
    let kept: Vec<KeptPass> = (1..=2).filter_map(|n| KeptPass::of(&display, n)).collect();
    assert_eq!(kept.len(), 2);
    state["fields"]["kept"] = serde_json::to_string(&kept).expect("writes").into();
    state["fields"]["reference"] = json!("\"/nowhere/at/all.wav\"");
    state
});

const PASS_OF: fn(&Value) -> SavedPass = |state| {
    let text = state["fields"]["pass"].as_str().expect("a pass");
    serde_json::from_str(text).expect("reads")
};

/// The pass in [`STATE`], as JSON.
pub static PASS: LazyLock<Value> =
    LazyLock::new(|| serde_json::to_value(PASS_OF(&STATE)).expect("writes"));

/// The report of that pass, as JSON.
pub static REPORT: LazyLock<Value> =
    LazyLock::new(|| serde_json::to_value(PASS_OF(&STATE).report()).expect("writes"));

/// A display as the editor has it after loading `pass`.
pub fn display(pass: SavedPass) -> Display {
    let bridge = brunt::bridge::Bridge::default();
    bridge.restore(Some(pass));
    bridge.collect().clone()
}
