//! The shape and the spectrum of the hits in the JSON.

use brunt_engine::parts::{Drum, PartRole, PartTrack, drums};
use brunt_engine::{
    BandStats, HitShape, HitsShape, SHAPE_POINTS, ShapeStats, Spread, hit_band_hz, shape_ms,
};
use serde::{Deserialize, Serialize};

/// How far a hit of the mix may lie from the stroke that it is, s. Ours: half of the least distance of
/// two onsets.
const SAME_S: f64 = 0.0125;
/// Fewest strokes of a drum that has a shape. Ours: two bars.
const LEAST_STROKES: u64 = 8;

/// The shape of the hits, as in [`HitsShape`]: one number a moment in each list, null where too few
/// hits reach. Levels are dB over the hits' surroundings.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ShapeReport {
    /// Hits it is of.
    pub hits: u64,
    /// Time from the onset until the median level comes within 3 dB of the height, ms; 1 ms is the
    /// shortest.
    pub attack_ms: Option<f64>,
    /// Largest median level of the 10 ms windows within the first 30 ms, dB.
    pub height_db: Option<f64>,
    /// Height minus the mean level from 80 to 250 ms behind the onset, dB.
    pub space_db: Option<f64>,
    /// End of each window, ms after the onset. Windows are 10 ms long; behind the onset they start
    /// no earlier than there.
    pub times_ms: Vec<f64>,
    /// K-weighted level, median over hits.
    pub level_db: Vec<Option<f64>>,
    /// The same, 10th percentile.
    pub low_db: Vec<Option<f64>>,
    /// The same, 90th percentile.
    pub high_db: Vec<Option<f64>>,
    /// True peak, dBTP less the LUFS of the surroundings, median over hits.
    pub peak_db: Vec<Option<f64>>,
    /// The same, 10th percentile.
    pub peak_low_db: Vec<Option<f64>>,
    /// The same, 90th percentile.
    pub peak_high_db: Vec<Option<f64>>,
}

impl ShapeReport {
    /// The shape of the hits that were gathered; `None` without any.
    #[must_use]
    pub fn of(stats: &ShapeStats) -> Option<Self> {
        stats.read().map(|shape| Self::from(&shape))
    }

    /// The moments that every list has: a report of other makers may be cut short.
    #[must_use]
    pub fn points(&self) -> usize {
        let lists = [
            &self.level_db,
            &self.low_db,
            &self.high_db,
            &self.peak_db,
            &self.peak_low_db,
            &self.peak_high_db,
        ];
        lists.iter().map(|list| list.len()).fold(self.times_ms.len(), usize::min)
    }
}

impl From<&HitsShape> for ShapeReport {
    fn from(shape: &HitsShape) -> Self {
        // To 0.01 dB: the bins behind the percentiles are wider.
        let list = |spread: &[Option<Spread>; SHAPE_POINTS], of: fn(&Spread) -> f64| {
            let rounded = |spread: &Spread| (100.0 * of(spread)).round() / 100.0;
            spread.iter().map(|spread| spread.as_ref().map(rounded)).collect()
        };
        Self {
            hits: shape.hits,
            attack_ms: shape.attack_ms,
            height_db: shape.height_db,
            space_db: shape.space_db,
            times_ms: (0..SHAPE_POINTS).map(shape_ms).collect(),
            level_db: list(&shape.level, |spread| spread.db),
            low_db: list(&shape.level, |spread| spread.low_db),
            high_db: list(&shape.level, |spread| spread.high_db),
            peak_db: list(&shape.peak, |spread| spread.db),
            peak_low_db: list(&shape.peak, |spread| spread.low_db),
            peak_high_db: list(&shape.peak, |spread| spread.high_db),
        }
    }
}

/// The shape of the mix's hits at one drum's strokes.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DrumShape {
    /// `kick` or `snare`.
    pub drum: String,
    /// File of the part that the drum was heard in.
    pub file: String,
    /// The shape.
    pub shape: ShapeReport,
}

