//! What the hits of the last bars tell about a ceiling over them: plain statistics, none of which
//! depends on the gain of the mix.

use crate::Loudness;
use crate::contrast::quantile;
use crate::hits::MeasuredHit;

/// Number of pieces of evidence.
pub const EVIDENCE: usize = 35;

/// Names of the pieces, in order: for tables and for the fit.
pub const EVIDENCE_NAMES: [&str; EVIDENCE] = [
    "peak_p97_less_p90_db",
    "peak_p90_less_p75_db",
    "peak_p75_less_p50_db",
    "peak_p50_less_p25_db",
    "peak_p25_less_p10_db",
    "peak_max_less_p97_db",
    "top_third_sd_db",
    "share_within_0.1_db",
    "share_within_0.3_db",
    "share_within_1_db",
    "share_within_3_db",
    "crest_k_p10_db",
    "crest_k_p50_db",
    "crest_k_p90_db",
    "crest_u_p50_db",
    "crest_u_top_db",
    "slope_top_half",
    "level_sd_db",
    "level_p90_less_p50_db",
    "contrast_p50_db",
    "attack_p50_ms",
    "dwell_0.1_p50_ms",
    "dwell_0.5_p50_ms",
    "dwell_1.5_p50_ms",
    "dwell_0.5_top_ms",
    "next_peak_p50_db",
    "next_peak_top_db",
    "flat_share",
    "plr_db",
    "psr_db",
    "low_share_p50_db",
    "hits_per_s",
    "swell_low_p50_db",
    "swell_mid_p50_db",
    "swell_high_p50_db",
];

/// What is kept of a hit.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Trace {
    peak_db: f64,
    level_db: f64,
    /// Unweighted level of the same 10 ms.
    plain_db: f64,
    low_db: f64,
    contrast_db: f64,
    attack_ms: f64,
    dwell_ms: [f64; 3],
    next_peak_db: f64,
    flat: bool,
    swell_db: [f64; 3],
    time_s: f64,
}

impl Trace {
    pub(crate) fn new(measured: &MeasuredHit) -> Self {
        let hit = &measured.hit;
        let plain: f64 = hit.band_dbfs.iter().map(|db| 10f64.powf(db / 10.0)).sum();
        let plain_db = 10.0 * plain.log10();
        Self {
            peak_db: hit.true_peak_dbtp,
            level_db: hit.level_lufs,
            plain_db,
            low_db: hit.band_dbfs[0] - plain_db,
            contrast_db: hit.contrast_db,
            attack_ms: hit.attack_ms,
            dwell_ms: measured.dwell_ms.map(f64::from),
            next_peak_db: f64::from(measured.next_peak_db),
            flat: measured.flat_run >= crate::thresholds::FLAT_SAMPLES,
            swell_db: measured.swell_db.map(f64::from),
            time_s: hit.time_s,
        }
    }

    /// True peak of the hit, dBTP.
    pub(crate) fn peak_db(&self) -> f64 {
        self.peak_db
    }

    /// K-weighted level of the hit, LUFS.
    pub(crate) fn level_db(&self) -> f64 {
        self.level_db
    }

    /// Whether the hit's peak has a flat top.
    pub(crate) fn flat(&self) -> bool {
        self.flat
    }
}

/// Values of one trace field, sorted.
fn sorted<'a>(
    scratch: &'a mut [f64],
    traces: &[Trace],
    value: impl Fn(&Trace) -> f64,
) -> &'a [f64] {
    let out = &mut scratch[..traces.len()];
    for (out, trace) in out.iter_mut().zip(traces) {
        *out = value(trace);
    }
    out.sort_unstable_by(f64::total_cmp);
    out
}

