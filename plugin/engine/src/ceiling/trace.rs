//! What the ceiling estimate keeps of one hit: plain numbers from the cells around it.

use crate::Hit;
use crate::bands::BANDS;
use crate::cells::Cells;
use crate::thresholds as t;

/// Numbers in a trace.
pub const TRACE: usize = 53;

/// Names of a trace's numbers, in order. Powers are of 1 ms cells; *before* is the 60 to 10 ms
/// ahead of the onset; *dense* is the share of the cells from the onset to the next, 240 ms at most,
/// whose peak comes within so many decibels of the hit's; *swell* is a band's power so many milliseconds after
/// the onset over its power before.
pub const TRACE_NAMES: [&str; TRACE] = [
    "time_s",
    "peak_dbtp",
    "level_lufs",
    "bed_lufs",
    "low_dbfs",
    "mid_dbfs",
    "high_dbfs",
    "attack_ms",
    "dwell_0.1_ms",
    "dwell_0.5_ms",
    "dwell_1.5_ms",
    "next_peak_db",
    "flat_samples",
    "over_sample_db",
    "other_side_db",
    "tip_crest_db",
    "peak_0_3_db",
    "peak_3_10_db",
    "peak_10_25_db",
    "peak_25_50_db",
    "level_30_60_db",
    "level_60_110_db",
    "level_110_240_db",
    "dip_low_db",
    "dip_mid_db",
    "dip_high_db",
    "swell_25_low_db",
    "swell_25_mid_db",
    "swell_25_high_db",
    "swell_60_low_db",
    "swell_60_mid_db",
    "swell_60_high_db",
    "swell_140_low_db",
    "swell_140_mid_db",
    "swell_140_high_db",
    "peak_before_db",
    "next_hit_ms",
    "energy_so_far",
    "cells_so_far",
    "peak_50_100_db",
    "peak_100_240_db",
    "next_peak_at_ms",
    "dense_0.5",
    "dense_1.5",
    "dense_3",
    "dense_6",
    "plain_dbfs",
    "swell_3_low_db",
    "swell_3_mid_db",
    "swell_3_high_db",
    "swell_10_low_db",
    "swell_10_mid_db",
    "swell_10_high_db",
];

/// Places of some numbers in a trace.
pub(crate) mod at {
    pub(crate) const TIME: usize = 0;
    pub(crate) const PEAK: usize = 1;
    pub(crate) const LEVEL: usize = 2;
    pub(crate) const BED: usize = 3;
    pub(crate) const LOW: usize = 4;
    pub(crate) const MID: usize = 5;
    pub(crate) const HIGH: usize = 6;
    pub(crate) const FLAT: usize = 12;
    pub(crate) const OVER: usize = 13;
    pub(super) const TIP_CREST: usize = 15;
    pub(crate) const ENERGY: usize = 37;
    pub(crate) const CELLS: usize = 38;
    pub(crate) const PLAIN: usize = 46;
}

/// What is kept of a hit, see [`TRACE_NAMES`].
pub type Trace = [f64; TRACE];

/// Widest ratio of two powers or peaks in a trace, dB: what lies beyond is silence beside sound.
const MOST_DB: f64 = 40.0;

