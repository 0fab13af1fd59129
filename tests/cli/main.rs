//! The program `brunt` and its library, from outside: bad input, JSON names, formats, passages, the
//! page on a terminal, the files that it writes, the HTML report in a browser, what the documents say
//! of it, and loudness against ffmpeg's. Files are made at test time.

mod bad_input;
mod browser;
mod compare;
mod documents;
mod edits;
mod formats;
mod headers;
mod history;
mod html;
mod inputs;
mod json;
mod listen;
mod listen_page;
mod loudness;
mod outputs;
mod page;
mod parts;
mod passage;
mod schema;
mod support;
mod take_b;
mod takes;
