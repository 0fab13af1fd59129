//! Words of the shape of the hits, and of its pictures.

use super::number::{count, signed, value};
use super::page::{Fact, frequency};
use crate::report::{DrumShape, ShapeReport, SpectrumReport};

/// Title of the picture.
pub const TITLE: &str = "The shape of a hit";
/// What the picture shows.
pub const TIP: &str = "Level over the surroundings, from 50 ms before the onset to 300 ms after it: \
                       the median of all hits, K-weighted, in windows of 10 ms that do not look \
                       across the onset.";
/// Choice of the picture of the hits' shape.
pub const SHAPE: &str = "Shape";
/// Choice of the picture of the spectra.
pub const SPECTRUM: &str = "Spectrum";
/// Choice of the numbers.
pub const NUMBERS: &str = "Numbers";
/// What the three show.
pub const TIPS: [&str; 3] = [
    "The median hit: what is left of it, what was taken, and what fills the space behind it.",
    "Third octaves of this mix against the other, and of the hits against their surroundings.",
    "Loudness of both, what was taken from the hits, and how the bands differ.",
];
/// This version in a legend.
pub const THIS: &str = "this mix";
/// What was taken in a legend.
pub const TAKEN: &str = "more in the mix before";
/// What a reference has more.
pub const REFERENCE_MORE: &str = "more in the reference";
/// The range in a legend.
pub const RANGE: &str = "10th to 90th percentile";
/// The peaks in a legend.
pub const PEAK: &str = "true peak";
/// The ground of the picture.
pub const SURROUNDINGS: &str = "surroundings";
/// The onset, under the axis.
pub const ONSET: &str = "onset";
/// Unit of the time axis.
pub const MS: &str = "ms";
/// Where there are no hits yet.
pub const NO_SHAPE: &str = "No hits yet: the shape of a hit is drawn from the first one on";
/// What to send for a comparison, under a picture of this mix alone.
pub const ALONE: &str = "To compare: keep a pass, or send the mix before the limiter or a reference \
                         to the side-chain.";
/// Where there is no spectrum yet.
pub const NO_SPECTRUM: &str = "No spectrum yet: play the mix";
/// Title of the hits' spectrum.
pub const HITS_OVER: &str = "Hits over their surroundings";
/// What it shows.
pub const HITS_OVER_TIP: &str = "Level of the hits' first 40 ms over what surrounds them in each \
                                 third octave, median over hits. Hollow: under 1 dB, where hits \
                                 drown.";
/// Bands where hits drown, in a legend.
pub const DROWNS: &str = "drowned";
/// Bands where they come through, in a legend.
pub const THROUGH: &str = "comes through";

/// The waveform of one hit, for assistive technology.
pub const WAVE: &str = "Waveform of this hit, from 50 ms before it to 300 ms after it";
/// Over the gain-reduction curve of one hit.
pub const REDUCTION: &str = "Gain reduction, largest";

/// Name of the other version where the side-chain carries the mix before the limiter.
pub const BEFORE: &str = "before";
/// Where it carries a reference.
pub const REFERENCE: &str = "reference";
/// A pass that was kept.
pub const KEPT: &str = "kept";

/// Title of the third octaves of this mix against the mix before the limiter.
pub const AGAINST_BEFORE: &str = "This mix against the mix before";
/// Against a reference.
pub const AGAINST_REFERENCE: &str = "This mix against the reference";
/// Against the long-term curve.
pub const AGAINST_CURVE: &str = "This mix against the long-term curve";
/// What these pictures have in common.
pub const AGAINST_TIP: &str = "Long-term level in each third octave, both at one loudness: up is more \
                               in this mix.";

