//! How loud each part lies in the mix, from powers alone.
//!
//! A plug-in on a track hears it ahead of the fader, and costs depend on how loud the parts are among
//! themselves. Live there is no audio of the parts, but powers add up: over stretches of the song the
//! mix's power in each of three bands is a sum of the parts', each times what its fader makes of it.
//! Found by least squares with no negative share. Sounds that strike together on one note do not add up
//! in power alone, most of all low ones, and what is done to a part between its plug-in and the mix may
//! be more than a fader. So each band and each piece of the song is left out in turn, and a part whose
//! level hangs on that counts as it came. Files have their audio besides, and [`remix`](super::remix)
//! finds faders in it.

use super::{PartTrack, Session};
use crate::Hop;
use crate::bands::BANDS;
use crate::decibels::{power_db, power_ratio};
use crate::quantile::median;
use crate::thresholds::levels as l;

/// Power of the mix over a stretch of the timeline of its parts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stretch {
    /// First frame, on the timeline of the tracks.
    pub start_frame: i64,
    /// Frames.
    pub frames: u32,
    /// Mean square of the low, mid and high band, unweighted, summed over channels.
    pub bands: [f32; BANDS],
}

/// Hops of a stretch: 100 ms. Ours: a stroke long, and long against what a host may be off in placing a
/// part.
const HOPS: u32 = 10;

/// Sums a mix's hops up to stretches. Nothing here allocates, locks or makes a system call.
#[derive(Clone, Copy, Debug, Default)]
pub struct Stretches {
    start_frame: i64,
    hops: u32,
    frames: u32,
    energies: [f64; BANDS],
}

impl Stretches {
    /// Takes the next hop, which starts at `frame` of the timeline; gives the stretch that it ends.
    pub fn hop(&mut self, hop: &Hop, frame: i64) -> Option<Stretch> {
        if self.hops == 0 {
            self.start_frame = frame;
        }
        self.hops += 1;
        self.frames += hop.frames as u32;
        self.energies.iter_mut().zip(hop.main_bands).for_each(|(sum, energy)| *sum += energy);
        if self.hops < HOPS {
            return None;
        }
        let Self { start_frame, frames, energies, .. } = std::mem::take(self);
        let bands = energies.map(|energy| (energy / f64::from(frames.max(1))) as f32);
        Some(Stretch { start_frame, frames, bands })
    }
}

/// How loud a part lies in the mix.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Level {
    /// Level against that of the middle one of the parts, dB; 0 where it is silent.
    pub db: f64,
    /// How far off that may be, dB: one standard deviation.
    pub doubt_db: f64,
}

impl Level {
    /// By how much the part's power is multiplied: as found where that is sure, or 1.
    #[must_use]
    pub fn gain(&self) -> f64 {
        let sure = self.db.abs() >= l::SAME_DB.max(l::DOUBTS * self.doubt_db);
        if sure { power_ratio(self.db) } else { 1.0 }
    }
}

impl Session {
    /// Brings the parts to the levels that they have in the mix, as far as these are sure. `mix` may
    /// come in any order, and stretches without parts are left out. Where the mix does not come out as
    /// a sum of the parts nothing is changed. Allocates.
    pub fn bring_to_levels_of(&mut self, mix: &[Stretch]) {
        let Some(levels) = levels(&self.tracks, mix) else { return };
        for (track, level) in self.tracks.iter_mut().zip(levels) {
            let gain = level.gain();
            if gain != 1.0 {
                scale(track, gain as f32);
            }
        }
    }
}

