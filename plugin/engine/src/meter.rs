//! The meter: one main bus, one side-chain, all measurements.

mod front;
mod hop;
mod readings;
mod work;

use crate::align::Aligner;
use crate::balance::{Curve, OverTime};
use crate::bands::BANDS;
use crate::ceiling::CeilingMeter;
use crate::cells::{Cells, MICRO};
use crate::compare::Comparison;
use crate::contrast::ContrastStats;
use crate::hits::{HitMeter, MeasuredHit};
use crate::input::Intake;
use crate::loudness::{LoudnessStats, power_of_lufs};
use crate::shape::{BandMeter, ShapeMeter, Turn, Waiting};
use crate::side::SideMeter;
use crate::spectrum::{LongTermSpectrum, THIRDS};
use crate::thresholds as t;
use crate::{Config, ConfigError, Hit, Readings, SideRole, Sink, Thresholds};

pub use crate::contrast::RECENT_HITS;
pub use front::{Ahead, Prepared};
use front::{Front, Measured, cell_frames, hop_frames};
use hop::Hop;

/// Hops between two updates of the slow readings and two points of the history.
const HOPS_PER_POINT: u32 = 10;

/// Cells from one piece of heavy work to the next: no block of 64 frames at 48 kHz then has two.
const APART: u32 = 2;
/// The last hops before a point of the history, which bring the readings up to date.
const READINGS_HOPS: u32 = 2;

/// Measures a stream. See the crate's head for what it promises.
///
/// Samples are gathered into cells of one millisecond and measured a whole cell at a time, so that
/// the host's block size cannot matter. Readings are thus at most one cell behind.
#[derive(Debug)]
pub struct Meter {
    config: Config,
    thresholds: Thresholds,
    readings: Readings,
    intake: Intake,
    front: Front,
    cells: Cells,
    hits: HitMeter,
    /// A hit that is measured, and whose trace and leaks are the next piece of work.
    measured: Option<MeasuredHit>,
    shapes: ShapeMeter,
    hit_bands: BandMeter,
    /// Whether the last piece of work that the hits' spectra and the ceiling share was of a spectrum.
    bands_had_turn: bool,
    contrast: ContrastStats,
    ceiling: CeilingMeter,
    loudness: LoudnessStats,
    spectrum: LongTermSpectrum,
    /// Of the side-chain while its role is *reference* or *before*.
    side_spectrum: LongTermSpectrum,
    /// Hops of it above the absolute gate.
    reference_hops: u64,
    /// Third octaves of a reference that was measured by itself.
    assumed_reference: Option<[Option<f64>; THIRDS]>,
    small_contrast: ContrastStats,
    vanished: u64,
    curve: Curve,
    side: SideMeter,
    side_role: SideRole,
    aligner: Aligner,
    comparison: Comparison,
    hop: Hop,
    /// Power of each band summed over the programme.
    band_power: [f64; BANDS],
    over_time: OverTime,
    /// Hops with a momentary loudness above the absolute gate.
    loud_hops: u64,
    hops: u64,
    hops_to_point: u32,
    /// Cells until the next piece of heavy work may be done.
    rest: u32,
    /// True peak of the present history point, linear.
    point_peak: f32,
}

