//! A clean session, one cause or two added, and what that does to the hit contrast of the audio.

use super::{clutter, tracks};
use crate::corpus::measure::{measure, measure_beside};
use crate::corpus::mix::Library;
use crate::corpus::process::{equal, limit};
use crate::corpus::tone::Tone;
use crate::corpus::truth::{k_weighted, true_peak};
use crate::corpus::{CorpusError, Stereo};
use crate::session::{Plan, Rendered, render};
use brunt_engine::parts::Session;
use brunt_engine::{ConfigError, LeakKind, PartLeak, Thresholds};

/// One cause that costs punch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// A limiter driven hard, on the mix.
    Ceiling,
    /// Bass and guitars stray.
    Timing,
    /// Two layers that hold through everything.
    Clutter,
    /// Far more gain on the guitars, at the same loudness.
    Drive,
    /// Lows and highs lifted, so that the mids are weak.
    Mids,
}

impl Cause {
    /// All causes.
    pub const ALL: [Self; 5] =
        [Self::Ceiling, Self::Timing, Self::Clutter, Self::Drive, Self::Mids];
}

/// A session with causes in it.
#[derive(Clone, Debug)]
pub struct Degraded {
    /// Its stems.
    pub session: Rendered,
    /// Its mix, behind the limiter where there is one.
    pub mix: Stereo,
    /// What was done to each stem to bring the mix to the published curve.
    tone: [Tone; 2],
}

/// Drive into the limiter, dB: the mix's true peak over its ceiling.
const LIMITER_DB: f64 = 9.0;
/// Spread of loose players, ms.
const LOOSE_MS: f64 = 22.0;
/// Gain of guitars with too much of it, dB.
const TOO_MUCH_DB: f64 = 34.0;
/// Gain of both shelves of the scooped mix, dB.
const SCOOP_DB: f64 = 9.0;

/// A session of its own, drawn by its seed, with the causes; the same seed without causes is the
/// clean one.
///
/// # Errors
/// [`CorpusError`] when a package is missing.
pub fn session(
    seed: u64,
    causes: &[Cause],
    library: &mut Library,
) -> Result<Degraded, CorpusError> {
    toned(seed, causes, None, library)
}

/// The session without its causes under the equalizer of the one with them. Taking a cause out brings
/// back what lies between the two, and nothing that the equalizer did.
///
/// # Errors
/// [`CorpusError`] when a package is missing.
pub fn without_causes(
    seed: u64,
    degraded: &Degraded,
    library: &mut Library,
) -> Result<Degraded, CorpusError> {
    toned(seed, &[], Some(degraded.tone), library)
}

fn toned(
    seed: u64,
    causes: &[Cause],
    tone: Option<[Tone; 2]>,
    library: &mut Library,
) -> Result<Degraded, CorpusError> {
    let clean = clutter::clean(seed);
    let plan = planned(&clean, seed, causes);
    let mut session = render(&plan, 48_000, library)?;
    // Brought to the published curve whatever is added, as a mix engineer would, so that a cause
    // comes alone. Twice, since one pass takes 70 % of the distance.
    let tone = tone.unwrap_or_else(|| {
        let mix = session.mix();
        let first = Tone::of(&mix);
        [first, Tone::of(&first.apply(&mix))]
    });
    for stem in &mut session.stems {
        stem.audio = tone[1].apply(&tone[0].apply(&stem.audio));
        if causes.contains(&Cause::Mids) {
            let low = equal::low_shelf(&stem.audio, 150.0, SCOOP_DB);
            stem.audio = equal::high_shelf(&low, 5_000.0, SCOOP_DB);
        }
    }
    let mut mix = session.mix();
    if causes.contains(&Cause::Ceiling) {
        let ceiling = true_peak(&mix, 0, mix.len()) * crate::corpus::audio::db(-LIMITER_DB);
        mix = limit::FAST.run(&mix, ceiling);
    }
    Ok(Degraded { session, mix, tone })
}

fn planned(clean: &Plan, seed: u64, causes: &[Cause]) -> Plan {
    let mut plan = clean.clone();
    for layer in &mut plan.layers {
        let strays = layer.name != "drums" && causes.contains(&Cause::Timing);
        if strays {
            layer.feel.spread_ms = LOOSE_MS;
        }
        if causes.contains(&Cause::Drive) && layer.amp_db.is_some() {
            layer.amp_db = Some(TOO_MUCH_DB);
        }
    }
    if causes.contains(&Cause::Clutter) {
        plan.layers.extend(clutter::held_for(seed));
    }
    plan
}

