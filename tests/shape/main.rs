//! The shape of a hit against closed forms: bursts of noise that decay as an exponential, at times
//! and levels that are known, over steady noise.

mod bursts;
mod numbers;
mod spectra;
mod taken;
