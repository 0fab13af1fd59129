//! Main and side-chain beside each other: plain data.

mod before;
mod ceiling;
mod drops;
mod gain;
mod side;
mod watch;

pub(crate) use before::Comparison;
pub(crate) use ceiling::measured as measured_ceiling;

/// What the side-chain carries.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum SideRole {
    /// Nothing to compare with.
    #[default]
    Off,
    /// The mix ahead of the limiter.
    Before,
    /// A reference track.
    Reference,
    /// Another part of the mix.
    Partner,
}

/// Whether main and side-chain are one programme.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Relation {
    /// Too little programme on both sides to tell.
    #[default]
    Unknown,
    /// They are not, within 500 ms either way.
    None,
    /// They are, at the delay that is given.
    Found,
}

/// How main and side-chain lie to each other in time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Alignment {
    /// Whether they are one programme.
    pub relation: Relation,
    /// Main behind side-chain, frames; negative where the main comes first. Known where the
    /// relation is [`Relation::Found`].
    pub delay_frames: Option<f64>,
    /// The same, ms.
    pub delay_ms: Option<f64>,
    /// Whether one of them has the other sign.
    pub inverted: bool,
    /// Likeness, 0 to 1: the share of the programme that a constant filter and the delay explain.
    /// It is the smaller of two figures made from magnitude-squared coherence (Carter, Knapp &
    /// Nuttall 1973) of blocks brought to one level: its mean weighted by power, and its median
    /// over third octaves. `None` while nothing has been compared.
    pub likeness: Option<f64>,
}

/// What the comparison with the side-chain gives.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Compare {
    /// The role as set.
    pub role: SideRole,
    /// The role that the signals suggest: *before* where both are one programme, *reference* where
    /// they are not. `None` while that is open.
    pub suggested_role: Option<SideRole>,
    /// Relation and delay.
    pub alignment: Alignment,
    /// Programme that was compared, s: aligned where the role is *before*.
    pub passage_s: f64,
    /// Integrated loudness of the main less that of the side-chain over the same passage, LU.
    pub loudness_difference_lu: Option<f64>,
    /// Gain between them, dB, main over side-chain: for *before* the constant gain at moments
    /// without reduction (a limiter's make-up gain), else the loudness difference.
    pub gain_db: Option<f64>,
    /// Half of the 90 % range of that gain, dB.
    pub gain_range_db: Option<f64>,
    /// Whether there are moments without reduction. Where there are none the gain may be more, by up to
    /// some 2 dB, and the reductions with it. `None`
    /// while that is not known, and where more than a gain lies between.
    pub limiter_rests: Option<bool>,
    /// Whether the constant gain differs between low, mid and high band: an equaliser or the like
    /// lies between. `None` while it is not known. Reductions then come from the bands' levels.
    pub equalised: Option<bool>,
    /// Hits compared.
    pub hits: u64,
    /// Lost peak over those hits, dB at matched loudness, median.
    pub lost_db_median: Option<f64>,
    /// Gain reduction over those hits, dB, median.
    pub reduction_db_median: Option<f64>,
    /// The same, 90th percentile.
    pub reduction_db_p90: Option<f64>,
    /// The same, largest.
    pub reduction_db_max: Option<f64>,
    /// Hit contrast of the main less that of the side-chain, dB: median over the same hits for
    /// *before*, difference of the medians for *reference*.
    pub contrast_difference_db: Option<f64>,
    /// 90 % range of that difference, dB: low and high end. For *before* only.
    pub contrast_difference_range_db: Option<(f64, f64)>,
    /// Low, mid and high band of the main over that of the side-chain at matched loudness, dB.
    /// The high band is `None` where the sample rate has none.
    pub band_difference_db: Option<[Option<f64>; 3]>,
}