impl Meter {
    /// Builds a meter. The only call that allocates.
    ///
    /// # Errors
    /// [`ConfigError`] when a field of `config` is out of range.
    pub fn new(config: Config) -> Result<Self, ConfigError> {
        config.validate()?;
        let rate = config.sample_rate_hz;
        let (cell_frames, hop_frames) = (cell_frames(rate), hop_frames(rate));
        let front = Front::new(config);
        let mut meter = Self {
            config,
            thresholds: Thresholds::default(),
            readings: Readings::default(),
            intake: Intake::new(cell_frames),
            curve: Curve::new(rate, front.has_high()),
            front,
            cells: Cells::new(),
            hits: HitMeter::new(rate, cell_frames),
            measured: None,
            shapes: ShapeMeter::new(false),
            hit_bands: BandMeter::new(rate, config.channels),
            bands_had_turn: false,
            contrast: ContrastStats::new(),
            ceiling: CeilingMeter::new(config.channels, cell_frames as f64 / rate),
            loudness: LoudnessStats::new(rate, hop_frames),
            spectrum: LongTermSpectrum::new(rate, cell_frames),
            side_spectrum: LongTermSpectrum::new(rate, cell_frames),
            reference_hops: 0,
            assumed_reference: None,
            small_contrast: ContrastStats::with_least(-t::CONTRAST_MOST_DB),
            vanished: 0,
            side: SideMeter::new(rate, hop_frames, cell_frames),
            side_role: SideRole::default(),
            aligner: Aligner::new(rate, cell_frames),
            comparison: Comparison::new(rate, cell_frames),
            hop: Hop::new(hop_frames),
            band_power: [0.0; BANDS],
            over_time: OverTime::default(),
            loud_hops: 0,
            hops: 0,
            hops_to_point: HOPS_PER_POINT,
            rest: 0,
            point_peak: 0.0,
        };
        // Memory that was never written is not there yet, and would be fetched from the system in
        // the middle of a block.
        meter.reset();
        Ok(meter)
    }

    /// What the meter was built for.
    #[must_use]
    pub fn config(&self) -> Config {
        self.config
    }

    /// Sets the limits of the leaks' states; they act from the next 100 ms on.
    pub fn set_thresholds(&mut self, thresholds: Thresholds) {
        self.thresholds = thresholds;
    }

    /// Says what the side-chain carries; another role starts the comparison anew.
    pub fn set_side_role(&mut self, role: SideRole) {
        if role != self.side_role {
            self.reset_reference();
        }
        self.side_role = role;
        self.comparison.set_role(role);
    }

    /// Says that the delay between main and side-chain is known, such as from a search over whole
    /// files: main behind side, frames, within 500 ms. The meter follows it from there on, and
    /// compares from the first hit on.
    pub fn assume_side_delay(&mut self, delay_frames: f64) {
        self.aligner.assume(delay_frames);
    }

    /// Says what a reference track's third octaves are, such as from a meter of its own over a file,
    /// dBFS: the mids are judged beside them, as they are beside a side-chain that is one. For the
    /// rest of the meter's life, resets too.
    pub fn assume_reference(&mut self, thirds_dbfs: [Option<f64>; THIRDS]) {
        self.assumed_reference = Some(thirds_dbfs);
    }

    /// Says that another signal comes over the side-chain from here on, such as another reference track: what was
    /// measured of it, and beside it, is forgotten. What was measured of the main stays.
    pub fn restart_side(&mut self) {
        self.side.reset();
        self.reset_reference();
        self.aligner.reset();
        self.comparison.forget();
    }

    fn reset_reference(&mut self) {
        self.side_spectrum.reset();
        self.reference_hops = 0;
    }

    /// Measures one block.
    ///
    /// `main` holds one slice a channel, [`Config::channels`] of them, all of one length (from 0
    /// frames up). `side` is the side-chain, one or two channels of the same length, or `None`.
    /// Extra channels and unequal lengths are cut to the shortest; missing channels count as
    /// silence.
    pub fn process(&mut self, main: &[&[f32]], side: Option<&[&[f32]]>, sink: &mut dyn Sink) {
        self.block(main, side, &[], sink);
    }

    /// The same where an [`Ahead`] of the same configuration has `prepared` this block, and all blocks
    /// before it: less work, and the same readings to the bit.
    ///
    /// # Panics
    /// When `prepared` is of a block of another length, or at another place of the stream.
    pub fn process_prepared(
        &mut self,
        main: &[&[f32]],
        side: Option<&[&[f32]]>,
        prepared: Prepared,
        sink: &mut dyn Sink,
    ) {
        let from = self.readings.frames;
        self.block(main, side, &prepared.cells, sink);
        assert_eq!(from..self.readings.frames, prepared.frames, "frames of the stream");
        self.front = prepared.front;
    }

