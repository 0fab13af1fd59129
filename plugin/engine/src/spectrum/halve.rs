//! Halving of a stream's rate.

/// Even taps of a maximally flat half-band filter of 15 taps, from the middle outwards; the middle
/// tap is one half, the odd ones zero. Closed form: `y^4 (35 - 84 y + 70 y^2 - 20 y^3)`,
/// `y = cos^2(w/2)`. A tenth of the lower rate is passed flat to 1e-6, and what folds back onto it
/// comes from where the filter is 90 dB down.
const TAPS: [f32; 4] = [1225.0 / 4096.0, -245.0 / 4096.0, 49.0 / 4096.0, -5.0 / 4096.0];
/// Frames of the newest kind, on which the filter's outer taps lie, that it looks back on.
const EVEN_PAST: usize = 7;
/// Frames between them, one of which is the middle tap, that it looks back on.
const ODD_PAST: usize = 4;
/// Most frames of either kind handled at once.
const PIECE: usize = 32;

/// Halves the rate of two channels. Frames are interleaved: left, right, left, right.
///
/// The frames go apart into those that the outer taps lie on and those between, so that neighbours
/// in the output come from neighbours in either and can be worked out side by side.
#[derive(Clone, Copy, Debug)]
pub(super) struct Halver {
    even: [f32; 2 * (EVEN_PAST + PIECE)],
    odd: [f32; 2 * (ODD_PAST + PIECE)],
    /// Whether the next frame of the input is between two of the output.
    next_is_odd: bool,
}

impl Default for Halver {
    fn default() -> Self {
        Self {
            even: [0.0; 2 * (EVEN_PAST + PIECE)],
            odd: [0.0; 2 * (ODD_PAST + PIECE)],
            next_is_odd: false,
        }
    }
}

impl Halver {
    /// Puts every second frame of the filtered `input` into `out`, whose capacity must hold half
    /// the input and one frame more.
    pub(super) fn process(&mut self, input: &[f32], out: &mut Vec<f32>) {
        out.clear();
        for piece in input.chunks(2 * (2 * PIECE - 1)) {
            let frames = piece.len() / 2;
            // Odd frames there are ahead of the first even one.
            let ahead = usize::from(self.next_is_odd);
            let (first, rest) = piece.split_at((2 * ahead).min(piece.len()));
            self.odd[2 * ODD_PAST..2 * ODD_PAST + first.len()].copy_from_slice(first);
            let evens = self.even[2 * EVEN_PAST..].as_chunks_mut::<2>().0;
            let odds = self.odd[2 * ODD_PAST + first.len()..].as_chunks_mut::<2>().0;
            let (pairs, last) = rest.as_chunks::<4>();
            for ((even, odd), &[l, r, next_l, next_r]) in evens.iter_mut().zip(odds).zip(pairs) {
                *even = [l, r];
                *odd = [next_l, next_r];
            }
            if let &[l, r] = last {
                evens[pairs.len()] = [l, r];
            }
            let even_count = (frames - ahead.min(frames)).div_ceil(2);
            let odd_count = frames - even_count;
            self.filter(even_count, ahead, out);
            self.even.copy_within(2 * even_count..2 * (even_count + EVEN_PAST), 0);
            self.odd.copy_within(2 * odd_count..2 * (odd_count + ODD_PAST), 0);
            self.next_is_odd ^= frames % 2 == 1;
        }
    }

    /// One frame out for each new even frame.
    fn filter(&self, count: usize, ahead: usize, out: &mut Vec<f32>) {
        let values = 2 * count;
        let middle = &self.odd[2 * ahead..2 * ahead + values];
        let [a, b, c, d, e, f, g, h] =
            [0, 1, 2, 3, 4, 5, 6, 7].map(|k| &self.even[2 * k..2 * k + values]);
        let from = out.len();
        out.resize(from + values, 0.0);
        let out = &mut out[from..][..values];
        for i in 0..values {
            let mut sum = 0.5 * middle[i];
            sum += TAPS[0] * (d[i] + e[i]);
            sum += TAPS[1] * (c[i] + f[i]);
            sum += TAPS[2] * (b[i] + g[i]);
            out[i] = sum + TAPS[3] * (a[i] + h[i]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The filter written out: every second frame of the sum over its fifteen taps.
    #[test]
    fn gives_the_filter_whatever_the_cutting() {
        let input: Vec<f32> = (0..600).map(|n| ((n * 7919) % 1013) as f32 / 500.0 - 1.0).collect();
        let frame = |n: i64, channel: usize| {
            usize::try_from(n).map_or(0.0, |n| f64::from(input[2 * n + channel]))
        };
        let mut want = Vec::new();
        for n in (0..300).step_by(2) {
            for channel in 0..2 {
                let mut sum = 0.5 * frame(n - 7, channel);
                for (k, tap) in TAPS.iter().enumerate() {
                    let k = k as i64;
                    sum += f64::from(*tap)
                        * (frame(n - 6 + 2 * k, channel) + frame(n - 8 - 2 * k, channel));
                }
                want.push(sum);
            }
        }
        for step in [1, 2, 3, 5, 48, 300] {
            let mut halver = Halver::default();
            let (mut got, mut out) = (Vec::new(), Vec::new());
            for piece in input.chunks(2 * step) {
                halver.process(piece, &mut out);
                got.extend_from_slice(&out);
            }
            assert_eq!(got.len(), want.len(), "pieces of {step}");
            for (got, want) in got.iter().zip(&want) {
                assert!((f64::from(*got) - want).abs() < 1e-6, "pieces of {step}");
            }
        }
    }
}
