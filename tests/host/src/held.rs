//! What this program holds of the system, by the system's own lists: to see whether anything grows.

use std::fmt;
use std::thread::sleep;
use std::time::Duration;

use super::{Result, because};

/// What a program holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Held {
    /// Its threads.
    pub threads: usize,
    /// Its open files; under Windows all that it has a handle of.
    pub files: usize,
    /// Memory in use that is its own, bytes; on Linux with what it shares.
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
        system::held()
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

#[cfg(target_os = "linux")]
mod system {
    use std::fs;

    use super::{Held, Result, because};

    pub fn held() -> Result<Held> {
        let count =
            |path: &str| fs::read_dir(path).map(Iterator::count).map_err(|e| because(path, e));
        let path = "/proc/self/statm";
        let text = fs::read_to_string(path).map_err(|e| because(path, e))?;
        let pages = text.split(' ').nth(1).and_then(|n| n.parse::<u64>().ok());
        let pages = pages.ok_or_else(|| because(path, "expected numbers of pages"))?;
        Ok(Held {
            threads: count("/proc/self/task")?,
            files: count("/proc/self/fd")?,
            bytes: pages * 4096,
        })
    }
}

#[cfg(windows)]
mod system {
    use windows_sys::Win32::Foundation::{CloseHandle, INVALID_HANDLE_VALUE};
    use windows_sys::Win32::System::Diagnostics::ToolHelp::{
        CreateToolhelp32Snapshot, TH32CS_SNAPTHREAD, THREADENTRY32, Thread32First, Thread32Next,
    };
    use windows_sys::Win32::System::ProcessStatus::{
        K32GetProcessMemoryInfo, PROCESS_MEMORY_COUNTERS, PROCESS_MEMORY_COUNTERS_EX,
    };
    use windows_sys::Win32::System::Threading::{
        GetCurrentProcess, GetCurrentProcessId, GetProcessHandleCount,
    };

    use super::{Held, Result, because};

    pub fn held() -> Result<Held> {
        let last = |what: &str| because(what, std::io::Error::last_os_error());
        let mut handles = 0;
        let mut memory = PROCESS_MEMORY_COUNTERS_EX {
            cb: size_of::<PROCESS_MEMORY_COUNTERS_EX>() as u32,
            ..Default::default()
        };
        let counters = (&raw mut memory).cast::<PROCESS_MEMORY_COUNTERS>();
        // SAFETY: both fill what is ours and lives on: a number, and a structure of the size given.
        unsafe {
            if GetProcessHandleCount(GetCurrentProcess(), &mut handles) == 0 {
                return Err(last("GetProcessHandleCount"));
            }
            if K32GetProcessMemoryInfo(GetCurrentProcess(), counters, memory.cb) == 0 {
                return Err(last("GetProcessMemoryInfo"));
            }
        }
        Ok(Held {
            threads: threads().ok_or_else(|| last("CreateToolhelp32Snapshot"))?,
            files: handles as usize,
            bytes: memory.PrivateUsage as u64,
        })
    }

    /// The threads of this program among those of all.
    fn threads() -> Option<usize> {
        let mut entry =
            THREADENTRY32 { dwSize: size_of::<THREADENTRY32>() as u32, ..Default::default() };
        let mut count = 0;
        // SAFETY: the list is asked for and given back here; the entry is ours, of the size it says.
        unsafe {
            let own = GetCurrentProcessId();
            let list = CreateToolhelp32Snapshot(TH32CS_SNAPTHREAD, 0);
            if list == INVALID_HANDLE_VALUE {
                return None;
            }
            let mut more = Thread32First(list, &mut entry);
            while more != 0 {
                count += usize::from(entry.th32OwnerProcessID == own);
                more = Thread32Next(list, &mut entry);
            }
            CloseHandle(list);
        }
        Some(count)
    }
}
