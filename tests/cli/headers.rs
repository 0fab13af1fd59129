//! Headers changed at random: refused with one line or measured, never a panic.

use std::fs;
use std::panic::catch_unwind;

use brunt_cli::analyse::{Options, analyse};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::support::{RATE, directory, ffmpeg, path_text, programme, write_wav};

#[test]
fn changed_headers_never_panic() {
    let d = directory();
    let wav = d.path().join("plain.wav");
    write_wav(&wav, &programme(0.6), RATE, 16);
    let mut files = vec![wav.clone()];
    let float = d.path().join("float.wav");
    write_wav(&float, &programme(0.6), RATE, 32);
    files.push(float);
    // Six channels make ffmpeg write the extensible header; cut back to its first bytes below.
    for (name, more) in [
        ("wide.wav", ["-ac", "6"]),
        ("whole.aiff", ["-ac", "2"]),
        ("whole.flac", ["-ac", "2"]),
        ("whole.ogg", ["-ac", "1"]),
        ("whole.mp3", ["-ac", "1"]),
    ] {
        let file = d.path().join(name);
        ffmpeg(&["-i", path_text(&wav), more[0], more[1], path_text(&file)]);
        files.push(file);
    }
    let seed = rand::rng().random::<u64>();
    println!("seed {seed}");
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut refused = 0;
    let mut tried = 0;
    for file in &files {
        let good = fs::read(file).expect("read");
        let extension = path_text(file).rsplit('.').next().expect("an extension");
        let changed = d.path().join(format!("changed.{extension}"));
        for _ in 0..150 {
            let mut bytes = good.clone();
            for _ in 0..random.random_range(1..6) {
                let at = random.random_range(0..bytes.len().min(100));
                bytes[at] = match random.random_range(0..4) {
                    0 => 0,
                    1 => 0xff,
                    2 => bytes[at].wrapping_add(1),
                    _ => random.random(),
                };
            }
            if random.random_bool(0.2) {
                bytes.truncate(random.random_range(0..200.min(bytes.len())));
            }
            fs::write(&changed, &bytes).expect("written");
            let result = catch_unwind(|| analyse(&changed, &Options::default(), &mut |_| {}));
            tried += 1;
            match result {
                Ok(Ok(_)) => {}
                Ok(Err(e)) => {
                    refused += 1;
                    assert_eq!(e.to_string().lines().count(), 1, "{e}");
                }
                Err(_) => {
                    panic!("seed {seed}: {extension}, head {:02x?}", &bytes[..bytes.len().min(100)])
                }
            }
        }
    }
    println!("{refused} of {tried} refused");
    assert!(refused > 100, "the changes reach the checks: {refused} of {tried} refused");
}
