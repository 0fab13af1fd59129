//! The balance of a mix and what small speakers leave of it, over songs of the corpus.
//!
//! | file | against |
//! |---|---|
//! | `records` | the table of finished records of other people |
//! | `reference` | the same beside a reference track |
//! | `shapes` | dips, shelves and tilts of the corpus' own, put into its mixes |
//! | `small_speaker` | the same song through a high-pass of the corpus' own, ahead of the meter |

mod records;
mod reference;
mod rendered;
mod shapes;
mod small_speaker;
