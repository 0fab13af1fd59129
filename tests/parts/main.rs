//! The parts of a mix against programmed sessions whose every note has a known time.
//!
//! Sounds come from Debian's sound packages and from strings synthesised here; kits, font
//! programs, strings, riffs and seeds are not those that the onset judge was fitted on. What a
//! session is and how its truth is defined stands in `brunt_lab::session`.
//!
//! | file | against |
//! |---|---|
//! | `onsets` | every note of every part |
//! | `offsets` | constant offset and spread of parts against the drums |
//! | `laws` | closed forms of summed decaying hits, and a table of jitter |
//! | `trade` | a rule of thumb of the trade, measured on the audio itself |
//! | `roles` | what each part is |
//! | `bounds` | silence, few notes, two takes in one file |

mod bounds;
mod laws;
mod offsets;
mod onsets;
mod rig;
mod roles;
mod trade;
