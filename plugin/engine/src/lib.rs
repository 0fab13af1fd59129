//! Every measurement of Brunt, a punch meter.
//!
//! A [`Meter`] takes blocks of samples and gives [`Readings`], [`Hit`]s and [`HistoryPoint`]s.
//!
//! - [`Meter::new`] allocates; nothing after it allocates, locks, makes a system call or reads a
//!   clock. Memory does not grow with the length of the programme.
//! - All numbers depend on the samples alone: block size, blocks' number and the time of day do
//!   not matter. An offline run gives the same numbers as playback.
//! - NaN and infinite samples are counted and measured as silence.
//! - `None` means *not known*, never zero. Units stand in the field names.
//!
//! The crate knows no host, no window and no file.
#![forbid(unsafe_code)]

mod align;
mod balance;
mod bands;
mod ceiling;
mod cells;
mod compare;
mod config;
mod contrast;
pub mod decibels;
mod histogram;
mod hit;
mod hits;
mod input;
mod kweighting;
mod lanes;
mod leaks;
mod loudness;
mod meter;
#[cfg(test)]
mod noise;
mod onset;
pub mod parts;
mod percentiles;
mod quantile;
mod readings;
pub mod records;
#[cfg(feature = "serde")]
mod saved;
mod shape;
mod side;
mod sink;
mod spectrum;
mod surround;
mod svf;
pub mod thresholds;
mod tops;
mod true_peak;

pub use align::align_whole;
pub use balance::{Mending, carried_db, over_curve_db, over_reference_db};
pub use ceiling::{EVIDENCE, TRACE, TRACE_NAMES, Trace, ceiling_evidence, evidence_names};
pub use compare::{Alignment, Compare, Relation, SideRole};
pub use config::{Config, ConfigError, MAX_CHANNELS, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ};
pub use hit::Hit;
pub use kweighting::KWeighting;
pub use leaks::{
    BesideReference, Ceiling, CeilingKind, Cost, LeakKind, Leaks, Mids, Need, PartLeak, Shape,
    State,
};
pub use loudness::{lufs, power_of_lufs};
pub use meter::{Ahead, Meter, Prepared, RECENT_HITS};
pub use quantile::{median, percentile};
pub use readings::{
    Balance, HistoryPoint, InputHealth, Loudness, Punch, Readings, Side, SmallSpeaker,
};
pub use shape::{
    BandStats, HIT_BANDS, HitBands, HitShape, HitWave, HitsShape, SHAPE_POINTS, ShapeStats, Spread,
    WAVE_BEFORE_MS, WAVE_MS, WAVE_RATIOS, Wave, hit_band_hz, shape_ms,
};
pub use sink::{Hop, Sink};
pub use spectrum::{THIRDS, third_hz};
pub use thresholds::Thresholds;
pub use true_peak::{Peaks, TruePeak};
