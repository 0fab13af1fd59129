//! Layers that hold through hits which they do not strike.

use super::rhythm::nearest;
use crate::parts::PartRole;
use crate::parts::cost::Arrangement;
use crate::surround;
use crate::thresholds::arrangement as l;

/// Whether a part strikes at a main hit: it has an onset there, and its loudest 10 ms around the
/// hit stand [`l::STRIKE_DB`] over what it did ahead. Either alone is not enough: a layer that
/// beats or trembles rises now and then, and has onsets of its own making. A saturated guitar that is
/// struck again on a ringing chord hardly rises: of guitars and basses, for which onsets are found
/// best, [`l::STROKE_RISE_DB`] is enough.
fn strikes(arrangement: &Arrangement, part: usize, hit: f64) -> bool {
    let (power, cell_ms) = (arrangement.power(part), arrangement.cell_ms());
    let near = nearest(arrangement.onsets(part), hit).abs() * cell_ms;
    if near > l::OWN_MS {
        return false;
    }
    let hit = hit as usize;
    let cells = |ms: f64| (ms / cell_ms).round() as usize;
    let mean = |from: usize, to: usize| {
        let (from, to) = (from.min(power.len()), to.min(power.len()));
        let sum: f64 = power[from..to].iter().map(|&p| f64::from(p)).sum();
        sum / (to - from).max(1) as f64
    };
    let reach = cells(l::OWN_MS);
    let before = mean(hit.saturating_sub(2 * reach), hit.saturating_sub(reach));
    let after = (hit.saturating_sub(reach)..hit + reach)
        .step_by(2)
        .map(|from| mean(from, from + 10))
        .fold(0.0f64, f64::max);
    let rise_db = match arrangement.role(part) {
        PartRole::Guitars | PartRole::Bass => l::STROKE_RISE_DB,
        _ => l::STRIKE_DB,
    };
    after > before * 10f64.powf(rise_db / 10.0)
}

/// The stretches of cells over which a part holds what it struck through one main hit or more:
/// from its own strike to the next. In order of time.
fn stretches(arrangement: &Arrangement, part: usize) -> Vec<Stretch> {
    let power = arrangement.power(part);
    let reach = (l::OWN_MS / arrangement.cell_ms()).round() as usize;
    let mut held = Vec::new();
    let mut struck_at = 0;
    let mut open: Option<Stretch> = None;
    for hit in arrangement.main_hits() {
        let strikes = strikes(arrangement, part, hit);
        let hit = (hit as usize).min(power.len());
        // A part may strike a little early.
        let early = hit.saturating_sub(reach);
        if strikes {
            if let Some(stretch) = open.take() {
                held.push(Stretch { to: early.max(stretch.from), ..stretch });
            }
            struck_at = early;
        } else if open.is_none() {
            open = Some(Stretch { from: struck_at, through: hit, to: power.len() });
        }
    }
    held.extend(open);
    held
}

/// Cells `from..to` that a part holds, and the first main hit that it holds through.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    from: usize,
    through: usize,
    to: usize,
}

/// Share of the main hits at which the part sounds and that it holds through. `None` where it
/// sounds at none.
pub(super) fn share(arrangement: &Arrangement, part: usize) -> Option<f64> {
    let power = arrangement.power(part);
    let least = loudest(power) * 10f64.powf(-l::SOUNDS_DB / 10.0);
    let stretches = stretches(arrangement, part);
    let (mut sounds, mut holds) = (0u32, 0u32);
    for hit in arrangement.main_hits() {
        if surround::level(power, hit as u64).0 > least {
            sounds += 1;
            let at = hit as usize;
            holds += u32::from(stretches.iter().any(|held| held.through <= at && at < held.to));
        }
    }
    (sounds > 0).then(|| f64::from(holds) / f64::from(sounds))
}

fn loudest(power: &[f32]) -> f64 {
    power.iter().fold(0.0f32, |most, &power| most.max(power)).into()
}
