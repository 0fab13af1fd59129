//! Brunt tests.
