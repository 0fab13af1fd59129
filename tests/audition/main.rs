//! The audition without a host: what is heard in place of the mix.
//!
//! | file | checks | against |
//! |---|---|---|
//! | `loudness.rs` | the match over a passage, loops and jumps included | the `ebur128` crate (BS.1770) |
//! | `switch.rs` | steps that the switch adds, its length, bit identity when off | closed forms |
//! | `guard.rs` | true peak of what is heard | the `ebur128` crate (BS.1770 Annex 2) |
//! | `difference.rs` | what is left of two versions of one signal | closed forms |
//! | `reference.rs` | a file as reference: measured, resampled, played | the `ebur128` crate, closed forms |
//! | `rig.rs` | plays two streams through meter and audition, as the plug-in does | |

mod difference;
mod guard;
mod loudness;
mod reference;
mod rig;
mod switch;
