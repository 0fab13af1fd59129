//! Brunt against drums that really were hit, at times that we chose, and against limiters that are
//! not ours.
//!
//! Sounds come from Debian's sound packages, by name; without them every test here fails and says
//! which package is missing and that `cargo xtask setup` installs it. What the corpus is and how
//! its truth is defined stands in `brunt_lab::corpus`.
//!
//! | file | against |
//! |---|---|
//! | `isolated` | single hits, one a second |
//! | `beats` | programmed beats, drums alone |
//! | `mixes` | the same beats under bass, guitars, pads |
//! | `limited` | ffmpeg `alimiter` at known drives |
//! | `trade` | rules of thumb of the trade |
//! | `truth` | the corpus itself: alignment of separate programs, matching, known reductions |

mod beats;
mod isolated;
mod kit;
mod limited;
mod mixes;
mod rendered;
mod trade;
mod truth;
