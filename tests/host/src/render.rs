//! Plays a whole song through the plug-in.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

use super::transport::Tempo;
use super::{Audio, Block, Result, Side};

/// What is played.
#[derive(Clone, Copy, Debug, Default)]
pub struct Song<'a> {
    /// The mix, a slice a channel.
    pub main: &'a [Vec<f32>],
    /// The side-chain, as long as the mix. Empty for one that is not connected: the port carries
    /// silence then, as in most hosts.
    pub side: &'a [Vec<f32>],
    /// Whether input and output are the same memory.
    pub in_place: bool,
    /// The host's song; `None` for a host without transport.
    pub tempo: Option<Tempo>,
    /// Where the first frame lies in that song, s.
    pub from_s: f64,
}

/// Lengths of the blocks, frames.
#[derive(Clone, Debug)]
pub enum Blocks {
    /// All of one length.
    Even(usize),
    /// Random between 1 and a largest one; the seed replays them.
    Random {
        /// Largest block.
        max: usize,
        /// Seed.
        seed: u64,
    },
    /// These, over and over.
    Cycle(Vec<usize>),
}

/// Plays `song` and gives the plug-in's output, a vector a channel.
///
/// # Errors
/// When the plug-in reports a failure.
pub fn play(audio: &mut Audio, song: &Song, blocks: &Blocks) -> Result<Vec<Vec<f32>>> {
    let frames = song.main.iter().map(Vec::len).min().unwrap_or(0);
    let mut output = vec![Vec::with_capacity(frames); song.main.len()];
    let silence = vec![0.0; frames];
    let connected = !song.side.is_empty();
    let mut lengths = Lengths::new(blocks);
    let mut at = 0;
    while at < frames {
        let end = frames.min(at + lengths.next());
        let main: Vec<&[f32]> = song.main.iter().map(|channel| &channel[at..end]).collect();
        let side: Vec<&[f32]> = if connected {
            song.side.iter().map(|channel| &channel[at..end]).collect()
        } else {
            song.main.iter().map(|_| &silence[at..end]).collect()
        };
        let seconds = song.from_s + at as f64 / audio.sample_rate_hz;
        let transport = song.tempo.map(|tempo| tempo.at(seconds, true));
        let block = Block {
            main: &main,
            side: Side::Channels(&side),
            in_place: song.in_place,
            changes: &[],
            transport: transport.as_ref(),
        };
        let (_, out) = audio.process(&block)?;
        for (channel, out) in output.iter_mut().zip(out) {
            channel.extend_from_slice(out);
        }
        at = end;
    }
    Ok(output)
}

/// Gives the lengths one after another.
struct Lengths<'a> {
    blocks: &'a Blocks,
    random: Pcg64,
    count: usize,
}

impl<'a> Lengths<'a> {
    fn new(blocks: &'a Blocks) -> Self {
        let seed = if let Blocks::Random { seed, .. } = blocks { *seed } else { 0 };
        Self { blocks, random: Pcg64::seed_from_u64(seed), count: 0 }
    }

    fn next(&mut self) -> usize {
        self.count += 1;
        let length = match self.blocks {
            Blocks::Even(length) => *length,
            Blocks::Random { max, .. } => self.random.random_range(1..=*max),
            Blocks::Cycle(lengths) => lengths[(self.count - 1) % lengths.len()],
        };
        length.max(1)
    }
}
