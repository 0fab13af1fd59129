//! The hits of a window read as a set, by three small networks that `tests/lab/fit/sets.py` fitted from different
//! starts, and whose answers are averaged: each hit goes through two layers, the hits are pooled by mean, by
//! spread and by three weightings that were learned as well (deep sets, Zaheer et al. 2017; attention pooling, Ilse
//! et al. 2018), and two layers more answer, with the window's evidence beside them.
//!
//! A little at a time, like the trees: of the hits one, of the layer behind them some rows.

use super::evidence::{EVIDENCE, WINDOW, Window, sorted};
use super::trace::{TRACE, Trace, at};
use super::weights::{CENTRE, SCALE};
use crate::lanes::dot;
use crate::quantile::quantile;
use crate::thresholds as t;

/// Networks.
const NETWORKS: usize = 3;

/// Answers: low end, best and high end of the median and of the 90th percentile, and the largest.
pub(super) const ANSWERS: usize = 7;

/// Numbers of a trace that are levels: they are read from the top of the window's peaks down.
const LEVELS: [usize; 6] = [at::LEVEL, at::BED, at::LOW, at::MID, at::HIGH, at::PLAIN];
/// Numbers whose distance from their median over the window is read, too.
const COMPARED: [fn(&Trace) -> f64; 8] = [
    |hit| hit[at::LEVEL],
    |hit| hit[at::PLAIN],
    |hit| hit[at::LOW],
    |hit| hit[at::MID],
    |hit| hit[at::HIGH],
    |hit| hit[at::BED],
    |hit| hit[at::PEAK] - hit[at::LEVEL],
    |hit| hit[at::PEAK] - hit[at::PLAIN],
];
/// Hits that are most alike by their bands, itself among them, that a hit is compared with.
const ALIKE: usize = 9;
/// What those say.
const OF_ALIKE: usize = 6;
/// Numbers of a trace that say nothing by themselves.
const LEFT_OUT: [usize; 4] = [at::TIME, at::PEAK, at::ENERGY, at::CELLS];

/// Numbers that go in, of a hit.
const INPUTS: usize = 2 + (TRACE - LEFT_OUT.len()) + COMPARED.len() + 1 + OF_ALIKE;
/// Numbers that a hit becomes, weightings of the hits, numbers that the window becomes.
const OF_HIT: usize = 48;
const POOLS: usize = 3;
const OF_SET: usize = 64;
/// The window beside its hits: evidence, and how many there are.
const BESIDE: usize = EVIDENCE + 1;
const POOLED: usize = OF_HIT * (2 + POOLS) + BESIDE;

/// Inputs further from their centre than so many scales count as that far, as in the fit.
const CLIP: f32 = 4.0;
/// Added to a variance, so that its root has a slope everywhere, as in the fit.
const LEAST_VARIANCE: f32 = 1e-4;
/// Rows of the layer behind the hits that are worked out at a time. Ours.
const ROWS: usize = 32;

/// A layer: a row of weights and an offset for each number that comes out.
struct Layer {
    weights: &'static [f32],
    offsets: &'static [f32],
}

impl Layer {
    /// The numbers of those `rows`, before anything is cut off.
    fn rows(&self, rows: std::ops::Range<usize>, input: &[f32], out: &mut [f32]) {
        let weights = self.weights.chunks_exact(input.len()).zip(self.offsets);
        for (out, (row, offset)) in out.iter_mut().zip(weights.skip(rows.start)).take(rows.len()) {
            *out = dot(row, input) + offset;
        }
    }

    /// All numbers, none negative.
    fn bent<const N: usize>(&self, input: &[f32]) -> [f32; N] {
        let mut out = [0.0; N];
        self.rows(0..N, input, &mut out);
        out.map(|value| value.max(0.0))
    }
}

/// How many numbers a layer has.
const fn of_layer(inputs: usize, outputs: usize) -> usize {
    (inputs + 1) * outputs
}

const LAYERS: [(usize, usize); 6] = [
    (INPUTS, OF_HIT),
    (OF_HIT, OF_HIT),
    (OF_HIT, POOLS),
    (POOLED, OF_SET),
    (OF_SET, OF_SET),
    (OF_SET, ANSWERS),
];

/// Numbers of one network.
const fn of_network() -> usize {
    let (mut sum, mut layer) = (0, 0);
    while layer < LAYERS.len() {
        sum += of_layer(LAYERS[layer].0, LAYERS[layer].1);
        layer += 1;
    }
    sum
}

