//! How loud each part lies in the mix, from powers alone.
//!
//! A plug-in on a track hears it ahead of the fader, and costs depend on how loud the parts are among
//! themselves. Live there is no audio of the parts, but powers add up: over stretches of the song the
//! mix's power is a sum of the parts', each times what its fader, pan and sends make of it. Found by
//! least squares with no negative share. Files have their audio, and [`remix`](super::remix) finds
//! faders in it.

use super::{PartTrack, Session};
use crate::thresholds::levels as l;

/// K-weighted power of the mix over a stretch of the timeline of its parts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stretch {
    /// First frame, on the timeline of the tracks.
    pub start_frame: i64,
    /// Frames.
    pub frames: u32,
    /// Mean square, summed over channels.
    pub power: f32,
}

impl Session {
    /// Brings every part to the level that it has in the mix; whether these levels could be found. `mix`
    /// may come in any order, and stretches without parts are left out. Where it does not come out as
    /// a sum of the parts nothing is changed. Allocates.
    pub fn bring_to_levels_of(&mut self, mix: &[Stretch]) -> bool {
        let Some(gains) = gains(&self.tracks, mix) else { return false };
        let sounding =
            || gains.iter().zip(&self.tracks).filter(|(_, t)| !t.is_silent()).map(|(g, _)| *g);
        let (least, most) =
            (sounding().fold(f64::INFINITY, f64::min), sounding().fold(0.0, f64::max));
        // What all have in common changes no cost.
        if 10.0 * (most / least).log10() < l::SAME_DB {
            return true;
        }
        for (track, gain) in self.tracks.iter_mut().zip(gains) {
            scale(track, gain as f32);
        }
        true
    }
}

/// By how much each part's power is multiplied in the mix. `None` where there is under
/// [`l::LEAST_S`] of both, or where what the parts leave of the mix, or have beyond it, is more than
/// [`l::LEFT_MOST`].
#[must_use]
pub fn gains(tracks: &[PartTrack], mix: &[Stretch]) -> Option<Vec<f64>> {
    let first = tracks.iter().map(|track| track.start_frame).min()?;
    let end = |track: &PartTrack| {
        track.start_frame + (track.cells.len() * track.cell_frames.max(1)) as i64
    };
    let last = tracks.iter().map(end).max()?;
    let within = |s: &&Stretch| {
        s.frames > 0 && s.start_frame >= first && s.start_frame + i64::from(s.frames) <= last
    };
    let all: Vec<&Stretch> = mix.iter().filter(within).collect();
    let each = all.len().div_ceil(l::STRETCHES_MOST).max(1);
    let stretches: Vec<&Stretch> = all.into_iter().step_by(each).collect();
    let heard: f64 = stretches.iter().map(|s| f64::from(s.frames)).sum();
    if heard * each as f64 <= l::LEAST_S * tracks[0].sample_rate_hz {
        return None;
    }
    let mixed: Vec<f64> = stretches.iter().map(|s| f64::from(s.power)).collect();
    let own: Vec<Vec<f64>> = tracks
        .iter()
        .map(|track| stretches.iter().map(|s| mean_power(track, s)).collect())
        .collect();
    let quiet = l::QUIET_SHARE * mixed.iter().sum::<f64>() / mixed.len() as f64;
    let weights: Vec<f64> =
        mixed.iter().map(|power| (power + quiet).max(f64::MIN_POSITIVE).powi(-2)).collect();
    let product = |a: &[f64], b: &[f64]| -> f64 {
        a.iter().zip(b).zip(&weights).map(|((a, b), weight)| a * b * weight).sum()
    };
    let sum: Vec<f64> =
        (0..mixed.len()).map(|n| own.iter().map(|own| own[n]).sum::<f64>()).collect();
    // Where two parts always play together, both have the level of all.
    let usual = product(&sum, &mixed) / product(&sum, &sum);
    if !usual.is_finite() || usual <= 0.0 {
        return None;
    }
    let products: Vec<Vec<f64>> =
        own.iter().map(|a| own.iter().map(|b| product(a, b)).collect()).collect();
    let wanted: Vec<f64> = own.iter().map(|own| product(own, &mixed)).collect();
    let mut gains = vec![usual; tracks.len()];
    for _ in 0..l::SWEEPS {
        for part in 0..gains.len() {
            let own = products[part][part];
            if own > 0.0 {
                let others = (0..gains.len()).filter(|&k| k != part);
                let others: f64 = others.map(|k| products[part][k] * gains[k]).sum();
                let held = l::RIDGE * own;
                gains[part] = ((wanted[part] - others + held * usual) / (own + held)).max(0.0);
            }
        }
    }
    let left: Vec<f64> = (0..mixed.len())
        .map(|n| mixed[n] - own.iter().zip(&gains).map(|(own, gain)| own[n] * gain).sum::<f64>())
        .collect();
    (product(&left, &left) <= l::LEFT_MOST * product(&mixed, &mixed)).then_some(gains)
}

