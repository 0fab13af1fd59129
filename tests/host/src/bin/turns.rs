//! Opens and closes instances in turn, for another program to count what this one holds.
//!
//! `turns BUNDLE` prints the number of turns after the first ones and after all, and waits each time for a
//! line. `turns BUNDLE control` keeps something in each turn.

use std::error::Error;
use std::io::stdin;
use std::path::Path;

use brunt_host::turn::{TURNS, WARM, keep_something, turn};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<_> = std::env::args_os().skip(1).collect();
    let (bundle, control) = match &arguments[..] {
        [bundle] => (bundle, false),
        [bundle, word] if word == "control" => (bundle, true),
        _ => return Err("usage: turns BUNDLE [control]".into()),
    };
    let channel: Vec<f32> = (0..48_000).map(|frame| (frame as f32 * 0.01).sin() * 0.5).collect();
    let main = [channel.clone(), channel];
    for number in 1..=TURNS {
        turn(Path::new(bundle), &main)?;
        if control {
            keep_something()?;
        }
        if [WARM, TURNS].contains(&number) {
            println!("{number}");
            if stdin().read_line(&mut String::new())? == 0 {
                return Err("nobody counts: expected a line".into());
            }
        }
    }
    Ok(())
}
