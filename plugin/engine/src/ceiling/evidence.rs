//! What the hits of the last bars tell about a ceiling over them: plain statistics of their
//! traces, none of which depends on the gain of the mix.
//!
//! They are worked out a piece at a time, so that no block carries all the work.

use super::trace::{Trace, at};
use crate::quantile::quantile;

/// Hits that one set of evidence looks back on at most: about eight bars of a rock beat.
pub(crate) const WINDOW: usize = 64;
/// Traces kept: some more than a window, since new hits come in while one is worked on, twenty a second at the most
/// that is told apart.
pub(crate) const KEPT: usize = 160;

/// One field of the traces and what is taken from it over the window.
struct Field {
    name: &'static str,
    value: fn(&Trace) -> f64,
    take: Take,
}

/// What is taken from a field.
#[derive(Clone, Copy)]
enum Take {
    /// The median.
    Median,
    /// The 10th percentile and the median.
    Low,
    /// The median and the mean over the louder half of the hits.
    Top,
    /// The 10th percentile, the median and the 90th percentile.
    Spread,
}

impl Take {
    const fn len(self) -> usize {
        match self {
            Self::Median => 1,
            Self::Low | Self::Top => 2,
            Self::Spread => 3,
        }
    }

    const fn names(self) -> &'static [&'static str] {
        match self {
            Self::Median => &["p50"],
            Self::Low => &["p10", "p50"],
            Self::Top => &["p50", "top"],
            Self::Spread => &["p10", "p50", "p90"],
        }
    }
}

const fn field(name: &'static str, value: fn(&Trace) -> f64, take: Take) -> Field {
    Field { name, value, take }
}

/// What is taken of each field; the numbers are places in [`TRACE_NAMES`](super::TRACE_NAMES).
const FIELDS: &[Field] = &[
    field("crest_k_db", |t| t[at::PEAK] - t[at::LEVEL], Take::Spread),
    field("crest_u_db", |t| t[at::PEAK] - t[at::PLAIN], Take::Top),
    field("contrast_db", |t| t[at::LEVEL] - t[at::BED], Take::Median),
    field("low_share_db", |t| t[4] - t[at::PLAIN], Take::Median),
    field("attack_ms", |t| t[7], Take::Median),
    field("dwell_0.1_ms", |t| t[8], Take::Median),
    field("dwell_0.5_ms", |t| t[9], Take::Top),
    field("dwell_1.5_ms", |t| t[10], Take::Median),
    field("next_peak_db", |t| t[11], Take::Top),
    field("flat_samples", |t| t[at::FLAT], Take::Median),
    field("over_sample_db", |t| t[13], Take::Top),
    field("other_side_db", |t| t[14], Take::Top),
    field("peak_0_3_db", |t| t[16], Take::Top),
    field("peak_3_10_db", |t| t[17], Take::Top),
    field("peak_10_25_db", |t| t[18], Take::Top),
    field("peak_25_50_db", |t| t[19], Take::Top),
    field("level_30_60_db", |t| t[20], Take::Top),
    field("level_60_110_db", |t| t[21], Take::Top),
    field("level_110_240_db", |t| t[22], Take::Top),
    field("dip_low_db", |t| t[23], Take::Low),
    field("dip_mid_db", |t| t[24], Take::Low),
    field("dip_high_db", |t| t[25], Take::Low),
    field("swell_25_low_db", |t| t[26], Take::Low),
    field("swell_25_mid_db", |t| t[27], Take::Low),
    field("swell_25_high_db", |t| t[28], Take::Low),
    field("swell_60_low_db", |t| t[29], Take::Low),
    field("swell_60_mid_db", |t| t[30], Take::Low),
    field("swell_60_high_db", |t| t[31], Take::Low),
    field("swell_140_low_db", |t| t[32], Take::Low),
    field("swell_140_mid_db", |t| t[33], Take::Low),
    field("swell_140_high_db", |t| t[34], Take::Low),
    field("peak_before_db", |t| t[35], Take::Top),
    field("peak_50_100_db", |t| t[39], Take::Top),
    field("peak_100_240_db", |t| t[40], Take::Top),
    field("dense_0.5", |t| t[42], Take::Top),
    field("dense_1.5", |t| t[43], Take::Top),
    field("dense_3", |t| t[44], Take::Top),
    field("dense_6", |t| t[45], Take::Top),
];

/// Names of what is taken from the peaks and levels together.
const OF_PEAKS: [&str; 23] = [
    "peak_p97_less_p90_db",
    "peak_p90_less_p75_db",
    "peak_p75_less_p50_db",
    "peak_p50_less_p25_db",
    "peak_p25_less_p10_db",
    "peak_max_less_p97_db",
    "peak_top_third_sd_db",
    "share_within_0.1_db",
    "share_within_0.3_db",
    "share_within_1_db",
    "share_within_3_db",
    "slope_top_half",
    "level_sd_db",
    "level_p90_less_p50_db",
    "flat_share",
    "peak_max_less_loudness_db",
    "peak_p90_less_loudness_db",
    "peak_p50_less_loudness_db",
    "hits_per_s",
    "share_before_at_top",
    "share_after_at_top",
    "plain_sd_db",
    "body_sd_top_db",
];

