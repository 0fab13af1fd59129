//! The leaks in the JSON: state, cost, what the evidence says and what to do.

use brunt_engine::{Ceiling, CeilingKind, LeakKind, Leaks, Mids, Need, PartLeak, Shape, State};
use serde::{Deserialize, Serialize};

use super::codes;
use crate::words;

/// What every leak has.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LeakReport {
    /// `unknown`, `clear`, `watch` or `leaking`.
    #[serde(with = "codes::state")]
    pub state: State,
    /// Cost, dB of hit contrast.
    pub cost_db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    pub cost_low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    pub cost_high_db: Option<f64>,
    /// The evidence in one line.
    pub says: String,
    /// What to try first, in one line.
    #[serde(rename = "do")]
    pub advice: String,
    /// What is missing while the state is unknown.
    #[serde(default)]
    pub need: Option<Need>,
    /// Whether the costs were measured again on audio with the cause taken out; else they are
    /// estimated. Null of the ceiling, which has its own, and while no cost is known.
    #[serde(default, rename = "measured", skip_serializing_if = "Option::is_none")]
    pub remeasured: Option<bool>,
}

/// A leak that acts on other attacks than the mix's hits alone.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TimingLeakReport {
    /// What every leak has.
    #[serde(flatten)]
    pub leak: LeakReport,
    /// What the attacks lose that parts share, dB of level: what the leak is named and ranked by.
    #[serde(default)]
    pub shared_attack_cost_db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    #[serde(default)]
    pub shared_attack_cost_low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    #[serde(default)]
    pub shared_attack_cost_high_db: Option<f64>,
    /// What the mix's hits lose, dB of hit contrast: the same as `cost_db`.
    #[serde(default)]
    pub hits_cost_db: Option<f64>,
}

/// Whatever is asked of every leak can be asked of this one.
impl std::ops::Deref for TimingLeakReport {
    type Target = LeakReport;

    fn deref(&self) -> &LeakReport {
        &self.leak
    }
}

impl LeakReport {
    fn of(leaks: &Leaks, kind: LeakKind) -> Self {
        let PartLeak {
            state,
            need,
            cost,
            // Timing and drive have these besides.
            attack: _,
            attack_lost: _,
            measured,
        } = leaks.get(kind);
        Self {
            state,
            cost_db: cost.map(|c| c.db),
            cost_low_db: cost.map(|c| c.low_db),
            cost_high_db: cost.map(|c| c.high_db),
            says: words::says(leaks, kind),
            advice: words::advice(leaks, kind),
            need: (need != Need::Nothing).then_some(need),
            remeasured: match kind {
                LeakKind::Ceiling => None,
                _ => cost.map(|_| measured),
            },
        }
    }
}

/// The ceiling leak, as in [`Ceiling`](brunt_engine::Ceiling).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CeilingReport {
    /// What every leak has.
    #[serde(flatten)]
    pub leak: LeakReport,
    /// Implied gain reduction at hits, dB, median over hits.
    pub implied_reduction_db: Option<f64>,
    /// Its 90th percentile, dB.
    pub implied_reduction_p90_db: Option<f64>,
    /// Its largest value, dB.
    pub implied_reduction_max_db: Option<f64>,
    /// Lower end of the 90 % range of the median, dB.
    #[serde(default)]
    pub implied_reduction_low_db: Option<f64>,
    /// Upper end of the 90 % range of the median, dB.
    #[serde(default)]
    pub implied_reduction_high_db: Option<f64>,
    /// Whether the range is one-sided: at least its lower end, and how much more is not known.
    #[serde(default)]
    pub at_least: bool,
    /// How unlike these hits are to those that the estimate was fitted on, in units of the fit's own
    /// spread (1: as unlike as the fit's songs among themselves).
    #[serde(default)]
    pub unlike: Option<f64>,
    /// The level at which hit peaks are pinned, dBTP.
    pub ceiling_dbtp: Option<f64>,
    /// Hits whose peak lies at the ceiling.
    pub hits_at_ceiling: Option<u64>,
    /// `none`, `limiter` or `clipper`.
    #[serde(default, with = "codes::kind")]
    pub kind: Option<CeilingKind>,
    /// Whether these numbers were measured against the mix before the limiter.
    #[serde(default)]
    pub measured: bool,
}

