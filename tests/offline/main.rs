//! The program `brunt` and its library, from outside: bad input, JSON names, formats, passages,
//! the page, and loudness beside ffmpeg's. Files are made at test time.

mod bad_input;
mod formats;
mod headers;
mod json;
mod loudness;
mod page;
mod passage;
mod support;
