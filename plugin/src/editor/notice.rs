//! What a banner says.

/// A banner: the fact, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Banner {
    /// What is the case.
    pub fact: &'static str,
    /// What it means, or what to do.
    pub how: String,
    /// What else the tooltip says.
    pub more: Vec<&'static str>,
    /// Whether it is news that a click closes, and nothing that stands in the way.
    pub news: bool,
}

impl Banner {
    /// Something that stands in the way.
    #[must_use]
    pub fn plain(fact: &'static str, how: &'static str) -> Self {
        Self { fact, how: how.to_owned(), more: Vec::new(), news: false }
    }

    /// News that a click closes.
    #[must_use]
    pub fn news(fact: &'static str, how: String) -> Self {
        Self { fact, how, more: Vec::new(), news: true }
    }
}
