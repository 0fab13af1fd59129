//! Halving of a stream's rate.

/// Even taps of a maximally flat half-band filter of 15 taps, from the middle outwards; the middle
/// tap is one half, the odd ones zero. Closed form: `y^4 (35 - 84 y + 70 y^2 - 20 y^3)`,
/// `y = cos^2(w/2)`. A tenth of the lower rate is passed flat to 1e-6, and what folds back onto it
/// comes from where the filter is 90 dB down.
const TAPS: [f32; 4] = [1225.0 / 4096.0, -245.0 / 4096.0, 49.0 / 4096.0, -5.0 / 4096.0];
/// Samples that the filter looks back on.
const PAST: usize = 14;

/// Halves the rate of one channel.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Halver {
    past: [f32; PAST],
    /// Whether the next sample of the input is between two of the output.
    odd: bool,
}

impl Halver {
    /// Puts every second sample of the filtered `input` into `out`, whose capacity must hold half
    /// the input and one more.
    pub(super) fn process(&mut self, input: &[f32], out: &mut Vec<f32>) {
        out.clear();
        // A piece at a time through a window on the stack, so that no slice straddles the past.
        let mut window = [0.0f32; PAST + 64];
        for piece in input.chunks(64) {
            window[..PAST].copy_from_slice(&self.past);
            window[PAST..PAST + piece.len()].copy_from_slice(piece);
            let mut at = usize::from(self.odd);
            while at < piece.len() {
                let x = &window[at..at + PAST + 1];
                let mut sum = 0.5 * x[7];
                for (k, tap) in TAPS.iter().enumerate() {
                    sum += tap * (x[6 - 2 * k] + x[8 + 2 * k]);
                }
                out.push(sum);
                at += 2;
            }
            self.odd = at != piece.len();
            self.past.copy_from_slice(&window[piece.len()..piece.len() + PAST]);
        }
    }
}