/// How loud each part lies in the mix. `None` where there is under [`l::LEAST_S`] of both, or where what
/// the parts leave of the mix, or have beyond it, is more than [`l::LEFT_MOST`].
#[must_use]
pub fn levels(tracks: &[PartTrack], mix: &[Stretch]) -> Option<Vec<Level>> {
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
    let sums = Sums::all(tracks, &stretches);
    let whole = sums.iter().flatten().fold(Sums::new(tracks.len()), Sums::and);
    let usual = whole.usual()?;
    let found = whole.gains(usual);
    if whole.left(&found) > l::LEFT_MOST * whole.mix {
        return None;
    }
    let sounding = |part: &usize| whole.parts[*part][*part] > 0.0;
    let parts: Vec<usize> = (0..tracks.len()).filter(sounding).collect();
    // What all have in common changes no cost, so levels are told against the middle one.
    let middle = |gains: &[f64]| -> Vec<f64> {
        let db = |part: &usize| power_db((gains[*part] / usual).max(l::GAIN_LEAST));
        let db: Vec<f64> = parts.iter().map(db).collect();
        let middle = median(&db).unwrap_or(0.0);
        db.iter().map(|db| db - middle).collect()
    };
    let found = middle(&found);
    // By how far the levels move, one against another, when some of the sums are left out; and which
    // share of what is known of a part the rest holds.
    let without = |left: &dyn Fn(usize, usize) -> bool| -> Vec<(f64, f64)> {
        let rest = sums.iter().enumerate().flat_map(|(piece, bands)| {
            bands.iter().enumerate().filter_map(move |(band, s)| (!left(piece, band)).then_some(s))
        });
        let rest = rest.fold(Sums::new(tracks.len()), Sums::and);
        let moved = middle(&rest.gains(usual));
        let off: Vec<f64> = moved.iter().zip(&found).map(|(moved, db)| moved - db).collect();
        let middle = median(&off).unwrap_or(0.0);
        let held = |part: &usize| rest.parts[*part][*part] / whole.parts[*part][*part];
        off.iter().zip(&parts).map(|(off, part)| (off - middle, held(part))).collect()
    };
    let pieces: Vec<_> = (0..l::PIECES).map(|out| without(&|piece, _| piece == out)).collect();
    let bands: Vec<_> = (0..BANDS).map(|out| without(&|_, band| band == out)).collect();
    let mut levels = vec![Level::default(); tracks.len()];
    for (n, (&part, &db)) in parts.iter().zip(&found).enumerate() {
        // The error of a mean by leaving out each piece in turn; and what one band says that the others
        // do not, as far as they know; and as far as it is known by its lows.
        let spread = pieces.iter().map(|rest| rest[n].0.powi(2)).sum::<f64>();
        let pieces = spread * (l::PIECES - 1) as f64 / l::PIECES as f64;
        let band = bands.iter().map(|rest| rest[n].0.abs() * rest[n].1).fold(0.0, f64::max);
        let lows = l::LOWS_DOUBT_DB * (1.0 - bands[0][n].1);
        levels[part] = Level { db, doubt_db: pieces.sqrt().hypot(band).hypot(lows) };
    }
    Some(levels)
}

/// The sums that the levels follow from, over some stretches and bands: products of the powers, each as
/// a share of the mix's.
#[derive(Clone, Debug)]
struct Sums {
    parts: Vec<Vec<f64>>,
    wanted: Vec<f64>,
    mix: f64,
}

impl Sums {
    fn new(parts: usize) -> Self {
        Self { parts: vec![vec![0.0; parts]; parts], wanted: vec![0.0; parts], mix: 0.0 }
    }

    /// Of each piece of the song and each band.
    fn all(tracks: &[PartTrack], stretches: &[&Stretch]) -> Vec<[Self; BANDS]> {
        let quiet = |band: usize| {
            let sum: f64 = stretches.iter().map(|s| f64::from(s.bands[band])).sum();
            (l::QUIET_SHARE * sum / stretches.len() as f64).max(f64::MIN_POSITIVE)
        };
        let quiet: [f64; BANDS] = std::array::from_fn(quiet);
        let mut sums = vec![[(); BANDS].map(|()| Self::new(tracks.len())); l::PIECES];
        for (n, stretch) in stretches.iter().enumerate() {
            let own: Vec<[f64; BANDS]> =
                tracks.iter().map(|track| mean_powers(track, stretch)).collect();
            for (band, sums) in sums[n * l::PIECES / stretches.len()].iter_mut().enumerate() {
                let mixed = f64::from(stretch.bands[band]);
                let whole = mixed + quiet[band];
                sums.add(mixed / whole, &own, |own| own[band] / whole);
            }
        }
        sums
    }

    fn add<T>(&mut self, mixed: f64, own: &[T], share: impl Fn(&T) -> f64) {
        self.mix += mixed * mixed;
        for (part, a) in own.iter().enumerate() {
            let a = share(a);
            self.wanted[part] += a * mixed;
            for (product, b) in self.parts[part].iter_mut().zip(own) {
                *product += a * share(b);
            }
        }
    }

    fn and(mut self, other: &Self) -> Self {
        self.mix += other.mix;
        for part in 0..self.wanted.len() {
            self.wanted[part] += other.wanted[part];
            for (sum, product) in self.parts[part].iter_mut().zip(&other.parts[part]) {
                *sum += product;
            }
        }
        self
    }

