//! The JSON `brunt-history/1`: revisions of one mix, each with its report.

use serde::{Deserialize, Serialize};

use crate::report::Report;

/// Name and version of the JSON's form.
pub const SCHEMA: &str = "brunt-history/1";

/// Revisions of one mix, in the order in which they were given.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct History {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Length of the passage that was measured in every aligned revision, s. Null where none was
    /// found: each revision is then measured whole.
    pub passage_s: Option<f64>,
    /// The revisions.
    pub revisions: Vec<Revision>,
    /// What changed from each revision to the next.
    pub changes: Vec<Change>,
}

impl History {
    /// Puts a history together.
    #[must_use]
    pub fn new(passage_s: Option<f64>, revisions: Vec<Revision>, changes: Vec<Change>) -> Self {
        Self { schema: SCHEMA.to_owned(), passage_s, revisions, changes }
    }

    /// The history as indented JSON, ending in a line feed.
    ///
    /// # Errors
    /// Never for a history of reports made by [`Report::new`]; the JSON writer's error otherwise.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

/// One revision.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Revision {
    /// Short name: A, B, ...
    pub name: String,
    /// The file as the user named it.
    pub file: String,
    /// Whether it was found to hold the same song as the first, and measured over the passage.
    pub aligned: bool,
    /// Time in the first file at which this one starts, s.
    pub offset_s: Option<f64>,
    /// Correlation with the first file there, at most 1.
    pub correlation: Option<f64>,
    /// Everything measured. What its listener gets is set beside the revision before.
    pub report: Report,
}

/// What changed from one revision to the next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// Name of the earlier revision.
    pub from: String,
    /// Name of the later one.
    pub to: String,
    /// What changed, a sentence each. Never empty.
    pub says: Vec<String>,
}