/// The numbers of a shape by their names in the JSON: label, unit, meaning.
#[must_use]
pub fn fact(name: &str) -> Option<Fact> {
    let (label, unit, meaning) = match name {
        "height_db" => (
            "Height",
            "dB",
            "Loudest 10 ms within the first 30 ms of the median hit, over the surroundings. Our own \
             definition: that of hit contrast.",
        ),
        "attack_ms" => (
            "Attack",
            "ms",
            "From the onset until the median hit comes within 3 dB of its height. Our own \
             definition.",
        ),
        "space_db" => (
            "Space behind",
            "dB",
            "Height minus the mean level from 80 to 250 ms after the onset: how far it falls. Notes \
             and hits that follow fill it. Our own definition.",
        ),
        "hits" => ("Hits", "", "Hits that the shape is the median of."),
        _ => return None,
    };
    Some(Fact { label, unit, meaning })
}

/// Choice of the shape of all hits.
pub const ALL_HITS: &str = "All";
/// What it shows.
pub const ALL_HITS_TIP: &str = "The median of all hits.";
/// What the choice of a drum shows.
pub const DRUM_TIP: &str = "The median of the mix's hits where a linked drum part plays this drum.";

/// Choice of the shape at a drum, by its word in the JSON.
#[must_use]
pub fn drum(drum: &str) -> &'static str {
    match drum {
        "kick" => "Kick",
        "snare" => "Snare",
        _ => "Drum",
    }
}

/// Of what hits the shape at a drum is, under its numbers. `part`: where the drum is heard.
#[must_use]
pub fn at_drum_of(shape: &DrumShape) -> String {
    format!("{} of {}, {}", at_drum(&shape.drum), shape.file, count(shape.shape.hits, "hit"))
}

/// Title of the shape at one drum's strokes, by its word in the JSON.
#[must_use]
pub fn at_drum(drum: &str) -> &'static str {
    match drum {
        "kick" => "At the kick",
        "snare" => "At the snare",
        _ => "At one drum",
    }
}

/// The three numbers of a shape, by their names in the JSON.
#[must_use]
pub fn numbers(shape: &ShapeReport) -> [(&'static str, Option<f64>); 3] {
    [("height_db", shape.height_db), ("space_db", shape.space_db), ("attack_ms", shape.attack_ms)]
}

/// One shape in a breath, for assistive technology.
#[must_use]
pub fn spoken(who: &str, shape: &ShapeReport) -> String {
    let numbers: Vec<String> = numbers(shape)
        .into_iter()
        .filter_map(|(name, x)| {
            let fact = fact(name)?;
            Some(format!("{} {}", fact.label.to_lowercase(), value(x, fact.unit)))
        })
        .collect();
    format!("{who}, {}: {}", count(shape.hits, "hit"), numbers.join(", "))
}

/// A moment of the shape, when pointed at.
#[must_use]
pub fn moment(ms: f64) -> String {
    let text = format!("{:.0} ms", ms.abs());
    match ms {
        _ if ms < 0.0 => format!("{text} before the onset"),
        0.0 => "Just before the onset".to_owned(),
        _ => format!("{text} after the onset"),
    }
}

/// Level and peak of one version at a moment.
#[must_use]
pub fn levels(who: &str, level_db: Option<f64>, peak_db: Option<f64>) -> String {
    format!("{who}: level {}, peak {}", signed(level_db, "dB"), signed(peak_db, "dB"))
}

/// One third octave of this mix against another, when pointed at.
#[must_use]
pub fn third(hz: f64, db: Option<f64>) -> String {
    format!("{}: {}", frequency(hz), signed(db, "dB"))
}

/// The hits' spectrum in a breath: how many bands drown, and where hits come through most.
#[must_use]
pub fn spoken_spectrum(spectrum: &SpectrumReport) -> String {
    let known = spectrum.bands.iter().filter_map(|band| Some((band.hz, band.over_db?)));
    let drowned = known.clone().filter(|(_, db)| *db < brunt_engine::thresholds::HIT_CONTRAST_DB);
    let most = known.max_by(|a, b| a.1.total_cmp(&b.1));
    let most = most.map_or(String::new(), |(hz, db)| {
        format!(", most at {} with {}", frequency(hz), value(Some(db), "dB"))
    });
    format!("{HITS_OVER}: {} {DROWNS}{most}", count(drowned.count() as u64, "band"))
}