    /// The power gain of all parts together; `None` of silence.
    fn usual(&self) -> Option<f64> {
        let usual = self.wanted.iter().sum::<f64>() / self.parts.iter().flatten().sum::<f64>();
        (usual.is_finite() && usual > 0.0).then_some(usual)
    }

    /// The power gain of each part. Where two always play together, both have the level of all.
    fn gains(&self, usual: f64) -> Vec<f64> {
        let mut gains = vec![usual; self.wanted.len()];
        for _ in 0..l::SWEEPS {
            for part in 0..gains.len() {
                let own = self.parts[part][part];
                if own > 0.0 {
                    let with: f64 = self.parts[part].iter().zip(&gains).map(|(a, g)| a * g).sum();
                    let others = with - own * gains[part];
                    let held = l::RIDGE * own;
                    gains[part] =
                        ((self.wanted[part] - others + held * usual) / (own + held)).max(0.0);
                }
            }
        }
        gains
    }

    /// Squares of what parts with these gains leave of the mix or have beyond it.
    fn left(&self, gains: &[f64]) -> f64 {
        let made = |part: usize| -> f64 {
            let with: f64 = self.parts[part].iter().zip(gains).map(|(a, g)| a * g).sum();
            gains[part] * (with - 2.0 * self.wanted[part])
        };
        self.mix + (0..gains.len()).map(made).sum::<f64>()
    }
}

/// Mean power of each band of a track over a stretch; 0 where it does not sound.
fn mean_powers(track: &PartTrack, stretch: &Stretch) -> [f64; BANDS] {
    let cell = track.cell_frames.max(1) as i64;
    let from = (stretch.start_frame - track.start_frame).div_euclid(cell);
    let cells = (i64::from(stretch.frames) / cell).max(1);
    let place = |n: i64| n.clamp(0, track.cells.len() as i64) as usize;
    let mut powers = [0.0; BANDS];
    for heard in &track.cells[place(from)..place(from + cells)] {
        powers.iter_mut().zip(heard.bands).for_each(|(sum, power)| *sum += f64::from(power));
    }
    powers.map(|sum| sum / cells as f64)
}

