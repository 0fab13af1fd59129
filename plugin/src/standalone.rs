//! brunt
fn main() {}