impl DrumShape {
    /// The shapes of the mix's hits at the places where the drums' parts have a kick or a snare; a drum
    /// with too few of them is left out. `shapes` and tracks on one timeline, which starts with frame 0.
    #[must_use]
    pub fn all(tracks: &[PartTrack], shapes: &[HitShape], rate_hz: f64) -> Vec<Self> {
        let main = shapes.iter().filter(|shape| !shape.side);
        let placed = main.map(move |shape| (shape.frame as f64 / rate_hz, shape));
        let drums = DrumStrokes::all(tracks);
        drums.iter().filter_map(|strokes| strokes.shape(placed.clone())).collect()
    }
}

/// The strokes of one drum.
#[derive(Clone, Debug, PartialEq)]
pub struct DrumStrokes {
    /// Which drum.
    pub drum: Drum,
    /// Name of the part that it was heard in.
    pub part: String,
    /// When, s, in order of time.
    pub times_s: Vec<f64>,
}

impl DrumStrokes {
    /// The strokes of kick and snare in the drums' parts, on the tracks' timeline.
    #[must_use]
    pub fn all(tracks: &[PartTrack]) -> Vec<Self> {
        let drummers = tracks.iter().filter(|track| track.role == PartRole::Drums);
        let of = |track: &PartTrack| {
            let strokes = drums(track);
            Drum::ALL.map(|drum| {
                let of = strokes.iter().filter(|stroke| stroke.1 == drum);
                let times_s = of.map(|stroke| stroke.0).collect();
                Self { drum, part: track.name.clone(), times_s }
            })
        };
        drummers.flat_map(of).collect()
    }

    /// The shape of the hits there; `None` of too few. `shapes`: each with its time, s, on the timeline of
    /// the strokes.
    #[must_use]
    pub fn shape<'a>(
        &self,
        shapes: impl Iterator<Item = (f64, &'a HitShape)>,
    ) -> Option<DrumShape> {
        let mut stats = ShapeStats::default();
        for (at, shape) in shapes {
            let next = self.times_s.partition_point(|time| *time < at);
            let mut near = self.times_s[next.saturating_sub(1)..].iter().take(2);
            if near.any(|time| (time - at).abs() <= SAME_S) {
                stats.add(shape);
            }
        }
        let shape = ShapeReport::of(&stats).filter(|shape| shape.hits >= LEAST_STROKES)?;
        Some(DrumShape { drum: self.drum.code().to_owned(), file: self.part.clone(), shape })
    }
}

/// The hits' spectrum over that of their surroundings, as in [`BandStats`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SpectrumReport {
    /// Hits it is of.
    pub hits: u64,
    /// Third octaves from 50 Hz to 20 kHz. Under 160 Hz neighbours share what they hold.
    pub bands: Vec<BandReport>,
}

/// One third octave of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BandReport {
    /// Middle of the band, Hz.
    pub hz: f64,
    /// Level of the hits' first 40 ms over their surroundings, dB, median over hits.
    pub over_db: Option<f64>,
    /// The same, 10th percentile.
    pub low_db: Option<f64>,
    /// The same, 90th percentile.
    pub high_db: Option<f64>,
}

impl SpectrumReport {
    /// The spectrum of the hits that were gathered; `None` without any.
    #[must_use]
    pub fn of(stats: &BandStats) -> Option<Self> {
        let rounded = |db: f64| (100.0 * db).round() / 100.0;
        let bands = stats.read().into_iter().enumerate().map(|(band, spread)| BandReport {
            hz: hit_band_hz(band),
            over_db: spread.map(|spread| rounded(spread.db)),
            low_db: spread.map(|spread| rounded(spread.low_db)),
            high_db: spread.map(|spread| rounded(spread.high_db)),
        });
        (stats.hits() > 0).then(|| Self { hits: stats.hits(), bands: bands.collect() })
    }
}
