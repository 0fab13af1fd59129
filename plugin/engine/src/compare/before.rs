//! The side-chain on the main's cells: what a limiter took from each hit, measured.
//!
//! The side-chain waits in a ring of half a second. Once the delay is known it is cut into cells
//! that lie where the main's cells lie, to half a frame. Where the side-chain comes later than the
//! main, its cells come later too, and hits wait (in a bounded queue) until it has caught up.

use super::drops::{Drop, Drops};
use super::gain::GainFinder;
use super::side::SidePath;
use super::watch::GainWatch;
use crate::bands::BANDS;
use crate::cells::Cells;
use crate::contrast::ContrastStats;
use crate::decibels::{magnitude_db, power_db, power_ratio};
use crate::hits::{HitMeter, MeasuredHit};
use crate::loudness::{BusLoudness, lufs, power_of_lufs};
use crate::shape::{ShapeMeter, Turn, Waiting};
use crate::thresholds::{self as t, compare};
use crate::{Alignment, Compare, Hit, MAX_CHANNELS, Relation, SideRole, Sink, surround};

/// Hits that can wait for the side-chain: 500 ms hold 20 at one in 25 ms.
const WAITING: usize = 32;
/// Aligned cells made at most for one new cell of the main.
const CATCH_UP: usize = 2;

/// Compares the main with the side-chain.
#[derive(Debug)]
pub(crate) struct Comparison {
    rate_hz: f64,
    path: SidePath,
    role: SideRole,
    /// Hit finder of a reference, which has hits of its own.
    hits: HitMeter,
    shapes: ShapeMeter,
    contrast: ContrastStats,
    main_contrast: ContrastStats,
    loudness: [BusLoudness; 2],
    /// Weighted energy of the hop at hand, main and side, and its bands.
    hop: [f64; 2],
    hop_bands: [[f64; BANDS]; 2],
    hop_cells: u64,
    hops: u64,
    gain: GainFinder,
    band_gain: [GainFinder; BANDS],
    update_next: usize,
    band_power: [[f64; BANDS]; 2],
    /// Weighted energy of the main as it is, and with its reduction undone.
    energy: [f64; 2],
    watch: GainWatch,
    drops: Drops,
    /// The last lag that moments were compared at.
    compared_at: Option<i64>,
    /// Cells since at another lag, and such in which the side-chain was another programme.
    moved: u64,
    strayed: u64,
    waiting: [MeasuredHit; WAITING],
    first: u64,
    last: u64,
}

