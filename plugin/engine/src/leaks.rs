//! The five causes that cost punch: codes and numbers only. The sentences about them stand in
//! `brunt-report`.

/// The five leaks, in the order in which they are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LeakKind {
    /// A limiter or clipper flattens the hits.
    Ceiling,
    /// Parts that should hit together do not.
    Timing,
    /// Parts with other rhythms, or sustained layers, fill the space between hits.
    Clutter,
    /// Too much gain on distorted guitars.
    Drive,
    /// Weak mids: hits do not carry on small speakers.
    Mids,
}

impl LeakKind {
    /// All five, in the order in which they are shown.
    pub const ALL: [Self; 5] =
        [Self::Ceiling, Self::Timing, Self::Clutter, Self::Drive, Self::Mids];

    /// Whether the leak is named, ranked and judged by what the attacks lose that it acts on, dB, and
    /// not by what the mix's hits do. Of timing by whichever is more; of drive by the guitars' own
    /// where that is known.
    #[must_use]
    pub fn goes_by_attack(self, attack_db: Option<f64>, hits_db: Option<f64>) -> bool {
        match (self, attack_db, hits_db) {
            (_, None, _) => false,
            (Self::Timing, Some(attack), Some(hits)) => hits <= attack,
            _ => true,
        }
    }
}

/// What is known of a leak; what is worse comes later.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum State {
    /// Not enough evidence, or the input that the leak needs is not there.
    #[default]
    Unknown,
    /// The evidence says that this cause costs next to nothing.
    Clear,
    /// Worth an eye.
    Watch,
    /// Costs punch.
    Leaking,
}

impl State {
    /// Whether the cost is worth an eye, or more.
    #[must_use]
    pub const fn loses(self) -> bool {
        matches!(self, Self::Watch | Self::Leaking)
    }
}

/// Why a leak's state is [`State::Unknown`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(tag = "kind", rename_all = "snake_case")
)]
pub enum Need {
    /// Nothing is missing.
    #[default]
    Nothing,
    /// Programme above the -70 LUFS gate.
    Signal,
    /// More hits: so many were heard, so many are needed.
    Hits {
        /// Hits heard so far.
        have: u32,
        /// Hits needed.
        want: u32,
    },
    /// More programme above the gate: seconds heard, seconds needed.
    Programme {
        /// Seconds heard so far.
        have_s: f32,
        /// Seconds needed.
        want_s: f32,
    },
    /// Hits that tell more: much may be lost, and nothing as well.
    Evidence,
    /// Hits more like those that the estimate was fitted on.
    Alike,
    /// A sample rate that carries the high band.
    SampleRate,
    /// The parts of the mix: linked instances or stem files.
    Parts,
    /// A guitar part on its own.
    GuitarPart,
    /// The whole mix, where a part alone was heard.
    Mix,
    /// Strokes that two parts play together: so many were heard, so many are needed.
    Shared {
        /// Strokes that the two with most of them share.
        have: u32,
        /// Strokes needed.
        want: u32,
    },
    /// Guitar notes that last, neither muted nor short: so many were heard, so many are needed.
    Notes {
        /// Notes heard.
        have: u32,
        /// Notes needed.
        want: u32,
    },
}

/// A counterfactual cost, dB of hit contrast: what would come back if this cause alone went.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Cost {
    /// Best estimate, dB, not negative.
    pub db: f64,
    /// Lower end of the 90 % range, dB.
    pub low_db: f64,
    /// Upper end of the 90 % range, dB.
    pub high_db: f64,
}

/// What made the ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum CeilingKind {
    /// The hits keep their own heights.
    None,
    /// Peaks pinned without flat tops: a limiter with look-ahead, or one seen through a codec.
    Limiter,
    /// Runs of equal samples at the ceiling: a clipper.
    Clipper,
}

/// The ceiling leak.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Ceiling {
    /// State of the leak.
    pub state: State,
    /// What is missing while the state is unknown.
    pub need: Need,
    /// Cost, dB of hit contrast.
    pub cost: Option<Cost>,
    /// Implied gain reduction at hits, dB, median over hits.
    pub implied_reduction_db: Option<f64>,
    /// Its 90th percentile over hits, dB.
    pub implied_reduction_p90_db: Option<f64>,
    /// Its largest value over hits, dB.
    pub implied_reduction_max_db: Option<f64>,
    /// 90 % range of the implied reduction (median over hits), dB, low and high end.
    pub implied_reduction_range_db: Option<(f64, f64)>,
    /// Whether the range is one-sided: the hits show that at least its low end is gone, and not how
    /// much; its high end is then the deepest that the fit has seen.
    pub at_least: bool,
    /// How unlike these hits are to those that the estimate was fitted on: the distance of their
    /// evidence from the fit's, root mean square over the pieces of evidence, in units of the fit's
    /// own spread; 1 is as unlike as the fit's songs are among themselves. Not negative.
    pub unlike: Option<f64>,
    /// The level at which hit peaks are pinned, dBTP. `None` where none is.
    pub ceiling_dbtp: Option<f64>,
    /// Hits whose peak lies at the ceiling.
    pub hits_at_ceiling: Option<u64>,
    /// What made the ceiling.
    pub kind: Option<CeilingKind>,
    /// Whether reductions and cost were measured against the mix before the limiter; estimated
    /// from the mix alone otherwise.
    pub measured: bool,
}

