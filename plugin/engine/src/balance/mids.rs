//! The mids leak.

use super::Curve;
use super::changes::{Change, HitTone};
use super::shape::{Gaps, Tone};
use crate::spectrum::THIRDS;
use crate::thresholds as t;
use crate::{BesideReference, Cost, Mids, Need, Shape, State, Thresholds};

impl Curve {
    /// The mids leak. Without a reference its state follows where the mids lie among finished records,
    /// with one how much weaker they are than its. Its cost is what the hits would gain at one
    /// loudness of the whole, were the mids as in the middle record, or as in the reference.
    pub(crate) fn mids(&self, heard: &Heard, limits: &Thresholds) -> Mids {
        if heard.programme_s < t::BALANCE_LEAST_S {
            let need = if heard.programme_s > 0.0 {
                Need::Programme {
                    have_s: heard.programme_s as f32,
                    want_s: t::BALANCE_LEAST_S as f32,
                }
            } else {
                Need::Signal
            };
            return Mids { need, ..Mids::default() };
        }
        let Some(tone) = heard.tone else {
            return Mids { need: Need::SampleRate, ..Mids::default() };
        };
        let among = tone.among_records();
        let reference = heard.reference.and_then(|thirds| self.tone(thirds));
        let (beside, state, shape);
        if let Some(other) = &reference {
            let than = tone.less(other);
            // Of the reference's gaps nothing is kept.
            let weakness_db = tone.weakness_db(0.0) - other.weakness_db(0.0);
            state = beside_state(weakness_db, &than, limits);
            shape = than.shape(state.loses(), than.scoop_db >= t::SCOOP_BESIDE_DB);
            beside = Some(BesideReference { weakness_db, deficit_db: than.deficit_db });
        } else {
            state = match among.percentile {
                percent if percent >= t::MIDS_LEAKING_PERCENT => State::Leaking,
                percent if percent >= t::MIDS_WATCH_PERCENT => State::Watch,
                _ => State::Clear,
            };
            shape = tone.shape(state.loses(), among.dipped);
            beside = None;
        }
        let mut mids = Mids {
            state,
            need: Need::Nothing,
            cost: None,
            mid_deficit_db: Some(tone.deficit_db),
            weakness_db: Some(tone.weakness_db(heard.over_time.gaps.db())),
            dip_db: Some(tone.dip_db),
            lift_db: Some(tone.lift_db),
            percentile: Some(among.percentile),
            carry_db: None,
            beside,
            shape: Some(shape),
        };
        if let Some((change, size_db)) = Change::of(&mids) {
            let gain = self.changes.gain(heard.thirds, &heard.over_time.hits, change, size_db);
            let (under, over) = t::MIDS_COST_RANGE_DB;
            mids.cost = gain.hits_db.map(|db| Cost {
                db,
                low_db: (db - under).max(0.0),
                high_db: db + over,
            });
            mids.carry_db = Some(gain.carry_db);
        }
        mids
    }
}

/// The state beside a reference, of which the mids are weaker by so much; `than`: the tone less the
/// reference's.
fn beside_state(weakness_db: f64, than: &Tone, limits: &Thresholds) -> State {
    // The limits of the cost can be set; those of the weakness go along.
    let usual = Thresholds::default();
    let watch_db = t::MIDS_BESIDE_DB / 2.0 * limits.watch_db / usual.watch_db;
    let leaking_db = t::MIDS_BESIDE_DB * limits.leaking_db / usual.leaking_db;
    let shape = than.shape(weakness_db >= watch_db, than.scoop_db >= t::SCOOP_BESIDE_DB);
    match shape {
        _ if weakness_db < watch_db => State::Clear,
        Shape::Scooped | Shape::BoostedExtremes if weakness_db >= leaking_db => State::Leaking,
        // Twice the limit is no matter of taste any more.
        _ if weakness_db >= 2.0 * leaking_db => State::Leaking,
        // One end alone stands out: a matter of taste before it is one of weak mids.
        _ => State::Watch,
    }
}

/// What the mids are judged by.
pub(crate) struct Heard<'a> {
    /// Tone of the mix.
    pub(crate) tone: Option<&'a Tone>,
    /// Powers of its third octaves.
    pub(crate) thirds: &'a [f64; THIRDS],
    /// How uneven its mids are, and the tone of its hits.
    pub(crate) over_time: &'a OverTime,
    /// Programme above the gate, s.
    pub(crate) programme_s: f64,
    /// Third octaves of a reference of which enough was heard, dBFS.
    pub(crate) reference: Option<&'a [Option<f64>; THIRDS]>,
}

/// What the third octaves do not tell of the tone.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct OverTime {
    /// How uneven the mids are.
    pub(crate) gaps: Gaps,
    /// Tone of the hits.
    pub(crate) hits: HitTone,
}
