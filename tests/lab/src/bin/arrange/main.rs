//! Larger runs of the checks of drive, clutter and costs: `arrange gains|clutter|causes|pairs [SEEDS]`.

mod causes;
mod clutter;
mod gains;

use std::process::ExitCode;

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let what = args.next().unwrap_or_default();
    let seeds = args.next().and_then(|n| n.parse().ok()).unwrap_or(2);
    match what.as_str() {
        "gains" => gains::run(seeds),
        "clutter" => clutter::run(seeds),
        "causes" => causes::run(seeds, false),
        "pairs" => causes::run(seeds, true),
        _ => {
            eprintln!("usage: arrange gains|clutter|causes|pairs [SEEDS]");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}