/// Place of the highest peak over the window's loudness in the evidence, dB.
pub(crate) const CREST: usize = 15;

/// Parts of the evidence: two of peaks and levels, and one a field.
const PARTS: usize = FIELDS.len() + 2;
/// Traces whose fields are looked at in one piece of work: two fields of a whole window, five of a
/// section. Ours: no more than any other piece of heavy work, and a reading done within 0.2 s.
const AT_ONCE: usize = 2 * WINDOW;

/// Number of numbers that the evidence has.
pub const EVIDENCE: usize = OF_PEAKS.len() + of_fields();

const fn of_fields() -> usize {
    let (mut sum, mut index) = (0, 0);
    while index < FIELDS.len() {
        sum += FIELDS[index].take.len();
        index += 1;
    }
    sum
}

/// Names of the pieces, in order: for tables and for the fit. Allocates.
#[must_use]
pub fn evidence_names() -> Vec<String> {
    let of_fields = FIELDS
        .iter()
        .flat_map(|field| field.take.names().iter().map(|take| format!("{}_{take}", field.name)));
    OF_PEAKS.iter().map(|name| (*name).to_owned()).chain(of_fields).collect()
}

/// The evidence of one window, in work.
#[derive(Clone, Debug)]
pub(crate) struct Work {
    values: [f32; EVIDENCE],
    scratch: [f64; WINDOW],
    /// Parts done, and values written.
    done: usize,
    written: usize,
    /// Peaks: the median, the 90th and 97th percentile, and the highest, dBTP.
    peaks: [f64; 4],
}

/// Some of the traces in a ring: `count` of them, the first with that number since reset.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Window<'a> {
    pub(crate) ring: &'a [Trace],
    pub(crate) first: u64,
    pub(crate) count: usize,
}

impl<'a> Window<'a> {
    /// The trace of that number, from 0 for the first.
    pub(crate) fn at(self, number: usize) -> &'a Trace {
        &self.ring[((self.first + number as u64) % self.ring.len() as u64) as usize]
    }

    pub(crate) fn iter(self) -> impl Iterator<Item = &'a Trace> + Clone {
        // Two plain slices: a window is gone through dozens of times.
        let at = (self.first % self.ring.len() as u64) as usize;
        let ahead = self.count.min(self.ring.len() - at);
        self.ring[at..at + ahead].iter().chain(&self.ring[..self.count - ahead])
    }
}

impl Work {
    pub(crate) fn new() -> Self {
        Self {
            values: [0.0; EVIDENCE],
            scratch: [0.0; WINDOW],
            done: 0,
            written: 0,
            peaks: [0.0; 4],
        }
    }

    /// Starts anew.
    pub(crate) fn begin(&mut self) {
        (self.done, self.written) = (0, 0);
    }

    /// Works out the next piece for `window`, the same at every call since [`Self::begin`], of 1
    /// to [`WINDOW`] traces. Gives the evidence once it is whole, and from then on.
    pub(crate) fn step(&mut self, window: Window<'_>) -> Option<&[f32; EVIDENCE]> {
        match self.done {
            0 => self.peaks(window),
            1 => self.levels(window),
            done => {
                let rest = &FIELDS[done - 2..];
                let fields = rest.len().min((AT_ONCE / window.count.max(1)).max(1));
                rest[..fields].iter().for_each(|field| self.field(field, window));
                self.done += fields;
                return (self.done == PARTS).then_some(&self.values);
            }
        }
        self.done += 1;
        None
    }

    fn put(&mut self, value: f64) {
        self.values[self.written] = value as f32;
        self.written += 1;
    }

    fn field(&mut self, field: &Field, window: Window<'_>) {
        let sorted = sorted(&mut self.scratch, window, field.value);
        let at = [0.1, 0.5, 0.9].map(|q| quantile(sorted, q));
        match field.take {
            Take::Median => self.put(at[1]),
            Take::Low => {
                self.put(at[0]);
                self.put(at[1]);
            }
            Take::Top => {
                self.put(at[1]);
                let louder = window.iter().filter(|t| t[at::PEAK] >= self.peaks[0]);
                let (sum, count) =
                    louder.fold((0.0, 0u32), |(sum, n), t| (sum + (field.value)(t), n + 1));
                self.put(sum / f64::from(count.max(1)));
            }
            Take::Spread => at.iter().for_each(|value| self.put(*value)),
        }
    }