/// The trace of a hit that starts in cell `start`; the next onset lies in cell `next`.
pub(crate) fn trace(cells: &Cells, hit: &Hit, start: u64, next: u64) -> Trace {
    let end = next.min(start + t::HIT_PEAK_MS as u64);
    let peak_in = |from: u64, to: u64| {
        cells.range(from, to).map(|(_, cell)| cell.peak).fold(0.0f32, f32::max)
    };
    let (mut peak, mut highest) = (0.0f32, start);
    let (mut sample, mut sides) = (0.0f32, [0.0f32; 2]);
    for (number, cell) in cells.range(start, end) {
        if cell.peak > peak {
            (peak, highest) = (cell.peak, number);
        }
        sample = sample.max(cell.sample_peak);
        for (side, cell) in sides.iter_mut().zip(cell.sides) {
            *side = side.max(cell);
        }
    }
    let (mut flat, mut dwell, mut other) = (0u16, [0.0f64; 3], (0.0f32, highest));
    for (number, cell) in cells.range(start, end) {
        for (count, share) in dwell.iter_mut().zip(t::DWELL_SHARES) {
            *count += f64::from(u8::from(cell.peak >= peak * share));
        }
        if cell.peak >= peak * t::DWELL_SHARES[0] {
            flat = flat.max(cell.flat_run);
        }
        if number.abs_diff(highest) >= t::NEXT_PEAK_MS && cell.peak > other.0 {
            other = (cell.peak, number);
        }
    }
    let under_peak = |value: f32| ratio_db(f64::from(value), f64::from(peak)) * 2.0;
    let level = |from: u64, to: u64| mean(cells, start + from, (start + to).min(next));
    let loudest = 10f64.powf((hit.level_lufs + 0.691) / 10.0);
    let tip = f64::from(cells.get(highest.min(cells.count() - 1)).weighted);
    let before = bands(cells, start.saturating_sub(60), start.saturating_sub(10));
    let swell = |from: u64, to: u64| {
        let after = bands(cells, start + from, start + to);
        std::array::from_fn::<f64, BANDS, _>(|band| ratio_db(after[band], before[band]))
    };
    let dip = {
        let far = bands(cells, start.saturating_sub(30), start.saturating_sub(10));
        let near = bands(cells, start.saturating_sub(5), start.saturating_sub(1));
        std::array::from_fn::<f64, BANDS, _>(|band| ratio_db(near[band], far[band]))
    };
    let [at_once, then] = [swell(3, 10), swell(10, 25)];
    let [soon, later, last] = [swell(25, 50), swell(60, 110), swell(140, 240)];
    let dense = {
        let mut count = [0u32; 4];
        let mut all = 0u32;
        for (_, cell) in cells.range(start, next.min(start + 240)) {
            all += 1;
            for (count, share) in count.iter_mut().zip(t::DENSE_SHARES) {
                *count += u32::from(cell.peak >= peak * share);
            }
        }
        count.map(|count| f64::from(count) / f64::from(all.max(1)))
    };
    let next_ms = if next == u64::MAX { 1e3 } else { (next - start) as f64 };
    [
        hit.time_s,
        hit.true_peak_dbtp,
        hit.level_lufs,
        hit.bed_lufs,
        hit.band_dbfs[0],
        hit.band_dbfs[1],
        hit.band_dbfs[2],
        hit.attack_ms,
        dwell[0],
        dwell[1],
        dwell[2],
        -under_peak(other.0),
        f64::from(flat),
        -under_peak(sample),
        2.0 * ratio_db(f64::from(sides[0].min(sides[1])), f64::from(sides[0].max(sides[1]))),
        ratio_db(f64::from(peak) * f64::from(peak), tip),
        under_peak(peak_in(start, start + 3)),
        under_peak(peak_in(start + 3, (start + 10).min(next))),
        under_peak(peak_in(start + 10, (start + 25).min(next))),
        under_peak(peak_in(start + 25, (start + 50).min(next))),
        ratio_db(level(30, 60), loudest),
        ratio_db(level(60, 110), loudest),
        ratio_db(level(110, 240), loudest),
        dip[0],
        dip[1],
        dip[2],
        soon[0],
        soon[1],
        soon[2],
        later[0],
        later[1],
        later[2],
        last[0],
        last[1],
        last[2],
        under_peak(peak_in(start.saturating_sub(60), start.saturating_sub(2))),
        next_ms.min(1e3),
        0.0,
        0.0,
        under_peak(peak_in(start + 50, (start + 100).min(next))),
        under_peak(peak_in(start + 100, (start + 240).min(next))),
        other.1 as f64 - highest as f64,
        dense[0],
        dense[1],
        dense[2],
        dense[3],
        plain_dbfs(hit),
        at_once[0],
        at_once[1],
        at_once[2],
        then[0],
        then[1],
        then[2],
    ]
}

/// Counts the powers of a trace so many `times`; peaks and what powers are to each other stay.
pub(super) fn count(trace: &mut Trace, times: f64) {
    let db = 10.0 * times.log10();
    for place in [at::LEVEL, at::BED, at::LOW, at::MID, at::HIGH, at::PLAIN] {
        trace[place] += db;
    }
    trace[at::TIP_CREST] = (trace[at::TIP_CREST] - db).clamp(-MOST_DB, MOST_DB);
}

/// Unweighted level of a hit over all bands, dBFS.
fn plain_dbfs(hit: &Hit) -> f64 {
    10.0 * hit.band_dbfs.map(|db| 10f64.powf(db / 10.0)).iter().sum::<f64>().log10()
}

/// `a` over `b` in dB of power, within [`MOST_DB`] either way; that far down for nothing at all.
fn ratio_db(a: f64, b: f64) -> f64 {
    let floor = f64::from(t::POWER_FLOOR);
    (10.0 * ((a + floor) / (b + floor)).log10()).clamp(-MOST_DB, MOST_DB)
}

/// Mean K-weighted power of the cells `from..to`; 0 without any.
fn mean(cells: &Cells, from: u64, to: u64) -> f64 {
    let (mut sum, mut count) = (0.0, 0u32);
    for (_, cell) in cells.range(from, to) {
        sum += f64::from(cell.weighted);
        count += 1;
    }
    sum / f64::from(count.max(1))
}

/// Mean power of each band over the cells `from..to`.
fn bands(cells: &Cells, from: u64, to: u64) -> [f64; BANDS] {
    let (mut sum, mut count) = ([0.0; BANDS], 0u32);
    for (_, cell) in cells.range(from, to) {
        for (sum, power) in sum.iter_mut().zip(cell.bands) {
            *sum += f64::from(power);
        }
        count += 1;
    }
    sum.map(|sum| sum / f64::from(count.max(1)))
}
