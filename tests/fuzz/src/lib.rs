//! What arrives from outside, made hostile: saved states, files, reports, blocks and calls.
//!
//! | file | target |
//! |---|---|
//! | `state.rs` | `state`: a session's state of any version, edited and damaged, loaded by a host |
//! | `files.rs` | `files`: small valid files of every format, edited, cut and spliced |
//! | `process.rs` | `process`: a host's calls in any order, with any blocks, rates and samples |
//! | `page.rs` | `page`: a report read from JSON, as page, table and list |
//! | `view.rs` | `view`: a session's pass, drawn by the editor |
//!
//! A target takes bytes and decides by them what to do (`arbitrary`), so that random bytes reach
//! deep and an engine that watches the coverage can steer. It fails by a panic, also by one that
//! is caught. `check/` runs each for a fixed number of executions and on every input of
//! `kept/`; `cargo xtask fuzz` runs them longer, and `cargo xtask fuzz --guided` with libFuzzer.

mod files;
mod json;
mod page;
mod process;
mod sample;
mod state;
pub mod targets;
mod view;