const NUMBERS: usize = 2 * INPUTS + NETWORKS * of_network();

/// Centres and scales of the inputs; then, network by network and layer by layer, its weights in rows and its
/// offsets. Little-endian.
static WEIGHTS: [f32; NUMBERS] = parse(include_bytes!("set.bin"));

const fn parse(bytes: &[u8; 4 * NUMBERS]) -> [f32; NUMBERS] {
    let mut out = [0.0; NUMBERS];
    let mut n = 0;
    while n < NUMBERS {
        let at = 4 * n;
        out[n] = f32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]);
        n += 1;
    }
    out
}

fn layer(network: usize, number: usize) -> Layer {
    let ahead: usize = LAYERS[..number].iter().map(|&(i, o)| of_layer(i, o)).sum();
    let (inputs, outputs) = LAYERS[number];
    let at = 2 * INPUTS + network * of_network() + ahead;
    let (weights, rest) = WEIGHTS[at..].split_at(inputs * outputs);
    Layer { weights, offsets: &rest[..outputs] }
}

/// One weighting of the hits: a softmax, worked out hit by hit.
#[derive(Clone, Copy, Debug)]
struct Pool {
    highest: f32,
    say: f32,
    sum: [f32; OF_HIT],
}

impl Pool {
    const EMPTY: Self = Self { highest: f32::NEG_INFINITY, say: 0.0, sum: [0.0; OF_HIT] };

    fn take(&mut self, says: f32, hit: &[f32; OF_HIT]) {
        if says > self.highest {
            let less = (self.highest - says).exp();
            self.say *= less;
            self.sum.iter_mut().for_each(|sum| *sum *= less);
            self.highest = says;
        }
        let say = (says - self.highest).exp();
        self.say += say;
        for (sum, value) in self.sum.iter_mut().zip(hit) {
            *sum += say * value;
        }
    }
}

/// What one network has seen of the hits.
#[derive(Clone, Copy, Debug)]
struct Seen {
    /// Sums over the hits, and of their squares.
    sum: [f32; OF_HIT],
    squares: [f32; OF_HIT],
    pools: [Pool; POOLS],
}

impl Seen {
    const NOTHING: Self =
        Self { sum: [0.0; OF_HIT], squares: [0.0; OF_HIT], pools: [Pool::EMPTY; POOLS] };

    /// Takes what goes in of a hit through that network.
    fn take(&mut self, network: usize, input: &[f32; INPUTS]) {
        let first: [f32; OF_HIT] = layer(network, 0).bent(input);
        let each: [f32; OF_HIT] = layer(network, 1).bent(&first);
        for ((sum, square), value) in self.sum.iter_mut().zip(&mut self.squares).zip(each) {
            *sum += value;
            *square += value * value;
        }
        let mut says = [0.0; POOLS];
        layer(network, 2).rows(0..POOLS, &each, &mut says);
        for (pool, says) in self.pools.iter_mut().zip(says) {
            pool.take(says, &each);
        }
    }
}

/// The networks, in work.
#[derive(Clone, Debug)]
pub(super) struct Set {
    /// Pieces done.
    done: usize,
    scratch: [f64; WINDOW],
    /// Top of the window's true peaks and sample peaks, dBTP and dBFS, and medians of what is compared.
    top: f64,
    top_sample: f64,
    middle: [f64; COMPARED.len()],
    /// When the last hit reached the top, s.
    reached_s: Option<f64>,
    seen: [Seen; NETWORKS],
    pooled: [f32; POOLED],
    hidden: [f32; OF_SET],
    /// Answers so far, added up.
    said: [f64; ANSWERS],
    /// Once all is done.
    answers: Option<[f64; ANSWERS]>,
}

/// Pieces ahead of the hits: both tops, and each median.
const AHEAD: usize = 2 + COMPARED.len();
/// Pieces behind the hits, of each network.
const BEHIND: usize = OF_SET / ROWS;

impl Set {
    pub(super) const fn new() -> Self {
        Self {
            done: 0,
            scratch: [0.0; WINDOW],
            top: 0.0,
            top_sample: 0.0,
            middle: [0.0; COMPARED.len()],
            reached_s: None,
            seen: [Seen::NOTHING; NETWORKS],
            pooled: [0.0; POOLED],
            hidden: [0.0; OF_SET],
            said: [0.0; ANSWERS],
            answers: None,
        }
    }

