//! Where third octaves lie.

/// Number of third-octave bands, 25 Hz to 20 kHz.
pub const THIRDS: usize = 30;
/// Number of the lowest band relative to 1 kHz (IEC 61260-1: base-ten, `1000 * 10^(x/10)` Hz).
const LOWEST: i32 = -16;

/// Lower edge of third octave `index`, Hz (IEC 61260-1, base ten); `index == THIRDS` gives the
/// upper edge of the last.
pub(crate) fn third_edge_hz(index: usize) -> f64 {
    1_000.0 * 10f64.powf((f64::from(LOWEST) + index as f64 - 0.5) / 10.0)
}

/// Middle of third octave `index`, Hz (IEC 61260-1, base ten): 25.1 Hz for 0.
#[must_use]
pub fn third_hz(index: usize) -> f64 {
    1_000.0 * 10f64.powf((f64::from(LOWEST) + index as f64) / 10.0)
}