/// Hit contrast of a mix at given times, dB, by the design's definition, computed from the audio
/// on its own: K-weighted power; loudest 10 ms of the first 30 ms over the mean of the 400 ms
/// before and of 80 to 250 ms after, without the 50 ms from 2 ms ahead of other strokes and
/// nothing behind the next one. `strokes` are all strokes of the drums, s; the result has one
/// value a stroke.
#[must_use]
pub fn contrast_db(mix: &Stereo, strokes: &[f64]) -> Vec<f64> {
    let weighted = k_weighted(mix);
    let step = mix.rate as usize / 1000;
    let power: Vec<f64> = (0..mix.len() / step)
        .map(|ms| {
            let range = ms * step..(ms + 1) * step;
            let sum = |channel: &[f32]| -> f64 {
                channel[range.clone()].iter().map(|x| f64::from(*x).powi(2)).sum()
            };
            (sum(&weighted.left) + sum(&weighted.right)) / step as f64
        })
        .collect();
    let at = |ms: i64| usize::try_from(ms).ok().and_then(|ms| power.get(ms).copied());
    let cells: Vec<i64> = strokes.iter().map(|s| (s * 1e3) as i64).collect();
    cells
        .iter()
        .enumerate()
        .map(|(n, &hit)| {
            let window =
                |from: i64| (from..from + 10).map(|ms| at(ms).unwrap_or(0.0)).sum::<f64>() / 10.0;
            let level = (hit..=hit + 20).map(window).fold(0.0, f64::max);
            let free = |ms: i64| {
                cells.iter().enumerate().all(|(other, &stroke)| {
                    let covered = ms + 2 >= stroke && ms < stroke + 50;
                    let ended = other == n + 1 && ms > hit && ms + 2 > stroke;
                    other == n || !(covered || ended)
                })
            };
            let around: Vec<i64> = (hit - 400..hit - 2).chain(hit + 80..hit + 250).collect();
            let mean = |ms: &[i64]| {
                let known: Vec<f64> = ms.iter().filter_map(|&ms| at(ms)).collect();
                known.iter().sum::<f64>() / known.len().max(1) as f64
            };
            let between: Vec<i64> = around.iter().copied().filter(|&ms| free(ms)).collect();
            let bed = if between.len() >= 40 { mean(&between) } else { mean(&around) };
            10.0 * (level / bed.max(level * 1e-4)).log10()
        })
        .collect()
}

/// Kicks and snares of a session, numbers into [`strokes`].
#[must_use]
pub fn backbone(session: &Rendered) -> Vec<usize> {
    use crate::corpus::drums::Drum::{Kick, Snare};
    let drums = session.stem("drums");
    let main = |at: f64| {
        drums
            .notes
            .iter()
            .any(|note| matches!(note.drum, Some(Kick | Snare)) && (note.time_s - at).abs() < 0.025)
    };
    strokes(session).iter().enumerate().filter(|(_, at)| main(**at)).map(|(n, _)| n).collect()
}

/// All strokes of the drums, s, those within 25 ms as one.
#[must_use]
pub fn strokes(session: &Rendered) -> Vec<f64> {
    session.stem("drums").times_s(0.025)
}

/// Mean change of hit contrast at kicks and snares from `clean` to `other`, dB; positive where
/// `other` has less. The strokes are the same, since each layer has a seed of its own.
#[must_use]
pub fn loss_db(clean: &Degraded, other: &Degraded) -> f64 {
    let strokes = strokes(&clean.session);
    let main = backbone(&clean.session);
    let (before, after) = (contrast_db(&clean.mix, &strokes), contrast_db(&other.mix, &strokes));
    main.iter().map(|&n| before[n] - after[n]).sum::<f64>() / main.len().max(1) as f64
}

/// The five leaks as the engine reads them, in the order of [`Cause::ALL`]: ceiling and mids from
/// the mix, the others from the stems. With a reference the mids are judged against its mix.
///
/// # Errors
/// [`ConfigError`] when the rate is out of the engine's range.
pub fn leaks(
    degraded: &Degraded,
    reference: Option<&Degraded>,
) -> Result<[PartLeak; 5], ConfigError> {
    let session = Session { tracks: tracks(&degraded.session)? };
    let parts = session.read(&Thresholds::default());
    let mix = match reference {
        Some(other) => {
            let thirds = measure(&other.mix)?.readings.balance.thirds_dbfs;
            measure_beside(&degraded.mix, thirds)?
        }
        None => measure(&degraded.mix)?,
    };
    let mix = mix.readings.leaks;
    Ok([
        mix.get(LeakKind::Ceiling),
        parts.timing.leak,
        parts.clutter.leak,
        parts.drive.leak,
        mix.get(LeakKind::Mids),
    ])
}

/// The number of the worst leak: by its state, then by its cost, as the verdict ranks them. By cost
/// alone the mids never are: they take next to nothing from hit contrast.
#[must_use]
pub fn dearest(leaks: &[PartLeak; 5]) -> usize {
    let db = |n: usize| leaks[n].cost.map_or(0.0, |cost| cost.db);
    let worse =
        |&a: &usize, &b: &usize| leaks[a].state.cmp(&leaks[b].state).then(db(a).total_cmp(&db(b)));
    (0..leaks.len()).max_by(worse).unwrap_or(0)
}
