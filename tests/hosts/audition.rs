//! Audition in the built plug-in: on, off, and when it must be off whatever is set.

use brunt_host::{Audio, Block, Instance, Parameter, Side};

use crate::material::{any_bits, beat, first_difference, instance};

const RATE_HZ: f64 = 48_000.0;
/// Frames of a block, and of the longest switch: 20 ms.
const FRAMES: usize = 480;
const LONGEST: usize = 960;

/// A plug-in with the side-chain taken for the mix ahead of the limiter.
fn before() -> (Instance, Parameter, Parameter) {
    let mut plugin = instance();
    let role = plugin.parameter("Side-chain role").expect("there");
    plugin.set(&role, 1.0).expect("sets");
    let listen = plugin.parameter("Listen").expect("there");
    let bypass = plugin.parameter("Bypass").expect("there");
    (plugin, listen, bypass)
}

/// Plays both buses with a change of a parameter at the start.
fn play(
    audio: &mut Audio,
    main: &[Vec<f32>],
    side: &[Vec<f32>],
    change: Option<(&Parameter, f64)>,
) -> Vec<Vec<f32>> {
    let mut output = vec![Vec::new(); main.len()];
    let mut changes: Vec<_> = change.iter().map(|(p, value)| p.event(*value)).collect();
    for at in (0..main[0].len()).step_by(FRAMES) {
        let cut = |c: &'_ Vec<f32>| at..c.len().min(at + FRAMES);
        let main: Vec<&[f32]> = main.iter().map(|c| &c[cut(c)]).collect();
        let side: Vec<&[f32]> = side.iter().map(|c| &c[cut(c)]).collect();
        let block = Block {
            main: &main,
            side: Side::Channels(&side),
            changes: &changes,
            ..Block::default()
        };
        let (_, out) = audio.process(&block).expect("processes");
        for (all, part) in output.iter_mut().zip(out) {
            all.extend_from_slice(part);
        }
        changes.clear();
    }
    output
}

fn scaled(channels: &[Vec<f32>], gain: f32) -> Vec<Vec<f32>> {
    channels.iter().map(|c| c.iter().map(|x| x * gain).collect()).collect()
}

fn from(channels: &[Vec<f32>], frame: usize) -> Vec<Vec<f32>> {
    channels.iter().map(|c| c[frame..].to_vec()).collect()
}

#[test]
fn the_side_chain_is_heard_at_the_loudness_of_the_mix_and_the_mix_comes_back_bit_for_bit() {
    let (mut plugin, listen, _) = before();
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    // The side-chain is the mix turned over and 6 dB down: heard at the mix's loudness it is the
    // mix turned over, 1 ms and ten frames late.
    let main = scaled(&beat(RATE_HZ, 5.0, 2), 0.5);
    let side = scaled(&main, -0.5);
    let off = play(&mut audio, &main, &side, None);
    assert_eq!(first_difference(&main, &off), None);
    let on = play(&mut audio, &main, &side, Some((&listen, 1.0)));
    let delay = 58;
    let worst = (LONGEST..on[0].len() - delay)
        .map(|k| (on[0][k + delay] + main[0][k]).abs())
        .fold(0.0, f32::max);
    // 0.1 LU are 1.2 %; the largest sample is under 0.5.
    assert!(worst < 0.006, "{worst}");
    let main = any_bits(48_000, 2, 1);
    let off = play(&mut audio, &main, &any_bits(48_000, 2, 2), Some((&listen, 0.0)));
    assert_eq!(first_difference(&from(&main, LONGEST), &from(&off, LONGEST)), None);
    plugin.deactivate(audio);
}

#[test]
fn the_difference_of_two_levels_of_one_mix_is_silence() {
    let (mut plugin, listen, _) = before();
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    let main = scaled(&beat(RATE_HZ, 5.0, 2), 0.5);
    let side = scaled(&main, 0.5);
    play(&mut audio, &main, &side, None);
    let out = play(&mut audio, &main, &side, Some((&listen, 2.0)));
    let most = out[0][LONGEST..].iter().fold(0.0_f32, |a, x| a.max(x.abs()));
    assert!(most < 0.006, "{most}");
    plugin.deactivate(audio);
}

#[test]
fn bypass_brings_the_mix_back() {
    let (mut plugin, listen, bypass) = before();
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    let main = any_bits(24_000, 2, 3);
    let side = any_bits(24_000, 2, 4);
    let on = play(&mut audio, &main, &side, Some((&listen, 1.0)));
    assert!(first_difference(&main, &on).is_some(), "on, it is not the mix");
    assert!(on.iter().flatten().all(|x| x.is_finite()), "damaged samples are heard as silence");
    let off = play(&mut audio, &main, &side, Some((&bypass, 1.0)));
    assert_eq!(first_difference(&from(&main, LONGEST), &from(&off, LONGEST)), None);
    plugin.deactivate(audio);
}

#[test]
fn an_offline_render_is_the_mix_bit_for_bit_from_the_first_frame() {
    let (mut plugin, listen, _) = before();
    plugin.set(&listen, 1.0).expect("sets");
    plugin.render_offline(true).expect("takes the mode");
    let main = any_bits(48_000, 2, 5);
    let side = any_bits(48_000, 2, 6);
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    for value in [1.0, 2.0] {
        let out = play(&mut audio, &main, &side, Some((&listen, value)));
        assert_eq!(first_difference(&main, &out), None);
    }
    plugin.deactivate(audio);
    // The control: played, it is heard.
    plugin.render_offline(false).expect("takes the mode");
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    let out = play(&mut audio, &main, &side, Some((&listen, 1.0)));
    assert!(first_difference(&main, &out).is_some());
    plugin.deactivate(audio);
}

#[test]
fn a_session_opens_with_the_mix() {
    let (mut plugin, listen, _) = before();
    plugin.set(&listen, 1.0).expect("sets");
    let saved = plugin.save().expect("saves");
    let mut reopened = instance();
    reopened.restore(&saved.bytes).expect("loads");
    // Nor does it stay on where a session is loaded over one in which it is.
    plugin.restore(&saved.bytes).expect("loads");
    let main = any_bits(9_600, 2, 7);
    for mut plugin in [reopened, plugin] {
        assert!((plugin.value(&listen).expect("there") - 1.0).abs() < 1e-6, "the choice is kept");
        let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
        let out = play(&mut audio, &main, &any_bits(9_600, 2, 8), None);
        assert_eq!(first_difference(&main, &out), None, "and not heard");
        plugin.deactivate(audio);
    }
}

#[test]
fn without_a_role_or_a_side_chain_there_is_nothing_to_hear() {
    let main = any_bits(9_600, 2, 9);
    let mut plugin = instance();
    let listen = plugin.parameter("Listen").expect("there");
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    for value in [1.0, 2.0] {
        let out = play(&mut audio, &main, &any_bits(9_600, 2, 10), Some((&listen, value)));
        assert_eq!(first_difference(&main, &out), None);
    }
    plugin.deactivate(audio);
}
