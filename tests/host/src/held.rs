//! What this program holds of the system, by the system's own lists: to see whether anything grows.

use std::thread::sleep;
use std::time::Duration;
use std::{fmt, fs};

use super::{Result, because};

/// What a program holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// Its threads.
    pub threads: usize,
    /// Its open files.
    pub files: usize,
    /// Memory in use, bytes.
    pub bytes: u64,
}

impl fmt::Display for Held {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { threads, files, bytes } = self;
        write!(f, "{threads} threads, {files} files, {:.1} MB", *bytes as f64 * 1e-6)
    }
}

impl Held {
    /// What is held now.
    ///
    /// # Errors
    /// When the system gives no such list.
    pub fn now() -> Result<Self> {
        let count =
            |path: &str| fs::read_dir(path).map(Iterator::count).map_err(|e| because(path, e));
        let path = "/proc/self/statm";
        let text = fs::read_to_string(path).map_err(|e| because(path, e))?;
        let pages = text.split(' ').nth(1).and_then(|n| n.parse::<u64>().ok());
        let pages = pages.ok_or_else(|| because(path, "expected numbers of pages"))?;
        Ok(Self {
            threads: count("/proc/self/task")?,
            files: count("/proc/self/fd")?,
            bytes: pages * 4096,
        })
    }

    /// What is held once no more threads end: those that are ending are listed for a moment longer.
    ///
    /// # Errors
    /// As of [`Self::now`].
    pub fn settled() -> Result<Self> {
        let mut last = Self::now()?;
        for _ in 0..50 {
            sleep(Duration::from_millis(20));
            let now = Self::now()?;
            if now.threads >= last.threads {
                break;
            }
            last = now;
        }
        Self::now()
    }
}
