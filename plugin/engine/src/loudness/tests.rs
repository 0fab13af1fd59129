//! The statistics on hops made up for the purpose. The standards' own cases, played as sound, are
//! in the tests crate.

use super::*;

const RATE_HZ: f64 = 48_000.0;
const HOP: usize = 480;

fn stats() -> LoudnessStats {
    LoudnessStats::new(RATE_HZ, HOP)
}

/// Sum of squares of a hop at this loudness.
fn hop_energy(lufs: f64) -> f64 {
    power_of_lufs(lufs) * HOP as f64
}

fn close(what: &str, got: Option<f64>, want: f64, tolerance: f64) {
    let got = got.unwrap_or(f64::NAN);
    assert!((got - want).abs() <= tolerance, "{what}: {got} for {want}");
}

/// Loudness of hop `n` of a restless programme, LUFS, without period: -60 to -5.
fn restless(n: u64) -> f64 {
    let t = n as f64;
    -32.0 + 14.0 * (t * 0.000_31).sin() + 8.0 * (t * 0.017_3).sin() + 5.0 * (t * 1.234_5).sin()
}

/// The definitions written out, over all blocks and windows in memory.
fn plain(hops: &[f64]) -> Loudness {
    let windows = |length: usize, step: usize| -> Vec<f64> {
        let power = |w: &[f64]| w.iter().sum::<f64>() / (length * HOP) as f64;
        hops.windows(length).step_by(step).map(power).collect()
    };
    let gated = |powers: &[f64], under_lu: f64| -> Vec<f64> {
        let loud: Vec<f64> = powers.iter().copied().filter(|p| lufs(*p) > -70.0).collect();
        let gate = loud.iter().sum::<f64>() / loud.len() as f64 / 10_f64.powf(under_lu / 10.0);
        loud.into_iter().filter(|p| *p > gate).collect()
    };
    let largest = |powers: &[f64]| Some(lufs(powers.iter().copied().fold(0.0, f64::max)));
    let blocks = gated(&windows(40, 10), 10.0);
    let mut range = gated(&windows(300, 100), 20.0);
    range.sort_by(f64::total_cmp);
    let at = |p: f64| lufs(range[((range.len() - 1) as f64 * p).round() as usize]);
    Loudness {
        integrated_lufs: Some(lufs(blocks.iter().sum::<f64>() / blocks.len() as f64)),
        range_lu: Some(at(0.95) - at(0.10)),
        momentary_lufs: windows(40, 1).last().map(|p| lufs(*p)),
        short_term_lufs: windows(300, 1).last().map(|p| lufs(*p)),
        momentary_max_lufs: largest(&windows(40, 1)),
        short_term_max_lufs: largest(&windows(300, 1)),
        ..Loudness::default()
    }
}

fn same(what: &str, got: &Loudness, want: &Loudness, loudness_lu: f64) {
    let pairs = [
        ("I", got.integrated_lufs, want.integrated_lufs),
        ("M", got.momentary_lufs, want.momentary_lufs),
        ("S", got.short_term_lufs, want.short_term_lufs),
        ("largest M", got.momentary_max_lufs, want.momentary_max_lufs),
        ("largest S", got.short_term_max_lufs, want.short_term_max_lufs),
    ];
    for (name, got, want) in pairs {
        close(&format!("{what}, {name}"), got, want.unwrap_or(f64::NAN), loudness_lu);
    }
    let range = want.range_lu.unwrap_or(f64::NAN);
    close(&format!("{what}, LRA"), got.range_lu, range, 2.0 * 0.01);
}

#[test]
fn an_hour_reads_as_the_definitions_written_out() {
    let hops: Vec<f64> = (0..360_000).map(|n| hop_energy(restless(n))).collect();
    let mut stats = stats();
    for (n, energy) in hops.iter().enumerate() {
        stats.hop(*energy, 0.5, 0.5);
        if [400, 1_000, 6_000, 60_000].contains(&(n + 1)) {
            same(&format!("{} hops", n + 1), &stats.readings(), &plain(&hops[..=n]), 1e-3);
        }
    }
    same("an hour", &stats.readings(), &plain(&hops), 1e-3);
}

