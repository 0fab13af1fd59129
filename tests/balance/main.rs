//! The balance of a mix and what small speakers leave of it, over songs of the corpus.
//!
//! | file | against |
//! |---|---|
//! | `small_speaker` | the same song through a high-pass of the corpus' own, ahead of the meter |

mod rendered;
mod small_speaker;
