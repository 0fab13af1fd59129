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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::unusual;
    use crate::thresholds::records as r;

    const SECONDS: f64 = t::BALANCE_LEAST_S;

    fn curve() -> Curve {
        Curve::new(48_000.0, true)
    }

    /// A tone without a dip whose lifted lows and highs put it among records at `percent`.
    fn lifted(percent: f64) -> Tone {
        let middle = r::LIFT_DB.at(50.0);
        let lift_db = middle + r::MIDS.at(percent) * (r::LIFT_DB.at(95.0) - middle);
        // So far from any dip that the larger of both is not softened.
        let dip_db = -40.0;
        assert!(unusual([dip_db, lift_db], [&r::DIP_DB, &r::LIFT_DB])[0] < -10.0);
        Tone { dip_db, lift_db, ..Tone::default() }
    }

    fn judged(tone: Option<&Tone>, programme_s: f64) -> Mids {
        let over_time = OverTime::default();
        let thirds = &[1.0; THIRDS];
        let heard = Heard { tone, thirds, over_time: &over_time, programme_s, reference: None };
        curve().mids(&heard, &Thresholds::default())
    }

    #[test]
    fn what_is_missing_is_named() {
        let tone = lifted(50.0);
        for (tone, programme_s, need) in [
            (Some(&tone), 0.0, Need::Signal),
            (Some(&tone), 4.5, Need::Programme { have_s: 4.5, want_s: SECONDS as f32 }),
            (None, SECONDS, Need::SampleRate),
            (Some(&tone), SECONDS, Need::Nothing),
        ] {
            let mids = judged(tone, programme_s);
            assert_eq!(mids.need, need, "{programme_s} s");
            assert_eq!(mids.state == State::Unknown, need != Need::Nothing, "{programme_s} s");
        }
    }

    /// One record in seven is on watch or leaks, one in twenty leaks; just at a limit counts.
    #[test]
    fn without_a_reference_the_state_goes_by_records() {
        for (percent, state) in [
            (84.9, State::Clear),
            (85.1, State::Watch),
            (94.9, State::Watch),
            (95.1, State::Leaking),
        ] {
            let mids = judged(Some(&lifted(percent)), SECONDS);
            assert_eq!(mids.state, state, "{percent} %");
            assert!((mids.percentile.expect("known") - percent).abs() < 0.01, "{mids:?}");
            let weak = Shape::BoostedExtremes;
            assert_eq!(mids.shape, Some(if state.loses() { weak } else { Shape::Even }));
        }
    }

    /// By definition: the limit to leak beside a reference is 2.5 dB, to watch half of that; a tilt is a
    /// matter of taste up to twice the limit. The user's own limits go along.
    #[test]
    fn beside_a_reference_the_state_goes_by_how_much_weaker() {
        let (usual, tilted) = (Thresholds::default(), 2.0 * t::TILT_WEAK_DB);
        let state = |weakness_db, scoop_db, tilt_db, limits: &Thresholds| {
            beside_state(weakness_db, &Tone { scoop_db, tilt_db, ..Tone::default() }, limits)
        };
        for (weakness_db, scoop_db, tilt_db, want) in [
            (1.24, 3.0, 0.0, State::Clear),
            (1.25, 3.0, 0.0, State::Watch),
            (2.49, 3.0, 0.0, State::Watch),
            (2.5, 2.5, tilted, State::Leaking),
            (2.5, 2.4, 0.0, State::Leaking),
            (2.5, 2.4, tilted, State::Watch),
            (4.99, 0.0, -tilted, State::Watch),
            (5.0, 0.0, -tilted, State::Leaking),
        ] {
            let got = state(weakness_db, scoop_db, tilt_db, &usual);
            assert_eq!(got, want, "{weakness_db} dB, scoop {scoop_db}, tilt {tilt_db}");
        }
        let watch_later = Thresholds { watch_db: 1.5 * usual.watch_db, ..usual };
        let leak_later = Thresholds { leaking_db: 2.0 * usual.leaking_db, ..usual };
        assert_eq!(state(1.8, 3.0, 0.0, &watch_later), State::Clear);
        assert_eq!(state(1.9, 3.0, 0.0, &watch_later), State::Watch);
        assert_eq!(state(4.9, 3.0, 0.0, &leak_later), State::Watch);
        assert_eq!(state(5.0, 3.0, 0.0, &leak_later), State::Leaking);
    }

    /// A mix 6 dB under its reference from 400 Hz to 1.25 kHz, six third octaves of the ten of the mids, by the
    /// definitions in `docs/readings.md`; the reference has gaps, of which nothing is kept.
    #[test]
    fn a_dip_beside_a_reference_is_weighed_by_definition() {
        let curve = curve();
        let level = |index: usize, less: f64| {
            Some(curve.thirds_db[index] - if (12..18).contains(&index) { less } else { 0.0 })
        };
        let mix: [Option<f64>; THIRDS] = std::array::from_fn(|index| level(index, 6.0));
        let other: [Option<f64>; THIRDS] = std::array::from_fn(|index| level(index, 0.0));
        let powers: [f64; THIRDS] =
            std::array::from_fn(|index| 10f64.powf(mix[index].expect("a level") / 10.0));
        let tone = curve.tone(&mix).expect("a tone");
        let mut over_time = OverTime::default();
        for hop in 0..100 {
            over_time.gaps.hop(f64::from(hop % 2));
        }
        for _ in 0..20 {
            over_time.hits.hit(&[-30.0, -10.0, -30.0]);
        }
        let mut heard = Heard {
            tone: Some(&tone),
            thirds: &powers,
            over_time: &over_time,
            programme_s: SECONDS,
            reference: Some(&other),
        };
        let mids = curve.mids(&heard, &Thresholds::default());
        let weakness = -10.0 * (0.4 + 0.6 * 10f64.powf(-0.6)).log10() + 0.25 * (6.0 - 4.0);
        let deficit = 1.6 * 6.0 * 0.6;
        let beside = mids.beside.expect("a reference");
        assert!((beside.weakness_db - weakness).abs() < 0.01, "{beside:?} for {weakness}");
        assert!((beside.deficit_db - deficit).abs() < 0.01, "{beside:?} for {deficit}");
        assert_eq!((mids.state, mids.shape), (State::Leaking, Some(Shape::Scooped)));
        assert!((mids.mid_deficit_db.expect("known") - deficit).abs() < 0.01, "{mids:?}");
        // By itself gaps take from it: half of the time at nothing are 3 dB.
        let by_itself = weakness - 0.6 * 10.0 * 2f64.log10();
        assert!((mids.weakness_db.expect("known") - by_itself).abs() < 0.01, "{mids:?}");
        let cost = mids.cost.expect("hits");
        assert!((cost.high_db - cost.db - 0.9).abs() < 1e-9, "{cost:?}");
        assert!((cost.low_db - (cost.db - 0.9).max(0.0)).abs() < 1e-9, "{cost:?}");
        assert!(cost.db > 0.0 && mids.carry_db.is_some_and(|db| db > 0.5), "{mids:?}");
        // The same as the reference: nothing is weaker, and nothing is lost.
        heard.reference = Some(&mix);
        let same = curve.mids(&heard, &Thresholds::default());
        assert_eq!((same.state, same.cost.map(|cost| cost.db)), (State::Clear, Some(0.0)));
    }
}
