//! The JSON `brunt-check/1`.