    /// Measures one block, of which cells may be `measured` already.
    fn block(
        &mut self,
        main: &[&[f32]],
        side: Option<&[&[f32]]>,
        measured: &[Measured],
        sink: &mut dyn Sink,
    ) {
        let mut measured = measured.iter();
        let main = &main[..main.len().min(self.config.channels)];
        let Some(frames) = main.iter().map(|channel| channel.len()).min() else {
            return;
        };
        let mut at = 0;
        while at < frames {
            let taken = self.intake.take(main, side, at, frames, &mut self.readings.input);
            at += taken;
            if self.intake.is_full() {
                self.cell(measured.next(), sink);
            }
        }
        self.readings.frames += frames as u64;
        self.readings.time_s = self.readings.frames as f64 / self.config.sample_rate_hz;
    }

    /// Ends the programme: measures the last part of a millisecond, gives out the hits whose
    /// surroundings are cut short by the end, and brings the readings up to date. For files; a
    /// live meter need not call it. Only [`Self::reset`] may follow.
    pub fn finish(&mut self, sink: &mut dyn Sink) {
        if !self.intake.is_empty() {
            self.cell(None, sink);
        }
        // The last hop is never full.
        self.hop.true_peak = self.hop.true_peak.max(self.front.tail());
        self.loudness.last_peaks(self.hop.true_peak, self.hop.sample_peak);
        self.readings.loudness = self.loudness.readings();
        if let Some(measured) = self.measured.take() {
            self.give(measured, sink);
        }
        while self.hits.waiting() > 0 {
            if let Some(measured) = self.hits.finish_next(&self.cells) {
                self.give(measured, sink);
            }
        }
        while let Some(measured) = self.comparison.ready(&self.hits, true) {
            sink.hit(&measured.hit);
        }
        self.shapes.finish(&self.cells, None, sink);
        while self.comparison.shape_work(&self.cells, Turn::End, sink) {}
        self.hit_bands.finish(sink);
        self.ceiling.finish();
        self.spectral_readings();
        self.punch_readings();
    }

    /// Brings hits that were given out to the match with the side-chain over the whole programme, of
    /// which each was given out with what was known by then: their lost peak and their gain reduction.
    /// For files, after [`Self::finish`]. Hits that were not compared stay as they are.
    pub fn settle(&self, hits: &mut [Hit]) {
        self.comparison.settle(hits);
    }

    /// Forgets everything measured, as if just built. Thresholds stay.
    pub fn reset(&mut self) {
        self.readings = Readings::default();
        self.intake.clear();
        self.front.reset();
        self.cells.reset();
        self.hits.reset();
        self.measured = None;
        self.shapes.reset();
        self.hit_bands.reset();
        self.bands_had_turn = false;
        self.contrast.reset();
        self.ceiling.reset();
        self.loudness.reset();
        self.spectrum.reset();
        self.reset_reference();
        self.small_contrast.reset();
        self.vanished = 0;
        self.side.reset();
        self.aligner.reset();
        self.comparison.reset();
        self.hop = Hop::new(self.hop.frames);
        self.band_power = [0.0; BANDS];
        self.over_time = OverTime::default();
        self.loud_hops = 0;
        self.hops = 0;
        self.hops_to_point = HOPS_PER_POINT;
        self.rest = 0;
        self.point_peak = 0.0;
    }

    /// Everything measured since the last reset. Loudness and peaks are brought up to date every
    /// 10 ms, the rest every 100 ms of programme.
    #[must_use]
    pub fn readings(&self) -> &Readings {
        &self.readings
    }

    /// What the ceiling estimate keeps of the newest hit, in the order of
    /// [`TRACE_NAMES`](crate::TRACE_NAMES): open to inspection and to the fit. `None` before the
    /// first hit.
    #[must_use]
    pub fn ceiling_trace(&self) -> Option<&crate::Trace> {
        self.ceiling.newest()
    }

