//! Drive, clutter and what each cause costs, on tones of closed form and on programmed sessions.
//!
//! | what | where |
//! |---|---|
//! | a tone through tanh: crest and drop of closed form | [`tanh`] |
//! | one riff at six gains | [`gains`] |
//! | locked, scattered, a wall of layers, dense but locked | [`clutter`] |
//! | one cause at a time: named, and priced | [`costs`] |
//!
//! Small runs; `cargo run -p brunt-lab --bin arrange` has the large ones.

mod clutter;
mod costs;
mod gains;
mod tanh;