impl Comparison {
    /// Allocates.
    pub(crate) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        let hop_frames = cell_frames * compare::RATIO_MS as usize;
        Self {
            rate_hz,
            path: SidePath::new(rate_hz, cell_frames),
            role: SideRole::Off,
            hits: HitMeter::new(rate_hz, cell_frames),
            shapes: ShapeMeter::new(true),
            contrast: ContrastStats::new(),
            main_contrast: ContrastStats::new(),
            loudness: std::array::from_fn(|_| BusLoudness::new(rate_hz, hop_frames)),
            hop: [0.0; 2],
            hop_bands: [[0.0; BANDS]; 2],
            hop_cells: 0,
            hops: 0,
            gain: GainFinder::new(),
            band_gain: std::array::from_fn(|_| GainFinder::new()),
            update_next: 0,
            band_power: [[0.0; BANDS]; 2],
            energy: [0.0; 2],
            watch: GainWatch::new(),
            drops: Drops::new(),
            compared_at: None,
            moved: 0,
            strayed: 0,
            waiting: [MeasuredHit::default(); WAITING],
            first: 0,
            last: 0,
        }
    }

    /// Sets the role; another one starts the comparison anew.
    pub(crate) fn set_role(&mut self, role: SideRole) {
        if role != self.role {
            self.role = role;
            self.forget();
        }
    }

    /// Takes a cell of the side-chain and does the comparison's share of work on it. `main` holds
    /// the main's cells, the newest of which goes with `side`; `weighted`: squares of the weighted
    /// samples of `side`, a number a frame.
    #[inline(never)]
    pub(crate) fn cell(
        &mut self,
        main: &Cells,
        side: [&[f32]; MAX_CHANNELS],
        weighted: &[f32],
        alignment: &Alignment,
    ) {
        self.path.push(main.count().saturating_sub(1), side, weighted);
        let lag = match self.role {
            SideRole::Off | SideRole::Partner => None,
            SideRole::Reference => Some(0),
            SideRole::Before => match (alignment.relation, alignment.delay_frames) {
                (Relation::Found, Some(delay)) => Some(self.whole(delay)),
                _ => None,
            },
        };
        self.forget_other(lag, alignment);
        self.path.set_lag(lag);
        for _ in 0..CATCH_UP {
            let Some(number) = self.path.next(main) else { break };
            if self.role == SideRole::Reference {
                // Every other cell, so that a short block has one piece of the work.
                let may = number.is_multiple_of(2);
                let placed = self.hits.cell(&self.path.cells, may);
                if may
                    && !placed
                    && let Some(measured) = self.hits.work(&self.path.cells)
                {
                    self.contrast.add(measured.hit.contrast_db);
                    let bed = power_of_lufs(measured.hit.bed_lufs);
                    self.shapes.add(Waiting::of(&measured, bed));
                }
            }
            if number >= main.oldest() {
                self.beside(main, number);
            }
        }
    }

    /// Forgets what was compared at another lag, or before the side-chain was another programme for a while: until
    /// that was certain the two were taken for one.
    fn forget_other(&mut self, lag: Option<i64>, alignment: &Alignment) {
        let Some(now) = lag else {
            self.strayed += u64::from(alignment.relation == Relation::None);
            return;
        };
        let then = *self.compared_at.get_or_insert(now);
        self.moved = if (now - then).abs() > compare::SAME_LAG { self.moved + 1 } else { 0 };
        if self.moved > compare::MOVED_MS || self.strayed > compare::STRAYED_MS {
            self.forget_compared();
            (self.compared_at, self.moved) = (lag, 0);
        }
        self.strayed = 0;
    }

    /// The main's cell came without a side-chain: no hit waits for one.
    pub(crate) fn no_side(&mut self) {
        self.path.set_lag(None);
    }

    /// Whole frames of the delay, held while it stays within three quarters of a frame.
    fn whole(&self, delay: f64) -> i64 {
        match self.path.lag {
            Some(lag) if (delay - lag as f64).abs() < 0.75 => lag,
            _ => delay.round() as i64,
        }
    }

    /// Sets the main's cell of that number beside the side-chain's.
    fn beside(&mut self, main: &Cells, number: u64) {
        let cells = [main.get(number), self.path.cells.get(number)];
        let frames = self.path.cell_frames as f64;
        for (stream, cell) in cells.into_iter().enumerate() {
            self.hop[stream] += f64::from(cell.weighted) * frames;
            for (sum, power) in self.hop_bands[stream].iter_mut().zip(cell.bands) {
                *sum += f64::from(power) * frames;
            }
        }
        self.hop_cells += 1;
        if self.hop_cells >= compare::RATIO_MS {
            self.end_hop();
        }
    }

    fn end_hop(&mut self) {
        let (hop, bands) = (self.hop, self.hop_bands);
        self.hop = [0.0; 2];
        self.hop_bands = [[0.0; BANDS]; 2];
        self.hop_cells = 0;
        self.hops += 1;
        let hop_frames = (self.path.cell_frames as u64 * compare::RATIO_MS) as f64;
        let level = lufs(hop[1] / hop_frames);
        // Where the side-chain is silent, so is what is compared with it.
        let there = level > t::ABSOLUTE_GATE_LUFS;
        for (loudness, energy) in self.loudness.iter_mut().zip(hop) {
            loudness.hop(if there { energy } else { 0.0 });
        }
        for (sums, powers) in self.band_power.iter_mut().zip(&bands) {
            for (sum, power) in sums.iter_mut().zip(powers) {
                *sum += power;
            }
        }
        self.path.flush_denormals();
        if self.role != SideRole::Before {
            return;
        }
        // One finder a hop: together they would be a lump.
        match self.update_next {
            0 => self.gain.update(),
            n => self.band_gain[n - 1].update(),
        }
        self.update_next = (self.update_next + 1) % (1 + BANDS);
        let gate = self.loudness[1].integrated_lufs().unwrap_or(0.0) - compare::RATIO_GATE_LU;
        if !(level > gate && hop[0] > 0.0) {
            return;
        }
        let ratio_db = power_db(hop[0] / hop[1]);
        self.gain.add(ratio_db);
        let (cell, gain) = (self.path.cells.count(), self.gain.gain());
        if let Some(change) = self.watch.add(ratio_db, cell, gain.map(|gain| gain.db)) {
            std::mem::swap(&mut self.gain, self.watch.stretch());
            self.gain.update();
            self.band_gain.iter_mut().for_each(GainFinder::reset);
            self.drops.change_gain(change.from, change.before_db, change.now_db);
        }
        let whole: f64 = bands[1].iter().sum();
        for band in 0..BANDS {
            // A band that carries next to nothing at this moment holds the others' slopes.
            if bands[1][band] > 0.02 * whole {
                self.band_gain[band].add(power_db(bands[0][band] / bands[1][band]));
            }
        }
        let reduction = if self.equalised() == Some(true) {
            self.band_reduction_db(&bands[0], &bands[1])
        } else {
            self.gain.gain().map(|gain| gain.db - power_db(hop[0] / hop[1]))
        };
        let Some(reduction) = reduction else { return };
        self.energy[0] += hop[0];
        self.energy[1] += hop[0] * power_ratio(reduction.max(0.0));
    }

    /// Whether the bands' constant gains differ; `None` while they are not known. Behind a limiter that
    /// never rests they are not found, and look as if they did; but the level ratio of the whole then
    /// moves on smooth lines, as no equaliser leaves it.
    fn equalised(&self) -> Option<bool> {
        let gain = self.gain.gain()?;
        if gain.rests == Some(false) {
            return Some(false);
        }
        let gain = gain.db;
        let known = self.band_gain.iter().filter_map(GainFinder::gain);
        let apart = known.map(|band| (band.db - gain).abs()).fold(0.0, f64::max);
        Some(apart > compare::EQUALISED_DB)
    }

    /// How far the main's bands lie under the side-chain's with the bands' own constant gains
    /// between, dB: a limiter lowers all bands alike, so the bands' figures are averaged by power.
    fn band_reduction_db(&self, main: &[f64; BANDS], side: &[f64; BANDS]) -> Option<f64> {
        let (mut expected, mut there) = (0.0, 0.0);
        for band in 0..BANDS {
            if let Some(gain) = self.band_gain[band].gain() {
                expected += side[band] * power_ratio(gain.db);
                there += main[band];
            }
        }
        (there > 0.0 && expected > 0.0).then(|| power_db(expected / there))
    }

    /// Takes a hit of the main, which comes back from [`Self::ready`], at once or once the
    /// side-chain has caught up; `false` where there is nothing to wait for.
    pub(crate) fn wait(&mut self, measured: &MeasuredHit) -> bool {
        if self.role == SideRole::Reference {
            self.main_contrast.add(measured.hit.contrast_db);
        }
        let waiting = self.last - self.first;
        let aligned = self.role == SideRole::Before && self.path.lag.is_some();
        if waiting == WAITING as u64 || !(aligned || waiting > 0) {
            return false;
        }
        self.waiting[(self.last % WAITING as u64) as usize] = *measured;
        self.last += 1;
        true
    }

    /// The next hit in order of time whose side-chain is there, with its lost peak. `end`: the
    /// programme is over, take what is there.
    pub(crate) fn ready(&mut self, hits: &HitMeter, end: bool) -> Option<MeasuredHit> {
        if self.first == self.last {
            return None;
        }
        let mut measured = self.waiting[(self.first % WAITING as u64) as usize];
        let start = measured.cell;
        if self.path.lag.is_some()
            && !end
            && self.path.cells.count() < start + t::SURROUND_AFTER_MS as u64
        {
            return None;
        }
        self.first += 1;
        if self.path.lag.is_some() {
            self.compare_hit(&mut measured, hits);
        }
        Some(measured)
    }

    fn compare_hit(&mut self, measured: &mut MeasuredHit, hits: &HitMeter) {
        let cells = &self.path.cells;
        let (start, end) = (measured.cell, measured.peak_end);
        if start < cells.oldest() || end > cells.count() {
            return;
        }
        let peak = cells.range(start, end).fold(0.0f32, |peak, (_, cell)| peak.max(cell.peak));
        if !(peak > 0.0 && measured.hit.true_peak_dbtp.is_finite()) {
            return;
        }
        let peak_db = magnitude_db(f64::from(peak));
        let drop_db = peak_db - measured.hit.true_peak_dbtp;
        let bands = crate::hits::band_levels(cells, measured.loudest);
        let band_drop_db = self
            .band_reduction_db(&measured.hit.band_dbfs.map(power_ratio), &bands.map(power_ratio));
        let (level, _) = surround::level(cells, start);
        if lufs(level) <= t::ABSOLUTE_GATE_LUFS {
            return;
        }
        let bed = hits.bed_in(cells, measured.number);
        let contrast_db = surround::contrast_db(level, bed);
        // The same least as a contrast knows.
        let least = level * 10f64.powf(-t::CONTRAST_MOST_DB / 10.0);
        self.shapes.add(Waiting::of(measured, bed.max(least)));
        self.drops.add(Drop {
            cell: start,
            plain_db: drop_db,
            band_db: band_drop_db,
            contrast_db: contrast_db.is_finite().then_some(measured.hit.contrast_db - contrast_db),
        });
        measured.hit.before_peak_dbtp = Some(peak_db);
        if self.equalised() == Some(true) {
            measured.hit.reduction_db = band_drop_db;
            let lost = band_drop_db.zip(self.loudness_lost_db());
            if let Some((reduction, lost)) = lost {
                measured.hit.lost_db = Some(reduction - lost);
            }
        } else {
            let gain_db = self.gain.gain().map(|gain| gain.db);
            settle(&mut measured.hit, gain_db, self.loudness_difference_lu());
        }
    }

    /// Brings hits that were compared to the match of the whole programme, of which each was given
    /// out with what was known by then.
    pub(crate) fn settle(&self, hits: &mut [Hit]) {
        let Some(difference) = self.loudness_difference_lu() else { return };
        if self.role != SideRole::Before || self.equalised() == Some(true) {
            return;
        }
        let now_db = self.gain.gain().map(|gain| gain.db);
        for hit in hits {
            let cell = hit.frame / self.path.cell_frames as u64;
            let gain_db = now_db.map(|now_db| self.drops.gain_at(cell, now_db));
            settle(hit, gain_db, Some(difference));
        }
    }

    /// Does a piece of the work on the side-chain's shapes; gives whether there was one. `main`: the
    /// main's cells.
    pub(crate) fn shape_work(&mut self, main: &Cells, turn: Turn, sink: &mut dyn Sink) -> bool {
        let there = self.shapes.has_work(&self.path.cells, turn);
        if there {
            let beside = (self.role == SideRole::Before).then_some(main);
            self.shapes.work(&self.path.cells, beside, sink);
        }
        there
    }

    /// Loudness that the reduction cost, dB, by the reduction curve.
    fn loudness_lost_db(&self) -> Option<f64> {
        let [there, undone] = self.energy;
        (there > 0.0).then(|| power_db(undone / there))
    }

    fn loudness_difference_lu(&self) -> Option<f64> {
        let [main, side] = &self.loudness;
        Some(main.integrated_lufs()? - side.integrated_lufs()?)
    }

    /// The readings.
    pub(crate) fn read(&mut self, alignment: &Alignment) -> Compare {
        let difference = self.loudness_difference_lu();
        let before = self.role == SideRole::Before;
        let equalised = self.equalised().filter(|_| before);
        let mut compare = Compare {
            role: self.role,
            suggested_role: match alignment.relation {
                Relation::Unknown => None,
                Relation::None => Some(SideRole::Reference),
                Relation::Found => Some(SideRole::Before),
            },
            alignment: *alignment,
            passage_s: (self.hops * compare::RATIO_MS) as f64 * self.path.cell_frames as f64
                / self.rate_hz,
            loudness_difference_lu: difference,
            equalised,
            band_difference_db: self.band_difference_db(difference),
            ..Compare::default()
        };
        if !before {
            compare.gain_db = difference;
            let medians = (self.main_contrast.all().contrast_db, self.contrast.all().contrast_db);
            compare.contrast_difference_db =
                medians.0.zip(medians.1).map(|(main, side)| main - side);
            compare.hits = self.contrast.all().hits;
            return compare;
        }
        let gain = self.gain.gain();
        compare.gain_db = gain.map(|gain| gain.db);
        compare.gain_range_db = gain.map(|gain| gain.half_db);
        let by_bands = equalised == Some(true);
        if by_bands {
            let bands = self.band_gain.iter().filter_map(GainFinder::gain);
            compare.gain_range_db = bands.map(|band| band.half_db).reduce(f64::max);
        } else {
            compare.limiter_rests = gain.and_then(|gain| gain.rests);
        }
        self.drops.read(&mut compare, |median| {
            if by_bands {
                self.loudness_lost_db().map(|lost| median - lost)
            } else {
                difference.map(|difference| median + difference)
            }
        });
        compare
    }

    /// What `whole`, the readings, says of the last [`t::SECTION_HITS`] hits; `None` before there are so many.
    pub(crate) fn section(&self, whole: &Compare) -> Option<Compare> {
        self.drops.section(whole)
    }

    fn band_difference_db(&self, difference: Option<f64>) -> Option<[Option<f64>; BANDS]> {
        let [main, side] = &self.band_power;
        let difference = difference?;
        Some(std::array::from_fn(|band| {
            let known = main[band] > 0.0 && side[band] > 0.0;
            known.then(|| power_db(main[band] / side[band]) - difference)
        }))
    }

    /// Forgets everything but the role, waiting hits too.
    pub(crate) fn reset(&mut self) {
        self.forget();
        self.first = 0;
        self.last = 0;
    }

    /// Forgets everything but the role and the hits that wait: they are still to be given out.
    pub(crate) fn forget(&mut self) {
        self.path.reset();
        (self.compared_at, self.moved, self.strayed) = (None, 0, 0);
        self.forget_compared();
    }

    /// Forgets all that was compared.
    fn forget_compared(&mut self) {
        self.hits.reset();
        self.shapes.reset();
        self.contrast.reset();
        self.main_contrast.reset();
        self.loudness.iter_mut().for_each(BusLoudness::reset);
        self.hop = [0.0; 2];
        self.hop_bands = [[0.0; BANDS]; 2];
        self.hop_cells = 0;
        self.hops = 0;
        self.gain.reset();
        self.band_gain.iter_mut().for_each(GainFinder::reset);
        self.update_next = 0;
        self.band_power = [[0.0; BANDS]; 2];
        self.energy = [0.0; 2];
        self.watch.reset();
        self.drops.reset();
    }
}

/// What was taken from a compared hit where a gain alone lies between, by that gain, dB, and by the
/// difference in loudness, LU.
fn settle(hit: &mut Hit, gain_db: Option<f64>, difference_lu: Option<f64>) {
    let Some(before_db) = hit.before_peak_dbtp else { return };
    let drop_db = before_db - hit.true_peak_dbtp;
    if let Some(gain) = gain_db {
        hit.reduction_db = Some(drop_db + gain);
    }
    if let Some(difference) = difference_lu {
        hit.lost_db = Some(drop_db + difference);
    }
}
