//! Brunt.
