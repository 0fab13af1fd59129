//! Layers that hold through hits which they do not strike.

use super::rhythm::{offset, shared};
use crate::parts::PartRole;
use crate::parts::cost::Arrangement;
use crate::surround;
use crate::thresholds::arrangement as l;

/// The stretches of cells over which a part holds a note that began before a main hit: from that
/// hit to the part's next onset. In order of time.
fn stretches(arrangement: &Arrangement, part: usize) -> Vec<(usize, usize)> {
    let cell_ms = arrangement.cell_ms();
    let (onsets, length) = (arrangement.onsets(part), arrangement.power(part).len());
    let offset = offset(arrangement.hits(), onsets, cell_ms);
    let reach = l::OWN_MS / cell_ms;
    let mut held = Vec::new();
    let mut open = None;
    let mut next = 0;
    for hit in arrangement.main_hits() {
        // Onsets up to this hit, those that strike with it included, end what was held.
        while next < onsets.len() && onsets[next] - offset <= hit + reach {
            if let Some(from) = open.take() {
                held.push((from, (onsets[next] as usize).clamp(from, length)));
            }
            next += 1;
        }
        let struck = next > 0 && (onsets[next - 1] - offset - hit).abs() <= reach;
        if !struck && open.is_none() {
            open = Some((hit as usize).min(length));
        }
    }
    if let Some(from) = open {
        let end = onsets.get(next).map_or(length, |&at| at as usize);
        held.push((from, end.clamp(from, length)));
    }
    held
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
            holds += u32::from(stretches.iter().any(|&(from, to)| from <= at && at < to));
        }
    }
    (sounds > 0).then(|| f64::from(holds) / f64::from(sounds))
}

fn loudest(power: &[f32]) -> f64 {
    power.iter().fold(0.0f32, |most, &power| most.max(power)).into()
}

/// Stops what each layer beyond the [`l::HELD_LAYERS`] strongest holds, in `changes`: each part's
/// power without its own rhythm.
pub(super) fn stop_excess(arrangement: &Arrangement, changes: &mut [(usize, Vec<f32>)]) {
    let held: Vec<Vec<(usize, usize)>> =
        changes.iter().map(|(part, _)| stretches(arrangement, *part)).collect();
    let energy = |number: usize| -> f64 {
        let power = &changes[number].1;
        held[number].iter().flat_map(|&(from, to)| &power[from..to]).map(|&p| f64::from(p)).sum()
    };
    // Doubled guitars are one layer.
    let mut layers: Vec<(Vec<usize>, f64)> = Vec::new();
    for number in 0..changes.len() {
        let part = changes[number].0;
        if arrangement.role(part) == PartRole::Bass {
            continue;
        }
        let double = layers.iter().position(|(layer, _)| {
            layer.iter().any(|&other| are_doubled(arrangement, changes[other].0, part))
        });
        match double {
            Some(layer) => {
                layers[layer].0.push(number);
                layers[layer].1 += energy(number);
            }
            None => layers.push((vec![number], energy(number))),
        }
    }
    layers.sort_by(|a, b| b.1.total_cmp(&a.1));
    let excess: Vec<usize> =
        layers.iter().skip(l::HELD_LAYERS).flat_map(|(layer, _)| layer).copied().collect();
    for number in excess {
        for &(from, to) in &held[number] {
            changes[number].1[from..to].fill(0.0);
        }
    }
}

fn are_doubled(arrangement: &Arrangement, a: usize, b: usize) -> bool {
    let guitar = |part| arrangement.role(part) == PartRole::Guitars;
    let (first, second) = (arrangement.onsets(a), arrangement.onsets(b));
    guitar(a)
        && guitar(b)
        && second.len().min(first.len()) >= l::LEAST_ONSETS
        && shared(first, second, arrangement.cell_ms()).ratio >= l::DOUBLED_SHARE
}
