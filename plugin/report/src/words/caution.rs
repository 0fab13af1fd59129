//! Care for the ears. The README and the audition panel show these lines.

/// The lines of caution, in the order in which they are shown.
#[must_use]
pub const fn caution() -> [&'static str; 5] {
    [
        "Listen at moderate levels, and rest your ears.",
        "Wear hearing protection where it is loud.",
        "Follow the noise rules of the place where you work.",
        "Ask a licensed audiologist or a safety officer where it matters.",
        "Brunt measures signals, not sound pressure: no reading here says that a level is safe.",
    ]
}
