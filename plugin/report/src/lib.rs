//! What Brunt says: the sentences and the JSON, shared by the plug-in and the command line.
//!
//! - [`words`] holds every sentence about a measurement. The engine gives codes and numbers only;
//!   each number in a sentence is formatted from the reading or the constant, so that text and
//!   check cannot drift apart.
//! - [`history`] holds the JSON `brunt-history/1`: revisions of a mix.
//! - [`listen`] holds the JSON `brunt-listen/1`: versions of a passage, to be listened to.
//! - [`listener`] tells what is left of a version once a player has brought it to its loudness.
//! - [`report`] holds the JSON `brunt-check/1`, written and read back; [`takes`] the JSON
//!   `brunt-takes/1`, a comparison of takes.
//!
//! - [`columns`] writes long lists of plain data, [`bounds`] looks at numbers that are read back.
//! - [`sections`] finds the sections of a song in its history.
//! - [`html`] lays a report out as one page, [`hit_list`] its hits as CSV, and [`edits`] the notes to
//!   move as CSV and MIDI markers.
//!
//! The crate knows no file and no window.
#![forbid(unsafe_code)]

pub mod bounds;
pub mod columns;
pub mod edits;
pub mod history;
pub mod hit_list;
pub mod html;
pub mod listen;
pub mod listener;
pub mod report;
pub mod sections;
pub mod takes;
pub mod words;
