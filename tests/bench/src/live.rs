//! Bytes that are allocated at the moment.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

/// The system's allocator, counting bytes and calls.
pub struct Counting;

static BYTES: AtomicUsize = AtomicUsize::new(0);
static CALLS: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is passed on to the system's allocator as it came.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        // Counters that nothing else hangs on: no order is needed.
        BYTES.fetch_add(layout.size(), Ordering::Relaxed);
        CALLS.fetch_add(1, Ordering::Relaxed);
        // SAFETY: the caller keeps the contract of `alloc`.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        BYTES.fetch_sub(layout.size(), Ordering::Relaxed);
        // SAFETY: the pointer came from `System` by the functions here.
        unsafe { System.dealloc(pointer, layout) }
    }
}

/// Bytes allocated and not given back, and calls for memory so far.
pub fn now() -> (usize, usize) {
    (BYTES.load(Ordering::Relaxed), CALLS.load(Ordering::Relaxed))
}
