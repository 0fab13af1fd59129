//! Weights of the ceiling model. Made by `tests/fit/ceiling.py`; do not edit.
use super::EVIDENCE;
pub(super) const HIDDEN: usize = 2;
pub(super) const HEADS: usize = 7;
pub(super) const CENTRE: [f32; EVIDENCE] = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, ];
pub(super) const SCALE: [f32; EVIDENCE] = [1.0; EVIDENCE];
pub(super) const FIRST: [[f32; EVIDENCE]; HIDDEN] = [[0.0; EVIDENCE]; HIDDEN];
pub(super) const FIRST_OFFSET: [f32; HIDDEN] = [0.0; HIDDEN];
pub(super) const SECOND: [[f32; HIDDEN]; HEADS] = [[0.0; HIDDEN]; HEADS];
pub(super) const SECOND_OFFSET: [f32; HEADS] = [0.0; HEADS];
#[cfg(test)]
pub(super) const EXAMPLE: [f32; EVIDENCE] = [0.0; EVIDENCE];
#[cfg(test)]
pub(super) const EXAMPLE_OUT: [f64; 6] = [0.0; 6];
