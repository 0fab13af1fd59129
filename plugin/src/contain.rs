//! Panics end here: none may cross the C interface into the host, whose whole program, with the
//! user's session in it, would end with it. Rust ends the program where a panic reaches such a
//! border, so every call that a host makes into our own code goes through [`contained`].

use std::panic::{AssertUnwindSafe, catch_unwind};

/// Runs `work`; where it panics, `fallback` gives the result instead. What `work` was changing may
/// be half changed: the caller marks it as failed, or uses it no more.
pub(crate) fn contained<T>(fallback: impl FnOnce() -> T, work: impl FnOnce() -> T) -> T {
    // Unwind-safe by the caller's promise above.
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|_| fallback())
}

/// Runs `work` and says whether it came back.
pub(crate) fn survives(work: impl FnOnce()) -> bool {
    contained(
        || false,
        || {
            work();
            true
        },
    )
}

/// Where a test can plant a panic.
#[cfg_attr(not(test), allow(dead_code))]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// The measuring of a block.
    Meter,
    /// What is heard instead of the mix.
    Audition,
    /// Everything else of a block.
    Block,
    /// Activation.
    Activate,
    /// Reading a saved state.
    Admit,
    /// Saving the last pass.
    Save,
    /// Handing a saved pass on.
    Load,
}

/// Panics where a test of this crate has planted one; nothing at all in any other build.
#[inline(always)]
pub(crate) fn trip(place: Place) {
    #[cfg(test)]
    planted::go_off(place);
    #[cfg(not(test))]
    let _ = place;
}

#[cfg(test)]
pub(crate) mod planted {
    use std::cell::Cell;

    use super::Place;

    thread_local! {
        static PLACE: Cell<Option<Place>> = const { Cell::new(None) };
    }

    /// Plants a panic for this thread; `None` takes it away.
    pub(crate) fn plant(place: Option<Place>) {
        PLACE.set(place);
    }

    pub(super) fn go_off(place: Place) {
        assert!(PLACE.get() != Some(place), "planted by a test: {place:?}");
    }
}

#[cfg(test)]
mod tests;
