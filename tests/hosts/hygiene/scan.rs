//! A scan writes nothing: the kernel is asked to end the program where it tries.

use std::collections::BTreeMap;
use std::env;
use std::fs;

use brunt_host::{Instance, bundle};
use clack_host::entry::PluginEntry;

use super::{PART, alone};

/// The program that a scan is made in must not open a file to write, nor make, name, move or remove
/// one: the kernel ends it where it tries.
fn forbid_writing() {
    use seccompiler::{
        BpfProgram, SeccompAction, SeccompCmpArgLen, SeccompCmpOp, SeccompCondition, SeccompFilter,
        SeccompRule,
    };
    let flags = |index: u8, mask: i32| {
        let mask = mask as u64;
        let condition = SeccompCondition::new(
            index,
            SeccompCmpArgLen::Dword,
            SeccompCmpOp::MaskedEq(mask),
            mask,
        );
        SeccompRule::new(vec![condition.expect("a sound condition")]).expect("a sound rule")
    };
    let writing = |index| [libc::O_WRONLY, libc::O_RDWR, libc::O_CREAT].map(|f| flags(index, f));
    let mut rules: BTreeMap<i64, Vec<SeccompRule>> =
        BTreeMap::from([(libc::SYS_openat, writing(2).to_vec())]);
    #[cfg(target_arch = "x86_64")]
    {
        rules.insert(libc::SYS_open, writing(1).to_vec());
        for call in [
            libc::SYS_creat,
            libc::SYS_mkdir,
            libc::SYS_rename,
            libc::SYS_unlink,
            libc::SYS_link,
            libc::SYS_symlink,
        ] {
            rules.insert(call, Vec::new());
        }
    }
    for call in [
        libc::SYS_mkdirat,
        libc::SYS_mknodat,
        libc::SYS_renameat2,
        libc::SYS_unlinkat,
        libc::SYS_linkat,
        libc::SYS_symlinkat,
        libc::SYS_truncate,
        libc::SYS_ftruncate,
    ] {
        rules.insert(call, Vec::new());
    }
    let arch = env::consts::ARCH.try_into().expect("an architecture that has filters");
    let filter = SeccompFilter::new(rules, SeccompAction::Allow, SeccompAction::KillProcess, arch);
    let program: BpfProgram = filter.expect("sound").try_into().expect("sound");
    seccompiler::apply_filter(&program).expect("the kernel takes system call filters");
}

/// The child of the test below.
#[test]
#[ignore = "run by the test below, as a program of its own"]
fn scans_without_writing() {
    let part = env::var(PART).expect("run by the test below");
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    forbid_writing();
    if part == "control" {
        let _ = fs::write("planted", "x");
    }
    // SAFETY: the library is our own build, and its initialisation has no precondition.
    let entry = unsafe { PluginEntry::load(&path) }.expect("loads");
    let factory = entry.get_plugin_factory().expect("a factory");
    assert!(factory.plugin_descriptors().next().expect("a plug-in").id().is_some());
    // Hosts that scan thoroughly make an instance and ask it for its ports.
    let mut instance = Instance::load_from(&path).expect("an instance");
    assert!(!instance.ports(true).is_empty());
    println!("scanned");
}

#[test]
fn a_scan_writes_no_file() {
    let test = "hygiene::scan::scans_without_writing";
    let output = alone(test, "scan");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && said.contains("scanned"), "{output:?}");
    // And one that does write is noticed.
    let control = alone(test, "control");
    assert!(!control.status.success(), "{control:?}");
    assert!(!String::from_utf8_lossy(&control.stdout).contains("scanned"));
}
