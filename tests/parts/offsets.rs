//! Constant offset and spread of parts against the drums.

use crate::rig::{kind, measure_all};
use brunt_engine::parts::PartRole;
use brunt_lab::session::{Feel, Plan, testing};

/// Constant offsets, ms, and spreads, ms, that the layers take in turn.
const OFFSETS_MS: [f64; 5] = [0.0, 12.0, -8.0, 30.0, -20.0];
const SPREADS_MS: [f64; 4] = [0.0, 5.0, 10.0, 20.0];

/// One reading against its truth.
struct Row {
    label: String,
    distorted: bool,
    offset_error: f64,
    spread_error: f64,
    spread: f64,
}

/// All rows, and the parts of which nothing was read.
fn rows() -> (Vec<Row>, Vec<String>) {
    let mut silent = Vec::new();
    let mut plans = Vec::new();
    for turn in 0..4 {
        for (number, plan) in testing::all().into_iter().enumerate() {
            plans.push(strayed(plan, turn, number));
        }
    }
    let mut rows = Vec::new();
    for measured in measure_all(plans) {
        let reading = measured.read();
        for (index, layer) in measured.plan.layers.iter().enumerate() {
            if !matches!(layer.role, PartRole::Bass | PartRole::Guitars) {
                continue;
            }
            let late: Vec<f64> = measured
                .rendered
                .deviations_ms(layer.name, "drums")
                .into_iter()
                .map(|(_, late)| late)
                .collect();
            let label = format!("{} {}", measured.plan.name, layer.name);
            let read = reading.timing.parts[index].as_ref();
            let Some(read) = read else {
                // Unknown is a fair answer, and no reading: it counts among those that are off.
                println!("{label:<28} nothing read");
                silent.push(label);
                continue;
            };
            let (offset, spread) = (median(&late), deviation(&late));
            println!(
                "{label:<28} offset {offset:6.1} read {:6.1}   spread {spread:5.1} read {:5.1}   \
                 {} of {} events",
                read.offset_ms,
                read.spread_ms,
                read.shared,
                late.len()
            );
            rows.push(Row {
                label,
                distorted: kind(layer) == "distorted",
                offset_error: read.offset_ms - offset,
                spread_error: read.spread_ms - spread,
                spread,
            });
        }
    }
    (rows, silent)
}

fn strayed(mut plan: Plan, turn: usize, number: usize) -> Plan {
    for (index, layer) in plan.layers.iter_mut().enumerate() {
        if layer.role != PartRole::Drums {
            let offset = OFFSETS_MS[(index + turn + number) % OFFSETS_MS.len()];
            layer.feel = Feel::of(offset, SPREADS_MS[(index + 3 * turn) % SPREADS_MS.len()]);
        }
    }
    plan.seed += 100 * turn as u64;
    plan
}

/// Offset, where the spread is 5 ms or less: bars 1 ms in the median (distorted guitars 2 ms) and
/// 3 ms at worst; reached 0.5 (0.2) and 1.6 ms. Spread: bar 1.5 ms or 15 %; reached by 77 of 80 parts,
/// the others having none and reading 1.7 to 2.3 ms: two fonts whose samples start at different places,
/// and a chug that is touched ahead.
#[test]
fn offset_and_spread_are_read_apart() {
    let (rows, silent) = rows();
    let steady: Vec<&Row> = rows.iter().filter(|row| row.spread < 7.0).collect();
    for distorted in [false, true] {
        let errors: Vec<f64> = steady
            .iter()
            .filter(|row| row.distorted == distorted)
            .map(|row| row.offset_error.abs())
            .collect();
        let worst = errors.iter().copied().fold(0.0, f64::max);
        let middle = median(&errors);
        println!("distorted {distorted}: offset error median {middle:.2}, worst {worst:.2} ms");
        let most = if distorted { 2.0 } else { 1.0 };
        assert!(middle <= most, "median offset error {middle:.2} ms, expected {most} ms");
        assert!(worst <= 3.0, "worst offset error {worst:.2} ms, expected 3 ms");
    }
    let bad: Vec<&Row> =
        rows.iter().filter(|r| r.spread_error.abs() > (0.15 * r.spread).max(1.5)).collect();
    let errors: Vec<f64> = rows.iter().map(|row| row.spread_error.abs()).collect();
    println!("spread error median {:.2} ms, {} of {} over", median(&errors), bad.len(), rows.len());
    for row in &bad {
        println!("  {}: spread {:.1}, error {:+.1} ms", row.label, row.spread, row.spread_error);
    }
    let share = (bad.len() + silent.len()) as f64 / (rows.len() + silent.len()) as f64;
    assert!(
        share <= 0.05,
        "{} spreads off by more than 1.5 ms and 15 %, nothing read of {silent:?}",
        bad.len()
    );
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 { sorted[middle] } else { 0.5 * (sorted[middle - 1] + sorted[middle]) }
}

fn deviation(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let sum: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    (sum / (values.len() - 1) as f64).sqrt()
}