/// The mids leak, as in [`Mids`](brunt_engine::Mids).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MidsReport {
    /// What every leak has.
    #[serde(flatten)]
    pub leak: LeakReport,
    /// Mid deficit, dB.
    pub mid_deficit_db: Option<f64>,
    /// Share of finished records whose mids are less weak, %: what the state follows without a
    /// reference.
    #[serde(default)]
    pub percentile: Option<f64>,
    /// Depth of a dip in the mids, dB, one of the two numbers that the percentile is taken from.
    #[serde(default)]
    pub dip_db: Option<f64>,
    /// How far lows and highs are lifted over the mids, dB: the other.
    #[serde(default)]
    pub lift_db: Option<f64>,
    /// Level that the mix would gain from 200 Hz to 4 kHz at one loudness of the whole, dB.
    #[serde(default)]
    pub carry_db: Option<f64>,
    /// How far lows and highs are above the mids, dB.
    #[serde(default)]
    pub weakness_db: Option<f64>,
    /// The same beyond the reference's, dB: what the state follows with one.
    #[serde(default)]
    pub weakness_over_reference_db: Option<f64>,
    /// Mid deficit less the reference's, dB.
    #[serde(default)]
    pub deficit_over_reference_db: Option<f64>,
    /// `none`, `scooped`, `boosted lows and highs`, `dark` or `bright`.
    #[serde(default, with = "codes::shape")]
    pub shape: Option<Shape>,
}

/// The drive leak, as in [`Drive`](brunt_engine::parts::drive::Drive).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DriveReport {
    /// What every leak has. The state goes by the guitars' own attack.
    #[serde(flatten)]
    pub leak: LeakReport,
    /// Attack that the guitars themselves have lost, dB, of a note that would stand 5 dB over its
    /// sustain without any gain.
    #[serde(default)]
    pub attack_lost_db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    #[serde(default)]
    pub attack_lost_low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    #[serde(default)]
    pub attack_lost_high_db: Option<f64>,
    /// What less gain would bring back of it, dB: what the leak is named, ranked and judged by. A
    /// distorted sound takes the rest.
    #[serde(default)]
    pub attack_cost_db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    #[serde(default)]
    pub attack_cost_low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    #[serde(default)]
    pub attack_cost_high_db: Option<f64>,
    /// What the mix's hits lose by the guitars' gain, dB of hit contrast: the same as `cost_db`.
    #[serde(default)]
    pub hits_cost_db: Option<f64>,
}

impl DriveReport {
    fn of(leaks: &Leaks) -> Self {
        // State, need and whether it was measured are in `leak`.
        let PartLeak { state: _, need: _, measured: _, cost, attack, attack_lost } = leaks.drive;
        Self {
            leak: LeakReport::of(leaks, LeakKind::Drive),
            attack_lost_db: attack_lost.map(|lost| lost.db),
            attack_lost_low_db: attack_lost.map(|lost| lost.low_db),
            attack_lost_high_db: attack_lost.map(|lost| lost.high_db),
            attack_cost_db: attack.map(|back| back.db),
            attack_cost_low_db: attack.map(|back| back.low_db),
            attack_cost_high_db: attack.map(|back| back.high_db),
            hits_cost_db: cost.map(|cost| cost.db),
        }
    }
}

impl TimingLeakReport {
    fn of(leaks: &Leaks) -> Self {
        // As of drive, which alone knows what a distorted sound takes.
        let PartLeak { state: _, need: _, measured: _, cost, attack, attack_lost: _ } =
            leaks.timing;
        Self {
            leak: LeakReport::of(leaks, LeakKind::Timing),
            shared_attack_cost_db: attack.map(|cost| cost.db),
            shared_attack_cost_low_db: attack.map(|cost| cost.low_db),
            shared_attack_cost_high_db: attack.map(|cost| cost.high_db),
            hits_cost_db: cost.map(|cost| cost.db),
        }
    }
}

/// The five leaks.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LeaksReport {
    /// A limiter or clipper flattens the hits.
    pub ceiling: CeilingReport,
    /// Parts that should hit together do not.
    pub timing: TimingLeakReport,
    /// Other rhythms and sustained layers fill the space between hits.
    pub clutter: LeakReport,
    /// Too much gain on distorted guitars.
    pub drive: DriveReport,
    /// Weak mids.
    pub mids: MidsReport,
}

impl LeaksReport {
    /// What every leak has, for one of them.
    #[must_use]
    pub fn get(&self, kind: LeakKind) -> &LeakReport {
        match kind {
            LeakKind::Ceiling => &self.ceiling.leak,
            LeakKind::Timing => &self.timing.leak,
            LeakKind::Clutter => &self.clutter,
            LeakKind::Drive => &self.drive.leak,
            LeakKind::Mids => &self.mids.leak,
        }
    }

