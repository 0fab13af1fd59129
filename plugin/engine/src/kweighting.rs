//! K-weighting (ITU-R BS.1770-5, Annex 1): a shelf for the head, then a high-pass.
//!
//! The standard tabulates both filters at 48 kHz only. Here they are made for any rate from the
//! analogue prototype whose bilinear transform gives the table back at 48 kHz to 1e-9.

use std::f64::consts::PI;

use wide::f64x2;

use crate::thresholds::SMALL_SPEAKER_HZ;

/// Corner of the shelf, Hz. With the gain, Q and exponent below it reproduces the 48 kHz
/// coefficients of BS.1770-5, Annex 1, Table 1.
const SHELF_HZ: f64 = 1681.974450955533;
/// Gain of the shelf at high frequencies, dB.
const SHELF_GAIN_DB: f64 = 3.999843853973347;
/// Q of the shelf, no unit.
const SHELF_Q: f64 = 0.7071752369554196;
/// Exponent that makes the gain at the shelf's corner from the gain at high frequencies.
const SHELF_CORNER_EXPONENT: f64 = 0.4996667741545416;
/// Corner of the high-pass, Hz: BS.1770-5, Annex 1, Table 2.
const HIGH_PASS_HZ: f64 = 38.13547087602444;
/// Q of the high-pass, no unit.
const HIGH_PASS_Q: f64 = 0.5003270373238773;
/// The rate of the standard's table, Hz.
const TABLE_RATE_HZ: f64 = 48_000.0;
/// Filter states under this magnitude (-600 dBFS) become zero before they turn into denormal
/// numbers, which slow the processor down.
const FLUSH_BELOW: f64 = 1e-30;

/// K-weights one channel.
///
/// The result does not depend on how the stream is cut into calls, to the last bit.
#[derive(Clone, Debug)]
pub struct KWeighting {
    shelf: Section,
    high_pass: Section,
    energy: f64,
}