/// The mids leak.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Mids {
    /// State of the leak.
    pub state: State,
    /// What is missing while the state is unknown.
    pub need: Need,
    /// Cost, dB: the K-weighted level that the mix's hits would gain at one loudness of the whole, as
    /// they gain or lose hit contrast, were the mids as in the middle one of the records or, with a
    /// reference, as there. `None` before the first hit.
    pub cost: Option<Cost>,
    /// Mid deficit, dB, as in [`Balance`](crate::Balance).
    pub mid_deficit_db: Option<f64>,
    /// How far 500 to 800 Hz lie under 200 to 315 Hz and 1.25 to 2 kHz against the published curve,
    /// dB: a dip. A tilt counts for nothing. Ours.
    pub dip_db: Option<f64>,
    /// How far 25 to 63 Hz lie over 100 to 630 Hz, and 8 to 16 kHz over 630 Hz to 5 kHz, against the
    /// published curve, dB, the mean of both: lifted lows and highs. A tilt counts for nothing. Ours.
    pub lift_db: Option<f64>,
    /// Share of finished records whose mids are less weak, by dip and lift
    /// ([`AmongRecords`](crate::records::AmongRecords)), 0 to 100 %. Without a reference the state
    /// follows it, from [`MIDS_WATCH_PERCENT`](crate::thresholds::MIDS_WATCH_PERCENT) on.
    pub percentile: Option<f64>,
    /// Level that the mix would gain from 200 Hz to 4 kHz at one loudness of the whole, dB, likewise:
    /// what small speakers reproduce of the lows and mids.
    pub carry_db: Option<f64>,
    /// How far the lows (25-160 Hz) and the highs (6.3-16 kHz) lie over the mids (200 Hz-1.6 kHz) in
    /// power against the published curve, dB, a dip added and gaps in the mids taken off. Ours.
    pub weakness_db: Option<f64>,
    /// The same beyond a reference track's. With one, the state follows this, from
    /// [`MIDS_BESIDE_DB`](crate::thresholds::MIDS_BESIDE_DB) on, and cost and shape are those of the
    /// difference. `None` without a reference.
    pub beside: Option<BesideReference>,
    /// Shape of the tone. `None` while the state is unknown.
    pub shape: Option<Shape>,
}

/// The mids of a mix less those of a reference track.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct BesideReference {
    /// How much further lows and highs stand over the mids than in the reference, dB; gaps are left out
    /// of both. Ours.
    pub weakness_db: f64,
    /// Mid deficit less the reference's, dB.
    pub deficit_db: f64,
}

/// Shape of a mix's tone against the published long-term curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Shape {
    /// None of the others.
    Even,
    /// A wide dip between 400 Hz and 1.5 kHz.
    Scooped,
    /// Lows near 60 Hz and highs near 12 kHz raised together.
    BoostedExtremes,
    /// The whole spectrum falls towards the highs.
    Dark,
    /// The whole spectrum rises towards the highs.
    Bright,
}

impl Shape {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Even, Self::Scooped, Self::BoostedExtremes, Self::Dark, Self::Bright];
}

/// A leak that the mix alone cannot show.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct PartLeak {
    /// State of the leak.
    pub state: State,
    /// What is missing while the state is unknown.
    pub need: Need,
    /// Cost, dB of hit contrast: what the mix's hits lose.
    pub cost: Option<Cost>,
    /// What the attacks that the leak acts on lose, dB, where these are not the mix's hits: the
    /// attacks that parts share (timing), the guitars' own strokes (drive). `None` where they are, or
    /// where it is not known.
    pub attack: Option<Cost>,
    /// Attack that the guitars have lost in all, dB, what a distorted sound takes included; see
    /// [`Saturation::attack_lost`](crate::parts::drive::Saturation::attack_lost). Of drive alone.
    pub attack_lost: Option<Cost>,
    /// Whether the costs were measured again on audio with the cause taken out; else they are
    /// estimated from the parts' powers.
    pub measured: bool,
}

/// All five leaks.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Leaks {
    /// A limiter or clipper flattens the hits.
    pub ceiling: Ceiling,
    /// Parts that should hit together do not.
    pub timing: PartLeak,
    /// Other rhythms and sustained layers fill the space between hits.
    pub clutter: PartLeak,
    /// Too much gain on distorted guitars.
    pub drive: PartLeak,
    /// Weak mids.
    pub mids: Mids,
}

impl Leaks {
    /// State, need and cost of one leak.
    #[must_use]
    pub fn get(&self, kind: LeakKind) -> PartLeak {
        match kind {
            LeakKind::Ceiling => PartLeak {
                state: self.ceiling.state,
                need: self.ceiling.need,
                cost: self.ceiling.cost,
                measured: self.ceiling.measured,
                ..PartLeak::default()
            },
            LeakKind::Timing => self.timing,
            LeakKind::Clutter => self.clutter,
            LeakKind::Drive => self.drive,
            LeakKind::Mids => PartLeak {
                state: self.mids.state,
                need: self.mids.need,
                cost: self.mids.cost,
                ..PartLeak::default()
            },
        }
    }

    /// The cost that a leak is named, ranked and judged by; see [`LeakKind::goes_by_attack`].
    #[must_use]
    pub fn headline(&self, kind: LeakKind) -> Option<Cost> {
        let PartLeak { attack, cost, .. } = self.get(kind);
        let db = |cost: Option<Cost>| cost.map(|cost| cost.db);
        if kind.goes_by_attack(db(attack), db(cost)) { attack } else { cost }
    }

    /// Cost of each leak, dB, in the order of [`LeakKind::ALL`].
    #[must_use]
    pub fn costs_db(&self) -> [Option<f64>; 5] {
        LeakKind::ALL.map(|kind| self.get(kind).cost.map(|cost| cost.db))
    }
}
