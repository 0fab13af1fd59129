//! The output is the input, bit for bit, whatever the host does.

use brunt_host::render::play;
use brunt_host::transport::Tempo;
use brunt_host::{Block, Blocks, Instance, Side, Song};

use crate::material::{any_bits, first_difference, instance};

fn check(plugin: &mut Instance, song: &Song, blocks: &Blocks) {
    let mut audio = plugin.activate(48_000.0, 2048).expect("activates");
    let output = play(&mut audio, song, blocks).expect("plays");
    plugin.deactivate(audio);
    if let Some(difference) = first_difference(song.main, &output) {
        panic!("{difference}; blocks {blocks:?}, in place {}", song.in_place);
    }
}

#[test]
fn for_random_blocks_of_any_bits() {
    let main = any_bits(200_000, 2, 1);
    let side = any_bits(200_000, 2, 2);
    let mut plugin = instance();
    for in_place in [false, true] {
        for side in [&side[..], &side[..1], &[]] {
            for seed in 0..2 {
                let song = Song { main: &main, side, in_place, ..Song::default() };
                check(&mut plugin, &song, &Blocks::Random { max: 2048, seed });
            }
        }
    }
}

#[test]
fn for_every_block_size_from_1_to_2048() {
    let frames = 2048 * 2049 / 2;
    let main = any_bits(frames, 2, 3);
    let song = Song { main: &main, ..Song::default() };
    check(&mut instance(), &song, &Blocks::Cycle((1..=2048).collect()));
}

#[test]
fn for_single_frames_with_a_running_transport() {
    let main = any_bits(20_000, 2, 4);
    let tempo = Some(Tempo { bpm: 999.0, signature: (1, 16) });
    let song = Song { main: &main, tempo, in_place: true, ..Song::default() };
    check(&mut instance(), &song, &Blocks::Even(1));
}

#[test]
fn with_every_parameter_moved() {
    let main = any_bits(4096, 2, 5);
    for parameter in instance().parameters() {
        let mut plugin = instance();
        let mut audio = plugin.activate(48_000.0, 512).expect("activates");
        for (k, at) in (0..4096).step_by(512).enumerate() {
            let block: Vec<&[f32]> = main.iter().map(|c| &c[at..at + 512]).collect();
            let value = if k % 2 == 0 { parameter.max } else { parameter.min };
            let changes = [parameter.event(value)];
            let block =
                Block { main: &block, side: Side::Missing, changes: &changes, ..Block::default() };
            let (_, out) = audio.process(&block).expect("processes");
            let out: Vec<_> = out.into_iter().map(<[f32]>::to_vec).collect();
            let input: Vec<_> = block.main.iter().map(|c| c.to_vec()).collect();
            assert_eq!(first_difference(&input, &out), None, "{} moved", parameter.name);
        }
        plugin.deactivate(audio);
    }
}

#[test]
fn without_a_side_chain_port() {
    let main = any_bits(480, 2, 6);
    let block: Vec<&[f32]> = main.iter().map(Vec::as_slice).collect();
    let mut plugin = instance();
    // A block shorter than the longest: the framework's side-chain memory keeps its full length.
    let mut audio = plugin.activate(48_000.0, 2048).expect("activates");
    for side in [Side::Missing, Side::Unconnected] {
        let block = Block { main: &block, side, ..Block::default() };
        let (_, out) = audio.process(&block).expect("processes");
        let out: Vec<_> = out.into_iter().map(<[f32]>::to_vec).collect();
        assert_eq!(first_difference(&main, &out), None, "{side:?}");
    }
    plugin.deactivate(audio);
}
