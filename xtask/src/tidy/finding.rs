//! What breaks a rule.

/// One broken rule: where, and what was expected.
pub type Finding = String;
