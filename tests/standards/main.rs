//! The meter against the loudness standards, closed forms and the `ebur128` crate, through the
//! engine's public interface alone. Expected values and tolerances are written out as the sources
//! have them; nothing here reads the engine's own thresholds.
//!
//! Where a new test belongs:
//!
//! | file | checks against |
//! |---|---|
//! | `k_weighting.rs` | ITU-R BS.1770-5: gain of the weighting, reference levels, pink noise |
//! | `tech_3341.rs` | EBU Tech 3341, cases 1-5 and 9-14: momentary, short-term, integrated |
//! | `true_peak.rs` | EBU Tech 3341, cases 15-19, and BS.1770-5 Annex 2 |
//! | `tech_3342.rs` | EBU Tech 3342, cases 1-4: loudness range |
//! | `dynamics.rs` | closed forms of crest factor, PLR and PSR |
//! | `third_octaves.rs` | IEC 61260-1: class limits of third-octave bands; levels of tones and pink noise |
//! | `reference.rs` | the `ebur128` crate, on random programmes |
//! | `blocks.rs` | the meter itself, cut into blocks of other sizes |
//! | `rig.rs` | no test: plays signals to a meter |
//!
//! Left out: case 6 of Tech 3341 is a five-channel programme, and the engine takes one or two
//! channels; cases 7, 8 and 20-23 need the EBU's own recordings, which may not be redistributed.

mod blocks;
mod dynamics;
mod k_weighting;
mod reference;
mod rig;
mod tech_3341;
mod tech_3342;
mod third_octaves;
mod true_peak;