impl KWeighting {
    /// Designs both filters for `rate_hz`, Hz; it must be over 3.4 kHz, twice the shelf's corner.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        Self {
            shelf: Section::new(shelf_coefficients(rate_hz)),
            high_pass: Section::new(high_pass_coefficients(rate_hz)),
            energy: 0.0,
        }
    }

    /// Weights `input` and adds the squares to the energy.
    pub fn process(&mut self, input: &[f32]) {
        let mut shelf = self.shelf;
        let mut high_pass = self.high_pass;
        let mut energy = self.energy;
        for &x in input {
            let weighted = high_pass.step(shelf.step(f64::from(x)));
            energy += weighted * weighted;
        }
        (self.shelf, self.high_pass, self.energy) = (shelf, high_pass, energy);
    }

    /// Weights `input` in place and leaves the energy alone.
    pub(crate) fn weigh(&mut self, samples: &mut [f32]) {
        for x in samples {
            *x = self.high_pass.step(self.shelf.step(f64::from(*x))) as f32;
        }
    }

    /// The same as two calls of [`process`](Self::process), to the bit, in less time: the two
    /// channels go side by side. Both must be made for one rate; the longer input is cut to the
    /// shorter.
    pub fn process_pair(left: &mut Self, right: &mut Self, input: [&[f32]; 2]) {
        Self::process_each(left, right, input, std::iter::repeat(()), |_, ()| ());
    }

    /// The same as [`process`](Self::process), and gives the sum of the weighted samples.
    pub(crate) fn process_sum(&mut self, input: &[f32]) -> f64 {
        let (mut shelf, mut high_pass) = (self.shelf, self.high_pass);
        let (mut energy, mut sum) = (self.energy, 0.0);
        for &x in input {
            let weighted = high_pass.step(shelf.step(f64::from(x)));
            energy += weighted * weighted;
            sum += weighted;
        }
        (self.shelf, self.high_pass, self.energy) = (shelf, high_pass, energy);
        sum
    }

    /// The same as [`process_pair`](Self::process_pair), and gives the sum of the weighted samples of
    /// each channel.
    pub(crate) fn process_pair_sums(
        left: &mut Self,
        right: &mut Self,
        input: [&[f32]; 2],
    ) -> [f64; 2] {
        let mut sums = f64x2::ZERO;
        Self::process_each(left, right, input, std::iter::repeat(()), |weighted, ()| {
            sums += weighted;
        });
        sums.to_array()
    }

    /// The same as [`process_pair`](Self::process_pair), and `squares` gets the squares of the
    /// weighted samples, both channels added, a number a frame.
    pub(crate) fn process_pair_squares(
        left: &mut Self,
        right: &mut Self,
        input: [&[f32]; 2],
        squares: &mut [f32],
    ) {
        Self::process_each(left, right, input, squares, |weighted, square| {
            let [left, right] = (weighted * weighted).to_array();
            *square = (left + right) as f32;
        });
    }

    /// The same as [`process_pair`](Self::process_pair), and `each` gets the weighted samples with the
    /// next of `beside`; ends where that does.
    #[inline(always)]
    fn process_each<T>(
        left: &mut Self,
        right: &mut Self,
        input: [&[f32]; 2],
        beside: impl IntoIterator<Item = T>,
        mut each: impl FnMut(f64x2, T),
    ) {
        let mut shelf = Lanes::new([&left.shelf, &right.shelf]);
        let mut high_pass = Lanes::new([&left.high_pass, &right.high_pass]);
        let mut energy = f64x2::new([left.energy, right.energy]);
        for ((&left, &right), beside) in input[0].iter().zip(input[1]).zip(beside) {
            let weighted = high_pass.step(shelf.step(pair(left, right)));
            energy += weighted * weighted;
            each(weighted, beside);
        }
        shelf.store([&mut left.shelf, &mut right.shelf]);
        high_pass.store([&mut left.high_pass, &mut right.high_pass]);
        [left.energy, right.energy] = energy.to_array();
    }

    /// The same as [`process`](Self::process), and `small` gets the weighted samples.
    pub(crate) fn process_small(&mut self, small: &mut SmallSpeaker, input: &[f32]) {
        for &x in input {
            let weighted = self.high_pass.step(self.shelf.step(f64::from(x)));
            self.energy += weighted * weighted;
            let small_weighted = small.high_pass.step(weighted);
            small.energy += small_weighted * small_weighted;
        }
    }

    /// The same as [`process_pair`](Self::process_pair), and `small` gets the weighted samples of
    /// both channels.
    #[inline(never)]
    pub(crate) fn process_small_pair(
        left: &mut Self,
        right: &mut Self,
        small: &mut SmallSpeaker,
        input: [&[f32]; 2],
    ) {
        let mut limit = Lanes::new([&small.high_pass, &small.second]);
        let mut energy = f64x2::new([small.energy, small.second_energy]);
        Self::process_each(left, right, input, std::iter::repeat(()), |weighted, ()| {
            let limited = limit.step(weighted);
            energy += limited * limited;
        });
        limit.store([&mut small.high_pass, &mut small.second]);
        [small.energy, small.second_energy] = energy.to_array();
    }

    /// Sum of the squares of the weighted samples since the last call, which starts a new sum.
    ///
    /// It is kept here, in f64 and one sample after another, because partial sums of pieces would
    /// depend on where the pieces were cut.
    pub fn take_energy(&mut self) -> f64 {
        std::mem::take(&mut self.energy)
    }

    /// Forgets the past.
    pub fn reset(&mut self) {
        self.shelf.reset();
        self.high_pass.reset();
        self.energy = 0.0;
    }

    /// Brings a filter that rings out into silence to rest. Call it at fixed places of the
    /// stream, so that the cutting into blocks has no influence.
    pub fn flush_denormals(&mut self) {
        self.shelf.flush();
        self.high_pass.flush();
    }
}

/// What a small speaker leaves of a K-weighted bus of one or two channels: second-order
/// Butterworth high-pass at [`SMALL_SPEAKER_HZ`].
#[derive(Clone, Debug)]
pub(crate) struct SmallSpeaker {
    high_pass: Section,
    second: Section,
    energy: f64,
    second_energy: f64,
}