/// Where blocks crowd around the gate, each falls on its own side.
#[test]
fn the_gate_is_exact_within_a_bin() {
    let mut bins = LevelBins::new();
    for n in 0..1_000 {
        bins.push(power_of_lufs(-30.0 + f64::from(n) * 1e-5));
    }
    for n in [0, 1, 17, 500, 998] {
        let gate = power_of_lufs(-30.0 + (f64::from(n) + 0.5) * 1e-5);
        assert_eq!(bins.above(gate).count, 999 - n as u64);
    }
}

/// A day of one minute over and over reads like that minute: what drifts would show here.
#[test]
fn a_day_does_not_drift() {
    // A minute whose end meets its start, so that no block is new when it comes round.
    let minute: Vec<f64> = (0..6_000)
        .map(|n| {
            let turn = std::f64::consts::TAU * f64::from(n) / 6_000.0;
            hop_energy(-30.0 + 12.0 * turn.sin() + 5.0 * (97.0 * turn).sin())
        })
        .collect();
    let mut day = stats();
    for _ in 0..24 * 60 {
        for energy in &minute {
            day.hop(*energy, 0.5, 0.5);
        }
    }
    let hundred: Vec<f64> = minute.iter().copied().cycle().take(600_000).collect();
    let want = plain(&hundred);
    let got = day.readings();
    // Three blocks that would cross the start are lacking: one part in 20,000 of 100 minutes.
    same("a day", &got, &want, 0.0005);
    close("M", got.momentary_lufs, want.momentary_lufs.unwrap_or(f64::NAN), 1e-12);
    close("S", got.short_term_lufs, want.short_term_lufs.unwrap_or(f64::NAN), 1e-12);
}

/// 100 dB down, 3 s later, nothing of the loud past is left.
#[test]
fn a_loud_past_leaves_no_trace() {
    let mut stats = stats();
    for _ in 0..1_000 {
        stats.hop(hop_energy(40.0), 1e3, 1e3);
    }
    for _ in 0..300 {
        stats.hop(hop_energy(-60.0), 1e-3, 1e-3);
    }
    let got = stats.readings();
    close("M", got.momentary_lufs, -60.0, 1e-9);
    close("S", got.short_term_lufs, -60.0, 1e-9);
    close("PSR", got.psr_db, 0.0, 1e-6);
}

/// The long sums are right to 1e-9 after a day of blocks of one level, whatever that level is.
#[test]
fn a_day_of_one_level_is_that_level() {
    for level in [-69.9, -23.456_789, -0.1, 25.0] {
        let mut stats = stats();
        for _ in 0..24 * 360_000 / 10 {
            stats.blocks.bins.push(power_of_lufs(level));
        }
        let gated = stats.blocks.bins.above(power_of_lufs(level - 10.0));
        assert_eq!(gated.count, 864_000);
        close("mean of a day", gated.mean().map(lufs), level, 1e-9);
    }
}

#[test]
fn nothing_is_read_from_a_part_of_a_window() {
    let mut stats = stats();
    for n in 1..=700_u32 {
        stats.hop(hop_energy(-20.0), 0.25, 0.2);
        let got = stats.readings();
        assert_eq!(got.momentary_lufs.is_some(), n >= 40, "M at hop {n}");
        assert_eq!(got.integrated_lufs.is_some(), n >= 40, "I at hop {n}");
        assert_eq!(got.plr_db.is_some(), n >= 40, "PLR at hop {n}");
        assert_eq!(got.short_term_lufs.is_some(), n >= 300, "S at hop {n}");
        assert_eq!(got.psr_db.is_some(), n >= 300, "PSR at hop {n}");
        assert_eq!(got.range_lu.is_some(), n >= 400, "LRA at hop {n}");
    }
    let got = stats.readings();
    close("true peak", got.true_peak_dbtp, -12.041, 0.001);
    close("sample peak", got.sample_peak_dbfs, -13.979, 0.001);
    close("PLR", got.plr_db, 7.959, 0.001);
    close("PSR", got.psr_db, 7.959, 0.001);
    close("smallest PSR", got.psr_min_db, 7.959, 0.001);
    close("median PSR", got.psr_median_db, 7.959, 0.05);
}

/// The peak of a hop that the end cuts short counts for the peak and PLR, and for nothing else.
#[test]
fn a_cut_hop_has_a_peak() {
    let mut stats = stats();
    for _ in 0..400 {
        stats.hop(hop_energy(-20.0), 0.1, 0.1);
    }
    let before = stats.readings();
    stats.last_peaks(1.0, 0.5);
    let got = stats.readings();
    close("true peak", got.true_peak_dbtp, 0.0, 1e-6);
    close("sample peak", got.sample_peak_dbfs, -6.0206, 1e-4);
    close("PLR", got.plr_db, 20.0, 1e-6);
    let Loudness { true_peak_dbtp, sample_peak_dbfs, plr_db, .. } = before;
    assert_eq!(Loudness { true_peak_dbtp, sample_peak_dbfs, plr_db, ..got }, before);
}