    /// Starts anew.
    pub(super) fn begin(&mut self) {
        self.done = 0;
        self.answers = None;
        self.reached_s = None;
        self.seen = [Seen::NOTHING; NETWORKS];
        self.said = [0.0; ANSWERS];
    }

    /// Works out the next piece for `window`, of 1 to [`WINDOW`] traces, and its `evidence`, both the same at
    /// every call since [`Self::begin`], until there are [`Self::answers`].
    pub(super) fn step(&mut self, window: Window<'_>, evidence: &[f32; EVIDENCE]) {
        let piece = self.done;
        self.done += 1;
        let hits = AHEAD + window.count;
        match piece {
            0 => self.top = self.quantile(window, t::TOP_SHARE, |hit| hit[at::PEAK]),
            1 => self.top_sample = self.quantile(window, t::TOP_SHARE, sample_peak),
            _ if piece < AHEAD => {
                self.middle[piece - 2] = self.quantile(window, 0.5, COMPARED[piece - 2]);
            }
            _ if piece < hits => self.hit(window, piece - AHEAD),
            _ => {
                let (network, part) = ((piece - hits) / BEHIND, (piece - hits) % BEHIND);
                if part == 0 {
                    self.pool(network, window.count, evidence);
                }
                let rows = part * ROWS..(part + 1) * ROWS;
                layer(network, 3).rows(rows.clone(), &self.pooled, &mut self.hidden[rows]);
                if part + 1 == BEHIND {
                    self.answer(network);
                }
            }
        }
    }

    /// The answers, dB, once all is done since [`Self::begin`].
    pub(super) const fn answers(&self) -> Option<&[f64; ANSWERS]> {
        self.answers.as_ref()
    }

    fn quantile(&mut self, window: Window<'_>, q: f64, value: fn(&Trace) -> f64) -> f64 {
        quantile(sorted(&mut self.scratch, window, value), q)
    }

    /// Shows the networks the hit of that number.
    fn hit(&mut self, window: Window<'_>, number: usize) {
        let hit = window.at(number);
        let mut input = self.inputs(window, hit);
        let (centres, scales) = WEIGHTS[..2 * INPUTS].split_at(INPUTS);
        for ((value, centre), scale) in input.iter_mut().zip(centres).zip(scales) {
            *value = ((*value - centre) / scale).clamp(-CLIP, CLIP);
        }
        if hit[at::PEAK] >= self.top - t::TOP_NEAR_DB {
            self.reached_s = Some(hit[at::TIME]);
        }
        for (network, seen) in self.seen.iter_mut().enumerate() {
            seen.take(network, &input);
        }
    }

    /// What goes in of a hit.
    fn inputs(&self, window: Window<'_>, hit: &Trace) -> [f32; INPUTS] {
        let mut out = [0.0; INPUTS];
        let mut places = out.iter_mut();
        let mut put = |value: f64| {
            if let Some(place) = places.next() {
                *place = value as f32;
            }
        };
        put(self.top - hit[at::PEAK]);
        put(self.top_sample - sample_peak(hit));
        for (number, value) in hit.iter().enumerate() {
            if !LEFT_OUT.contains(&number) {
                let from = if LEVELS.contains(&number) { self.top } else { 0.0 };
                put(value - from);
            }
        }
        for (value, middle) in COMPARED.iter().zip(self.middle) {
            put(value(hit) - middle);
        }
        let since = self.reached_s.map_or(t::TOP_LONG_AGO_S, |then| hit[at::TIME] - then);
        put(since.clamp(0.0, t::TOP_LONG_AGO_S));
        for value in alike(window, hit) {
            put(value);
        }
        out
    }