    /// What small speakers lose, dB, where a leak is shown with that: see
    /// [`small_speakers_db`](words::small_speakers_db).
    #[must_use]
    pub fn small_speakers_db(&self, kind: LeakKind) -> Option<f64> {
        let mids = (kind == LeakKind::Mids).then_some(&self.mids)?;
        words::small_speakers_db(mids.leak.state, mids.carry_db, mids.leak.cost_db)
    }

    /// The cost that comes first where a leak is shown, dB: what small speakers lose, where it is shown with
    /// that, or [`Self::headline`].
    #[must_use]
    pub fn shown_db(&self, kind: LeakKind) -> Option<f64> {
        self.small_speakers_db(kind).or_else(|| self.headline(kind).db)
    }

    /// The cost that a leak is shown with, named, ranked and judged by, as in
    /// [`Leaks::headline`].
    #[must_use]
    pub fn headline(&self, kind: LeakKind) -> Headline {
        let (timing, drive, leak) = (&self.timing, &self.drive, self.get(kind));
        let hits = Headline {
            db: leak.cost_db,
            low_db: leak.cost_low_db,
            high_db: leak.cost_high_db,
            fields: ["cost_db", "cost_low_db", "cost_high_db"],
        };
        let attack = match kind {
            LeakKind::Timing => Headline {
                db: timing.shared_attack_cost_db,
                low_db: timing.shared_attack_cost_low_db,
                high_db: timing.shared_attack_cost_high_db,
                fields: [
                    "shared_attack_cost_db",
                    "shared_attack_cost_low_db",
                    "shared_attack_cost_high_db",
                ],
            },
            LeakKind::Drive => Headline {
                db: drive.attack_cost_db,
                low_db: drive.attack_cost_low_db,
                high_db: drive.attack_cost_high_db,
                fields: ["attack_cost_db", "attack_cost_low_db", "attack_cost_high_db"],
            },
            LeakKind::Ceiling | LeakKind::Clutter | LeakKind::Mids => return hits,
        };
        if kind.goes_by_attack(attack.db, hits.db) { attack } else { hits }
    }
}

/// A cost that is shown, with its 90 % range, and where it is in the JSON of its leak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Headline {
    /// The cost, dB.
    pub db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    pub low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    pub high_db: Option<f64>,
    /// The names of the three.
    pub fields: [&'static str; 3],
}

impl From<&Leaks> for LeaksReport {
    /// Taken apart field by field: what is new in the engine does not compile until it is carried here.
    fn from(leaks: &Leaks) -> Self {
        let leak = |kind| LeakReport::of(leaks, kind);
        let Leaks { ceiling, timing: _, clutter: _, drive: _, mids } = *leaks;
        Self {
            ceiling: ceiling_report(leak(LeakKind::Ceiling), ceiling),
            timing: TimingLeakReport::of(leaks),
            clutter: leak(LeakKind::Clutter),
            drive: DriveReport::of(leaks),
            mids: mids_report(leak(LeakKind::Mids), mids),
        }
    }
}

fn ceiling_report(leak: LeakReport, ceiling: Ceiling) -> CeilingReport {
    let Ceiling {
        // These three are in `leak`.
        state: _,
        need: _,
        cost: _,
        implied_reduction_db,
        implied_reduction_p90_db,
        implied_reduction_max_db,
        implied_reduction_range_db: range,
        at_least,
        unlike,
        ceiling_dbtp,
        hits_at_ceiling,
        kind,
        measured,
    } = ceiling;
    CeilingReport {
        leak,
        implied_reduction_db,
        implied_reduction_p90_db,
        implied_reduction_max_db,
        implied_reduction_low_db: range.map(|(low, _)| low),
        implied_reduction_high_db: range.map(|(_, high)| high),
        at_least,
        unlike,
        ceiling_dbtp,
        hits_at_ceiling,
        kind,
        measured,
    }
}

fn mids_report(leak: LeakReport, mids: Mids) -> MidsReport {
    // The first three are in `leak`.
    let Mids {
        state: _,
        need: _,
        cost: _,
        mid_deficit_db,
        dip_db,
        lift_db,
        percentile,
        carry_db,
        weakness_db,
        beside,
        shape,
    } = mids;
    MidsReport {
        leak,
        mid_deficit_db,
        percentile,
        dip_db,
        lift_db,
        carry_db,
        weakness_db,
        weakness_over_reference_db: beside.map(|beside| beside.weakness_db),
        deficit_over_reference_db: beside.map(|beside| beside.deficit_db),
        shape,
    }
}