/// The peak of PSR is that of the last 3 s, not a hop less or more.
#[test]
fn psr_looks_back_three_seconds() {
    let mut stats = stats();
    for n in 0..1_000_u32 {
        let peak = if n == 400 { 1.0 } else { 0.1 };
        stats.hop(hop_energy(-20.0), peak, peak);
        if n >= 299 {
            let want = if (400..700).contains(&n) { 20.0 } else { 0.0 };
            close(&format!("PSR at hop {n}"), stats.readings().psr_db, want, 1e-6);
        }
    }
}

/// The gate moves both ways; moments come in and go out with it, by the definition written out.
#[test]
fn psr_follows_a_moving_gate() {
    let mut grid = PsrGrid::new();
    let moments: Vec<(f64, f64)> = (0..3_000)
        .map(|n| {
            let t = f64::from(n);
            (-40.0 + 29.0 * (t * 0.01).sin(), 14.0 + 6.0 * (t * 0.037).sin())
        })
        .collect();
    for (n, &(level, psr)) in moments.iter().enumerate() {
        grid.push(level, psr);
        let gate = (-50.0 + 19.0 * (n as f64 * 0.003).sin()).round();
        grid.set_gate(gate);
        let mut above: Vec<f64> =
            moments[..=n].iter().filter(|m| m.0 >= gate).map(|m| m.1).collect();
        above.sort_by(f64::total_cmp);
        assert_eq!(grid.min(), above.first().copied(), "moment {n}");
        match grid.median() {
            Some(got) => {
                let (low, high) = (above[(above.len() - 1) / 2], above[above.len() / 2]);
                assert!(got > low - 0.06 && got < high + 0.06, "moment {n}: {got}, {low} {high}");
            }
            None => assert!(above.is_empty(), "moment {n}"),
        }
    }
}

#[test]
fn reset_is_like_new() {
    let mut used = stats();
    for n in 0..5_000 {
        used.hop(hop_energy(restless(n)), 0.9, 0.8);
    }
    used.reset();
    assert_eq!(used.readings(), Loudness::default());
    let mut fresh = stats();
    for n in 0..2_000 {
        used.hop(hop_energy(restless(7 * n)), 0.3, 0.2);
        fresh.hop(hop_energy(restless(7 * n)), 0.3, 0.2);
        assert_eq!(used.readings(), fresh.readings(), "hop {n}");
    }
}

/// Levels that no music has leave numbers, or none, but never NaN or infinity.
#[test]
fn extreme_levels_stay_numbers() {
    for energy in [0.0, f64::MIN_POSITIVE, 1e-30, 1e30, 1e80] {
        for peak in [0.0, f32::MIN_POSITIVE, f32::MAX] {
            let mut stats = stats();
            for _ in 0..1_000 {
                stats.hop(energy, peak, peak);
            }
            let got = stats.readings();
            for reading in [
                got.momentary_lufs,
                got.short_term_lufs,
                got.integrated_lufs,
                got.range_lu,
                got.true_peak_dbtp,
                got.sample_peak_dbfs,
                got.plr_db,
                got.psr_db,
                got.psr_min_db,
                got.psr_median_db,
            ] {
                assert!(reading.is_none_or(f64::is_finite), "{energy} {peak}: {got:?}");
            }
        }
    }
}

#[test]
fn a_bus_reads_as_the_whole_meter_does() {
    let (mut bus, mut whole) = (BusLoudness::new(RATE_HZ, HOP), stats());
    for n in 0..3_000 {
        bus.hop(hop_energy(restless(3 * n)));
        whole.hop(hop_energy(restless(3 * n)), 0.5, 0.5);
        let got = whole.readings();
        assert_eq!(bus.momentary_lufs(), got.momentary_lufs, "hop {n}");
        assert_eq!(bus.integrated_lufs(), got.integrated_lufs, "hop {n}");
    }
    bus.reset();
    assert_eq!((bus.momentary_lufs(), bus.integrated_lufs()), (None, None));
}