    /// What a network's layer behind the hits gets.
    fn pool(&mut self, network: usize, count: usize, evidence: &[f32; EVIDENCE]) {
        let hits = count as f32;
        let Seen { sum, squares, pools: weighted } = &self.seen[network];
        let (of_hits, beside) = self.pooled.split_at_mut(OF_HIT * (2 + POOLS));
        let (means, rest) = of_hits.split_at_mut(OF_HIT);
        let (spreads, pools) = rest.split_at_mut(OF_HIT);
        for (((mean, spread), sum), square) in means.iter_mut().zip(spreads).zip(sum).zip(squares) {
            *mean = sum / hits;
            *spread = ((square / hits - *mean * *mean).max(0.0) + LEAST_VARIANCE).sqrt();
        }
        for (out, pool) in pools.chunks_exact_mut(OF_HIT).zip(weighted) {
            for (out, sum) in out.iter_mut().zip(pool.sum) {
                *out = sum / pool.say;
            }
        }
        let scaled = evidence.iter().zip(CENTRE).zip(SCALE);
        for (out, ((value, centre), scale)) in beside.iter_mut().zip(scaled) {
            *out = ((value - centre) / scale).clamp(-CLIP, CLIP);
        }
        beside[EVIDENCE] = hits / WINDOW as f32;
    }

    /// Adds what a network answers; the last gives the mean.
    fn answer(&mut self, network: usize) {
        let hidden = self.hidden.map(|value| value.max(0.0));
        let more: [f32; OF_SET] = layer(network, 4).bent(&hidden);
        for (sum, said) in self.said.iter_mut().zip(layer(network, 5).bent::<ANSWERS>(&more)) {
            *sum += f64::from(said);
        }
        if network + 1 == NETWORKS {
            self.answers = Some(self.said.map(|sum| sum / NETWORKS as f64));
        }
    }
}

/// Sample peak of a hit, dBFS.
fn sample_peak(hit: &Trace) -> f64 {
    hit[at::PEAK] - hit[at::OVER]
}

/// How a hit compares with those most alike by their bands: their highest, median and lowest peak, their median
/// level, their highest and median crest, all less its own, dB.
fn alike(window: Window<'_>, hit: &Trace) -> [f64; OF_ALIKE] {
    let shape = |hit: &Trace| [at::LOW, at::MID, at::HIGH].map(|band| hit[band] - hit[at::LEVEL]);
    let own = shape(hit);
    let mut far = [(0.0, 0); WINDOW];
    let far = &mut far[..window.count];
    for (number, (far, other)) in far.iter_mut().zip(window.iter()).enumerate() {
        let apart = shape(other).iter().zip(own).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
        *far = (apart, number);
    }
    let count = ALIKE.min(window.count);
    if count < far.len() {
        far.select_nth_unstable_by(count - 1, |a, b| a.0.total_cmp(&b.0));
    }
    let of = |value: fn(&Trace) -> f64| {
        let mut values = [0.0; ALIKE];
        for (out, (_, number)) in values.iter_mut().zip(&*far) {
            *out = value(window.at(*number));
        }
        values[..count].sort_unstable_by(f64::total_cmp);
        let own = value(hit);
        [values[0] - own, quantile(&values[..count], 0.5) - own, values[count - 1] - own]
    };
    let [lowest, middle, highest] = of(|hit| hit[at::PEAK]);
    let [_, level, _] = of(|hit| hit[at::LEVEL]);
    let [_, crest, most_crest] = of(|hit| hit[at::PEAK] - hit[at::LEVEL]);
    [highest, middle, lowest, level, most_crest, crest]
}

#[cfg(test)]
mod tests {
    use super::super::evidence::ceiling_evidence;
    use super::*;

    /// The script writes a window of hits and its own answers: traces of 24 hits, then the answers,
    /// little-endian.
    #[test]
    fn gives_what_the_fit_gives() {
        const HITS: usize = 24;
        let bytes = include_bytes!("set_example.bin");
        let numbers: Vec<f64> = bytes
            .chunks_exact(8)
            .map(|eight| f64::from_le_bytes(eight.try_into().expect("eight bytes")))
            .collect();
        let (hits, want) = numbers.split_at(HITS * TRACE);
        let traces: Vec<Trace> =
            hits.chunks_exact(TRACE).map(|hit| hit.try_into().expect("a trace")).collect();
        let evidence = ceiling_evidence(&traces);
        let window = Window { ring: &traces, first: 0, count: HITS };
        let mut set = Set::new();
        for again in 0..2 {
            set.begin();
            for _ in 0..AHEAD + HITS + NETWORKS * BEHIND {
                assert_eq!(set.answers(), None, "{again}");
                set.step(window, &evidence);
            }
            let got = set.answers().expect("answers");
            assert_eq!(want.len(), ANSWERS, "{again}");
            for (got, want) in got.iter().zip(want) {
                assert!((got - want).abs() < 0.01, "{again}: {got} for {want}");
            }
        }
    }
}
