//! Weights of the share of attack that a guitar kept. Made by `tests/lab/drive/fit.py`; do not edit.

/// Numbers of the evidence.
pub const EVIDENCE: usize = 9;
/// Numbers further out than so many spreads say nothing more.
pub(super) const FAR: f64 = 4.0;
/// The share where every number is at its centre.
pub(super) const OFFSET: f64 = 0.62929;
/// Centre of each number.
#[rustfmt::skip]
pub(super) const CENTRE: [f64; EVIDENCE] = [0.31914, 1.57049, 4.50822, -0.30960, 1.30098, 1.26813, 0.38414, 0.34833, 10.61002];
/// Spread of each number.
#[rustfmt::skip]
pub(super) const SPREAD: [f64; EVIDENCE] = [0.51194, 0.29706, 3.73671, 1.32575, 0.62798, 0.82843, 0.62235, 0.65463, 11.54179];
/// Weight of each number, a spread.
#[rustfmt::skip]
pub(super) const WEIGHTS: [f64; EVIDENCE] = [0.13473, 0.12790, -0.04700, 0.08750, 0.09645, -0.07648, -0.11111, 0.12052, -0.03902];