    /// Measures the cell in the intake, where it is not `measured` yet, and empties it.
    fn cell(&mut self, measured: Option<&Measured>, sink: &mut dyn Sink) {
        let frames = self.intake.frames();
        self.rest = self.rest.saturating_sub(1);
        let measured = match measured {
            Some(measured) => *measured,
            None => self.front.cell(self.intake.main(frames)),
        };
        let Measured { mut cell, stretches } = measured;
        self.take_bands(&mut cell.micro);
        let mut from = 0;
        for stretch in &stretches {
            let to = stretch.to;
            if to > from {
                self.hop.add(stretch, to - from);
                self.side.stretch(&self.intake, from, to);
                if self.hop.filled == self.hop.frames {
                    self.end_hop(sink);
                }
                from = to;
            }
        }
        self.ceiling.cell(cell.weighted);
        self.cells.push(cell);
        self.hit_bands.push(self.intake.main(frames));
        if self.hits.cell(&self.cells, self.may()) {
            self.rest = APART;
        }
        if self.spectrum.cell(self.intake.main(frames), self.may()) {
            self.rest = APART;
        }
        // The programme may end within a cell; what is left of the side-chain there is let go.
        match (self.intake.is_full(), self.intake.side_channels()) {
            (true, 0) => self.comparison.no_side(),
            (true, _) => self.compare_cell(),
            (false, _) => {}
        }
        self.intake.clear();
        self.heavy_work(sink);
    }

    /// Adds energies of the cell's quarters to the programme's and makes powers of them.
    fn take_bands(&mut self, micro: &mut [[f32; BANDS]; MICRO]) {
        let quarter = (self.intake.capacity() / MICRO) as f32;
        for powers in micro {
            let sums = self.band_power.iter_mut().zip(&mut self.hop.bands);
            for ((sum, hop), power) in sums.zip(powers) {
                *sum += f64::from(*power);
                *hop += f64::from(*power);
                *power /= quarter;
            }
        }
    }

    fn end_hop(&mut self, sink: &mut dyn Sink) {
        let hop = self.hop;
        self.hop = Hop::new(hop.frames);
        // Loudness and what follows on it are heavy enough.
        self.rest = APART;
        self.loudness.hop(hop.energy, hop.true_peak, hop.sample_peak);
        self.readings.loudness = self.loudness.readings();
        let side_energy = self.side.end_hop();
        sink.hop(&crate::Hop {
            start_frame: self.hops * hop.frames as u64,
            frames: hop.frames,
            main_energy: hop.energy,
            main_bands: hop.bands,
            side_energy,
        });
        self.readings.side = self.side.readings();
        let referred = self.side_role == SideRole::Reference && self.readings.side.signal;
        self.reference_hops += u64::from(referred);
        if self.readings.loudness.momentary_lufs.is_some_and(|lufs| lufs > t::ABSOLUTE_GATE_LUFS) {
            self.loud_hops += 1;
            self.over_time.gaps.hop(hop.bands[1]);
        }
        self.hops += 1;
        self.point_peak = self.point_peak.max(hop.true_peak);
        self.hops_to_point -= 1;
        // Half of the readings a hop ([`READINGS_HOPS`]): loudness has its gating to do at the end
        // of the ten, too.
        if self.hops_to_point == 1 {
            self.punch_readings();
        } else if self.hops_to_point == 0 {
            self.hops_to_point = HOPS_PER_POINT;
            self.spectral_readings();
            sink.history(&self.history_point());
            self.point_peak = 0.0;
        }
    }

    fn give(&mut self, mut measured: MeasuredHit, sink: &mut dyn Sink) {
        self.contrast.add(measured.hit.contrast_db);
        self.over_time.hits.hit(&measured.hit.band_dbfs);
        self.small_contrast.add(measured.hit.small_contrast_db);
        self.vanished += u64::from(measured.hit.vanishes_on_small_speaker());
        self.hit_bands.add(measured.hit.index, measured.hit.frame, measured.free);
        self.shapes.add(Waiting::of(&measured, power_of_lufs(measured.hit.bed_lufs)));
        measured.hit.lost_db = self.ceiling.hit(&self.cells, &measured);
        if !self.comparison.wait(&measured) {
            sink.hit(&measured.hit);
        }
    }
}

#[cfg(test)]
mod tests;
