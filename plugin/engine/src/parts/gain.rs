//! What one hit gets back.

/// What one main hit gets back without a cause.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HitGain {
    /// Place of the hit, s, on the timeline of the tracks.
    pub time_s: f64,
    /// Hit contrast that comes back, dB; negative where the hit would lose.
    pub db: f64,
}

/// Pairs hits with what they get back.
pub(crate) fn gains(
    times_s: impl IntoIterator<Item = f64>,
    db: impl IntoIterator<Item = f64>,
) -> Vec<HitGain> {
    times_s.into_iter().zip(db).map(|(time_s, db)| HitGain { time_s, db }).collect()
}