/// The evidence of `traces`, not empty and not longer than `scratch`, which is overwritten.
pub(crate) fn evidence(
    traces: &[Trace],
    loudness: &Loudness,
    scratch: &mut [f64],
) -> [f32; EVIDENCE] {
    let count = traces.len() as f64;
    let peaks = sorted(scratch, traces, |t| t.peak_db);
    let at = |values: &[f64], q: f64| quantile(values, q);
    let p = [0.1, 0.25, 0.5, 0.75, 0.9, 0.97, 1.0].map(|q| at(peaks, q));
    let near = |db: f64| peaks.iter().filter(|&&peak| peak >= p[5] - db).count() as f64 / count;
    let shares = [near(0.1), near(0.3), near(1.0), near(3.0)];
    let third = &peaks[peaks.len() - peaks.len().div_ceil(3)..];
    let third_sd = sd(third.iter().copied());
    let median_peak = p[2];

    let crest_k = sorted(scratch, traces, |t| t.peak_db - t.level_db);
    let crest_k = [0.1, 0.5, 0.9].map(|q| at(crest_k, q));
    let crest_u = at(sorted(scratch, traces, |t| t.peak_db - t.plain_db), 0.5);
    let levels = sorted(scratch, traces, |t| t.level_db);
    let level_spread = at(levels, 0.9) - at(levels, 0.5);
    let level_sd = sd(levels.iter().copied());
    let mut middle = |value: fn(&Trace) -> f64| at(sorted(scratch, traces, value), 0.5);
    let contrast = middle(|t| t.contrast_db);
    let attack = middle(|t| t.attack_ms);
    let dwell = [middle(|t| t.dwell_ms[0]), middle(|t| t.dwell_ms[1]), middle(|t| t.dwell_ms[2])];
    let next_peak = middle(|t| t.next_peak_db);
    let low = middle(|t| t.low_db);
    let swell = [middle(|t| t.swell_db[0]), middle(|t| t.swell_db[1]), middle(|t| t.swell_db[2])];

    // Means over the louder half.
    let (mut n, mut crest, mut dwell_top, mut next_top) = (0.0, 0.0, 0.0, 0.0);
    let (mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0);
    for t in traces.iter().filter(|t| t.peak_db >= median_peak) {
        n += 1.0;
        crest += t.peak_db - t.plain_db;
        dwell_top += t.dwell_ms[1];
        next_top += t.next_peak_db;
        let level = t.level_db - levels_centre(traces);
        x += level;
        y += t.peak_db;
        xx += level * level;
        xy += level * t.peak_db;
    }
    // Slope of peak on level, with a prior of one decibel squared against few or equal hits.
    let slope = (xy - x * y / n) / (xx - x * x / n + 1.0);
    let flat = traces.iter().filter(|t| t.flat).count() as f64 / count;
    let span = traces
        .iter()
        .fold((f64::MAX, f64::MIN), |(from, to), t| (from.min(t.time_s), to.max(t.time_s)));
    [
        p[5] - p[4],
        p[4] - p[3],
        p[3] - p[2],
        p[2] - p[1],
        p[1] - p[0],
        p[6] - p[5],
        third_sd,
        shares[0],
        shares[1],
        shares[2],
        shares[3],
        crest_k[0],
        crest_k[1],
        crest_k[2],
        crest_u,
        crest / n,
        slope,
        level_sd,
        level_spread,
        contrast,
        attack,
        dwell[0],
        dwell[1],
        dwell[2],
        dwell_top / n,
        next_peak,
        next_top / n,
        flat,
        loudness.plr_db.unwrap_or(0.0),
        loudness.psr_median_db.unwrap_or(0.0),
        low,
        (count - 1.0) / (span.1 - span.0).max(1.0),
        swell[0],
        swell[1],
        swell[2],
    ]
    .map(|value| value as f32)
}

/// Mean level: a centre that keeps the sums of squares small.
fn levels_centre(traces: &[Trace]) -> f64 {
    traces.iter().map(|t| t.level_db).sum::<f64>() / traces.len() as f64
}

/// Standard deviation of a set.
fn sd(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    (values.map(|v| (v - mean).powi(2)).sum::<f64>() / count).sqrt()
}