impl SmallSpeaker {
    /// Designs the filter for `rate_hz`, Hz.
    pub(crate) fn new(rate_hz: f64) -> Self {
        let k = (PI * SMALL_SPEAKER_HZ / rate_hz).tan();
        let a0 = 1.0 + std::f64::consts::SQRT_2 * k + k * k;
        let b = [1.0 / a0, -2.0 / a0, 1.0 / a0];
        let a = [2.0 * (k * k - 1.0) / a0, (1.0 - std::f64::consts::SQRT_2 * k + k * k) / a0];
        let high_pass = Section::new((b, a));
        Self { high_pass, second: high_pass, energy: 0.0, second_energy: 0.0 }
    }

    /// Sum of the squares since the last call, both channels added.
    pub(crate) fn take_energy(&mut self) -> f64 {
        std::mem::take(&mut self.energy) + std::mem::take(&mut self.second_energy)
    }

    pub(crate) fn reset(&mut self) {
        self.high_pass.reset();
        self.second.reset();
        self.energy = 0.0;
        self.second_energy = 0.0;
    }

    pub(crate) fn flush_denormals(&mut self) {
        self.high_pass.flush();
        self.second.flush();
    }
}

/// The numbers of a second-order filter, in the form that has the shortest way from one state to
/// the next: one product and one difference.
#[derive(Clone, Copy, Debug)]
struct Design {
    b0: f64,
    c1: f64,
    c2: f64,
    a1: f64,
    a2: f64,
}

impl Design {
    /// From the usual coefficients, a0 being 1.
    fn new((b, a): ([f64; 3], [f64; 2])) -> Self {
        Self { b0: b[0], c1: b[1] - a[0] * b[0], c2: b[2] - a[1] * b[0], a1: a[0], a2: a[1] }
    }
}

/// A second-order filter on one channel.
#[derive(Clone, Copy, Debug)]
struct Section {
    design: Design,
    state: [f64; 2],
}

impl Section {
    fn new(coefficients: ([f64; 3], [f64; 2])) -> Self {
        Self { design: Design::new(coefficients), state: [0.0; 2] }
    }

    #[inline(always)]
    fn step(&mut self, x: f64) -> f64 {
        let Design { b0, c1, c2, a1, a2 } = self.design;
        let [s1, s2] = self.state;
        self.state = [(s2 + c1 * x) - a1 * s1, c2 * x - a2 * s1];
        b0 * x + s1
    }

    fn reset(&mut self) {
        self.state = [0.0; 2];
    }

    fn flush(&mut self) {
        if self.state.iter().all(|s| s.abs() < FLUSH_BELOW) {
            self.reset();
        }
    }
}

/// One filter on two channels, side by side in one instruction.
#[derive(Clone, Copy, Debug)]
struct Lanes {
    b0: f64x2,
    c1: f64x2,
    c2: f64x2,
    a1: f64x2,
    a2: f64x2,
    s1: f64x2,
    s2: f64x2,
}

impl Lanes {
    fn new(sections: [&Section; 2]) -> Self {
        let of = |get: fn(&Section) -> f64| f64x2::new(sections.map(get));
        Self {
            b0: of(|s| s.design.b0),
            c1: of(|s| s.design.c1),
            c2: of(|s| s.design.c2),
            a1: of(|s| s.design.a1),
            a2: of(|s| s.design.a2),
            s1: of(|s| s.state[0]),
            s2: of(|s| s.state[1]),
        }
    }

    /// [`Section::step`] on both lanes.
    #[inline(always)]
    fn step(&mut self, x: f64x2) -> f64x2 {
        let Self { b0, c1, c2, a1, a2, s1, s2 } = *self;
        self.s1 = (s2 + c1 * x) - a1 * s1;
        self.s2 = c2 * x - a2 * s1;
        b0 * x + s1
    }

    fn store(self, sections: [&mut Section; 2]) {
        let (s1, s2) = (self.s1.to_array(), self.s2.to_array());
        for (lane, section) in sections.into_iter().enumerate() {
            section.state = [s1[lane], s2[lane]];
        }
    }
}