/// Multiplies the power of a track.
fn scale(track: &mut PartTrack, gain: f32) {
    let (peak, db) = (gain.sqrt(), power_db(f64::from(gain)) as f32);
    for cell in &mut track.cells {
        cell.weighted *= gain;
        cell.sides.iter_mut().chain(&mut cell.bands).for_each(|power| *power *= gain);
        cell.lows.iter_mut().chain([&mut cell.peak]).for_each(|level| *level *= peak);
    }
    track.onsets.iter_mut().for_each(|onset| onset.level_lufs += db);
    track.sides.iter_mut().for_each(|side| scale(side, gain));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::{PartCell, PartOnset};

    const CELL: usize = 48;

    /// A part whose powers move by themselves, each band apart.
    fn part(seed: u64, start_cell: i64, cells: usize) -> PartTrack {
        let mut state = seed;
        let mut next = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1u64 << 24) as f32
        };
        let powers: Vec<[f32; BANDS]> = (0..cells / 150 + 1)
            .map(|_| if seed == 0 { [0.0; BANDS] } else { [next(), 0.3 * next(), 0.1 * next()] })
            .collect();
        PartTrack {
            sample_rate_hz: 48_000.0,
            start_frame: start_cell * CELL as i64,
            cell_frames: CELL,
            cells: (0..cells)
                .map(|n| {
                    let bands = powers[n / 150];
                    PartCell { weighted: bands.iter().sum(), bands, ..PartCell::default() }
                })
                .collect(),
            onsets: vec![PartOnset { level_lufs: -20.0, ..PartOnset::default() }],
            ..PartTrack::default()
        }
    }

    /// The mix of some parts with these gains of their bands, in stretches of 100 ms.
    fn mixed(tracks: &[PartTrack], gains: &[[f32; BANDS]], cells: usize) -> Vec<Stretch> {
        (0..cells / 100)
            .map(|n| {
                let mut stretch = Stretch {
                    start_frame: (n * 100 * CELL) as i64,
                    frames: 100 * CELL as u32,
                    bands: [0.0; BANDS],
                };
                for (track, gains) in tracks.iter().zip(gains) {
                    let own = mean_powers(track, &stretch);
                    for ((sum, own), gain) in stretch.bands.iter_mut().zip(own).zip(gains) {
                        *sum += gain * own as f32;
                    }
                }
                stretch
            })
            .collect()
    }

    /// Closed form: parts behind known faders are found at these, wherever they start.
    #[test]
    fn parts_are_found_at_the_levels_that_they_have() {
        let tracks = [part(1, 0, 20_000), part(2, 0, 20_000), part(3, 4_000, 16_000)];
        let set = [0.25, 4.0, 1.0];
        let found = levels(&tracks, &mixed(&tracks, &set.map(|gain| [gain; BANDS]), 20_000))
            .expect("a sum");
        // What all have in common is no level.
        for (level, set) in found.iter().zip(set) {
            let off_db = (level.db - found[0].db) - power_db(f64::from(set) / 0.25);
            assert!(off_db.abs() < 0.1 && level.doubt_db < 0.5, "{level:?} for {set}");
        }
    }

    #[test]
    fn a_session_is_brought_to_its_levels_and_keeps_them() {
        let tracks = vec![part(1, 0, 20_000), part(2, 0, 20_000)];
        let mix = mixed(&tracks, &[[0.25; BANDS], [4.0; BANDS]], 20_000);
        let mut session = Session { tracks: tracks.clone() };
        session.bring_to_levels_of(&mix);
        let change = |part: usize| {
            let power = |track: &PartTrack| f64::from(track.cells[7].weighted);
            power_db(power(&session.tracks[part]) / power(&tracks[part]))
        };
        assert!((change(1) - change(0) - power_db(16.0)).abs() < 0.1);
        let onset = f64::from(session.tracks[1].onsets[0].level_lufs);
        assert!((onset + 20.0 - change(1)).abs() < 1e-4);
        let again = levels(&session.tracks, &mix).expect("a sum of the parts");
        assert!(again.iter().all(|level| level.db.abs() < 0.1), "{again:?}");
    }

    /// A part that is brightened behind its plug-in has no level that a fader makes: its bands contradict
    /// each other, and it counts as it came, the others as they are found. Much brighter, it makes the mix
    /// another one.
    #[test]
    fn a_part_whose_bands_contradict_each_other_counts_as_it_came() {
        let tracks = [part(1, 0, 20_000), part(2, 0, 20_000), part(3, 0, 20_000)];
        let with = |gains: [f32; BANDS]| {
            levels(&tracks, &mixed(&tracks, &[gains, [1.0; BANDS], [0.25; BANDS]], 20_000))
        };
        let found = with([1.0, 2.5, 4.0]).expect("a sum");
        assert!(found[0].doubt_db > 0.9 && found[0].gain() == 1.0, "{found:?}");
        assert!(found[2].db < -5.0 && found[2].gain() < 0.3, "{found:?}");
        assert!(with([1.0; BANDS]).expect("a sum").iter().all(|level| level.doubt_db < 0.5));
        assert_eq!(with([1.5, 6.0, 12.0]), None);
    }

    /// Two parts that are never heard apart can lie at any two levels: both count as they came.
    #[test]
    fn parts_that_are_never_apart_count_as_they_came() {
        let tracks = [part(1, 0, 20_000), part(1, 0, 20_000), part(3, 0, 20_000)];
        let gains = [[4.0; BANDS], [0.25; BANDS], [2.0; BANDS]];
        let found = levels(&tracks, &mixed(&tracks, &gains, 20_000)).expect("a sum");
        assert!((found[0].db - found[1].db).abs() < 0.1, "{found:?}");
    }

    /// Another song's mix, too little of it, none at all, and parts that are silent change nothing.
    #[test]
    fn what_is_no_mix_of_the_parts_changes_nothing() {
        let tracks = vec![part(1, 0, 20_000), part(2, 0, 20_000)];
        let other = mixed(&[part(8, 0, 20_000)], &[[1.0; BANDS]], 20_000);
        let mix = mixed(&tracks, &[[1.0; BANDS]; 2], 20_000);
        let silent = vec![part(0, 0, 0)];
        for (tracks, mix) in [
            (&tracks, &other[..]),
            (&tracks, &mix[..20]),
            (&tracks, &[]),
            (&silent, &mix),
            (&Vec::new(), &mix),
        ] {
            assert_eq!(levels(tracks, mix), None);
            let mut session = Session { tracks: tracks.clone() };
            session.bring_to_levels_of(mix);
            assert_eq!(&session.tracks, tracks);
        }
    }
}
