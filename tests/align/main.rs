//! Main and side-chain beside each other: delay, relation, and what a limiter took, against delays
//! and limiters of known effect.
//!
//! | what | where |
//! |---|---|
//! | the delay and the relation | [`delay`], [`unrelated`] |
//! | lost peaks and reductions against the truth | [`lost`] |
//! | what must not matter | [`blocks`] |
//! | the programme, delays, noise | [`rig`] |

mod blocks;
mod delay;
mod lost;
mod rig;
mod unrelated;