#[inline(always)]
fn pair(left: f32, right: f32) -> f64x2 {
    f64x2::new([f64::from(left), f64::from(right)])
}

fn shelf_coefficients(rate_hz: f64) -> ([f64; 3], [f64; 2]) {
    let k = (PI * SHELF_HZ / rate_hz).tan();
    let high = 10_f64.powf(SHELF_GAIN_DB / 20.0);
    let corner = high.powf(SHELF_CORNER_EXPONENT);
    let a0 = 1.0 + k / SHELF_Q + k * k;
    (
        [
            (high + corner * k / SHELF_Q + k * k) / a0,
            2.0 * (k * k - high) / a0,
            (high - corner * k / SHELF_Q + k * k) / a0,
        ],
        [2.0 * (k * k - 1.0) / a0, (1.0 - k / SHELF_Q + k * k) / a0],
    )
}

fn high_pass_coefficients(rate_hz: f64) -> ([f64; 3], [f64; 2]) {
    let a0 = |rate: f64| {
        let k = (PI * HIGH_PASS_HZ / rate).tan();
        1.0 + k / HIGH_PASS_Q + k * k
    };
    let k = (PI * HIGH_PASS_HZ / rate_hz).tan();
    // The table's numerator is 1, -2, 1, which is a gain of 1.005 at high frequencies. The same
    // numerator at another rate would have another gain (-0.03 dB at 192 kHz), so it is scaled.
    let b0 = a0(TABLE_RATE_HZ) / a0(rate_hz);
    (
        [b0, -2.0 * b0, b0],
        [2.0 * (k * k - 1.0) / a0(rate_hz), (1.0 - k / HIGH_PASS_Q + k * k) / a0(rate_hz)],
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::noise::noise;

    #[test]
    fn table_of_bs_1770_at_48_khz() {
        // ITU-R BS.1770-5, Annex 1, Tables 1 and 2.
        let (b, a) = shelf_coefficients(48_000.0);
        let want = (
            [1.53512485958697, -2.69169618940638, 1.19839281085285],
            [-1.69065929318241, 0.73248077421585],
        );
        for (got, want) in b.iter().chain(&a).zip(want.0.iter().chain(&want.1)) {
            assert!((got - want).abs() < 1e-9, "shelf: {got} for {want}");
        }
        let (b, a) = high_pass_coefficients(48_000.0);
        let want = ([1.0, -2.0, 1.0], [-1.99004745483398, 0.99007225036621]);
        for (got, want) in b.iter().chain(&a).zip(want.0.iter().chain(&want.1)) {
            assert!((got - want).abs() < 1e-9, "high-pass: {got} for {want}");
        }
    }

    #[test]
    fn cutting_changes_no_bit_and_a_pair_is_two_singles() {
        let (left, right) = (noise(4_800, 1), noise(4_800, 2));
        let mut whole = [KWeighting::new(48_000.0), KWeighting::new(48_000.0)];
        whole[0].process(&left);
        whole[1].process(&right);
        let energy = [whole[0].take_energy(), whole[1].take_energy()];

        let (mut l, mut r) = (KWeighting::new(48_000.0), KWeighting::new(48_000.0));
        let (mut from, mut step) = (0, 1);
        while from < 4_800 {
            let to = (from + step).min(4_800);
            KWeighting::process_pair(&mut l, &mut r, [&left[from..to], &right[from..to]]);
            from = to;
            step = step % 97 + 5;
        }
        assert_eq!([l.take_energy(), r.take_energy()], energy);
        assert_eq!(l.take_energy(), 0.0);
    }

    #[test]
    fn ringing_out_into_silence_comes_to_rest() {
        let mut filter = KWeighting::new(48_000.0);
        filter.process(&noise(480, 3));
        let silence = vec![0.0; 480];
        for _ in 0..400 {
            filter.process(&silence);
            filter.flush_denormals();
        }
        assert_eq!(filter.shelf.state, [0.0; 2]);
        assert_eq!(filter.high_pass.state, [0.0; 2]);
        filter.take_energy();
        filter.process(&silence);
        assert_eq!(filter.take_energy(), 0.0);
    }
}