    /// What the peaks alone say, and how they go with the levels.
    fn peaks(&mut self, window: Window<'_>) {
        let peaks = sorted(&mut self.scratch, window, |t| t[at::PEAK]);
        let p = [0.1, 0.25, 0.5, 0.75, 0.9, 0.97, 1.0].map(|q| quantile(peaks, q));
        let third = peaks[peaks.len() - peaks.len().div_ceil(3)..].iter().copied();
        let third_sd = sd(third);
        let near = |db: f64| share(window, |t| t[at::PEAK] >= p[5] - db);
        self.peaks = [p[2], p[4], p[5], p[6]];
        for value in [
            p[5] - p[4],
            p[4] - p[3],
            p[3] - p[2],
            p[2] - p[1],
            p[1] - p[0],
            p[6] - p[5],
            third_sd,
            near(0.1),
            near(0.3),
            near(1.0),
            near(3.0),
            slope(window, p[2]),
        ] {
            self.put(value);
        }
    }

    /// What the levels say, and where the peaks lie over them.
    fn levels(&mut self, window: Window<'_>) {
        let [median, p90, top, highest] = self.peaks;
        let levels = sorted(&mut self.scratch, window, |t| t[at::LEVEL]);
        let spread = quantile(levels, 0.9) - quantile(levels, 0.5);
        let loud = loudness(window);
        let louder = window.iter().filter(|t| t[at::PEAK] >= median);
        for value in [
            sd(window.iter().map(|t| t[at::LEVEL])),
            spread,
            share(window, |t| t[at::FLAT] >= f64::from(crate::thresholds::FLAT_SAMPLES)),
            highest - loud,
            p90 - loud,
            median - loud,
            (window.count as f64 - 1.0) / duration_s(window).max(1.0),
            share(window, |t| t[35] + t[at::PEAK] >= top - 0.3),
            share(window, |t| t[39].max(t[40]) + t[at::PEAK] >= top - 0.3),
            sd(window.iter().map(|t| t[at::PLAIN])),
            sd(louder.map(|t| t[21])),
        ] {
            self.put(value);
        }
    }
}

/// Share of the window's hits of which `is` holds.
fn share(window: Window<'_>, is: impl Fn(&Trace) -> bool) -> f64 {
    window.iter().filter(|t| is(t)).count() as f64 / window.count as f64
}

/// Values of one field, sorted.
pub(super) fn sorted<'a>(
    scratch: &'a mut [f64; WINDOW],
    window: Window<'_>,
    value: impl Fn(&Trace) -> f64,
) -> &'a [f64] {
    let out = &mut scratch[..window.count];
    for (out, trace) in out.iter_mut().zip(window.iter()) {
        *out = value(trace);
    }
    out.sort_unstable_by(f64::total_cmp);
    out
}

/// Slope of peak on level over the hits that reach `median_peak`, with a prior of one decibel
/// squared against few or equal hits.
fn slope(window: Window<'_>, median_peak: f64) -> f64 {
    let centre = window.iter().map(|t| t[at::LEVEL]).sum::<f64>() / window.count as f64;
    let (mut n, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for t in window.iter().filter(|t| t[at::PEAK] >= median_peak) {
        // Centres keep the sums of squares small.
        let (level, peak) = (t[at::LEVEL] - centre, t[at::PEAK] - median_peak);
        n += 1.0;
        x += level;
        y += peak;
        xx += level * level;
        xy += level * peak;
    }
    (xy - x * y / n) / (xx - x * x / n + 1.0)
}

/// Loudness from the first hit to the last, LUFS, without gate.
fn loudness(window: Window<'_>) -> f64 {
    let (first, last) = ends(window);
    let cells = (last[at::CELLS] - first[at::CELLS]).max(1.0);
    crate::loudness::lufs(((last[at::ENERGY] - first[at::ENERGY]) / cells).max(1e-12))
}

fn duration_s(window: Window<'_>) -> f64 {
    let (first, last) = ends(window);
    last[at::TIME] - first[at::TIME]
}

fn ends(window: Window<'_>) -> (&Trace, &Trace) {
    (window.at(0), window.at(window.count.max(1) - 1))
}

/// Standard deviation of a set; 0 of nothing.
fn sd(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = (values.clone().count() as f64).max(1.0);
    let mean = values.clone().sum::<f64>() / count;
    (values.map(|v| (v - mean).powi(2)).sum::<f64>() / count).sqrt()
}

/// The evidence of `traces`, 1 to [`WINDOW`] of them in order of time: for the fit.
///
/// # Panics
/// With no trace or too many.
#[must_use]
pub fn ceiling_evidence(traces: &[Trace]) -> [f32; EVIDENCE] {
    assert!((1..=WINDOW).contains(&traces.len()), "{} traces: expected 1 to 64", traces.len());
    let mut work = Work::new();
    loop {
        if let Some(values) = work.step(Window { ring: traces, first: 0, count: traces.len() }) {
            return *values;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_crest_is_where_it_is_looked_for() {
        assert_eq!(evidence_names()[CREST], "peak_max_less_loudness_db");
    }
}