/// Mean power of a track over a stretch; 0 where it does not sound.
fn mean_power(track: &PartTrack, stretch: &Stretch) -> f64 {
    let cell = track.cell_frames.max(1) as i64;
    let from = (stretch.start_frame - track.start_frame).div_euclid(cell);
    let cells = (i64::from(stretch.frames) / cell).max(1);
    let place = |n: i64| n.clamp(0, track.cells.len() as i64) as usize;
    let sum: f64 = track.cells[place(from)..place(from + cells)]
        .iter()
        .map(|cell| f64::from(cell.weighted))
        .sum();
    sum / cells as f64
}

/// Multiplies the power of a track.
fn scale(track: &mut PartTrack, gain: f32) {
    // A part that is in no mix keeps some level, or nothing could be read of it.
    let gain = gain.max(l::GAIN_LEAST);
    let (peak, db) = (gain.sqrt(), 10.0 * gain.log10());
    for cell in &mut track.cells {
        cell.weighted *= gain;
        cell.sides.iter_mut().chain(&mut cell.bands).for_each(|power| *power *= gain);
        cell.peak *= peak;
    }
    track.onsets.iter_mut().for_each(|onset| onset.level_lufs += db);
    track.sides.iter_mut().for_each(|side| scale(side, gain));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::{PartCell, PartOnset};

    const CELL: usize = 48;

    /// A part whose power moves by itself.
    fn part(seed: u64, start_cell: i64, cells: usize) -> PartTrack {
        let mut state = seed;
        let mut next = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1u64 << 24) as f32
        };
        let mut power = 0.0;
        let cells = (0..cells)
            .map(|n| {
                power = if n % 150 == 0 { next() } else { power * 0.99 };
                PartCell { weighted: power, peak: power.sqrt(), ..PartCell::default() }
            })
            .collect();
        PartTrack {
            sample_rate_hz: 48_000.0,
            cell_frames: CELL,
            start_frame: start_cell * CELL as i64,
            cells,
            onsets: vec![PartOnset { level_lufs: -20.0, ..PartOnset::default() }],
            ..PartTrack::default()
        }
    }

    /// The mix of some parts at these powers, in stretches of 100 ms.
    fn mixed(tracks: &[PartTrack], powers: &[f32], cells: usize) -> Vec<Stretch> {
        (0..cells / 100)
            .map(|n| {
                let stretch = Stretch {
                    start_frame: (n * 100 * CELL) as i64,
                    frames: 100 * CELL as u32,
                    power: 0.0,
                };
                let power: f64 = tracks
                    .iter()
                    .zip(powers)
                    .map(|(track, power)| f64::from(*power) * mean_power(track, &stretch))
                    .sum();
                Stretch { power: power as f32, ..stretch }
            })
            .collect()
    }

    /// Closed form: parts at known gains are found at these, wherever they start.
    #[test]
    fn parts_are_found_at_the_levels_that_they_have() {
        let tracks = [part(1, 0, 20_000), part(2, 0, 20_000), part(3, 4_000, 16_000)];
        let set = [0.25, 4.0, 1.0];
        let found = gains(&tracks, &mixed(&tracks, &set, 20_000)).expect("a sum of the parts");
        for (found, set) in found.iter().zip(set) {
            let off_db = 10.0 * (found / f64::from(set)).log10();
            assert!(off_db.abs() < 0.1, "{found} for {set}");
        }
    }

    #[test]
    fn a_session_is_brought_to_its_levels_and_keeps_them() {
        let tracks = vec![part(1, 0, 20_000), part(2, 0, 20_000)];
        let mix = mixed(&tracks, &[0.5, 2.0], 20_000);
        let mut session = Session { tracks: tracks.clone() };
        assert!(session.bring_to_levels_of(&mix));
        let db = 10.0 * 2f32.log10();
        assert!((session.tracks[1].onsets[0].level_lufs - (-20.0 + db)).abs() < 0.1);
        let ratio = session.tracks[0].cells[7].weighted / tracks[0].cells[7].weighted;
        assert!((ratio - 0.5).abs() < 0.02, "{ratio}");
        let again = gains(&session.tracks, &mix).expect("a sum of the parts");
        assert!(again.iter().all(|gain| (gain - 1.0).abs() < 0.02), "{again:?}");
    }

    /// Another song's mix, too little of it, none at all, and parts that are silent change nothing.
    #[test]
    fn what_is_no_mix_of_the_parts_changes_nothing() {
        let tracks = vec![part(1, 0, 20_000), part(2, 0, 20_000)];
        let other = mixed(&[part(8, 0, 20_000)], &[1.0], 20_000);
        let mix = mixed(&tracks, &[1.0, 1.0], 20_000);
        let silent = vec![part(0, 0, 0)];
        for (tracks, mix) in [
            (&tracks, &other[..]),
            (&tracks, &mix[..20]),
            (&tracks, &[]),
            (&silent, &mix),
            (&Vec::new(), &mix),
        ] {
            assert_eq!(gains(tracks, mix), None);
            let mut session = Session { tracks: tracks.clone() };
            assert!(!session.bring_to_levels_of(mix));
            assert_eq!(&session.tracks, tracks);
        }
    }
}
