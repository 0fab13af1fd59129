//! The switch between what is heard: equal power, without a click, and back at any moment.

use std::f64::consts::FRAC_PI_2;

use super::limits::SWITCH_MS;

/// Powers of two signals and of what they share: mean squares.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shared {
    /// Power of the one that goes.
    pub from: f64,
    /// Power of the one that comes.
    pub to: f64,
    /// Mean product of both.
    pub both: f64,
}

/// Fades from one thing to another.
///
/// The weights are a quarter of a cosine and of a sine. Two versions of one mix are nearly the
/// same signal, and such weights would make them 3 dB louder on the way; so the pair is scaled,
/// never up, to keep the power of the sum where the two powers say that it should be.
#[derive(Clone, Debug)]
pub struct Switch<T> {
    from: T,
    to: T,
    /// Frames of the fade done; `length` when it is over.
    done: usize,
    length: usize,
    shared: Shared,
}

impl<T: Copy + PartialEq> Switch<T> {
    /// Rests on `at`, in a stream of `rate_hz`.
    #[must_use]
    pub fn new(at: T, rate_hz: f64) -> Self {
        let length = ((rate_hz * SWITCH_MS / 1e3) as usize).max(1);
        Self { from: at, to: at, done: length, length, shared: Shared::default() }
    }

    /// What is left or being left.
    #[must_use]
    pub fn from(&self) -> T {
        self.from
    }

    /// Where the switch is going, or rests.
    #[must_use]
    pub fn to(&self) -> T {
        self.to
    }

    /// Whether a fade is under way.
    #[must_use]
    pub fn is_moving(&self) -> bool {
        self.done < self.length
    }

    /// Heads for `target`. Going back on the way turns round at once; a third thing has to wait
    /// until the fade is over. `shared` is asked for the powers when a fade begins.
    pub fn aim(&mut self, target: T, shared: impl FnOnce(T, T) -> Shared) {
        if target == self.to {
            return;
        }
        if self.is_moving() {
            if target == self.from {
                std::mem::swap(&mut self.from, &mut self.to);
                self.done = self.length - self.done;
                std::mem::swap(&mut self.shared.from, &mut self.shared.to);
            }
            return;
        }
        (self.from, self.to) = (self.to, target);
        self.done = 0;
        self.shared = shared(self.from, self.to);
    }

    /// Rests on `at`, at once.
    pub fn jump(&mut self, at: T) {
        (self.from, self.to, self.done) = (at, at, self.length);
    }

    /// Weights of what goes and of what comes, for the next frame.
    pub fn step(&mut self) -> (f32, f32) {
        if !self.is_moving() {
            return (0.0, 1.0);
        }
        self.done += 1;
        if !self.is_moving() {
            return (0.0, 1.0);
        }
        let (to, from) = (FRAC_PI_2 * self.done as f64 / self.length as f64).sin_cos();
        let apart = from * from * self.shared.from + to * to * self.shared.to;
        let extra = 2.0 * from * to * self.shared.both.max(0.0);
        let scale = if apart > 0.0 { (apart / (apart + extra)).sqrt() } else { 1.0 };
        ((from * scale) as f32, (to * scale) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weights(switch: &mut Switch<u8>) -> Vec<(f64, f64)> {
        let mut all = Vec::new();
        while switch.is_moving() {
            let (from, to) = switch.step();
            all.push((f64::from(from), f64::from(to)));
        }
        all
    }

    #[test]
    fn the_power_goes_straight_from_one_to_the_other() {
        // Closed form: |a x + b y|^2 = a^2 X + b^2 Y + 2 a b C, to be cos^2 X + sin^2 Y.
        for (x, y, c) in [(1.0, 1.0, 0.0), (1.0, 1.0, 1.0), (1.0, 0.25, 0.4), (0.1, 2.0, 0.2)] {
            let mut switch = Switch::new(0, 48_000.0);
            switch.aim(1, |_, _| Shared { from: x, to: y, both: c });
            let all = weights(&mut switch);
            assert_eq!(all.len(), 816);
            for (k, (a, b)) in all.iter().enumerate() {
                let power = a * a * x + b * b * y + 2.0 * a * b * c;
                let (to, from) = (FRAC_PI_2 * (k + 1) as f64 / 816.0).sin_cos();
                let want = from * from * x + to * to * y;
                assert!((power - want).abs() < 1e-6, "{x} {y} {c} at {k}: {power} for {want}");
            }
        }
    }

    #[test]
    fn opposite_signals_are_never_turned_up() {
        let mut switch = Switch::new(0, 48_000.0);
        switch.aim(1, |_, _| Shared { from: 1.0, to: 1.0, both: -0.9 });
        assert!(weights(&mut switch).iter().all(|(a, b)| *a <= 1.0 && *b <= 1.0));
    }

    #[test]
    fn going_back_on_the_way_makes_no_step() {
        let mut switch = Switch::new(0, 48_000.0);
        switch.aim(1, |_, _| Shared { from: 1.0, to: 0.5, both: 0.3 });
        let mut last = (1.0, 0.0);
        for _ in 0..300 {
            last = switch.step();
        }
        switch.aim(0, |_, _| Shared::default());
        let (to, from) = switch.step();
        assert!((from - last.0).abs() < 0.003 && (to - last.1).abs() < 0.003);
        let mut left = 0;
        while switch.is_moving() {
            switch.step();
            left += 1;
        }
        assert_eq!((left, switch.to()), (299, 0), "as far back as it had come");
    }

    #[test]
    fn a_third_thing_waits_its_turn() {
        let mut switch = Switch::new(0, 48_000.0);
        switch.aim(1, |_, _| Shared::default());
        switch.step();
        switch.aim(2, |_, _| Shared::default());
        assert_eq!(switch.to(), 1);
        weights(&mut switch);
        switch.aim(2, |_, _| Shared::default());
        assert_eq!((switch.from(), switch.to()), (1, 2));
    }
}
