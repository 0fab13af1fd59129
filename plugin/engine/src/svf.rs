//! Four state-variable filters side by side, in trapezoidal form, well conditioned in f32 up to
//! 384 kHz (A. Simper, "Solving the continuous SVF equations using trapezoidal integration", 2013).

use wide::f32x4;

/// States under this magnitude (-300 dBFS) become zero before they turn into denormal numbers, which
/// slow the processor down.
const FLUSH_BELOW: f32 = 1e-15;

/// Coefficients of four filters.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Filters {
    input: [f32x4; 2],
    cross: f32x4,
    own: [f32x4; 2],
}

/// Halved states of four filters.
pub(crate) type States = [f32x4; 2];

impl Filters {
    /// `hz`: centre or corner of each, under half of `rate_hz`; `damping`: 1/Q of all.
    pub(crate) fn new(hz: [f64; 4], damping: f64, rate_hz: f64) -> Self {
        let a = hz.map(|hz| {
            let g = (std::f64::consts::PI * hz / rate_hz).tan();
            let a1 = 1.0 / (1.0 + g * (g + damping));
            [a1, g * a1, g * g * a1]
        });
        let lanes = |of: fn([f64; 3]) -> f64| f32x4::new(a.map(|a| of(a) as f32));
        Self {
            input: [lanes(|a| a[1]), lanes(|a| a[2])],
            cross: lanes(|a| 2.0 * a[1]),
            own: [lanes(|a| 2.0 * a[0] - 1.0), lanes(|a| 2.0 * a[2])],
        }
    }

    /// One sample into each filter; band-passed (with a gain of Q at the centre) and low-passed
    /// samples out. Put so that a state's way to the next is one product and two sums.
    #[inline(always)]
    pub(crate) fn step(&self, state: &mut States, x: f32x4) -> (f32x4, f32x4) {
        let [h0, h1] = *state;
        let next0 = self.own[0] * h0 + (self.input[0] * x - self.cross * h1);
        let next1 = (h1 - self.own[1] * h1) + (self.input[1] * x + self.cross * h0);
        *state = [next0, next1];
        (h0 + next0, h1 + next1)
    }
}

/// Sets states that have decayed to nothing to zero.
pub(crate) fn flush_denormals(states: &mut States) {
    for state in states {
        *state = f32x4::new(state.to_array().map(|x| if x.abs() < FLUSH_BELOW { 0.0 } else { x }));
    }
}
